"""The judge on holding: carriages on their rails, what stands on the table, what hangs free at the end."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from sequence.judge_booking import FINAL, OUT, Booking
from trysquare.catalogue.values import BlockSize, LeadScrew, RailSize
from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.values import PlacedPart


class Holding(Booking):
    """What is said of what could fall or run away."""

    def _off_the_rail(self, block: str, *, whole: bool) -> dict[str, Hashable | None]:
        """Its way off each end: the whole block, or only so far that balls fall out (5 mm over the end)."""
        rail, part = self.machine.part[self.known.rail[block]], self.machine.part[block]
        size = rail.type.standard
        long = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
        half = part.type.standard.length_mm / 2 if isinstance(part.type.standard, BlockSize) else 10.0
        along = rail.placement.turn[:, 0]
        at = float((part.placement.origin_mm - rail.placement.origin_mm) @ along)
        return {
            "a": self.bodies.sweep(block, -along, at + half if whole else max(at - half + 5.0, 0.01)),
            "b": self.bodies.sweep(
                block, along, long - at + half if whole else max(long - at - half + 5.0, 0.01)
            ),
        }

    def _runs_with(self, block: str) -> set[str]:
        group, todo = {block}, [block]
        while todo:
            for joint in self.known.joints_of.get(todo.pop(), []):
                if not any(self.level.get(one.id) for one in joint.fastenings):
                    continue
                rails = set(joint.slides_on.values())
                own = {*joint.parts, *(piece.id for piece in joint.brings)} - rails - group
                group |= own
                todo += [name for name in own if not self.machine.part[name].joint]
        group &= set(self.there)
        for part in self.machine.placed:  # what no joint holds and what touches nothing else
            if not part.joint and part.id in self.there and not self.known.joints_of.get(part.id):
                near = self.bodies.touching(part.id) & set(self.there)
                if near and near <= group and part.id not in self.known.rail:
                    group.add(part.id)
        return group

    def _carriages(self) -> None:
        for block, rail in self.known.rail.items():
            if not {block, rail} <= set(self.there) or {block, rail} & self.held:
                continue
            group = self._runs_with(block)
            near = self.group(rail) - {block, rail} - group
            ways = self._off_the_rail(block, whole=False).values()
            if all(self.bodies.blockers(way, near) for way in ways) or self._is_tied(group):
                continue
            if self._first("carriage", block):
                self.say("carriage-can-run-off", block)

    def _is_tied(self, group: set[str]) -> bool:
        if any(j.belt and j.id in self.laid and group & set(j.parts) for j in self.machine.joints):
            return True
        own = {name for name in group if not self.machine.part[name].joint}
        return any(
            isinstance(self.machine.part[screw].type.standard, LeadScrew)
            and own & self.bodies.touching(screw)
            for screw in self.there
        )

    def _largest(self, groups: Iterable[set[str]]) -> set[str]:
        return min({id(group): group for group in groups}.values(), key=self.known.rank)

    def _stands(self) -> None:
        if not self.with_it or self.up not in DIRECTIONS or ("unstable", "") in self.once:
            return
        group = self._largest(self.with_it.values())
        solid = [self.machine.part[name] for name in sorted(group) if name in self.bodies.mesh]
        if sum(part.type.profile is not None for part in solid) < 3 or group & self.held:
            return
        up = np.asarray(DIRECTIONS[self.up])
        low = {part.id: self.bodies.lowest_mm(part.id, self.up) for part in solid}
        table = min(low.values())
        feet = [part.id for part in solid if low[part.id] - table <= 0.5]
        points = np.vstack([self.bodies.mesh[name][0] for name in feet])
        points = points[(points * up).sum(axis=1) - table <= 0.5]
        weights = np.array([self._weight(part) for part in solid])
        centres = np.array([self.bodies.middle_mm[part.id] for part in solid])
        centre = (weights[:, None] * centres).sum(axis=0) / weights.sum()
        flat = np.flatnonzero(up == 0)  # the two axes along the table
        try:
            sides = ConvexHull(points[:, flat]).equations
        except (QhullError, ValueError):
            sides = None
        angles = np.linspace(0, 2 * math.pi, 720)
        around = centre[flat] + np.column_stack([np.cos(angles), np.sin(angles)])
        if sides is None or ((around[:, None, :] * sides[:, :2]).sum(axis=2) + sides[:, 2] > 1e-9).any():
            self.once.add(("unstable", ""))
            self.say("cannot-stand", feet[0])

    def _weight(self, part: PlacedPart) -> float:
        known_gram = self.known.weight_gram.get(part.id)
        if known_gram is None:
            known_gram = self.known.weight_gram[part.id] = self._weighed(part)
        return known_gram

    def _weighed(self, part: PlacedPart) -> float:
        densities = {"steel": 7.85e-3, "brass": 8.5e-3, "aluminium": 2.7e-3, "glass": 2.5e-3}
        known = (density for word, density in densities.items() if word in part.type.material.lower())
        volume = float(self.bodies.body[part.id].volume())
        return part.type.mass_gram or volume * next(known, 1.25e-3)

    def _at_the_end(self) -> None:
        for name, (at, step, joint) in self.to_read_again.items():
            if not any(read > at for read in self.reads.get(name, ())):
                self.say("disturbed-after-truing", joint, step)
        for joint in self.machine.joints:
            levels = [self.level.get(one.id, OUT) for one in joint.fastenings]
            if levels and max(levels) == OUT:
                self.say("joint-never-made", joint.id, "")
            elif levels and min(levels) < FINAL:
                times = [
                    self.when.get((one.id, level), 0)
                    for one, level in zip(joint.fastenings, levels, strict=True)
                    if level < FINAL
                ]
                self.say("left-snug", joint.id, self.last_step.get(max(times), ""))
            if (joint.belt or joint.cable) and joint.id not in self.laid:
                self.say("never-routed", joint.id, "")
        self._left_apart()
        for part in self.machine.placed:
            if part.id not in self.brought and not part.joint and part.type.kind != "jig":
                self.say("never-placed", part.id, "")
        for step in self.steps:
            if not step.actions:
                self.say("empty-step", "", step.id)

    def _left_apart(self) -> None:
        groups = list({id(self.group(name)): self.group(name) for name in self.there}.values())
        if len(groups) < 2:
            return
        main = self._largest(groups)
        for group in groups:
            names = sorted(name for name in group if name in self.there)
            loose = [name for name in names if name in self.bodies.mesh]
            if group is not main and loose and not group & self.held:
                self.say("part-hangs-free", loose[0], self.last_step[max(self.there[name] for name in names)])

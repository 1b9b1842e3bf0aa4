"""What a step's picture shows: what is there, what comes and along which way, which screws are turned.

Each coming part is drawn away from its place along its true way in: `step_ways` finds it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from trysquare.ground.placement import DIRECTIONS, Array, Placement
from trysquare.machine.values import Fastening, Machine, PlacedPart, Step
from trysquare.publish.belt_line import belt_line
from trysquare.publish.known import Known
from trysquare.publish.mistakes import grouped_ways
from trysquare.publish.stated_ends import stated_end
from trysquare.publish.step_shown import Away, Look, Setting, StepScene, Turn
from trysquare.publish.step_ways import Groups, Ways
from trysquare.sequence.slot_ledger import SlotRow
from trysquare.sequence.state import Event
from trysquare.solid.drawing import NEW, OLD, Piece, Scene
from trysquare.solid.shapes import makes_solid, solid_of

_NO_MOVE = np.zeros(3)


class StepScenes:
    """The scenes of all steps of one machine, made one after another when asked for."""

    def __init__(self, known: Known) -> None:
        self.known = known
        self.machine: Machine = known.machine
        self.walk = known.timeline.walk
        self.reach = self.walk.reach
        self.comes = known.timeline.comes
        self.slot_row: dict[tuple[str, str], SlotRow] = {(row.member, row.slot): row for row in known.ledger}
        self.of_piece: dict[str, Fastening] = {}
        for one in self.machine.fastening.values():
            for piece in (one.screw, one.host_part, one.carrier, *one.washers):
                if piece and piece in self.machine.part and self.machine.part[piece].joint:
                    self.of_piece.setdefault(piece, one)

    def __iter__(self) -> Iterator[tuple[Step, StepScene]]:
        """Each step with its scene, in order; links between parts are followed along the way."""
        groups = Groups()
        links = sorted(self.walk.state.links)
        at, up = 0, "+z"
        for step in self.machine.steps:
            events = self.known.events_of[step.id]
            last = events[-1].at if events else -1
            before = groups.copy()
            while at < len(links) and links[at][0] <= last:
                groups.join(links[at][1], links[at][2])
                at += 1
            tops = [
                event.action.toward for event in events if event.action.verb == "turn" and event.action.toward
            ]
            shown_up = next((top for top in tops if top != "+z"), tops[-1] if tops else up)
            making = _Making(self, step, events, before, groups.copy())
            yield (
                step,
                making.scene(
                    shown_up if shown_up in DIRECTIONS else up, turned_now=bool(tops) or shown_up != up
                ),
            )
            up = tops[-1] if tops and tops[-1] in DIRECTIONS else up

    def of(self, step_id: str) -> StepScene:
        """The scene of one step."""
        return next(scene for step, scene in self if step.id == step_id)

    def finished(self) -> Scene:
        """The whole machine, everything drawn as new."""
        pieces = (self.piece(part, NEW) for part in self.machine.placed)
        return Scene(tuple(piece for piece in pieces if piece is not None))

    def piece(self, part: PlacedPart, role: str, offset: Array = _NO_MOVE) -> Piece | None:
        """A placed part as a piece of a picture; None without a solid."""
        if not makes_solid(part.type):
            return None
        place = part.placement
        moved = Placement(place.turn, place.origin_mm + offset) if offset is not _NO_MOVE else place
        letter = self.known.letter(part.type.id)
        says = f"{letter} {part.type.name}".strip()
        return Piece(
            id=part.id, body=solid_of(part.type, self.machine.folder), placement=moved, role=role, says=says
        )

    @cached_property
    def used_holes(self) -> frozenset[tuple[str, str]]:
        """Holes (part, hole) that some screw passes or bites in."""
        found: set[tuple[str, str]] = set()
        for one in self.machine.fastening.values():
            head, axis = np.asarray(one.head_mm), np.asarray(one.axis)
            for name in {*(grip.part for grip in one.grips), one.host_part}:
                part = self.machine.part.get(name)
                if part is None or part.joint:
                    continue
                for hole in part.type.holes:
                    off = part.placement.point(hole.at_mm) - head
                    if float(np.linalg.norm(off - axis * float(off @ axis))) < 0.6:
                        found.add((name, hole.name))
        return frozenset(found)


class _Making:
    """One step's scene while it is made."""

    def __init__(
        self, all_steps: StepScenes, step: Step, events: Sequence[Event], before: Groups, after: Groups
    ) -> None:
        self.all, self.step, self.events = all_steps, step, events
        self.machine, self.reach = all_steps.machine, all_steps.reach
        self.before, self.after = before, after
        first = events[0].at if events else 0
        self.old = {name for name, at in all_steps.comes.items() if at < first}
        self.new = {piece.id for event in events for piece in event.pieces}
        ways = Ways(
            self.machine,
            all_steps.walk,
            all_steps.slot_row,
            all_steps.of_piece,
            events,
            self.old,
            before,
            after,
        )
        self.moves, self.leads, self.units = ways.moves, ways.leads, ways.units

    def scene(self, up: str, *, turned_now: bool) -> StepScene:
        """The whole scene, turned so that `up` is up."""
        shown = self._shown()
        solid = [name for name in shown if makes_solid(self.machine.part[name].type)]
        turn = turn_of(up)
        pieces = []
        for name in self._old_shown(shown):
            piece = self.all.piece(self.machine.part[name], OLD)
            if piece is not None:
                pieces.append(piece)
        for name in solid:
            piece = self.all.piece(self.machine.part[name], NEW, self.moves.get(name, _NO_MOVE))
            if piece is not None:
                pieces.append(piece)
        away = {
            name: Away(
                offset_mm=turn @ self.moves[name], lead_mm=self.leads.get(name, np.zeros((0, 3))) @ turn.T
            )
            for name in solid
            if name in self.moves
        }
        empty = self._empty_holes(solid)
        return StepScene(
            scene=Scene(tuple(_turned(piece, turn) for piece in pieces)),
            new=tuple(solid),
            away=away,
            turns=tuple(self._turns(turn)),
            settings=tuple(self._settings(turn)),
            empty_holes_mm=empty[:, :3] @ turn.T,
            empty_diameters_mm=empty[:, 3],
            threads=tuple((name, points @ turn.T) for name, points in self._threads()),
            reads=self._reads(),
            looks=tuple(self._looks(turn)),
            up=up,
            turned_now=turned_now,
            moving=tuple(sorted(self.units)),
        )

    # -- what is shown --------------------------------------------------------------------------

    def _shown(self) -> list[str]:
        """What is drawn strong: what comes; else the screws that are turned; else the parts named."""
        order = self.machine.part
        if self.new or self.units:
            return [name for name in order if name in self.new or name in self.units]
        screws = {one.screw for event in self.events for one in event.screws} & self.old
        if screws:
            return [name for name in order if name in screws]
        # A joint may bear the name of the part it holds: then that part is meant as well.
        named = {
            name for event in self.events for name in (*event.action.parts, *event.action.joints)
        } & self.old
        return [name for name in order if name in named]

    def _old_shown(self, shown: Sequence[str]) -> list[str]:
        """What is there already and hangs together with what is drawn strong."""
        threads = [joint for event in self.events for joint in event.joints if joint.belt or joint.cable]
        about = {*shown, *(part for joint in threads for part in joint.parts)}
        roots = {self.after.root(name) for name in about}
        strong = set(shown)
        return [
            name for name in self.machine.part
            if name in self.old and name not in strong and self.after.root(name) in roots
        ]  # fmt: skip

    # -- marks ----------------------------------------------------------------------------------

    def _turns(self, turn: Array) -> Iterator[Turn]:
        seen: set[str] = set()
        for event in self.events:
            for one in event.screws:
                if one.screw in seen or one.screw_type.key_mm <= 0:
                    continue
                seen.add(one.screw)
                tall = one.screw_type.head_height_mm
                head = (
                    np.asarray(one.head_mm)
                    + np.asarray(one.axis) * tall
                    + self.moves.get(one.screw, _NO_MOVE)
                )
                yield Turn(
                    fastening=one.id, screw=one.screw, head_mm=turn @ head, axis=turn @ np.asarray(one.axis),
                    key_mm=one.screw_type.key_mm,
                )  # fmt: skip

    def _settings(self, turn: Array) -> Iterator[Setting]:
        read = {name for event in self.events for name in event.action.reads}
        present = self.old | self.new
        for one in self.machine.characteristics:
            if one.id not in read or one.sort != "offset" or len(one.of) != 2:
                continue
            on, member = (self.machine.part.get(name) for name in one.of)
            if on is None or member is None or not {on.id, member.id} <= present or not member.type.length_mm:
                continue
            ends = member.placement.back(
                on.placement.point(solid_of(on.type, self.machine.folder).points_mm)
            )[:, 0]
            first, last, length = float(ends.min()), float(ends.max()), member.type.length_mm
            said = stated_end(self.machine, on.id, member.id)
            from_a = said == "a" if said else first <= length - last + 1e-6
            datum, to = (0.0, first) if from_a else (length, last)
            out = on.placement.origin_mm - member.placement.point(
                (float(np.clip((first + last) / 2, 0, length)), 0.0, 0.0)
            )
            along = member.placement.turn[:, 0]
            out = out - along * float(out @ along)
            size = float(np.linalg.norm(out))
            out = out / size if size > 1e-6 else member.placement.turn[:, 2]
            edge = member.placement.point((datum, 0.0, 0.0)) + out * size
            yield Setting(
                datum_mm=turn @ edge, to_mm=turn @ (member.placement.point((to, 0.0, 0.0)) + out * size),
                out=turn @ out, value_mm=abs(to - datum), member=member.id,
            )  # fmt: skip

    def _empty_holes(self, shown: Sequence[str]) -> Array:
        """Array (n, 4), place and diameter: holes of coming parts that no screw ever uses though others of
        their group are used."""
        found = []
        for name in shown:
            part = self.machine.part[name]
            if part.joint or name not in self.new:
                continue
            for group, holes in itertools.groupby(part.type.holes, key=lambda hole: hole.group):
                members = [hole for hole in holes if not hole.access]
                used = [(name, hole.name) in self.all.used_holes for hole in members]
                if group and any(used) and not all(used):
                    offset = self.moves.get(name, _NO_MOVE)
                    found += [
                        np.append(part.placement.point(hole.at_mm) + offset, hole.diameter_mm)
                        for hole, is_used in zip(members, used, strict=True) if not is_used
                    ]  # fmt: skip
        return np.array(found).reshape(-1, 4)

    def _threads(self) -> Iterator[tuple[str, Array]]:
        told: set[str] = set()
        for event in self.events:
            if event.action.verb != "route":
                continue
            for joint in event.joints:
                if joint.id in told:
                    continue
                told.add(joint.id)
                if joint.belt is not None:
                    yield joint.id, belt_line(joint.belt)
                elif joint.cable is not None and len(joint.cable.points_mm) > 1:
                    yield joint.cable.label or joint.id, np.array(joint.cable.points_mm)

    def _looks(self, turn: Array) -> Iterator[Look]:
        for number, ways in enumerate(grouped_ways(self.all.known, self.step), start=1):
            way = ways[0]
            if way.tells_at_mm and way.part in self.new:
                at = np.array(way.tells_at_mm) + self.moves.get(way.part, _NO_MOVE)
                yield Look(number=number, part=way.part, at_mm=at @ turn.T)

    def _reads(self) -> dict[str, str]:
        present = self.old | self.new
        found: dict[str, str] = {}
        for event in self.events:
            for name in event.action.reads:
                of = next((one.of for one in self.machine.characteristics if one.id == name), ())
                on = [part for part in (*event.action.parts, *of) if part in present]
                solid = [part for part in on if makes_solid(self.machine.part[part].type)]
                if solid or name not in found:
                    found[name] = found.get(name) or (solid[0] if solid else "")
        return found


def turn_of(up: str) -> Array:
    """The rotation that brings a side of the machine up, turning it over to the right or about its length."""
    way = np.asarray(DIRECTIONS[up])
    if up == "+z":
        return np.eye(3)
    if up == "-z":
        return np.diag([1.0, -1.0, -1.0])
    axis = np.cross(way, (0.0, 0.0, 1.0))
    skew = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    return np.asarray(np.eye(3) + skew + skew @ skew)


def _turned(piece: Piece, turn: Array) -> Piece:
    if (turn == np.eye(3)).all():
        return piece
    return replace(piece, placement=Placement(turn @ piece.placement.turn, turn @ piece.placement.origin_mm))

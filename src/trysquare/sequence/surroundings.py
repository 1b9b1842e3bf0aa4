"""What stands round a part's place, asked with another body in that place: clashes and closed key lines."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from trysquare.ground.placement import Placement
from trysquare.machine.values import Machine, PlacedPart
from trysquare.sequence.misses import Miss
from trysquare.sequence.reach import SWING_WINDOWS, Probe, Reach
from trysquare.sequence.timeline import Timeline
from trysquare.solid.broad import Crowd, candidates_against, crowd_of_one
from trysquare.solid.shapes import Solid, solid_of
from trysquare.solid.shared import any_shared
from trysquare.stock.bringing import sort_of


class Surroundings:
    """Neighbours of every part's place, looked up once. A body that is tried must have the part's own box."""

    def __init__(self, machine: Machine, reach: Reach, timeline: Timeline) -> None:
        self.machine, self.reach, self.timeline = machine, reach, timeline
        self._near: dict[str, list[str]] = {}
        self._keys = self._keys_near()

    def _keys_near(self) -> dict[str, list[str]]:
        """For each part the screws that some step turns and whose straight key passes near it."""
        near: dict[str, list[str]] = {}
        for fastening in self.machine.fastening.values():
            if fastening.screw_type.key_mm > 0 and fastening.id in self.timeline.turned:
                for part in self.reach.straight_key(fastening).near:
                    near.setdefault(part, []).append(fastening.id)
        return near

    def near(self, part: PlacedPart) -> list[str]:
        """Pieces that stand at the part's box, without those that its own joints put into its holes."""
        if part.id not in self._near:
            crowd = crowd_of_one(solid_of(part.type, self.machine.folder), part.placement)
            standing = self.reach.standing
            ids = [standing.ids[j] for j in candidates_against(crowd, standing.crowd)[:, 1]]
            self._near[part.id] = [one for one in ids if one != part.id and self._foreign(part.id, one)]
        return self._near[part.id]

    def _foreign(self, part: str, identity: str) -> bool:
        piece = self.machine.part[identity]
        own = bool(piece.joint) and part in self.machine.joint[piece.joint].parts
        return not own or sort_of(piece) == "bracket"

    def crossed(self, part: PlacedPart, body: Crowd, others: Iterable[str]) -> Iterable[str]:
        """Those of the others that the body crosses and the right part, in its place, does not."""
        standing, row = self.reach.standing.crowd, self.reach.row
        for other in others:
            if not _crosses(body, standing, row[other]):
                continue
            right = crowd_of_one(solid_of(part.type, self.machine.folder), part.placement)
            if not _crosses(right, standing, row[other]):
                yield other

    def clashes(
        self, part: PlacedPart, solid: Solid, placement: Placement, step: int, before: int
    ) -> list[Miss] | None:
        """Misses for pieces that come later than `step` and earlier than step `before` and then find the
        body in their way; None when something that is there by `step` does. Without steps all is there."""
        body = crowd_of_one(solid, placement)
        now, later = [], []
        for other in self.near(part):
            meets = self.timeline.step(self.timeline.together(part.id, other)) if self.machine.steps else step
            if meets <= step:
                now.append(other)
            elif meets < before:
                later.append(other)
        if any(True for _ in self.crossed(part, body, now)):
            return None
        return [
            Miss(
                code="in-the-way",
                joint="",
                event=self.timeline.together(part.id, other),
                says=f"{other} does not go into its place",
            )
            for other in self.crossed(part, body, later)
        ]

    def closed_keys(self, part: PlacedPart, solid: Solid, placement: Placement, before: int) -> list[Miss]:
        """Misses for screws that no key reaches any more with this body in the part's place."""
        body = crowd_of_one(solid, placement)
        found: list[Miss] = []
        for name in self._keys.get(part.id, ()):
            fastening = self.machine.fastening[name]
            both = self.timeline.together(part.id, fastening.screw)
            # Its own holes and access holes were asked for by the joint itself.
            own = any(grip.part == part.id for grip in fastening.grips)
            if both is None or own or (fastening.slot_member == part.id and fastening.head_in_slot):
                continue
            event = self.timeline.first_turn(name, both)
            straight = self.reach.straight_key(fastening)
            if event is None or self.timeline.step(event) >= before or not _meets(straight, body):
                continue
            if not self.reach.is_free(straight, {part.id}):
                continue  # the right part is in the way of a straight key too
            present = {
                other
                for other, comes in self.timeline.comes.items()
                if comes <= event and other not in (part.id, fastening.screw)
            }
            if not any(self._swings(fastening.id, window, present, body) for window in range(SWING_WINDOWS)):
                says = f"no key reaches the screw of {fastening.joint}"
                found.append(Miss(code="no-key-line", joint=fastening.joint, event=event, says=says))
        return found

    def _swings(self, fastening: str, window: int, present: Collection[str], body: Crowd) -> bool:
        probe = self.reach.short_key(self.machine.fastening[fastening], window)
        return not _meets(probe, body) and self.reach.is_free(probe, present)


def _crosses(body: Crowd, standing: Crowd, row: int) -> bool:
    return any_shared(body, standing, np.array([(0, row)], dtype=np.int64))


def _meets(probe: Probe, body: Crowd) -> bool:
    bodies = probe.bodies
    return bodies is not None and any_shared(bodies, body, candidates_against(bodies, body))

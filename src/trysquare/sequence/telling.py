"""What tells a part in its right place from a wrong one: words that a person can check on the bench.

Directions are those of the finished machine: left and right, front and back, top and bottom.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import Pulley, RailSize
from trysquare.ground.placement import Array, Placement, Triple, side
from trysquare.machine.values import Hole, PartType, PlacedPart
from trysquare.sequence.misses import Miss
from trysquare.sequence.poses import Difference, alike, two_sided
from trysquare.solid.shapes import Solid, solid_of

SAME_PLACE_MM = 0.5  # two edges this equally far away tell nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """A feature that tells right from wrong. `at_mm`: points in the machine at which it can be seen, such as
    both mouths of a hole; none when it is at no one place."""

    says: str
    at_mm: tuple[Triple, ...]


def telling(
    part: PlacedPart,
    wrong: PartType,
    pose: Placement,
    difference: Difference,
    misses: list[Miss],
    folder: str,
) -> Telling:
    """The feature that tells right from wrong: first that of the joint that fails, then what is seen best."""
    words = _Words(part, wrong, pose, solid_of(part.type, folder))
    says = words.shape_or_hole(difference, misses, folder)
    if part.type.hand and wrong.hand and part.type.hand != wrong.hand:
        says = f"It must be the {part.type.hand} one; '{wrong.name}' is the {wrong.hand} one. {says}".strip()
    points = [part.placement.point(spot).tolist() for spot in words.spots_mm]
    return Telling(says=says, at_mm=tuple((x, y, z) for x, y, z in points))


class _Words:
    """Words about one part in its place and what is wrongly there. `spots_mm`: points of the part at
    which the feature can be seen of which they speak, once they have spoken."""

    def __init__(self, part: PlacedPart, wrong: PartType, pose: Placement, solid: Solid) -> None:
        self.part, self.wrong, self.pose, self.solid = part, wrong, pose, solid
        self.spots_mm: list[Array] = []
        self.instead = "the wrong way round" if wrong is part.type else f"in '{wrong.name}'"

    def shape_or_hole(self, difference: Difference, misses: list[Miss], folder: str) -> str:
        asked = [miss.hole for miss in misses if miss.hole is not None]
        wanted = [hole for hole in asked if hole in difference.missing]
        failing_end = next((miss for miss in misses if miss.code == "end-not-tapped"), None)
        spot = next((miss for miss in misses[:1] if miss.name and miss.spot_mm is not None), None)
        if spot is not None and spot.spot_mm is not None:
            self.spots_mm = [np.asarray(spot.spot_mm, dtype=float)]
            return f"Its '{spot.name}' is {self._corner(np.stack([spot.spot_mm, spot.spot_mm]))}."
        if failing_end is not None or (difference.ends_missing and not wanted):
            return self._tapped(difference)
        if wanted:
            return self._hole(wanted[0], difference)
        if difference.missing:
            return self._hole(min(difference.missing, key=self._plainness), difference)
        if difference.ends_extra:
            end = self._end(difference.ends_extra[0])
            return f"The {end} has no thread; {self.instead} it has one."
        if difference.extra:
            hole = difference.extra[0]
            self.spots_mm = _mouths(hole)
            there = f"{self.instead} there is one (Ø{hole.diameter_mm:g})"
            return f"There is no hole {self._where(hole)}; {there}."
        if difference.slot and self.wrong.profile is not None and self.part.type.profile is not None:
            right, other = self.part.type.profile, self.wrong.profile
            mouth = f"{right.mouth_mm:g} mm wide at the mouth"
            return f"Its slots are {mouth}; {self.instead} {other.mouth_mm:g} mm."
        if isinstance(self.part.type.standard, Pulley) and difference.shape:
            return self._pulley(self.part.type.standard)
        return self._shape(folder) if difference.shape else ""

    def _plainness(self, hole: Hole) -> float:
        """Lower for holes whose place differs more from its mirror: they are seen best."""
        middle = (self.solid.low_mm + self.solid.high_mm) / 2
        away = np.asarray(hole.at_mm) - middle
        away = away - np.asarray(hole.direction) * float(away @ np.asarray(hole.direction))
        return -float(np.abs(away).max())

    def _tapped(self, difference: Difference) -> str:
        end = difference.ends_missing[0] if difference.ends_missing else "a"
        thread = self.part.type.profile.core_thread if self.part.type.profile is not None else "thread"
        return f"The {self._end(end)} is tapped ({thread}); {self.instead} it is not."

    def _end(self, end: str) -> str:
        way = self.part.placement.turn[:, 0] * (1.0 if end == "b" else -1.0)
        middle = (self.solid.low_mm + self.solid.high_mm) / 2
        middle[0] = (self.solid.high_mm if end == "b" else self.solid.low_mm)[0]
        self.spots_mm = [middle]
        word = side(way)
        return f"{word} end" if word else f"end {end}"

    def _rail(self, size: RailSize) -> str:
        """The distances of a rail's first holes from its ends: nothing else tells them apart."""
        self.spots_mm = [np.array([x, 0.0, size.height_mm]) for x in (size.holes_mm[0], size.holes_mm[-1])]
        near = size.first_hole_mm <= size.last_hole_mm
        way = self.part.placement.turn[:, 0] * (-1.0 if near else 1.0)
        end = side(way) or ("a" if near else "b")
        right, wrong = sorted((size.first_hole_mm, size.last_hole_mm))
        return (
            f"Measure from the {end} end to the first hole: {written(right)} mm; {self.instead} "
            f"{written(wrong)} mm."
        )

    def _hole(self, hole: Hole, difference: Difference) -> str:
        """A hole by its size and place, and what is there when it is wrong."""
        size = self.part.type.standard
        end_for_end = self.pose.turn[0, 0] < 0 < self.pose.turn[2, 2] and self.wrong is self.part.type
        if isinstance(size, RailSize) and end_for_end and size.ends_differ:
            return self._rail(size)
        self.spots_mm = _mouths(hole)
        turned_over = next((other for other in difference.extra if _other_side(hole, other)), None)
        name = f"{_sort(hole)} '{hole.group or hole.name}' (Ø{hole.diameter_mm:g})"
        if turned_over is not None:
            self.spots_mm += [np.asarray(other.at_mm) for other in self._alike(hole)]
            opens, wrongly = self._side(hole.direction), self._side(turned_over.direction)
            what = f"The {_sunk(hole)} of hole '{hole.group or hole.name}'"
            return f"{what} looks to the {opens}; {self.instead} to the {wrongly}."
        return f"The {name} is {self._where(hole)}; {self.instead} there is none."

    def _alike(self, hole: Hole) -> list[Hole]:
        """The other holes of its group that look to the same side."""
        return [
            other for other in self.part.type.holes
            if other is not hole and hole.group and other.group == hole.group
            and other.direction == hole.direction
        ]  # fmt: skip

    def _side(self, direction: object) -> str:
        way = self.part.placement.direction(np.asarray(direction, dtype=float))
        return side(way) or "askew side"

    def _where(self, hole: Hole) -> str:
        """Distances from the nearest edges, square to the hole, in the machine's words."""
        along = int(np.argmax(np.abs(np.asarray(hole.direction))))
        spots: list[str] = []
        for axis in range(3):
            low, high = float(self.solid.low_mm[axis]), float(self.solid.high_mm[axis])
            at = float(hole.at_mm[axis])
            member = self.part.type.profile is not None
            if axis == along or (member and axis != 0 and abs(at - (low + high) / 2) < SAME_PLACE_MM):
                continue
            from_low, from_high = at - low, high - at
            positive = from_high < from_low
            unit = np.zeros(3)
            unit[axis] = 1.0 if positive else -1.0
            word = side(self.part.placement.direction(unit)) or f"{'far' if positive else 'near'}"
            edge = "end" if member and axis == 0 else "edge"
            if abs(from_low - from_high) >= SAME_PLACE_MM:
                spots.append(f"{min(from_low, from_high):.4g} mm from the {word} {edge}")
        face = self._side(hole.direction)
        if two_sided(hole):
            back = self._side(-np.asarray(hole.direction))
            through = f"through from {face} to {back}" if back != face else "right through"
        else:
            through = f"in the {face} side"
        return ", ".join([*(spots or ["in the middle"]), through])

    def _pulley(self, pulley: Pulley) -> str:
        up = pulley.belt_centre_mm > pulley.length_mm / 2
        teeth = self._side((0.0, 0.0, 1.0 if up else -1.0))
        return f"The belt's groove lies nearer the {teeth} end; {self.instead} the hub does."

    def _shape(self, folder: str) -> str:
        """Where the shape differs most: material or a recess, in the machine's words."""
        other = solid_of(self.wrong, folder).manifold.transform(self.pose.matrix())
        recess, boss = other - self.solid.manifold, self.solid.manifold - other
        size_mm = np.maximum(self.solid.high_mm - self.solid.low_mm, 1e-9)
        filled = self.solid.volume_mm3 / float(np.prod(size_mm))
        body, what, wrongly = (
            (recess, "recess", "material") if filled > 0.5 else (boss, "raised part", "nothing")
        )
        if body.is_empty():
            body, what, wrongly = (
                (boss, "raised part", "nothing") if what == "recess" else (recess, "recess", "material")
            )
        piece = max(body.decompose(), key=lambda one: float(one.volume()))
        box = np.array(piece.bounding_box()).reshape(2, 3)
        self.spots_mm = [box.mean(axis=0)]
        size = " × ".join(f"{length:.3g}" for length in box[1] - box[0])
        return f"The {what} (about {size} mm) is {self._corner(box)}; {self.instead} there is {wrongly}."

    def _corner(self, box: Array) -> str:
        middle, own = box.mean(axis=0), (self.solid.low_mm + self.solid.high_mm) / 2
        half = (self.solid.high_mm - self.solid.low_mm) / 2
        words: list[str] = []
        for axis in range(3):
            off = float(middle[axis] - own[axis])
            if abs(off) > 0.1 * float(half[axis]):
                unit = np.zeros(3)
                unit[axis] = 1.0 if off > 0 else -1.0
                word = side(self.part.placement.direction(unit))
                if word:
                    words.append(word)
        words.sort(key=("top", "bottom", "front", "back", "left", "right").index)
        return f"at the {' '.join(words)}" if words else "in the middle"


def _mouths(hole: Hole) -> list[Array]:
    """Where a hole opens."""
    at = np.asarray(hole.at_mm, dtype=float)
    if not hole.through:
        return [at]
    return [at, at - np.asarray(hole.direction, dtype=float) * hole.depth_mm]


def _other_side(hole: Hole, other: Hole) -> bool:
    """Whether a hole is the same one, entered from the other side."""
    way, other_way = np.asarray(hole.direction), np.asarray(other.direction)
    if float(way @ other_way) > -1 + 1e-6 or not alike(hole, other):
        return False
    away = np.asarray(other.at_mm) - np.asarray(hole.at_mm)
    return float(np.linalg.norm(away - float(away @ way) * way)) <= SAME_PLACE_MM


def _sunk(hole: Hole) -> str:
    if hole.countersunk:
        return "countersink"
    if hole.counterbore_depth_mm > 0:
        return "counterbore"
    return "insert" if hole.insert else "open side"


def _sort(hole: Hole) -> str:
    if hole.access:
        return "access hole"
    if hole.thread:
        return f"{hole.thread} thread"
    return "insert hole" if hole.insert else "hole"

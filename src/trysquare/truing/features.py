"""Named features that an instrument can be put to: ends, faces, edges, corners, holes, a rail's datum sides.

A feature is written after a colon. `beam:a` is an end, `beam:+y` a face or a rail's side, `beam:+y+z` an
edge, `beam:a+y+z` a corner, `beam:a+z` the middle of an end's edge, `plate:motor.2` a hole. A member's or
rail's face and edge may have a station, the distance from an end: `beam:+y@120`, `beam:+y@b30`. Every part
with a solid has the six faces of its own box; a member's or rail's ends a and b are those along its own x.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.ground.errors import nearest
from trysquare.ground.placement import Array, Triple
from trysquare.machine.values import Machine, PartType, PlacedPart

_SPEC = re.compile(r"(?P<sides>(?:[ab]|[+-][xyz])*)(?:@(?P<from>[ab]?)(?P<at>\d+(?:\.\d+)?))?")
_SIDE = re.compile(r"[ab]|[+-][xyz]")
_SORTS = ("middle", "face", "edge", "corner")


class UnknownFeature(Exception):  # noqa: N818  # it is an answer to what a person wrote
    """A feature that no part has. `expected` and `remedy` say what could have been meant."""

    def __init__(self, expected: str, remedy: str) -> None:
        self.expected, self.remedy = expected, remedy
        super().__init__(f"{expected}. {remedy}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """A spot of a placed part, own coordinates.

    `normal`: out of the material there, length 1; (0, 0, 0) where there is none. `with_end`: how the spot
    goes with the member's length error: −1 with end a, +1 with end b, 0 with its middle.
    """

    name: str  # "base/left-base:a+z", whole
    part: str  # placed id
    sort: str  # "end", "face", "edge", "corner", "hole", "middle"
    at_mm: Triple
    normal: Triple
    with_end: float = 0.0

    @property
    def spec(self) -> str:
        """What stands after the colon."""
        return self.name.partition(":")[2]


def has_ends(part_type: PartType) -> bool:
    """Whether a part has ends a and b: members and rails."""
    return part_type.profile is not None or isinstance(part_type.standard, RailSize)


def own_box(part_type: PartType, folder: str = "") -> tuple[Array, Array] | None:
    """Lowest and highest corner of a part in its own coordinates; None without a solid."""
    box = _box(part_type)
    if box is not None or not part_type.has_solid:
        return box
    from trysquare.solid.shapes import makes_solid, solid_of  # noqa: PLC0415  # heavy, seldom wanted

    if not makes_solid(part_type):
        return None
    solid = solid_of(part_type, folder)
    return solid.low_mm, solid.high_mm


@cache
def _box(part_type: PartType) -> tuple[Array, Array] | None:
    standard = part_type.standard
    if part_type.profile is not None:
        y, z = part_type.profile.size_y_mm / 2, part_type.profile.size_z_mm / 2
        return np.array([0.0, -y, -z]), np.array([part_type.length_mm, y, z])
    if isinstance(standard, RailSize):
        half = standard.width_mm / 2
        return np.array([0.0, -half, 0.0]), np.array([standard.length_mm, half, standard.height_mm])
    if isinstance(standard, BlockSize):
        x, y = standard.length_mm / 2, standard.width_mm / 2
        return np.array([-x, -y, standard.gap_mm]), np.array([x, y, standard.height_mm])
    if part_type.outline_mm:
        corners = np.array(part_type.outline_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        return np.array([*low, 0.0]), np.array([*high, part_type.thickness_mm])
    return None


class Features:
    """All features of a machine, looked up by the names that people write."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self._parts: Mapping[str, PlacedPart] = {
            placed.id: placed for placed in machine.placed if not placed.joint
        }
        tails: dict[str, list[str]] = {}
        for name in self._parts:
            tails.setdefault(name.rpartition("/")[2], []).append(name)
        self._tails = tails

    def part(self, word: str) -> PlacedPart:
        """A placed part by its id, or by its last word where that is only one. Raises UnknownFeature."""
        if word in self._parts:
            return self._parts[word]
        same = self._tails.get(word, [])
        if len(same) == 1:
            return self._parts[same[0]]
        if same:
            raise UnknownFeature("the name of one placed part", f"Write one of {', '.join(same)}.")
        raise UnknownFeature("a placed part", nearest(word, [*self._parts, *self._tails]))

    def find(self, text: str, at_mm: float | None = None) -> Feature:
        """A feature by its name; `at_mm` is a station said beside it. Raises UnknownFeature."""
        name, colon, spec = text.strip().partition(":")
        placed = self.part(name.strip())
        spec = spec.strip()
        if colon and not spec:
            raise UnknownFeature("a feature after the colon", f"{name} has {_few(self.names(placed))}.")
        for hole in placed.type.holes:
            if hole.name == spec:
                return Feature(
                    name=f"{placed.id}:{spec}",
                    part=placed.id,
                    sort="hole",
                    at_mm=hole.at_mm,
                    normal=hole.direction,
                    with_end=_end_of(placed.type, hole.at_mm[0]),
                )
        read = _SPEC.fullmatch(spec)
        if read is None:
            raise UnknownFeature(f"a feature of {placed.id}", _suggest(spec, self.names(placed)))
        station = float(read["at"]) if read["at"] else at_mm
        return self._of_box(placed, _SIDE.findall(read["sides"]), read["from"] or "a", station, spec)

    def _of_box(
        self, placed: PlacedPart, sides: list[str], counted_from: str, station: float | None, spec: str
    ) -> Feature:
        box = own_box(placed.type, self.machine.folder)
        if box is None:
            raise UnknownFeature("a part whose shape is known", f"{placed.id} has no solid and no such hole.")
        low, high = box
        ends = has_ends(placed.type)
        fixed: dict[int, float] = {}
        for side in sides:
            axis, sign = _axis(side)
            if axis in fixed or (side in "ab" and not ends) or (ends and side[-1] == "x"):
                raise UnknownFeature(f"a feature of {placed.id}", _suggest(spec, self.names(placed)))
            fixed[axis] = sign
        at = (low + high) / 2
        for axis, sign in fixed.items():
            at[axis] = high[axis] if sign > 0 else low[axis]
        with_end = fixed.get(0, 0.0) if placed.type.profile is not None else 0.0
        if station is not None and 0 not in fixed:
            length = float(high[0] - low[0])
            if not 0 <= station <= length:
                raise UnknownFeature(
                    f"a station from 0 to {length:g} mm", f"{placed.id} is {length:g} mm long."
                )
            at[0] = low[0] + station if counted_from == "a" else high[0] - station
            if placed.type.profile is not None:
                with_end = -1.0 if counted_from == "a" else 1.0
        normal = np.zeros(3)
        for axis, sign in fixed.items():
            normal[axis] = sign
        if len(fixed) > 1:
            normal /= np.linalg.norm(normal)
        sort = "end" if list(fixed) == [0] and ends else _SORTS[len(fixed)]
        spec = _written(fixed, ends=ends)
        if station is not None and 0 not in fixed:
            spec += f"@{'b' if counted_from == 'b' else ''}{station:g}"
        return Feature(
            name=f"{placed.id}:{spec}" if spec else placed.id,
            part=placed.id,
            sort=sort,
            at_mm=(float(at[0]), float(at[1]), float(at[2])),
            normal=(float(normal[0]), float(normal[1]), float(normal[2])),
            with_end=with_end,
        )

    def names(self, placed: PlacedPart) -> list[str]:
        """What can be written after the colon of a part: faces first, then edges, corners and holes."""
        across = ("+y", "-y", "+z", "-z")
        if own_box(placed.type, self.machine.folder) is None:
            return [hole.name for hole in placed.type.holes]
        along = ("a", "b") if has_ends(placed.type) else ("-x", "+x")
        edges = [one + other for one in across[:2] for other in across[2:]]
        found = [*along, *across, *(end + side for end in along for side in across), *edges]
        found += [end + edge for end in along for edge in edges]
        return found + [hole.name for hole in placed.type.holes]


def _axis(side: str) -> tuple[int, float]:
    if side in "ab":
        return 0, -1.0 if side == "a" else 1.0
    return "xyz".index(side[1]), 1.0 if side[0] == "+" else -1.0


def _written(fixed: Mapping[int, float], *, ends: bool) -> str:
    """The sides of a feature in their one order."""
    words = []
    for axis in sorted(fixed):
        plus = fixed[axis] > 0
        words.append("ba"[not plus] if axis == 0 and ends else f"{'-+'[plus]}{'xyz'[axis]}")
    return "".join(words)


def _end_of(part_type: PartType, x_mm: float) -> float:
    """A hole of a member goes with the end it is nearer to: that is where its distance was marked from."""
    if part_type.profile is None:
        return 0.0
    return -1.0 if x_mm <= part_type.length_mm / 2 else 1.0


def _few(names: Iterable[str], most: int = 8) -> str:
    listed = list(names)
    return ", ".join(listed[:most]) + (" …" if len(listed) > most else "")


def _suggest(spec: str, names: list[str]) -> str:
    close = nearest(spec, names)
    return close if close.startswith("Did") else f"It has {_few(names)}."

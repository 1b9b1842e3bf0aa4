"""Holes of a part from their keys: where each opens, which way, how wide and how deep."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from trysquare.catalogue.lookup import UnknownDesignation, thread
from trysquare.catalogue.values import Insert, Profile
from trysquare.ground.placement import DIRECTIONS, Triple
from trysquare.ground.tolerances import SAME_POINT_MM
from trysquare.machine.schema import ID, LARGEST_MM
from trysquare.machine.toml_lines import Path
from trysquare.machine.values import Hole

_MEMBER_ONLY = ("face", "from", "across_mm")
_UP: Triple = (0.0, 0.0, 1.0)

Outline = Sequence[tuple[float, float]]


class Say(Protocol):
    """Notes a problem."""

    def __call__(self, path: Path, read: object, expected: str, remedy: str) -> None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """One hole of a group: where it opens, the way out, and how deep the material is there (0: not known)."""

    at_mm: Triple
    direction: Triple
    material_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleReader:
    """Reads the holes of one part. `profile`: a member's; `outline_mm` and `thickness_mm`: a plate's."""

    say: Say
    standard: Callable[[str, type, str, Path], Any]
    profile: Profile | None
    length_mm: float
    outline_mm: Outline
    thickness_mm: float

    def read(self, raw: Mapping[str, Any], path: Path) -> list[Hole]:
        """The holes of one group; empty after noting a problem."""
        name = raw.get("name")
        if not name:
            return []
        if not ID.fullmatch(name):
            expected = "a name of letters, digits, - and _"
            self.say(
                (*path, "name"),
                name,
                expected,
                "Write, for example, motor; the holes become motor.1, motor.2 …",
            )
            return []
        bore = self._bore(raw, path)
        spots = self._spots(raw, path) if bore is not None else None
        if bore is None or spots is None:
            return []
        counterbore = self._counterbore(raw, path, bore)
        if counterbore is None:
            return []
        holes: list[Hole] = []
        for index, spot in enumerate(spots, start=1):
            depth = raw.get("depth_mm", raw.get("thickness_mm", spot.material_mm))
            if not self._depth_is_good(raw, path, depth, spot.material_mm, counterbore[1]):
                return []
            holes.append(
                Hole(
                    name=f"{name}.{index}",
                    at_mm=spot.at_mm,
                    direction=spot.direction,
                    diameter_mm=bore,
                    depth_mm=depth,
                    through="depth_mm" not in raw,
                    thread=raw.get("thread", ""),
                    insert=raw.get("insert", ""),
                    counterbore_mm=counterbore[0],
                    counterbore_depth_mm=counterbore[1],
                    countersunk=raw.get("countersunk", False),
                    access=raw.get("access", False),
                )
            )
        return holes

    def _depth_is_good(
        self, raw: Mapping[str, Any], path: Path, depth: float, material: float, sunk: float
    ) -> bool:
        if not depth:
            self.say(
                path,
                f"hole '{raw['name']}' without depth_mm",
                "depth_mm of a blind hole or thickness_mm of a through hole",
                "The solid does not say how long the hole is; add one of the two.",
            )
        elif "depth_mm" in raw and "thickness_mm" in raw:
            self.say(path, "depth_mm and thickness_mm", "one of the two", "A blind hole has depth_mm alone.")
        elif "depth_mm" in raw and material and depth > material + SAME_POINT_MM:
            expected = f"at most the {material:g} mm of material there"
            self.say((*path, "depth_mm"), depth, expected, "Leave depth_mm out for a through hole.")
        elif sunk >= depth:
            expected = f"a counterbore less deep than the hole's {depth:g} mm"
            self.say(
                (*path, "counterbore_mm"), sunk, expected, "Something must be left for the head to clamp."
            )
        else:
            return True
        return False

    def _counterbore(self, raw: Mapping[str, Any], path: Path, bore: float) -> tuple[float, float] | None:
        if "counterbore_mm" not in raw:
            return 0.0, 0.0
        sizes = raw["counterbore_mm"]
        if len(sizes) != 2 or sizes[0] <= bore:
            expected = f"its diameter, above the hole's {bore:g}, and its depth"
            self.say((*path, "counterbore_mm"), sizes, expected, "Write [6.5, 3.4].")
            return None
        return sizes[0], sizes[1]

    def _bore(self, raw: Mapping[str, Any], path: Path) -> float | None:
        ways = [key for key in ("diameter_mm", "thread", "insert") if key in raw]
        if len(ways) != 1:
            read = " and ".join(ways) or "no size"
            self.say(path, read, "one of diameter_mm, thread, insert", "Say the hole's size once.")
            return None
        if "thread" in raw:
            try:
                return thread(raw["thread"]).diameter_mm
            except UnknownDesignation as error:
                self.say((*path, "thread"), raw["thread"], "a metric thread such as M5", error.remedy)
                return None
        if "insert" in raw:
            what = "an insert such as heat-set insert M3x5.7"
            found = self.standard(raw["insert"], Insert, what, (*path, "insert"))
            return float(found.outer_mm) if found else None
        return float(raw["diameter_mm"])

    def _spots(self, raw: Mapping[str, Any], path: Path) -> list[_Spot] | None:
        at = raw.get("at_mm")
        rows: list[Any] = at if isinstance(at, list) else [at]
        if self.profile is not None:
            return self._member_spots(raw, rows, path, self.profile)
        for key in _MEMBER_ONLY:
            if key in raw:
                remedy = "Say at_mm as x, y (and z), and direction if it is not +z."
                self.say((*path, key), key, "this key only on a member, a part with a profile", remedy)
                return None
        direction = raw.get("direction", _UP)
        rows = rows if rows and isinstance(rows[0], list) else [rows]
        spots: list[_Spot] = []
        for row in rows:
            if not isinstance(row, list) or len(row) not in (2, 3) or not all(map(_is_number, row)):
                read = at if at is not None else "nothing"
                self.say((*path, "at_mm"), read, "points of two or three numbers", "Write [[x, y], …].")
                return None
            spot = self._plate_spot(row, direction, path)
            if spot is None:
                return None
            spots.append(spot)
        return spots

    def _plate_spot(self, row: Sequence[float], direction: Triple, path: Path) -> _Spot | None:
        """A hole of a plate or of any other solid. A plate's face needs no z."""
        flat = bool(self.outline_mm) and direction in (_UP, DIRECTIONS["-z"])
        face = self.thickness_mm if direction[2] > 0 else 0.0
        if len(row) == 2 and not flat:
            self.say((*path, "at_mm"), row, "three numbers, as this is no face of a plate", "Add z.")
            return None
        x, y = float(row[0]), float(row[1])
        z = float(row[2]) if len(row) == 3 else face
        if not flat:
            return _Spot(at_mm=(x, y, z), direction=direction, material_mm=0.0)
        if not covers(self.outline_mm, x, y) or not -SAME_POINT_MM <= z <= self.thickness_mm + SAME_POINT_MM:
            remedy = "Measure from the plate's own origin."
            self.say((*path, "at_mm"), row, "a point of the plate", remedy)
            return None
        material = z if direction[2] > 0 else self.thickness_mm - z
        return _Spot(at_mm=(x, y, z), direction=direction, material_mm=material)

    def _member_spots(
        self, raw: Mapping[str, Any], rows: Sequence[object], path: Path, profile: Profile
    ) -> list[_Spot] | None:
        face = raw.get("face")
        if "direction" in raw:
            self.say((*path, "direction"), "direction", "face, as this is a member", 'Write face = "+y".')
            return None
        if face is None or not rows or not all(map(_is_number, rows)):
            read = raw.get("at_mm", "no at_mm") if face else "no face"
            remedy = 'Write { name = "access", face = "+y", from = "a", at_mm = 10, diameter_mm = 6 }.'
            self.say(path, read, "face, from, and at_mm as distances from that end", remedy)
            return None
        direction = DIRECTIONS[face]
        sizes = (profile.size_y_mm, profile.size_z_mm)
        depth, width = sizes if face.endswith("y") else sizes[::-1]
        across = raw.get("across_mm", 0.0)
        if not abs(across) < width / 2:
            expected = f"less than half the face's {width:g} mm to either side"
            self.say((*path, "across_mm"), across, expected, "Measure from the middle of the face.")
            return None
        spots: list[_Spot] = []
        for row in rows:
            distance = float(row)  # type: ignore[arg-type]  # all are numbers
            x = distance if raw.get("from", "a") == "a" else self.length_mm - distance
            if not 0 < x < self.length_mm:
                expected = f"a distance inside the member's {self.length_mm:g} mm"
                self.say((*path, "at_mm"), row, expected, "Measure from the end.")
                return None
            if face.endswith("y"):
                at_mm = (x, direction[1] * depth / 2, across)
            else:
                at_mm = (x, across, direction[2] * depth / 2)
            spots.append(_Spot(at_mm=at_mm, direction=direction, material_mm=depth))
        return spots


def _is_number(value: object) -> bool:
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return number and -LARGEST_MM <= value <= LARGEST_MM  # type: ignore[operator]  # NaN fails this too


def covers(outline_mm: Outline, x: float, y: float) -> bool:
    """Whether a point lies inside an outline or on its edge.

    Inside: a ray to the right crosses the edge an odd number of times.
    """
    inside = False
    for (x0, y0), (x1, y1) in zip(outline_mm, (*outline_mm[1:], outline_mm[0]), strict=True):
        away = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
        within = min(x0, x1) - SAME_POINT_MM <= x <= max(x0, x1) + SAME_POINT_MM
        within = within and min(y0, y1) - SAME_POINT_MM <= y <= max(y0, y1) + SAME_POINT_MM
        if within and abs(away) <= SAME_POINT_MM * (abs(x1 - x0) + abs(y1 - y0)):
            return True
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            inside = not inside
    return inside

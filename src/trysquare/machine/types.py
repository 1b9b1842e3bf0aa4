"""Part types: from raw lines or from a catalogue designation to values with holes and shafts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trysquare.catalogue.guides import rail
from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import Profile, RailSize
from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.machine.fields import PART
from trysquare.machine.hole_reading import HoleReader
from trysquare.machine.outlines import crosses_itself
from trysquare.machine.schema import ID, check_table
from trysquare.machine.standard_types import standard_type
from trysquare.machine.toml_lines import Path
from trysquare.machine.values import Hole, Kind, PartType, Primitive, Shaft

__all__ = ["TypeReader", "standard_type"]

_MOST_CORNERS = 2000
_ONLY_WITH = {
    "length_mm": "profile",
    "tapped": "profile",
    "tapped_depth_mm": "tapped",
    "cut_mm": "profile",
    "end_mm": "profile",
    "thickness_mm": "outline_mm",
    "first_hole_mm": "standard",
    "pins_seen": "pins",
}
"""Keys that mean nothing without another."""


@dataclass(slots=True)
class TypeReader:
    """Reads part types; problems are collected, a type that cannot be used is left out."""

    raw: Mapping[str, Any]
    where: Callable[[Path], Where]
    paper: Callable[[Path], str]
    shape_digest: Callable[[str, Where], str]
    problems: list[ReadingError]
    types: dict[str, PartType] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    aliases: Mapping[str, str] = field(default_factory=dict)  # another name -> own id or designation
    met_broken: int = 0  # how often a broken type was asked for

    def read_all(self) -> dict[str, PartType]:
        for name in self.raw:
            self._read(name)
        return self.types

    def find(self, word: str, where: Where) -> PartType | None:
        """An own type or a standard one; None after noting the problem (or if it was noted before)."""
        if word not in self.raw:
            word = self.aliases.get(word, word)
        if word in self.types:
            return self.types[word]
        if word in self.broken:
            self.met_broken += 1
            return None
        try:
            return standard_type(word)
        except UnknownDesignation as error:
            close = nearest(word, self.raw)
            remedy = close if close.startswith("Did") else error.remedy
            expected = "a part of parts.toml or a designation of the catalogue"
            self.problems.append(
                ReadingError(
                    where=where,
                    read=word,
                    expected=error.expected if error.of_its_own else expected,
                    remedy=remedy,
                )
            )
            return None

    def _standard(self, word: str, sort: type, what: str, path: Path) -> Any:
        try:
            found = lookup(word)
        except UnknownDesignation as error:
            self.problems.append(
                ReadingError(where=self.where(path), read=word, expected=what, remedy=error.remedy)
            )
            return None
        if not isinstance(found, sort):
            self.problems.append(
                ReadingError(
                    where=self.where(path), read=word, expected=what, remedy="This is another sort of part."
                )
            )
            return None
        return found

    def _read(self, name: str) -> None:
        path: Path = ("part", name)
        before = len(self.problems)
        raw = check_table(self.raw[name], PART, path, self.where, self.problems)
        profile = None
        standard = None
        if "profile" in raw:
            profile = self._standard(
                raw["profile"], Profile, "a profile such as profile 20x20 slot 6", (*path, "profile")
            )
        if "standard" in raw:
            try:
                standard = standard_type(raw["standard"])
            except UnknownDesignation as error:
                expected = error.expected if error.of_its_own else "a designation of the catalogue"
                self._say((*path, "standard"), raw["standard"], expected, error.remedy)
        if standard is not None and "first_hole_mm" in raw:
            standard = self._rail_piece(standard, raw["first_hole_mm"], (*path, "first_hole_mm"))
        given: Mapping[str, Any] = self.raw[name] if isinstance(self.raw[name], dict) else {}
        self._one_solid(given, raw, path)
        outline = self._outline(given, raw, path)
        thickness = raw.get("thickness_mm", raw["size_mm"][2] if len(raw.get("size_mm", ())) == 3 else 0.0)
        digest = ""
        if "shape" in raw:
            digest = self.shape_digest(raw["shape"], self.where((*path, "shape")))
        length = raw.get("length_mm", 0.0)
        holes: list[Hole] = list(standard.holes) if standard else []
        solid_is_good = len(self.problems) == before  # else a hole's place cannot be judged
        reader = HoleReader(
            say=self._say,
            standard=self._standard,
            profile=profile,
            length_mm=length,
            outline_mm=outline,
            thickness_mm=thickness,
        )
        for index, hole in enumerate(raw.get("hole", ()) if solid_is_good else ()):
            holes += reader.read(hole, (*path, "hole", index))
        self._unique(holes, path)
        self._names((row.get("name") for row in raw.get("shaft", ())), (*path, "shaft"))
        for point in raw.get("pins", {}):
            if point not in raw.get("points", {}):
                self._say((*path, "pins", point), point, "a point of this part", "Add it to points.")
        primitives = self._primitives(raw, path) if solid_is_good else []
        if len(self.problems) > before:
            self.broken.add(name)
            return
        self.types[name] = PartType(
            id=name,
            name=raw.get("name", name),
            kind=Kind(raw["kind"]),
            standard=standard.standard if standard else None,
            profile=profile,
            length_mm=length,
            tapped_ends=tuple(raw.get("tapped", ())),
            tapped_depth_mm=raw.get("tapped_depth_mm", 15.0) if raw.get("tapped") else 0.0,
            cut_mm=raw.get("cut_mm", 0.0),
            end_mm=raw.get("end_mm", 0.0),
            outline_mm=outline,
            thickness_mm=thickness,
            primitives=tuple(primitives),
            shape_file=raw.get("shape", ""),
            shape_digest=digest,
            holes=tuple(holes),
            shafts=tuple(
                Shaft(
                    name=row["name"],
                    at_mm=row["at_mm"],
                    direction=row["direction"],
                    diameter_mm=row["diameter_mm"],
                    length_mm=row["length_mm"],
                    flat=row.get("flat", "flat_toward" in row),
                    flat_toward=row.get("flat_toward"),
                )
                for row in raw.get("shaft", ())
            )
            or (standard.shafts if standard else ()),
            points=raw.get("points", {}),
            pins={name: tuple(pins) for name, pins in raw.get("pins", {}).items()},
            pins_seen=raw.get("pins_seen", "mating side"),
            material=raw.get("material", "aluminium" if profile else ""),
            mass_gram=raw.get("mass_gram", 0.0),
            hand=raw.get("hand", ""),
            revision=raw.get("revision", ""),
            mates_with=raw.get("mates_with", {}),
            aliases=(
                *raw.get("also_called", ()),
                # its list and order say what tells it from a rail of the same length
                *((standard.id,) if standard and " ends " in standard.id else ()),
            ),
            opens_celsius=raw.get("opens_celsius", 0.0),
            bears_celsius=raw.get("bears_celsius", 0.0),
            cure_minutes=raw.get("cure_minutes", 0.0),
            holds_nuts=raw.get("carrier", False),
            cutter="shape" not in raw and standard is None,
            where=self.where(path),
            paper=self.paper(path),
        )

    def _one_solid(self, given: Mapping[str, Any], raw: Mapping[str, Any], path: Path) -> None:
        """One way to say the solid, with all it needs. `given`: all keys, `raw`: those with good values."""
        ways = [
            key for key in ("standard", "profile", "size_mm", "outline_mm", "solid", "shape") if key in given
        ]
        if len(ways) > 1:
            self._say(path, " and ".join(ways), "one way to say the solid", f"Keep one of {', '.join(ways)}.")
        if "profile" in given and "length_mm" not in given:
            self._say(path, "a profile without length_mm", "the cut length", "Add length_mm = …")
        if raw.get("kind") == Kind.MEMBER and not ways:
            self._say(path, "a member without a profile", "its profile and length", 'Add profile = "…".')

        for key, other in _ONLY_WITH.items():
            if key in given and other not in given:
                remedy = f"Add {other} = …, or leave {key} out."
                self._say((*path, key), key, f"this key only beside {other}", remedy)
        if raw.get("tapped_depth_mm", 0.0) > raw.get("length_mm", 0.0) and "length_mm" in raw:
            expected = f"at most the member's {raw['length_mm']:g} mm"
            self._say((*path, "tapped_depth_mm"), raw["tapped_depth_mm"], expected, "Correct one of the two.")

    def _rail_piece(self, standard: PartType, ends_mm: Sequence[float], path: Path) -> PartType | None:
        """A rail with the distances of its first hole from both ends; None after noting the problem."""
        size = standard.standard
        if not isinstance(size, RailSize):
            self._say(path, list(ends_mm), "this key only beside a rail", "Leave first_hole_mm out.")
            return None
        if len(ends_mm) != 2:
            expected = "two distances: from end a and from end b, each to the centre of the nearest hole"
            self._say(path, list(ends_mm), expected, "Write [5, 15].")
            return None
        try:
            piece = rail(size.width_mm, size.length_mm, (ends_mm[0], ends_mm[1]))
        except UnknownDesignation as error:
            self._say(path, list(ends_mm), error.expected, error.remedy)
            return None
        return standard_type(piece.designation)

    def _say(self, path: Path, read: object, expected: str, remedy: str) -> None:
        self.problems.append(
            ReadingError(where=self.where(path), read=read, expected=expected, remedy=remedy)
        )

    def _unique(self, holes: Sequence[Hole], path: Path) -> None:
        seen: set[str] = set()
        for hole in holes:
            if hole.name in seen:
                self._say((*path, "hole"), hole.group, "hole groups of different names", "Rename one group.")
                return
            seen.add(hole.name)

    def _names(self, names: Iterable[object], path: Path) -> None:
        seen: set[object] = set()
        for index, name in enumerate(names):
            if name is None:
                continue  # said already
            if name in seen or not ID.fullmatch(str(name)):
                expected = "a name of letters, digits, - and _, once in the part"
                self._say((*path, index, "name"), name, expected, "Choose another name.")
            seen.add(name)

    def _outline(
        self, given: Mapping[str, Any], raw: Mapping[str, Any], path: Path
    ) -> tuple[tuple[float, float], ...]:
        if "size_mm" in raw:
            size = raw["size_mm"]
            if len(size) != 3:
                expected = "three sizes: x, y, thickness"
                self._say((*path, "size_mm"), size, expected, "Write [120, 60, 4].")
                return ()
            x, y, _ = size
            return ((0.0, 0.0), (x, 0.0), (x, y), (0.0, y))
        if "outline_mm" not in raw:
            return ()
        spot = (*path, "outline_mm")
        points = [(point[0], point[1]) for point in raw["outline_mm"]]
        if not 3 <= len(points) <= _MOST_CORNERS:
            expected = f"three corners or more, at most {_MOST_CORNERS}"
            self._say(spot, f"{len(points)} corners", expected, "Check the outline.")
            return ()
        if "thickness_mm" not in given:
            self._say(spot, "an outline alone", "thickness_mm beside it", "Add thickness_mm = …")
            return ()
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True))
        if abs(area) < 1e-6:
            self._say(spot, "corners on one line", "an outline with an area", "Check the corners.")
            return ()
        if crosses_itself(points):
            remedy = "List the corners in order, going round once."
            self._say(spot, "edges that cross or touch", "an outline that does not meet itself", remedy)
            return ()
        return tuple(points if area > 0 else reversed(points))

    def _primitives(self, raw: Mapping[str, Any], path: Path) -> list[Primitive]:
        bodies: list[Primitive] = []
        for index, row in enumerate(raw.get("solid", ())):
            spot: Path = (*path, "solid", index)
            box, cylinder = row.get("box_mm"), row.get("cylinder_mm")
            if (box is None) == (cylinder is None):
                self._say(spot, sorted(row), "either box_mm or cylinder_mm", "Write one body in each table.")
                continue
            size = box if box is not None else cylinder
            if len(size) != (3 if box is not None else 2):
                expected = "three sizes, x y z" if box is not None else "diameter and length"
                self._say(spot, size, expected, "Write all of them, in millimetres.")
                continue
            bodies.append(
                Primitive(
                    shape="box" if box is not None else "cylinder",
                    size_mm=tuple(size),
                    at_mm=row.get("at_mm", (0.0, 0.0, 0.0)),
                    along=row.get("along", (0.0, 0.0, 1.0)),
                    cut=row.get("cut", False),
                )
            )
        if bodies and all(body.cut for body in bodies):
            self._say((*path, "solid"), "only cuts", "at least one body that adds material", "Take cut away.")
        return bodies

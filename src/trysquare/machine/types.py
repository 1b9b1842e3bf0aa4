"""Part types: from raw lines or from a catalogue designation to values with holes and shafts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from trysquare.catalogue.lookup import UnknownDesignation, lookup, thread
from trysquare.catalogue.values import (
    BeltSize,
    BlockSize,
    Grease,
    Insert,
    LeadScrew,
    Nut,
    Profile,
    Pulley,
    RailSize,
    Screw,
    SlotNut,
    StandardPart,
    Washer,
    Wire,
)
from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.ground.placement import DIRECTIONS, Triple
from trysquare.machine.fields import PART
from trysquare.machine.schema import check_table
from trysquare.machine.toml_lines import Path
from trysquare.machine.values import Hole, Kind, PartType, Primitive, Shaft

_KIND_OF: dict[type, Kind] = {
    Screw: Kind.FASTENER,
    Nut: Kind.FASTENER,
    Washer: Kind.FASTENER,
    Insert: Kind.FASTENER,
    SlotNut: Kind.FASTENER,
    RailSize: Kind.GUIDE,
    BlockSize: Kind.GUIDE,
    BeltSize: Kind.DRIVE,
    Pulley: Kind.DRIVE,
    LeadScrew: Kind.DRIVE,
    Wire: Kind.WIRE,
    Grease: Kind.CONSUMABLE,
    Profile: Kind.MEMBER,
}


@cache
def standard_type(designation: str) -> PartType:
    """The part type of a catalogue designation. Raises UnknownDesignation."""
    part = lookup(designation)
    shafts: tuple[Shaft, ...] = ()
    if isinstance(part, LeadScrew):
        shafts = (
            Shaft(
                name="shaft",
                at_mm=(0.0, 0.0, 0.0),
                direction=(0.0, 0.0, 1.0),
                diameter_mm=part.diameter_mm,
                length_mm=part.length_mm,
                flat=False,
            ),
        )
    return PartType(
        id=part.designation,
        name=part.designation,
        kind=_KIND_OF[type(part)],
        standard=part,
        holes=_standard_holes(part),
        shafts=shafts,
        material="steel",
        cutter=False,
    )


def _standard_holes(part: StandardPart) -> tuple[Hole, ...]:
    up: Triple = (0.0, 0.0, 1.0)
    if isinstance(part, RailSize):
        return tuple(
            Hole(
                name=f"rail.{index}",
                at_mm=(at_mm, 0.0, part.height_mm),
                direction=up,
                diameter_mm=part.hole_mm,
                depth_mm=part.height_mm,
                through=True,
                counterbore_mm=part.counterbore_mm,
                counterbore_depth_mm=part.counterbore_depth_mm,
            )
            for index, at_mm in enumerate(part.holes_mm, start=1)
        )
    if isinstance(part, BlockSize):
        along = (-0.5, 0.5) if part.pattern_along_mm else (0.0,)
        spots = [(a * part.pattern_along_mm, b * part.pattern_across_mm) for a in along for b in (-0.5, 0.5)]
        return tuple(
            Hole(
                name=f"top.{index}",
                at_mm=(x, y, part.height_mm),
                direction=up,
                diameter_mm=thread(part.thread).diameter_mm,
                depth_mm=part.thread_depth_mm,
                through=False,
                thread=part.thread,
            )
            for index, (x, y) in enumerate(spots, start=1)
        )
    if isinstance(part, Pulley) and part.set_screw:
        # Two set screws at 90° in the hub, pointing at the shaft.
        size = lookup(part.set_screw)
        assert isinstance(size, Screw)
        hub_middle = (part.belt_centre_mm + part.belt_width_mm / 2 + part.length_mm) / 2
        if part.belt_centre_mm > part.length_mm / 2:
            hub_middle = (part.belt_centre_mm - part.belt_width_mm / 2) / 2
        radius = part.hub_mm / 2
        return tuple(
            Hole(
                name=f"set.{index}",
                at_mm=(radius * x, radius * y, hub_middle),
                direction=(x, y, 0.0),
                diameter_mm=size.thread.diameter_mm,
                depth_mm=radius - part.bore_mm / 2,
                through=True,
                thread=size.thread.name,
            )
            for index, (x, y) in enumerate(((1.0, 0.0), (0.0, 1.0)), start=1)
        )
    return ()


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

    def read_all(self) -> dict[str, PartType]:
        for name in self.raw:
            self._read(name)
        return self.types

    def find(self, word: str, where: Where) -> PartType | None:
        """An own type or a standard one; None after noting the problem (or if it was noted before)."""
        if word in self.types:
            return self.types[word]
        if word in self.broken:
            return None
        try:
            return standard_type(word)
        except UnknownDesignation as error:
            close = nearest(word, self.raw)
            remedy = close if close.startswith("Did") else error.remedy
            self.problems.append(
                ReadingError(
                    where=where,
                    read=word,
                    expected="a part of parts.toml or a designation of the catalogue",
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
                self.problems.append(
                    ReadingError(
                        where=self.where((*path, "standard")),
                        read=raw["standard"],
                        expected="a designation of the catalogue",
                        remedy=error.remedy,
                    )
                )
        self._one_solid(raw, path)
        outline = _outline(raw, self, path)
        thickness = raw.get("thickness_mm", raw["size_mm"][2] if len(raw.get("size_mm", ())) == 3 else 0.0)
        digest = ""
        if "shape" in raw:
            digest = self.shape_digest(raw["shape"], self.where((*path, "shape")))
        length = raw.get("length_mm", 0.0)
        holes: list[Hole] = list(standard.holes) if standard else []
        for index, hole in enumerate(raw.get("hole", ())):
            holes += self._holes(hole, (*path, "hole", index), profile, length, thickness)
        self._unique_holes(holes, path)
        if len(self.problems) > before or "kind" not in raw:
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
            outline_mm=outline,
            thickness_mm=thickness,
            primitives=tuple(self._primitives(raw, path)),
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
                    flat=row.get("flat", False),
                )
                for row in raw.get("shaft", ())
            )
            or (standard.shafts if standard else ()),
            points=raw.get("points", {}),
            material=raw.get("material", "aluminium" if profile else ""),
            mass_gram=raw.get("mass_gram", 0.0),
            hand=raw.get("hand", ""),
            revision=raw.get("revision", ""),
            mates_with=raw.get("mates_with", {}),
            aliases=tuple(raw.get("also_called", ())),
            holds_nuts=raw.get("carrier", False),
            cutter="shape" not in raw and standard is None,
            where=self.where(path),
            paper=self.paper(path),
        )

    def _one_solid(self, raw: Mapping[str, Any], path: Path) -> None:
        ways = [
            key for key in ("standard", "profile", "size_mm", "outline_mm", "solid", "shape") if key in raw
        ]
        if len(ways) > 1:
            self._say(path, " and ".join(ways), "one way to say the solid", f"Keep one of {', '.join(ways)}.")
        if "profile" in raw and "length_mm" not in raw:
            self._say(path, "a profile without length_mm", "the cut length", "Add length_mm = …")
        if raw.get("kind") == Kind.MEMBER and "profile" not in raw and not ways:
            self._say(path, "a member without a profile", "its profile and length", 'Add profile = "…".')

    def _say(self, path: Path, read: object, expected: str, remedy: str) -> None:
        self.problems.append(
            ReadingError(where=self.where(path), read=read, expected=expected, remedy=remedy)
        )

    def _unique_holes(self, holes: Sequence[Hole], path: Path) -> None:
        seen: set[str] = set()
        for hole in holes:
            if hole.name in seen:
                self._say((*path, "hole"), hole.group, "hole groups of different names", "Rename one group.")
                return
            seen.add(hole.name)

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

    def _holes(
        self, raw: Mapping[str, Any], path: Path, profile: Profile | None, length: float, thickness: float
    ) -> list[Hole]:
        name = raw.get("name")
        if not name:
            return []
        if "." in name or ":" in name:
            self._say((*path, "name"), name, "a name without . and :", "Write, for example, motor.")
            return []
        bore = self._bore(raw, path)
        spots = self._spots(raw, path, profile, length)
        if bore is None or spots is None:
            return []
        counterbore = raw.get("counterbore_mm", [0.0, 0.0])
        if len(counterbore) != 2:
            self._say((*path, "counterbore_mm"), counterbore, "diameter and depth", "Write [6.5, 3.4].")
            return []
        holes: list[Hole] = []
        for index, (at_mm, direction, natural) in enumerate(spots, start=1):
            through = "depth_mm" not in raw
            depth = raw.get("depth_mm", raw.get("thickness_mm", natural or thickness))
            if not depth:
                self._say(
                    path,
                    f"hole '{name}' without depth_mm",
                    "depth_mm of a blind hole or thickness_mm of a through hole",
                    "The solid does not say how long the hole is; add one of the two.",
                )
                return []
            holes.append(
                Hole(
                    name=f"{name}.{index}",
                    at_mm=at_mm,
                    direction=direction,
                    diameter_mm=bore,
                    depth_mm=depth,
                    through=through,
                    thread=raw.get("thread", ""),
                    insert=raw.get("insert", ""),
                    counterbore_mm=counterbore[0],
                    counterbore_depth_mm=counterbore[1],
                    countersunk=raw.get("countersunk", False),
                    access=raw.get("access", False),
                )
            )
        return holes

    def _bore(self, raw: Mapping[str, Any], path: Path) -> float | None:
        ways = [key for key in ("diameter_mm", "thread", "insert") if key in raw]
        if len(ways) != 1:
            self._say(
                path, ways or "no size", "one of diameter_mm, thread, insert", "Say the hole's size once."
            )
            return None
        if "thread" in raw:
            try:
                return thread(raw["thread"]).diameter_mm
            except UnknownDesignation as error:
                self._say((*path, "thread"), raw["thread"], "a metric thread such as M5", error.remedy)
                return None
        if "insert" in raw:
            found = self._standard(
                raw["insert"], Insert, "an insert such as heat-set insert M3x5.7", (*path, "insert")
            )
            return float(found.outer_mm) if found else None
        return float(raw["diameter_mm"])

    def _spots(
        self, raw: Mapping[str, Any], path: Path, profile: Profile | None, length: float
    ) -> list[tuple[Triple, Triple, float]] | None:
        """Point, direction and natural length of each hole of a group."""
        at = raw.get("at_mm")
        rows: list[Any] = at if isinstance(at, list) else [at]
        if profile is not None:
            return self._member_spots(raw, rows, path, profile, length)
        direction = raw.get("direction", (0.0, 0.0, 1.0))
        if rows and not isinstance(rows[0], list):
            rows = [rows]
        spots: list[tuple[Triple, Triple, float]] = []
        for row in rows:
            if not isinstance(row, list) or len(row) not in (2, 3) or not all(map(_is_number, row)):
                self._say((*path, "at_mm"), at, "points of two or three numbers", "Write [[x, y], …].")
                return None
            z = float(row[2]) if len(row) == 3 else None
            if z is None:
                z = self._surface(path, direction)
                if z is None:
                    return None
            spots.append(((float(row[0]), float(row[1]), z), direction, 0.0))
        return spots

    def _surface(self, path: Path, direction: Triple) -> float | None:
        """z of a plate's face for a hole given by x and y only; None when the part is no plate."""
        raw = self.raw[str(path[1])]
        size = raw.get("size_mm")
        thickness = size[2] if isinstance(size, list) and len(size) == 3 else raw.get("thickness_mm")
        if not _is_number(thickness) or direction not in (DIRECTIONS["+z"], DIRECTIONS["-z"]):
            self._say((*path, "at_mm"), "x and y only", "three numbers, as this is no plate", "Add z.")
            return None
        return float(thickness) if direction[2] > 0 else 0.0

    def _member_spots(
        self, raw: Mapping[str, Any], rows: Sequence[object], path: Path, profile: Profile, length: float
    ) -> list[tuple[Triple, Triple, float]] | None:
        face = raw.get("face")
        if face is None or not rows or not all(_is_number(row) for row in rows):
            self._say(
                path,
                raw.get("at_mm") if face else "no face",
                "face, from, and at_mm as distances from that end",
                'Write { name = "access", face = "+y", from = "a", at_mm = 10, diameter_mm = 6 }.',
            )
            return None
        direction = DIRECTIONS[face]
        depth = profile.size_y_mm if face.endswith("y") else profile.size_z_mm
        across = raw.get("across_mm", 0.0)
        spots: list[tuple[Triple, Triple, float]] = []
        for row in rows:
            assert isinstance(row, (int, float))
            x = float(row) if raw.get("from", "a") == "a" else length - float(row)
            if not 0 < x < length:
                self._say(
                    (*path, "at_mm"),
                    row,
                    f"a distance inside the member's {length:g} mm",
                    "Measure from the end.",
                )
                return None
            if face.endswith("y"):
                at_mm = (x, direction[1] * depth / 2, across)
            else:
                at_mm = (x, across, direction[2] * depth / 2)
            spots.append((at_mm, direction, depth))
        return spots


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e6


def _outline(raw: Mapping[str, Any], reader: TypeReader, path: Path) -> tuple[tuple[float, float], ...]:
    if "size_mm" in raw:
        size = raw["size_mm"]
        if len(size) != 3:
            reader._say((*path, "size_mm"), size, "three sizes: x, y, thickness", "Write [120, 60, 4].")
            return ()
        x, y, _ = size
        return ((0.0, 0.0), (x, 0.0), (x, y), (0.0, y))
    if "outline_mm" in raw:
        points = [tuple(point) for point in raw["outline_mm"]]
        if len(points) < 3 or "thickness_mm" not in raw:
            reader._say(
                (*path, "outline_mm"),
                f"{len(points)} corners",
                "three corners or more, and thickness_mm",
                "Add them.",
            )
            return ()
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True))
        if abs(area) < 1e-9:
            reader._say(
                (*path, "outline_mm"), "corners on one line", "an outline with an area", "Check the corners."
            )
            return ()
        return tuple(points if area > 0 else reversed(points))
    return ()

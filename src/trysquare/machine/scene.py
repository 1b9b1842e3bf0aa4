"""The scene: units and parts in their places, names resolved, slots mapped."""

from __future__ import annotations

import fnmatch
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from trysquare.catalogue.values import RailSize
from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array, Placement, Triple, cross, turned
from trysquare.machine.fields import PLACE, UNIT
from trysquare.machine.schema import check_table
from trysquare.machine.slots import Channel, ChannelMap, member_channels
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Tree
from trysquare.machine.types import TypeReader
from trysquare.machine.values import Hole, PartType, PlacedPart, Shaft

_SLOT_KEYS = ("from", "offset_mm", "across_mm", "height_mm", "turn_deg")
_FREE_KEYS = ("at_mm", "along", "up")


@dataclass(slots=True)
class Scene:
    """Everything placed so far, with the means to look it up. Filled by `read_scene`, read by recipes."""

    types: TypeReader
    where: Callable[[Path], Where]
    problems: list[ReadingError]
    units: tuple[str, ...] = ()
    unit_placement: dict[str, Placement] = field(default_factory=dict)
    parts: dict[str, PlacedPart] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)  # ids whose place could not be read: said already
    broken_joints: set[str] = field(default_factory=set)  # the same for joints, and those that name such
    met_broken: int = 0  # how often something was asked for whose problem is noted already
    channels: ChannelMap = field(default_factory=lambda: ChannelMap(()))
    findings: list[Finding] = field(default_factory=list)
    coming: tuple[str, ...] = ()  # ids that the files name, whether they are placed yet or not
    _slots: dict[str, dict[str, Channel]] = field(default_factory=dict)

    def slots_of(self, member: PlacedPart) -> Mapping[str, Channel]:
        """A placed member's slots by name; empty for other parts."""
        if member.id not in self._slots:
            self._slots[member.id] = {channel.name: channel for channel in member_channels(member)}
        return self._slots[member.id]

    def problem(self, path: Path, read: object, expected: str, remedy: str) -> None:
        """Notes what cannot be read."""
        self.problems.append(
            ReadingError(where=self.where(path), read=read, expected=expected, remedy=remedy)
        )

    def find(self, word: str, unit: str, where: Where) -> PlacedPart | None:
        """A placed part by its name in the unit or its whole id; None after noting the problem."""
        for name in (f"{unit}/{word}", word):
            if name in self.parts:
                return self.parts[name]
            if name in self.broken:
                self.met_broken += 1
                return None
        known = [name.removeprefix(f"{unit}/") for name in (*self.parts, *self.coming)]
        self.problems.append(
            ReadingError(where=where, read=word, expected="a placed part", remedy=nearest(word, known))
        )
        return None

    def find_all(self, words: Iterable[str], unit: str, where: Where) -> list[PlacedPart]:
        """Placed parts by names or patterns with * and ?; a pattern that meets nothing is a problem."""
        found: dict[str, PlacedPart] = {}
        for word in words:
            if any(char in word for char in "*?["):
                names = fnmatch.filter(self.parts, f"{unit}/{word}") or fnmatch.filter(self.parts, word)
                if not names and not self.meets_broken(word, unit):
                    known = [name.removeprefix(f"{unit}/") for name in self.parts]
                    self.problems.append(
                        ReadingError(
                            where=where,
                            read=word,
                            expected="a pattern that some placed part fits",
                            remedy=nearest(word, known),
                        )
                    )
                found |= {name: self.parts[name] for name in names}
            else:
                one = self.find(word, unit, where)
                if one is not None:
                    found[one.id] = one
        return list(found.values())

    def meets_broken(self, word: str, unit: str) -> bool:
        """Whether a pattern fits something whose own problem is noted already."""
        broken = [*self.broken, *self.broken_joints]
        meets = bool(fnmatch.filter(broken, f"{unit}/{word}") or fnmatch.filter(broken, word))
        self.met_broken += meets
        return meets

    def feature(self, word: str, unit: str, where: Where) -> tuple[PlacedPart, str] | None:
        """Splits ``part:feature`` and finds the part."""
        name, colon, feature = word.partition(":")
        if not colon or not feature:
            self.problems.append(
                ReadingError(
                    where=where,
                    read=word,
                    expected="a part and its feature with a colon between",
                    remedy="Write, for example, beam:a, beam:+z or plate:motor.",
                )
            )
            return None
        part = self.find(name, unit, where)
        return (part, feature) if part is not None else None

    def holes(self, word: str, unit: str, where: Where) -> tuple[PlacedPart, tuple[Hole, ...]] | None:
        """The holes that ``part:group`` or ``part:group.2`` names; none there is a problem."""
        found = self.feature(word, unit, where)
        if found is None:
            return None
        part, group = found
        holes = part.type.holes_of(group)
        if not holes:
            known = {hole.group for hole in part.type.holes} | {hole.name for hole in part.type.holes}
            self.problems.append(
                ReadingError(
                    where=where,
                    read=word,
                    expected=f"a hole of part '{part.type.id}'",
                    remedy=nearest(group, known),
                )
            )
            return None
        return part, holes

    def shaft(self, word: str, unit: str, where: Where) -> tuple[PlacedPart, Shaft] | None:
        """The shaft that ``part:name`` names, or the only shaft of a part."""
        name = word if ":" in word else f"{word}:shaft"
        found = self.feature(name, unit, where)
        if found is None:
            return None
        part, wanted = found
        for shaft in part.type.shafts:
            if shaft.name == wanted:
                return part, shaft
        self.problems.append(
            ReadingError(
                where=where,
                read=word,
                expected=f"a shaft of part '{part.type.id}'",
                remedy=nearest(wanted, (shaft.name for shaft in part.type.shafts)),
            )
        )
        return None

    def point(self, word: str, unit: str, where: Where) -> tuple[PlacedPart, Array] | None:
        """The named point ``part:point`` in the machine frame; of a part alone its origin."""
        if ":" not in word:
            part = self.find(word, unit, where)
            return (part, part.placement.origin_mm) if part else None
        found = self.feature(word, unit, where)
        if found is None:
            return None
        part, name = found
        if name not in part.type.points:
            self.problems.append(
                ReadingError(
                    where=where,
                    read=word,
                    expected=f"a named point of part '{part.type.id}'",
                    remedy=nearest(name, part.type.points),
                )
            )
            return None
        return part, part.placement.point(part.type.points[name])

    def say(
        self,
        code: str,
        says: str,
        *,
        parts: tuple[str, ...] = (),
        joint: str = "",
        at_mm: Array | None = None,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
        remedy: str = "",
        where: Where | None = None,
    ) -> None:
        """Adds a finding."""
        spot = None if at_mm is None else (float(at_mm[0]), float(at_mm[1]), float(at_mm[2]))
        self.findings.append(
            Finding(
                code=code,
                says=says,
                parts=parts,
                joint=joint,
                at_mm=spot,
                value=value,
                limit=limit,
                unit=unit,
                remedy=remedy,
                where=where,
            )
        )


def read_scene(tree: Tree, types: TypeReader, problems: list[ReadingError]) -> Scene:
    """Places all units and parts. Problems are collected; what cannot be placed is left out."""
    scene = Scene(types=types, where=tree.where, problems=problems)
    units: Mapping[str, Any] = tree.lines["unit"]
    heads = {
        name: check_table(raw.get("unit", {}), UNIT, ("unit", name, "unit"), tree.where, problems)
        for name, raw in units.items()
    }
    _place_units(scene, heads)
    pending: dict[str, _Pending] = {}
    for unit, raw in units.items():
        for name, row in raw.get("place", {}).items():
            path: Path = ("unit", unit, "place", name)
            before = len(problems)
            checked = check_table(row, PLACE, path, tree.where, problems)
            if len(problems) > before:
                scene.broken.add(f"{unit}/{name}")
            else:
                pending[f"{unit}/{name}"] = _Pending(unit, path, checked)
    _place_parts(scene, pending, tree)
    scene.channels = ChannelMap(scene.parts.values())
    return scene


def _place_units(scene: Scene, heads: Mapping[str, dict[str, Any]]) -> None:
    """Places each unit in the one it belongs to; a circle of units stands in the machine itself."""
    in_circle: set[str] = set()
    for name in heads:
        chain: list[str] = []
        at: str = name
        while at and at not in chain and at not in scene.unit_placement:
            chain.append(at)
            parent = heads[at].get("in", "")
            if parent and parent not in heads:
                scene.problem(("unit", at, "unit", "in"), parent, "a unit", nearest(parent, heads))
                parent = ""
            at = parent
        if at in chain:
            circle = chain[chain.index(at) :]
            if not in_circle.intersection(circle):
                scene.problem(
                    ("unit", at, "unit", "in"),
                    " in ".join([*circle, at]),
                    "units that are not inside themselves",
                    "Take one 'in' out of the circle.",
                )
            in_circle.update(circle)
            at = ""
        placement = scene.unit_placement[at] if at else Placement()
        for unit in reversed(chain):
            placement = placement.then(_own_placement(scene, heads[unit], ("unit", unit, "unit")))
            scene.unit_placement[unit] = placement
    scene.units = tuple(heads)


def _own_placement(scene: Scene, row: Mapping[str, Any], path: Path) -> Placement:
    along = row.get("along", (1.0, 0.0, 0.0))
    up = row.get("up")
    if up is None:  # a part that points up or down keeps its z towards +x, unless told otherwise
        up = (0.0, 0.0, 1.0) if abs(along[2]) < 0.9 * math.hypot(*along) else (1.0, 0.0, 0.0)
    try:
        turn = turned(along, up)
    except ValueError:
        read = f"along {_words(along)} and up {_words(up)}"
        scene.problem(path, read, "two directions that are not parallel", "Choose up across along.")
        turn = np.eye(3)
    return Placement(turn, np.asarray(row.get("at_mm", (0.0, 0.0, 0.0)), dtype=float))


def _words(direction: Triple) -> str:
    names = [name for name, triple in DIRECTIONS.items() if triple == direction]
    return names[0] if names else "[" + ", ".join(f"{part:g}" for part in direction) + "]"


@dataclass(slots=True)
class _Pending:
    """A placement that is read but not yet placed."""

    unit: str
    path: Path
    row: Mapping[str, Any]


def _place_parts(scene: Scene, pending: Mapping[str, _Pending], tree: Tree) -> None:
    """Places every part after the one it stands on, however long the chain of them is."""
    scene.coming = tuple(pending)
    for identity in pending:
        chain = [identity]
        while chain:
            at = chain[-1]
            below = _stands_on(pending[at], pending)
            if below is None or below in scene.parts or below in scene.broken:
                if at not in scene.parts and at not in scene.broken:
                    _place_part(scene, at, pending[at], tree)
                chain.pop()
            elif below in chain:
                circle = chain[chain.index(below) :]
                scene.problem(
                    (*pending[at].path, "on"),
                    " on ".join([*circle, below]),
                    "parts that do not stand on themselves",
                    "Place one of them with at_mm.",
                )
                scene.broken.update(circle)
            else:
                chain.append(below)
    # Later rooms list parts in the order in which the files name them.
    scene.parts = {identity: scene.parts[identity] for identity in pending if identity in scene.parts}


def _stands_on(placing: _Pending, pending: Mapping[str, _Pending]) -> str | None:
    name = placing.row.get("on", "").partition(":")[0]
    return next((one for one in (f"{placing.unit}/{name}", name) if one in pending), None) if name else None


def _place_part(scene: Scene, identity: str, placing: _Pending, tree: Tree) -> None:
    path, row = placing.path, placing.row
    part_type = scene.types.find(row["part"], scene.where((*path, "part")))
    placement = _part_placement(scene, placing, part_type)
    if part_type is None or placement is None:
        scene.broken.add(identity)
        return
    scene.parts[identity] = PlacedPart(
        id=identity,
        type=part_type,
        placement=placement,
        unit=placing.unit,
        where=tree.where(path),
        paper=tree.paper((*path, "part")),
    )


def _part_placement(scene: Scene, placing: _Pending, part_type: PartType | None) -> Placement | None:
    unit, path, row = placing.unit, placing.path, placing.row
    on = row.get("on", "")
    wrong = [key for key in (_FREE_KEYS if ":" in on else _SLOT_KEYS) if key in row]
    if wrong:
        where = "not on a member's slot" if ":" in on else "only on a member's slot"
        remedy = "Use from, offset_mm, across_mm, height_mm and turn_deg there."
        if ":" not in on:
            remedy = 'Write on = "beam:+z", or use at_mm, along and up.'
        scene.problem((*path, wrong[0]), wrong[0], f"this key {where}", remedy)
        return None
    if not on:
        return scene.unit_placement[unit].then(_own_placement(scene, row, path))
    name, colon, face = on.partition(":")
    base = scene.find(name, unit, scene.where((*path, "on")))
    if base is None:
        return None
    if not colon:
        return base.placement.then(_own_placement(scene, row, path))
    channels = scene.slots_of(base)
    if face not in channels:
        expected = f"a slot of '{name}'" if channels else "a member, which has slots"
        remedy = nearest(face, channels) if channels else "Place it on the part itself, without the colon."
        scene.problem((*path, "on"), on, expected, remedy)
        return None
    return _on_slot(channels[face], row, part_type) if part_type is not None else None


def _on_slot(channel: Channel, row: Mapping[str, Any], part_type: PartType) -> Placement:
    """A part on a member's face: z out of the face, x along the member, turned about z."""
    turn = math.radians(row.get("turn_deg", 0.0))
    length = part_length_mm(part_type) * math.cos(turn)
    offset = row.get("offset_mm", 0.0)
    if row.get("from", "a") == "a":
        x = offset - min(0.0, length)
    else:
        x = channel.length_mm - offset - max(0.0, length)
    base = np.column_stack([channel.along, cross(channel.out, channel.along), channel.out])
    cosine, sine = math.cos(turn), math.sin(turn)
    about = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    origin = channel.start_mm + base @ np.array([x, row.get("across_mm", 0.0), row.get("height_mm", 0.0)])
    return Placement(base @ about, origin)


def part_length_mm(part_type: PartType) -> float:
    """Extent along the part's own x from its origin: of members and rails; 0 for others."""
    if part_type.profile is not None:
        return part_type.length_mm
    return part_type.standard.length_mm if isinstance(part_type.standard, RailSize) else 0.0

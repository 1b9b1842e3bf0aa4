"""A machine's sorts as paper shows them: letter, name, size, count, and a drawing where one can be made."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from trysquare.catalogue.designation import written
from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import BeltSize, Insert, Nut, RailSize, Screw, SlotNut, Washer
from trysquare.machine.values import Kind, Machine, PartType
from trysquare.publish.drawing import Drawing
from trysquare.publish.fastener_drawing import fastener_drawing, fastener_words
from trysquare.publish.member_drawing import (
    ends_words,
    member_drawing,
    plate_drawing,
    rail_drawing,
    rail_ends_words,
)
from trysquare.publish.shadow import shadow_drawing, sides_mm
from trysquare.stock.key import Sort, sorts_of
from trysquare.stock.letters import KeptLetter
from trysquare.stock.need import Need, NeedLine, need

KIND_WORDS = {
    Kind.MEMBER: "member",
    Kind.PLATE: "plate",
    Kind.PRINTED: "printed part",
    Kind.BOUGHT: "bought part",
    Kind.FASTENER: "fastener",
    Kind.GUIDE: "guide",
    Kind.DRIVE: "drive part",
    Kind.WIRE: "wire",
}
LOOSE = frozenset({Kind.FASTENER, Kind.WIRE})  # kept in a bag or on a roll, never labelled one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """One sort. `letter` is "" for what is cut from a roll. `parts`: the part ids that are this piece, the
    first one its own; `places`: where its pieces go, as far as anything places them."""

    letter: str
    name: str
    kind: Kind
    part: str
    parts: tuple[str, ...]
    pieces: int
    part_type: PartType | None
    places: tuple[str, ...] = ()
    cuts_mm: tuple[float, ...] = ()
    also_called: tuple[str, ...] = field(default=())


def labelled_sorts(
    machine: Machine,
    kept: Iterable[KeptLetter] = (),
    kinds: Iterable[Kind] = (),
    whole: Need | None = None,
) -> tuple[Labelled, ...]:
    """Everything that can be labelled, in the order of the need. `kinds`: only these; none: all.

    `whole`: the machine's need, where it is known already.
    """
    whole = whole or need(machine)
    wanted = frozenset(kinds) or frozenset(Kind)
    lines = {line.part: line for line in whole.lines}
    sort_of = {part: sort for sort in sorts_of(machine, kept, whole) for part in sort.parts}
    found: dict[str, Labelled] = {}
    for line in whole.lines:
        sort = sort_of.get(line.part)
        first = next(iter(sort.parts)) if sort else line.part
        if line.kind in wanted and first not in found:
            found[first] = _labelled(machine, lines[first], sort, lines)
    return tuple(found.values())


def _labelled(machine: Machine, line: NeedLine, sort: Sort | None, lines: dict[str, NeedLine]) -> Labelled:
    parts = tuple(sort.parts) if sort else (line.part,)
    places = (place for part in parts for reason in lines[part].reasons for place in reason.places)
    return Labelled(
        letter=sort.letter if sort else "",
        name=line.name,
        kind=line.kind,
        part=line.part,
        parts=parts,
        pieces=sort.pieces if sort else line.pieces,
        part_type=type_of(machine, line.part),
        places=tuple(places),
        cuts_mm=line.cuts_mm,
        also_called=sort.also_called if sort else line.aliases,
    )


def type_of(machine: Machine, part: str) -> PartType | None:
    """The part type of an id as the need names it; None for what has no type, as some rolls."""
    if part in machine.types:
        return machine.types[part]
    return next((placed.type for placed in machine.placed if placed.type.id == part), None)


def size_words(one: Labelled, folder: str) -> str:
    """Length and what it is made of, or what it is and how large. `folder`: for shapes from files."""
    part_type = one.part_type
    if one.cuts_mm:
        cuts = ", ".join(written(round(cut)) for cut in sorted(set(one.cuts_mm), reverse=True)[:6])
        more = ", …" if len(set(one.cuts_mm)) > 6 else ""
        return f"{sum(one.cuts_mm) / 1000:.2f} m together: {cuts}{more} mm"
    if part_type is None:
        return KIND_WORDS.get(one.kind, "")
    standard = part_type.standard
    if part_type.profile is not None:
        return f"{written(part_type.length_mm)} mm · {part_type.profile.designation}"
    if isinstance(standard, Screw):
        key = f" · key {written(standard.key_mm)} mm" if standard.key_mm else ""
        return f"{fastener_words(standard)}{key}"
    if isinstance(standard, Nut | Washer | Insert | SlotNut):
        return fastener_words(standard)
    if isinstance(standard, RailSize):
        ends = f" · first hole {rail_ends_words(standard)}" if standard.ends_differ else ""
        return f"{written(standard.length_mm)} mm · {standard.hole_count} holes{ends}"
    belt = belt_words(part_type)
    if belt:
        return belt
    if part_type.outline_mm:
        across, up = (max(side) - min(side) for side in zip(*part_type.outline_mm, strict=True))
        outer = [written(round(side, 1)) for side in (across, up, part_type.thickness_mm)]
        return f"{' × '.join(outer)} mm"
    words = [KIND_WORDS.get(one.kind, "")]
    if part_type.hand:
        words.append(f"{part_type.hand} hand")
    sides = sides_mm(part_type, folder) if part_type.standard is None else ()
    if sides:
        words.append(" × ".join(map(str, sides)) + " mm")
    return ", ".join(word for word in words if word)


def belt_words(part_type: PartType) -> str:
    """Length round, width and pitch of a closed belt, by which it is bought; "" for anything else. The box
    round it as it lies in the machine tells nobody anything."""
    said = re.fullmatch(r"(.+), closed, (\d+) teeth", part_type.name)
    if part_type.kind is not Kind.DRIVE or said is None:
        return ""
    try:
        belt = lookup(said[1])
    except UnknownDesignation:
        return ""
    if not isinstance(belt, BeltSize):
        return ""
    long = written(round(int(said[2]) * belt.pitch_mm, 1))
    return f"{long} mm round, {written(belt.width_mm)} mm wide, pitch {written(belt.pitch_mm)} mm"


def end_words(one: Labelled) -> str:
    """Which end of a member is which; "" for what has no ends."""
    return ends_words(one.part_type) if one.part_type is not None and one.part_type.profile else ""


def sort_drawing(
    one: Labelled, folder: str, width_mm: float, height_mm: float, *, strip_mm: float = 2.6
) -> Drawing | None:
    """A drawing that fits this room: fasteners true to size or not at all, everything else made small.

    `folder`: the machine folder, for shapes from files.
    """
    part_type = one.part_type
    if part_type is None:
        return None
    if part_type.profile is not None and part_type.length_mm > 0:
        return member_drawing(part_type, width_mm, strip_mm, most_mm=height_mm - 0.3)
    standard = part_type.standard
    if isinstance(standard, RailSize):
        return rail_drawing(standard, width_mm, min(strip_mm, height_mm - 0.3))
    if isinstance(standard, Screw | Nut | Washer | Insert | SlotNut):
        drawn = fastener_drawing(standard)
        return drawn if drawn.width_mm <= width_mm and drawn.height_mm <= height_mm else None
    return plate_drawing(part_type, width_mm, height_mm) or shadow_drawing(
        part_type, folder, width_mm, height_mm
    )

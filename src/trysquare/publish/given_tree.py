"""What is given out of a machine: its units one in the other, the pieces in each, as built up to a step."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from trysquare.machine.values import Kind, Machine, PartType, PlacedPart
from trysquare.solid.shapes import makes_solid

Colour = tuple[float, float, float]

_BY_MATERIAL: tuple[tuple[str, Colour], ...] = (
    ("alumin", (0.78, 0.80, 0.82)),
    ("stainless", (0.66, 0.67, 0.69)),
    ("steel", (0.56, 0.57, 0.60)),
    ("brass", (0.80, 0.66, 0.33)),
    ("copper", (0.72, 0.45, 0.30)),
    ("bronze", (0.68, 0.53, 0.32)),
    ("glass", (0.75, 0.85, 0.88)),
    ("rubber", (0.18, 0.18, 0.19)),
    ("acryl", (0.82, 0.87, 0.90)),
    ("polycarbonate", (0.82, 0.87, 0.90)),
)
"""Red, green, blue, 0 to 1, as a screen shows them: for telling things apart, nobody's finish."""

_BY_KIND: dict[Kind, Colour] = {
    Kind.MEMBER: (0.78, 0.80, 0.82),
    Kind.PLATE: (0.70, 0.73, 0.76),
    Kind.PRINTED: (0.87, 0.53, 0.27),
    Kind.BOUGHT: (0.38, 0.42, 0.47),
    Kind.FASTENER: (0.34, 0.35, 0.38),
    Kind.GUIDE: (0.62, 0.66, 0.70),
    Kind.DRIVE: (0.42, 0.44, 0.47),
    Kind.WIRE: (0.20, 0.20, 0.22),
    Kind.CONSUMABLE: (0.55, 0.60, 0.50),
    Kind.JIG: (0.36, 0.55, 0.42),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GivenUnit:
    """A unit with the units that belong to it and its own pieces; the machine itself has the name's id ""."""

    id: str
    title: str
    units: tuple[GivenUnit, ...]
    pieces: tuple[PlacedPart, ...]

    def all_pieces(self) -> Iterator[PlacedPart]:
        """The pieces of the unit and of all in it."""
        yield from self.pieces
        for unit in self.units:
            yield from unit.all_pieces()


def given_tree(machine: Machine, present: Collection[str] | None = None) -> GivenUnit:
    """The machine's units with the pieces that are there and have a solid; `present`: all when None.

    Units with nothing in them are left out.
    """
    pieces: dict[str, list[PlacedPart]] = {}
    for piece in machine.placed:
        if (present is None or piece.id in present) and makes_solid(piece.type):
            pieces.setdefault(piece.unit, []).append(piece)
    lines = machine.tree.lines.get("unit", {}) if machine.tree is not None else {}
    head = {name: raw.get("unit", {}) for name, raw in lines.items()}
    above: dict[str, str] = {}
    for name in dict.fromkeys((*machine.units, *pieces)):
        over = str(head.get(name, {}).get("in", ""))
        if name:
            above[name] = over if over in head and over != name else ""

    def unit(name: str) -> GivenUnit:
        inner = (unit(one) for one, over in above.items() if over == name)
        return GivenUnit(
            id=name,
            title=str(head.get(name, {}).get("title", name)) if name else machine.name,
            units=tuple(one for one in inner if one.units or one.pieces),
            pieces=tuple(pieces.get(name, ())),
        )

    return unit("")


def left_out(machine: Machine, present: Collection[str] | None = None) -> list[str]:
    """Ids of the part types that have no solid to give out, in order."""
    there = (piece for piece in machine.placed if present is None or piece.id in present)
    return list(dict.fromkeys(piece.type.id for piece in there if not makes_solid(piece.type)))


def colour_of(part_type: PartType) -> Colour:
    """The colour in which a part is given out: by its material where it says one, else by its kind."""
    if part_type.kind is not Kind.PRINTED:
        material = part_type.material.casefold()
        for word, colour in _BY_MATERIAL:
            if word in material:
                return colour
    return _BY_KIND[part_type.kind]

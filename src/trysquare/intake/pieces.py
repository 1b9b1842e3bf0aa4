"""An assembly's bodies as pieces of a machine: what each is, where it stands, which holes it has.

A piece of the catalogue has its designation's own type; everything else has a type made here, one for each
different shape. Coordinates are the machine room's: a member's x along it, a screw's z out of its head.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut, Washer
from trysquare.ground.placement import Placement, Triple
from trysquare.intake.bodies import Assembly, Body, Recognition, Shape
from trysquare.intake.own_types import OwnType, types_of
from trysquare.intake.part_ids import Names, says_nothing, slug
from trysquare.intake.rounding import rounded
from trysquare.machine.values import Hole, PartType, PlacedPart

FASTENERS = (Screw, Nut, SlotNut, Washer, Insert)
FARTHEST_MM = 50_000.0  # half of what a machine folder can say


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One body in its place. Exactly one of `own` and `standard` is there; a fastener that is only proposed
    has neither, but `says` what a joint is to ask for."""

    number: int
    id: str  # "unit/name"
    body: Body
    placement: Placement
    own: OwnType | None = None
    standard: PartType | None = None
    says: str = ""
    frame: Placement = field(default_factory=Placement)  # takes its coordinates to its shape's

    @property
    def unit(self) -> str:
        return self.id.partition("/")[0]

    @property
    def word(self) -> str:
        """What a machine folder calls its type."""
        if self.own is not None:
            return self.own.id
        return self.standard.id if self.standard is not None else self.says

    @property
    def is_fastener(self) -> bool:
        return self.standard is not None and isinstance(self.standard.standard, FASTENERS)

    @property
    def holes(self) -> tuple[Hole, ...]:
        if self.own is not None:
            return tuple(self.own.holes)
        return self.standard.holes if self.standard is not None else ()

    def placed(self) -> PlacedPart:
        """As the machine room sees it; enough for its slots."""
        kind = self.standard
        if kind is None:
            own = self.own
            assert own is not None
            kind = PartType(
                id=own.id, name=own.name, kind=own.kind, profile=own.profile, length_mm=own.length_mm
            )
        return PlacedPart(id=self.id, type=kind, placement=self.placement, unit=self.unit)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """All pieces of an assembly, the own types among them, and the names of its units, in file order."""

    name: str
    pieces: tuple[Piece, ...]
    types: tuple[OwnType, ...]
    shapes: tuple[Shape, ...]
    units: Mapping[str, str]  # id -> title
    unit_in: Mapping[str, str] = field(default_factory=dict)  # id -> id of the unit it belongs to
    moved_mm: Triple = (0.0, 0.0, 0.0)  # by which everything was brought nearer, as it stood too far away


def pieces_of(
    assembly: Assembly,
    recognitions: Mapping[int, Recognition],
    *,
    printed: frozenset[int] = frozenset(),
    name: str = "",
    known: Mapping[str, str] | None = None,
) -> Pieces:
    """The pieces of an assembly. `recognitions` by shape number; `printed`: shapes known to be printed;
    `known`: ids that shapes had in an earlier revision, by digest."""
    types = types_of(assembly, recognitions, printed=printed, known=known or {})
    units: dict[str, str] = {}
    unit_in: dict[str, str] = {}
    pieces: list[Piece] = []
    ids = Names()
    nearer = _nearer(assembly)
    for number, body in enumerate(assembly.bodies):
        kind = types[body.shape]
        unit = _unit_of(body.path[1:], units, unit_in)
        own = kind if isinstance(kind, OwnType) else None
        pieces.append(
            Piece(
                number=number,
                id=f"{unit}/{ids.one_of(_piece_name(body, unit, kind.id), space=unit)}",
                body=body,
                placement=nearer.then(body.placement).then(recognitions[body.shape].frame),
                own=own,
                frame=recognitions[body.shape].frame,
                standard=None if own else kind,  # type: ignore[arg-type]
            )
        )
    root = next((body.path[0] for body in assembly.bodies if body.path), "")
    return Pieces(
        name=name or root or re.sub(r"\.[A-Za-z0-9]+$", "", assembly.facts.name),
        pieces=tuple(pieces),
        types=tuple(kind for kind in types.values() if isinstance(kind, OwnType)),
        shapes=assembly.shapes,
        units=units,
        unit_in=unit_in,
        moved_mm=rounded(nearer.origin_mm),
    )


def _nearer(assembly: Assembly) -> Placement:
    """Brings an assembly that stands beyond what a machine folder can say to the origin."""
    if not assembly.bodies:
        return Placement()
    spots = np.array([body.placement.origin_mm for body in assembly.bodies])
    if float(np.abs(spots).max()) < FARTHEST_MM:
        return Placement()
    return Placement(np.eye(3), -np.round(np.median(spots, axis=0)))


def _unit_of(words: tuple[str, ...], units: dict[str, str], unit_in: dict[str, str]) -> str:
    """The unit of a sub-assembly, `words` from the outermost in; those it lies in become units before it."""
    name = slug("-".join(slug(word) for word in words)) or "machine"
    if name in units:
        return name
    outer = _unit_of(words[:-1], units, unit_in) if len(words) > 1 else ""
    units.setdefault(name, words[-1].strip() if words and words[-1].strip() else "Machine")
    if outer and outer != name:
        unit_in[name] = outer
    return name


def _piece_name(body: Body, unit: str, type_id: str) -> str:
    text = body.name.strip()
    if "/" in text:
        text = text.removeprefix(f"{unit}/")
    name = slug(text)
    return name if not says_nothing(name) else (slug(type_id) or "part")

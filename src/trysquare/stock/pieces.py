"""Every piece that is picked up and built in, each with who asks for it.

A piece is one thing in the hand: a placed part, one screw of a joint, one cut of belt, one core of a
cable. Jigs are tools and consumables are supplies; neither is a piece.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trysquare.ground.placement import Triple
from trysquare.machine.values import Joint, Kind, Machine, PlacedPart

NOT_PIECES = frozenset({Kind.JIG, Kind.CONSUMABLE})


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece. `sort` is "placed" for what a unit places; else what a joint brings it as: "screw",
    "nut", "washer", "insert", "carrier", "bar", "bracket", "belt", "wire".

    `length_mm` is the cut length of belts and wires, 0 for what is counted. `at_mm` is its origin in
    the machine frame; None for wires, which have a way and no place.
    """

    id: str
    part: str  # part type, under the name that lists and stock know
    name: str
    kind: Kind
    sort: str
    unit: str
    asked_by: str  # joint id, or the placed part's own id
    length_mm: float = 0.0
    at_mm: Triple | None = None
    paper: str = ""


def pieces_of(machine: Machine) -> Mapping[str, Piece]:
    """All pieces by id, in the machine's order: what units place first, then joint by joint."""
    pieces: dict[str, Piece] = {}
    for placed in machine.placed:
        if not placed.joint and placed.type.kind not in NOT_PIECES:
            pieces[placed.id] = _placed_piece(placed)
    for joint in machine.joints:
        paper = paper_of_joint(machine, joint)
        for placed in joint.brings:
            pieces[placed.id] = _brought_piece(placed, joint, paper)
        for piece in _cores(machine, joint, paper):
            pieces[piece.id] = piece
    return pieces


def paper_of_joint(machine: Machine, joint: Joint) -> str:
    """The paper that says the joint: as read, or the last standing word on its line; "" when none says."""
    if joint.paper:
        return joint.paper
    line = f"unit.{joint.unit}.joint.{joint.id.rpartition('/')[2]}"
    spoken = [
        saying.paper
        for saying in machine.sayings
        if saying.stands and (saying.line == line or saying.line.startswith(f"{line}."))
    ]
    return spoken[-1] if spoken else ""


def _placed_piece(placed: PlacedPart) -> Piece:
    return Piece(
        id=placed.id,
        part=placed.type.id,
        name=placed.type.name,
        kind=placed.type.kind,
        sort="placed",
        unit=placed.unit,
        asked_by=placed.id,
        at_mm=_origin(placed),
        paper=placed.paper,
    )


def _brought_piece(placed: PlacedPart, joint: Joint, paper: str) -> Piece:
    part, name, length_mm = placed.type.id, placed.type.name, 0.0
    # An open belt is cut from the roll; a closed one is bought by its number of teeth.
    if joint.belt is not None and joint.belt.placed == placed.id and not joint.belt.closed:
        part = name = joint.belt.belt
        length_mm = joint.belt.length_mm
    return Piece(
        id=placed.id,
        part=part,
        name=name,
        kind=placed.type.kind,
        sort=placed.id.rpartition("/")[2].partition(".")[0],
        unit=joint.unit,
        asked_by=joint.id,
        length_mm=length_mm,
        at_mm=_origin(placed),
        paper=placed.paper or paper,
    )


def core_ids(joint: Joint) -> tuple[str, ...]:
    """Piece ids of a cable's wires, one a core; empty for other joints."""
    return tuple(f"{joint.id}/wire.{core}" for core in range(1, joint.cable.cores + 1)) if joint.cable else ()


def _cores(machine: Machine, joint: Joint, paper: str) -> list[Piece]:
    """A cable's cores: as many cuts of its wire."""
    if joint.cable is None:
        return []
    wire = joint.cable.wire
    return [
        Piece(
            id=identity,
            part=wire,
            name=machine.types[wire].name if wire in machine.types else wire,
            kind=Kind.WIRE,
            sort="wire",
            unit=joint.unit,
            asked_by=joint.id,
            length_mm=joint.cable.length_mm,
            paper=paper,
        )
        for identity in core_ids(joint)
    ]


def _origin(placed: PlacedPart) -> Triple:
    x, y, z = placed.placement.origin_mm
    return (float(x), float(y), float(z))

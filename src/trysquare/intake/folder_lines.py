"""The lines of a machine folder for an assembly's pieces and joints, as plain tables by their keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from trysquare.ground.placement import DIRECTIONS, Placement
from trysquare.intake.hole_names import HoleNames, name_holes
from trysquare.intake.joint_rows import Row, row_of
from trysquare.intake.joints import Draft
from trysquare.intake.own_types import OwnType
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.rounding import clean_direction, rounded
from trysquare.machine.values import Hole

PLACE_DIGITS = 6  # a nanometre
USUAL_DEPTH_MM = 15.0  # of tapped cores, where the text says nothing
MOST_NAME = 200  # of names in a CAD file, some are whole paths
_BY_TRIPLE = {triple: name for name, triple in DIRECTIONS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """A folder's lines: parts by id; units by id, each with the tables "unit", "place" and "joint".
    `shapes`: own types whose solid is a file under shapes/, by the file's name.
    `guesses`: what the material of a part was guessed from, by the part's id."""

    name: str
    parts: dict[str, Row]
    units: dict[str, dict[str, Row]]
    shapes: dict[str, OwnType] = field(default_factory=dict)
    guesses: dict[str, str] = field(default_factory=dict)


def lines_of(found: Pieces, drafts: Sequence[Draft]) -> Lines:
    """All lines. Holes of own types get their names and threads from the joints that use them."""
    names = name_holes(found, drafts)
    by_recipe = [draft for draft in drafts if draft.recipe]
    brought = {one.id for draft in by_recipe for one in draft.fasteners}
    for draft in by_recipe:
        for stack in draft.stacks:
            if stack.member is not None and stack.member.own is not None:
                own = stack.member.own
                own.tapped = tuple(sorted({*own.tapped, stack.end}))
    units: dict[str, dict[str, Row]] = {
        unit: {"unit": _unit_row(title, found.unit_in.get(unit, "")), "place": {}, "joint": {}}
        for unit, title in found.units.items()
    }
    for piece in found.pieces:
        if piece.id not in brought:
            unit, _, name = piece.id.partition("/")
            units[unit]["place"][name] = place_row(piece)
    for draft in by_recipe:
        units[draft.unit]["joint"][draft.name] = row_of(draft, names)
    shapes = {
        f"shapes/{own.id}.stl": own
        for own in found.types
        if own.profile is None
        and own.rectangle_mm is None
        and own.standard is None
        and len(own.shape.triangles)
    }
    return Lines(
        name=found.name[:MOST_NAME] or "Machine",
        parts={own.id: part_row(own, names) for own in found.types},
        units=_kept(units, found.unit_in),
        shapes=shapes,
        guesses={own.id: own.material_why for own in found.types if own.material_why},
    )


def _unit_row(title: str, outer: str) -> Row:
    return {"title": title[:MOST_NAME], **({"in": outer} if outer else {})}


def _kept(units: dict[str, dict[str, Row]], unit_in: Mapping[str, str]) -> dict[str, dict[str, Row]]:
    """The units with something in them, and those that such ones belong to."""
    kept = {unit for unit, tables in units.items() if tables["place"] or tables["joint"]}
    for unit in tuple(kept):
        outer = unit_in.get(unit, "")
        while outer:
            kept.add(outer)
            outer = unit_in.get(outer, "")
    return {unit: tables for unit, tables in units.items() if unit in kept}


def place_row(piece: Piece) -> Row:
    """Where a piece stands, freely in its unit."""
    return {"part": piece.word, **placement_keys(piece.placement)}


def placement_keys(placement: Placement) -> Row:
    """`at_mm`, `along` and `up` of a placement, without those that hold anyway."""
    at = [_bare(each) for each in rounded(placement.origin_mm, PLACE_DIGITS)]
    x, z = clean_direction(placement.turn[:, 0]), clean_direction(placement.turn[:, 2])
    row: Row = {"at_mm": at}
    if x != (1.0, 0.0, 0.0):
        row["along"] = _direction(x)
    usual = (0.0, 0.0, 1.0) if abs(x[2]) < 0.9 else (1.0, 0.0, 0.0)
    across = np.asarray(usual) - np.asarray(x) * float(np.dot(usual, x))
    if np.abs(across / np.linalg.norm(across) - np.asarray(z)).max() > 1e-9:
        row["up"] = _direction(z)
    return row


def part_row(own: OwnType, names: HoleNames) -> Row:
    """A part type that no standard describes."""
    row: Row = {}
    if own.name and own.name != own.id:
        row["name"] = own.name[:MOST_NAME]
    row["kind"] = str(own.kind)
    if own.profile is not None:
        row["profile"] = own.profile.designation
        row["length_mm"] = _bare(own.length_mm)
        if own.tapped:
            row["tapped"] = list(own.tapped)
            if own.tapped_depth_mm and own.tapped_depth_mm != USUAL_DEPTH_MM:
                row["tapped_depth_mm"] = _bare(own.tapped_depth_mm)
    elif own.standard is not None:
        row["standard"] = own.standard.id
    elif own.rectangle_mm is not None:
        row["size_mm"] = [_bare(each) for each in own.rectangle_mm]
    elif len(own.shape.triangles):
        row["shape"] = f"shapes/{own.id}.stl"
    if own.material:
        row["material"] = own.material
    row |= {"carrier": True} if own.holds_nuts else {}
    row |= {"hand": own.hand} if own.hand else {}
    holes = _hole_rows(own, names.of[own.id])
    row |= {"hole": holes} if holes else {}
    if own.shafts:
        row["shaft"] = [
            {
                "name": shaft.name,
                "at_mm": [_bare(each) for each in shaft.at_mm],
                "direction": _direction(shaft.direction),
                "diameter_mm": _bare(shaft.diameter_mm),
                "length_mm": _bare(shaft.length_mm),
            }
            for shaft in own.shafts
        ]
    return row


def _hole_rows(own: OwnType, names: Sequence[str]) -> list[Row]:
    groups: dict[str, list[Hole]] = {}
    order = sorted(range(len(names)), key=lambda number: int(names[number].rpartition(".")[2]))
    for number in order:
        groups.setdefault(names[number].rpartition(".")[0], []).append(own.holes[number])
    return [_hole_row(own, group, holes) for group, holes in groups.items()]


def _hole_row(own: OwnType, group: str, holes: Sequence[Hole]) -> Row:
    hole = holes[0]
    row: Row = {"name": group}
    if own.profile is not None:
        face = _direction(hole.direction)
        across = hole.at_mm[2] if abs(hole.direction[1]) > 0.5 else hole.at_mm[1]
        row["face"] = face
        at: list[object] = [_bare(one.at_mm[0]) for one in holes]
        row["at_mm"] = at if len(at) > 1 else at[0]
        if abs(across) > 1e-3:
            row["across_mm"] = _bare(across)
        if not hole.through:
            row["depth_mm"] = _bare(hole.depth_mm)
    else:
        flat = own.rectangle_mm is not None
        spots = [[_bare(each) for each in (one.at_mm[:2] if flat else one.at_mm)] for one in holes]
        row["at_mm"] = spots if len(spots) > 1 else spots[0]
        if hole.direction != (0.0, 0.0, 1.0):
            row["direction"] = _direction(hole.direction)
        if not hole.through:
            row["depth_mm"] = _bare(hole.depth_mm)
        elif not flat:
            row["thickness_mm"] = _bare(hole.depth_mm)
    if hole.thread:
        row["thread"] = hole.thread
    elif hole.insert:
        row["insert"] = hole.insert
    else:
        row["diameter_mm"] = _bare(hole.diameter_mm)
    if hole.counterbore_mm:
        row["counterbore_mm"] = [_bare(hole.counterbore_mm), _bare(hole.counterbore_depth_mm)]
    if hole.countersunk:
        row["countersunk"] = True
    if hole.access:
        row["access"] = True
    return row


def _direction(direction: tuple[float, float, float]) -> object:
    return _BY_TRIPLE.get(direction) or list(direction)


def _bare(value: float) -> float | int:
    """A figure as people write it: whole numbers without a point."""
    value = round(float(value), PLACE_DIGITS) + 0.0
    return int(value) if value.is_integer() else value

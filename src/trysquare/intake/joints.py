"""From stacks to joints: which recipe says a group of screws, and what it is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.values import BlockSize, Head, RailSize
from trysquare.ground.placement import Array
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.stacks import Stack
from trysquare.intake.surroundings import SAME_LINE
from trysquare.machine.values import Host

BESIDE_MM = 0.3  # a block drawn farther beside its rail is on no rail; the checks ask for more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """One joint as it will be written. `recipe` "" means: its fasteners are placed one by one.

    `first`: the piece that takes the heads, or of a blind joint the member; `blocks`: on `rail`;
    `shaft`: piece and name of the shaft that `first` sits on. `carriers`: own parts that hold the
    slot nuts; `proposed`: the file has no such screws.
    """

    recipe: str
    unit: str
    first: Piece
    stacks: tuple[Stack, ...] = ()
    rail: Piece | None = None
    blocks: tuple[Piece, ...] = ()
    shaft: tuple[Piece, str] | None = None
    carriers: tuple[Piece, ...] = ()
    every: int = 0
    name: str = ""
    proposed: bool = False

    @property
    def fasteners(self) -> tuple[Piece, ...]:
        """What the joint brings, each once."""
        if self.proposed:
            return ()
        brought = {one.id: one for stack in self.stacks for one in stack.fasteners}
        return (*brought.values(), *self.carriers)


def reference(piece: Piece, unit: str) -> str:
    """A piece's name as seen from a unit."""
    return piece.id.partition("/")[2] if piece.unit == unit else piece.id


def drafts_of(found: Pieces, stacks: Sequence[Stack]) -> list[Draft]:
    """All joints of an assembly by recipe, each screw in one of them, and blocks that only ride."""
    drafts = drafts_for(found, stacks)
    held = {block.id for draft in drafts for block in draft.blocks if block.unit == draft.unit}
    for block, rail in _rails(found.pieces).values():
        if block.id not in held:
            drafts.append(
                Draft(recipe="block-on-rail", unit=block.unit, first=block, rail=rail, blocks=(block,))
            )
    return named(drafts)


def drafts_for(found: Pieces, stacks: Sequence[Stack]) -> list[Draft]:
    """Joints for these screws, without names."""
    rails = _rails(found.pieces)
    shafts = _shafts(found.pieces)
    return [_draft(group, rails, shafts) for group in _grouped(stacks, rails, shafts)]


def split(draft: Draft) -> list[Draft]:
    """The draft screw by screw."""
    if draft.recipe == "rail-on-slot":
        draft = replace(draft, recipe="plate-on-slots", rail=None)
    return [
        replace(
            draft,
            stacks=(stack,),
            carriers=(draft.carriers[number],) if draft.carriers else (),
            blocks=tuple(block for block in draft.blocks if stack.bitten and stack.bitten.piece is block),
        )
        for number, stack in enumerate(draft.stacks)
    ]


def named(drafts: Sequence[Draft]) -> list[Draft]:
    """The drafts with a name each: after the piece that takes the heads."""
    used: dict[str, set[str]] = {}
    out = []
    for draft in drafts:
        end = {"blind-joint": "ends", "block-on-rail": "rail" if not draft.stacks else "screws"}.get(
            draft.recipe, "screws" if len(draft.stacks) > 1 else "screw"
        )
        wanted = f"{draft.first.id.partition('/')[2]}-{end}"
        taken = used.setdefault(draft.unit, set())
        name, number = wanted, 2
        while name in taken:
            name, number = f"{wanted}-{number}", number + 1
        taken.add(name)
        out.append(replace(draft, name=name))
    return out


def _rails(pieces: Iterable[Piece]) -> dict[str, tuple[Piece, Piece]]:
    """Blocks that stand on a rail: block id -> block, rail."""
    blocks = [piece for piece in pieces if piece.standard and isinstance(piece.standard.standard, BlockSize)]
    rails = [piece for piece in pieces if piece.standard and isinstance(piece.standard.standard, RailSize)]
    found: dict[str, tuple[Piece, Piece]] = {}
    for block in blocks:
        for rail in rails:
            size = rail.standard.standard  # type: ignore[union-attr]
            assert isinstance(size, RailSize)
            spot = rail.placement.back(block.placement.origin_mm)
            turn = rail.placement.turn.T @ block.placement.turn
            if (
                float(np.hypot(spot[1], spot[2])) < BESIDE_MM
                and abs(float(turn[0, 0])) > SAME_LINE
                and float(turn[2, 2]) > SAME_LINE
                and 0 < spot[0] < size.length_mm
            ):
                found[block.id] = (block, rail)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ShaftLine:
    """A shaft in its place."""

    piece: Piece
    name: str
    begin_mm: Array
    along: Array
    length_mm: float
    radius_mm: float


def _shafts(pieces: Iterable[Piece]) -> list[_ShaftLine]:
    return [
        _ShaftLine(
            piece=piece,
            name=shaft.name,
            begin_mm=piece.placement.point(shaft.at_mm),
            along=piece.placement.direction(shaft.direction),
            length_mm=shaft.length_mm,
            radius_mm=shaft.diameter_mm / 2,
        )
        for piece in pieces
        for shaft in (piece.own.shafts if piece.own else piece.standard.shafts if piece.standard else ())
    ]


def _shaft_below(stack: Stack, shafts: Sequence[_ShaftLine]) -> tuple[Piece, str] | None:
    """The shaft on which a set screw's tip stands."""
    best: tuple[float, _ShaftLine] | None = None
    for shaft in shafts:
        delta = stack.head_mm - shaft.begin_mm
        at = float(delta @ shaft.along)
        beside = abs(float(delta @ np.cross(shaft.along, stack.axis)))
        if (
            abs(float(shaft.along @ stack.axis)) > 1e-4
            or beside > 0.2
            or not -0.5 <= at <= shaft.length_mm + 0.5
        ):
            continue
        off = abs(float(delta @ stack.axis) - stack.size.length_mm - shaft.radius_mm)
        if off < 2.0 and (best is None or off < best[0]):
            best = off, shaft
    return (best[1].piece, best[1].name) if best else None


def _grouped(
    stacks: Sequence[Stack], rails: Mapping[str, tuple[Piece, Piece]], shafts: Sequence[_ShaftLine]
) -> list[list[Stack]]:
    """Screws that one joint says: the same screw, nut and washers through the same parts into the same."""
    groups: dict[tuple[object, ...], list[Stack]] = {}
    for stack in stacks:
        shaft = _shaft_below(stack, shafts) if stack.size.head is Head.NONE else None
        key = (
            *_alike(stack, rails),
            shaft[0].id if shaft else "",
            *(layer.piece.id for layer in stack.passed),
        )
        groups.setdefault(key, []).append(stack)
    # Spacers and the like: each takes one screw; those under one part belong to one joint.
    merged: dict[tuple[object, ...], list[Stack]] = {}
    for each, group in groups.items():
        key = each
        first = group[0]
        if len(group) == 1 and len(first.passed) > 1:
            key = (
                *_alike(first, rails),
                first.passed[0].piece.id,
                *(layer.piece.word for layer in first.passed[1:]),
            )
        merged.setdefault(key, []).extend(group)
    return list(merged.values())


def _alike(stack: Stack, rails: Mapping[str, tuple[Piece, Piece]]) -> tuple[object, ...]:
    host: object = ""
    if stack.member is not None:
        host = (stack.member.id, "" if stack.head_in_slot else stack.end)
    elif stack.bitten is not None:
        piece = stack.bitten.piece
        hole = stack.bitten.of
        spec = (
            round(hole.diameter_mm, 1),
            round(hole.depth_mm, 1),
            hole.through,
            round(hole.counterbore_mm, 1),
        )
        host = rails[piece.id][1].id if piece.id in rails else (piece.id, hole.direction, spec)
        if stack.size.head is Head.NONE:
            host = piece.id  # its set screws stand round the shaft
    back = is_back(stack)
    return (
        stack.host, host, stack.head_in_slot, back, stack.screw.word, stack.nut.word if stack.nut else "",
        tuple(one.word for one in stack.washers), tuple(one.word for one in stack.far_washers),
    )  # fmt: skip


def is_back(stack: Stack) -> bool:
    """Whether the head is on the far side of the first hole, as the part has it."""
    if not stack.passed:
        return False
    layer = stack.passed[0]
    return float(layer.piece.placement.direction(layer.of.direction) @ stack.axis) < 0


def _draft(
    group: Sequence[Stack],
    rails: Mapping[str, tuple[Piece, Piece]],
    shafts: Sequence[_ShaftLine],
) -> Draft:
    stack = group[0]
    stacks = tuple(group)
    if stack.size.head is Head.NONE and stack.bitten is not None:
        shaft = _shaft_below(stack, shafts)
        first = stack.bitten.piece
        recipe = "shaft-and-coupling" if shaft else ""
        return Draft(recipe=recipe, unit=first.unit, first=first, stacks=stacks, shaft=shaft)
    if stack.head_in_slot and stack.member is not None:
        return Draft(recipe="blind-joint", unit=stack.member.unit, first=stack.member, stacks=stacks)
    if not stack.passed or stack.host is Host.NONE or len(stack.washers) > 1 or len(stack.far_washers) > 1:
        return Draft(recipe="", unit=stack.screw.unit, first=stack.screw, stacks=stacks)
    first = stack.passed[0].piece
    recipe = {Host.NUT: "through-bolt", Host.INSERT: "insert-and-screw", Host.TAPPED: "through-bolt"}.get(
        stack.host, "plate-on-slots"
    )
    draft = Draft(recipe=recipe, unit=first.unit, first=first, stacks=stacks)
    if stack.host is Host.INSERT and stack.bitten is None:
        return replace(draft, recipe="")
    if stack.bitten is not None and stack.bitten.piece.id in rails:
        blocks = {one.bitten.piece.id: one.bitten.piece for one in stacks if one.bitten}
        rail = rails[stack.bitten.piece.id][1]
        return replace(draft, recipe="block-on-rail", rail=rail, blocks=tuple(blocks.values()))
    if recipe == "plate-on-slots" and first.standard and isinstance(first.standard.standard, RailSize):
        every = _every(first, {one.passed[0].hole for one in stacks})
        if every and not stack.washers and all(len(one.passed) == 1 for one in stacks):
            return replace(draft, recipe="rail-on-slot", rail=first, every=every)
    return draft


def _every(rail: Piece, used: set[int]) -> int:
    """Every how manieth of a rail's holes is used, as the recipe counts them; 0 when it cannot say it."""
    count = len(rail.holes)
    middle = (count - 1) // 2
    return next(
        (
            every
            for every in range(1, count)
            if {i for i in range(count) if (i - middle) % every == 0} == used
        ),
        0,
    )

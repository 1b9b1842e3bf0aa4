"""Printed carriers that hold slot nuts: own parts that sit at each nut of a joint in the same way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trysquare.ground.placement import Array, Placement
from trysquare.intake.joints import Draft
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.stacks import Stack

NEAR_MM = 15.0  # a carrier is about as long as its nut
SAME_MM = 0.05
SAME_TURN = 1e-4
_SLOT_RECIPES = frozenset({"rail-on-slot", "plate-on-slots"})


def with_carriers(found: Pieces, drafts: Sequence[Draft]) -> tuple[Pieces, list[Draft]]:
    """The joints with their carriers. A carrier's type gets the coordinates of the slot: x along it, z out of
    it, its origin where the nut's shoulder lies; so the recipe puts it where it is drawn."""
    used = _used(drafts)
    free = [
        piece
        for piece in found.pieces
        if piece.own and not piece.own.profile and not piece.own.standard and piece.id not in used
    ]
    seats: dict[str, Placement] = {}  # of pieces
    out: list[Draft] = []
    for draft in drafts:
        carriers = _carriers(draft, free, seats) if draft.recipe in _SLOT_RECIPES else ()
        out.append(replace(draft, carriers=carriers) if carriers else draft)
    frames: dict[str, Placement] = {}
    kept: set[str] = set()
    for kind in {piece.word for draft in out for piece in draft.carriers}:
        pieces = [piece for piece in found.pieces if piece.word == kind]
        own = [piece.body.placement.inverse().then(seats[piece.id]) for piece in pieces if piece.id in seats]
        if len(own) == len(pieces) and all(_alike(own[0], other) for other in own[1:]):
            frames[kind] = own[0]
            kept.add(kind)
    out = [
        draft if not draft.carriers or draft.carriers[0].word in kept else replace(draft, carriers=())
        for draft in out
    ]
    for own_type in found.types:
        if own_type.id in frames:
            own_type.found = replace(own_type.found, frame=frames[own_type.id])
            own_type.holes.clear()
            own_type.holds_nuts = True
    pieces_now = tuple(
        replace(piece, placement=seats[piece.id], frame=frames[piece.word]) if piece.word in frames else piece
        for piece in found.pieces
    )
    by_id = {piece.id: piece for piece in pieces_now}
    out = [replace(draft, carriers=tuple(by_id[piece.id] for piece in draft.carriers)) for draft in out]
    return replace(found, pieces=pieces_now), out


def _carriers(draft: Draft, free: Sequence[Piece], seats: dict[str, Placement]) -> tuple[Piece, ...]:
    """One carrier for each nut of the joint, all of one type; nothing when any is missing."""
    found: list[Piece] = []
    mine: dict[str, Placement] = {}
    for stack in draft.stacks:
        seat = _seat(stack)
        if seat is None:
            return ()
        near = [
            piece
            for piece in free
            if piece.id not in seats
            and piece.id not in mine
            and float(np.linalg.norm(_middle(piece) - seat.origin_mm)) < NEAR_MM
        ]
        if not near:
            return ()
        away = [float(np.linalg.norm(_middle(piece) - seat.origin_mm)) for piece in near]
        carrier = near[int(np.argmin(away))]
        if found and carrier.word != found[0].word:
            return ()
        found.append(carrier)
        mine[carrier.id] = seat
    seats.update(mine)
    return tuple(found)


def _seat(stack: Stack) -> Placement | None:
    """Where a recipe puts a carrier: mid-slot under the lip."""
    if stack.hit is None or stack.head_in_slot:
        return None
    channel = stack.hit.channel
    turn = np.column_stack([channel.along, np.cross(channel.out, channel.along), channel.out])
    return Placement(turn, channel.point(stack.hit.at_mm, channel.profile.lip_mm))


def _middle(piece: Piece) -> Array:
    assert piece.own is not None
    return piece.body.placement.point(piece.own.shape.centroid_mm)


def _alike(one: Placement, other: Placement) -> bool:
    return bool(
        np.linalg.norm(one.origin_mm - other.origin_mm) < SAME_MM
        and np.abs(one.turn - other.turn).max() < SAME_TURN
    )


def _used(drafts: Sequence[Draft]) -> set[str]:
    """Pieces that some joint takes hold of."""
    used: set[str] = set()
    for draft in drafts:
        used.add(draft.first.id)
        used |= {draft.shaft[0].id} if draft.shaft else set()
        for stack in draft.stacks:
            used |= {layer.piece.id for layer in stack.passed}
            used |= {stack.bitten.piece.id} if stack.bitten else set()
    return used

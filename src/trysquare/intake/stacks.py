"""What each screw passes and bites: from where things stand alone, whatever they are called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trysquare.catalogue.values import Head, Insert, Screw, SlotNut
from trysquare.ground.placement import Array
from trysquare.intake.passages import add_passages
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.surroundings import BELOW_HEAD_MM, TOUCH_MM, Layer, Surroundings, core_at, slot_at
from trysquare.machine.slots import Hit
from trysquare.machine.values import Host


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stack:
    """One screw with everything on its line, from the head on.

    `passed`: holes it goes through; `host`: what its thread bites; `bitten`: the tapped or insert hole there;
    `nut`: the nut, slot nut or insert; `end`: of a member ("a", "b") in whose core it bites; `hit`: the slot
    that the nut lies in, or with `head_in_slot` the head.
    """

    screw: Piece
    size: Screw
    head_mm: Array
    axis: Array
    passed: tuple[Layer, ...]
    host: Host
    washers: tuple[Piece, ...] = ()
    far_washers: tuple[Piece, ...] = ()
    nut: Piece | None = None
    bitten: Layer | None = None
    member: Piece | None = None
    end: str = ""
    hit: Hit | None = None
    head_in_slot: bool = False

    @property
    def fasteners(self) -> tuple[Piece, ...]:
        """The screw and all that belongs to it alone."""
        nut = (self.nut,) if self.nut else ()
        return (self.screw, *self.washers, *self.far_washers, *nut)


def stacks_of(found: Pieces) -> list[Stack]:
    """The stack of every screw, in file order. Holes that only a mesh shows are added to their own types."""
    screws = [
        piece for piece in found.pieces if piece.standard and isinstance(piece.standard.standard, Screw)
    ]
    add_passages(found, screws)
    around = Surroundings.of(found.pieces)
    return [stack_of(screw, around) for screw in screws]


def stack_of(screw: Piece, around: Surroundings) -> Stack:
    """What one screw passes and bites."""
    size = screw.standard.standard if screw.standard else None
    assert isinstance(size, Screw)
    head, axis, reach = screw.placement.origin_mm, screw.placement.turn[:, 2], size.length_mm
    layers = [
        layer
        for layer in around.holes.on(head, axis)
        if layer.to_mm > BELOW_HEAD_MM and layer.from_mm < reach - BELOW_HEAD_MM
    ]
    bare = Stack(screw=screw, size=size, head_mm=head, axis=axis, passed=(), host=Host.NONE)
    bitten = next((layer for layer in reversed(layers) if _bites(layer, size.thread.diameter_mm)), None)
    if size.head is Head.NONE:
        return replace(bare, bitten=bitten, host=Host.TAPPED) if bitten else bare
    washers = [one for one in around.washers.on(head, axis) if -1.0 < one[0] < reach + TOUCH_MM]
    near = tuple(washer for at, washer in washers if at < _first(layers) + 1.5)
    far = tuple(washer for _at, washer in washers if washer not in near)
    for below, nut in around.nuts.on(head, axis):
        if -size.head_height_mm < below < reach + TOUCH_MM and _threads_alike(nut, size):
            return _in_nut(replace(bare, nut=nut, washers=near, far_washers=far), layers, below, around)
    bare = replace(bare, washers=near)
    end = _in_end(bare, layers, around)
    if end is not None:
        return end
    passed = [
        layer
        for layer in layers
        if layer is not bitten and (bitten is None or layer.from_mm < bitten.from_mm)
    ]
    return replace(bare, passed=tuple(passed), host=Host.TAPPED if bitten else Host.NONE, bitten=bitten)


def _in_nut(stack: Stack, layers: Sequence[Layer], below_mm: float, around: Surroundings) -> Stack:
    """The stack of a screw whose nut, slot nut or insert is `below_mm` under its head."""
    sort = stack.nut.standard.standard if stack.nut and stack.nut.standard else None
    if isinstance(sort, SlotNut):
        hit = slot_at(around, stack.head_mm, stack.axis, below_mm)
        passed = [
            layer
            for layer in layers
            if layer.from_mm < below_mm - sort.neck_mm and not (hit and layer.piece.id == hit.channel.member)
        ]
        return replace(stack, passed=tuple(passed), host=Host.SLOT_NUT, hit=hit)
    if isinstance(sort, Insert):
        bitten = next((layer for layer in layers if abs(layer.from_mm - below_mm) < 0.5), None)
        passed = [layer for layer in layers if layer is not bitten and layer.from_mm < below_mm]
        return replace(stack, passed=tuple(passed), host=Host.INSERT, bitten=bitten)
    passed = [layer for layer in layers if layer.from_mm < below_mm - BELOW_HEAD_MM]
    return replace(stack, passed=tuple(passed), host=Host.NUT)


def _in_end(stack: Stack, layers: Sequence[Layer], around: Surroundings) -> Stack | None:
    """The stack of a screw that bites in a member's end, through what lies on it or from a slot."""
    size = stack.size
    end = core_at(around, stack.head_mm, stack.axis, size.length_mm, size.thread.diameter_mm)
    if end is None:
        return None
    member, name, below = end
    passed = [
        layer for layer in layers if layer.from_mm < below - BELOW_HEAD_MM and layer.piece is not member
    ]
    hit = slot_at(around, stack.head_mm - stack.axis * below, stack.axis, 0.0, neighbour_of=member.id)
    if hit is not None and {layer.piece.id for layer in passed} <= {hit.channel.member}:
        passed = []  # the hole for the key
    else:
        hit = None
    return replace(
        stack, passed=tuple(passed), host=Host.TAPPED, member=member, end=name, hit=hit,
        head_in_slot=hit is not None,
    )  # fmt: skip


def _first(layers: Sequence[Layer]) -> float:
    return max(0.0, min((layer.from_mm for layer in layers), default=0.0))


def _threads_alike(nut: Piece, size: Screw) -> bool:
    return nut.standard.standard.thread.name == size.thread.name  # type: ignore[union-attr]


def _bites(layer: Layer, diameter_mm: float) -> bool:
    """Whether a thread of this diameter holds in the hole: it is no wider, and not much narrower."""
    hole = layer.of
    return 0.75 * diameter_mm <= hole.diameter_mm <= diameter_mm + 0.06 and not hole.access

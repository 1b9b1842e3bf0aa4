"""Screws for holes that stand in line and have none: the standard one that thread, slot or nut ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.holes import clearance_hole_mm
from trysquare.catalogue.rows import rows
from trysquare.catalogue.screws import screw, sold_lengths_mm
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Pulley, RailSize, Screw
from trysquare.ground.placement import Array, Placement, facing
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.intake.bodies import Body
from trysquare.intake.joints import Draft, drafts_for
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.stacks import Stack
from trysquare.intake.surroundings import SAME_LINE, HoleMap, Layer, Surroundings, core_at, slot_at
from trysquare.machine.slots import Hit, core_points_mm
from trysquare.machine.values import Host

TOUCHING_MM = 0.1  # parts that one screw clamps lie on one another
BETWEEN_FITS_MM = 0.25  # a drawn hole may be this much over the coarse fit: printed parts are
SLOT_NUT = "slide-in"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """Empty holes in line that touch, seen from the head: `axis` points out of it."""

    layers: tuple[Layer, ...]
    start_mm: Array
    axis: Array


def proposed(found: Pieces, stacks: Sequence[Stack]) -> list[Draft]:
    """Joints for empty holes in line: the standard screw into the thread, slot or nut that they ask for."""
    by_id = {piece.id: piece for piece in found.pieces}
    used = {(layer.piece.id, layer.hole) for stack in stacks for layer in stack.passed}
    used |= {(stack.bitten.piece.id, stack.bitten.hole) for stack in stacks if stack.bitten}
    begun = {
        piece
        for piece, _hole in used
        if (kind := by_id[piece].standard) and isinstance(kind.standard, RailSize)
    }  # whoever screws every second hole of a rail means it
    around = Surroundings.of(piece for piece in found.pieces if piece.id not in begun)
    new = _blind(around, stacks)
    for line in _lines(around.holes, used, stacks):
        stack = _stack(line, around)
        if stack is not None:
            new.append(stack)
    return [replace(draft, proposed=True) for draft in drafts_for(found, new)]


def _lines(holes: HoleMap, used: set[tuple[str, int]], stacks: Sequence[Stack]) -> list[_Line]:
    """Runs of empty holes that stand in line and touch, each once; a single hole is a run too."""
    free = [
        number
        for number, (piece, hole) in enumerate(holes.keys)
        if (piece.id, hole) not in used
        and _may_hold(piece, hole)
        and not _has_screw(holes.at[number], holes.out[number], stacks)
    ]
    taken: set[int] = set()
    lines = []
    for number in free:
        if number in taken:
            continue
        out = holes.out[number]
        chain = [number]
        spans = {number: (-holes.depth[number], 0.0)}  # along `out`, from this hole's opening
        for other in free:
            delta = holes.at[other] - holes.at[number]
            along = float(delta @ out)
            way = float(holes.out[other] @ out)
            if other in taken or other == number or abs(way) < SAME_LINE:
                continue
            if float(np.linalg.norm(delta - along * out)) < ON_AXIS_MM:
                chain.append(other)
                spans[other] = (
                    (along - holes.depth[other], along) if way > 0 else (along, along + holes.depth[other])
                )
        run = _touching(number, chain, spans)
        taken.update(run)
        lines.append(_line(holes, run, spans, holes.at[number], out))
    return lines


def _may_hold(piece: Piece, hole: int) -> bool:
    """Whether a screw of the joints' kind may go there: no set screw's hole, no bore, no key's way."""
    one = piece.holes[hole]
    if piece.standard is not None and isinstance(piece.standard.standard, Pulley):
        return False
    if piece.own is not None and piece.own.standard is not None:
        return False
    return not one.access and bool(one.thread or _thread_for(one.diameter_mm) or _tap_for(one.diameter_mm))


def _has_screw(at_mm: Array, out: Array, stacks: Sequence[Stack]) -> bool:
    """Whether some screw stands on the hole's line near it: then it is a key's way or a head's room."""
    for stack in stacks:
        if abs(float(stack.axis @ out)) < SAME_LINE:
            continue
        delta = stack.head_mm - at_mm
        along = float(delta @ out)
        if abs(along) < 60 and float(np.linalg.norm(delta - along * out)) < 2 * ON_AXIS_MM:
            return True
    return False


def _touching(first: int, chain: Sequence[int], spans: dict[int, tuple[float, float]]) -> list[int]:
    run = {first}
    low, high = spans[first]
    grew = True
    while grew:
        grew = False
        for other in chain:
            if other in run:
                continue
            a, b = spans[other]
            if abs(a - high) < TOUCHING_MM or abs(b - low) < TOUCHING_MM:
                run.add(other)
                low, high = min(low, a), max(high, b)
                grew = True
    return sorted(run, key=lambda number: -spans[number][1])


def _line(
    holes: HoleMap, run: Sequence[int], spans: dict[int, tuple[float, float]], origin: Array, out: Array
) -> _Line:
    """The run from the side where the head belongs: where it is sunk, or away from the thread."""

    def hole(number: int) -> tuple[Piece, int]:
        return holes.keys[number]

    first, last = holes.keys[run[0]], holes.keys[run[-1]]
    ends = [first[0].holes[first[1]], last[0].holes[last[1]]]
    flip = False
    if len(run) > 1:
        score = [
            2.0 * (one.counterbore_mm > 0 or one.countersunk)
            - 4.0
            * (
                bool(one.thread)
                or not one.through
                or _tap_for(one.diameter_mm) == _thread_for(two.diameter_mm) != ""
            )
            for one, two in (ends, ends[::-1])
        ]
        flip = score[1] > score[0]
    else:
        flip = float(holes.out[run[0]] @ out) < 0
    axis = -out if flip else out
    order = list(reversed(run)) if flip else list(run)
    top = -spans[order[0]][0] if flip else spans[order[0]][1]
    layers = []
    for number in order:
        low, high = spans[number]
        from_mm, to_mm = (top + low, top + high) if flip else (top - high, top - low)
        piece, index = hole(number)
        layers.append(Layer(piece=piece, hole=index, from_mm=from_mm, to_mm=to_mm))
    return _Line(layers=tuple(layers), start_mm=origin + axis * top, axis=axis)


def _stack(line: _Line, around: Surroundings) -> Stack | None:
    """The screw for a run of holes; None when nothing would hold it, or its holes are of no one screw."""
    layers = line.layers
    last = layers[-1]
    thread = _one_thread(layers[:-1]) if len(layers) > 1 else ""
    bites = bool(thread) and thread in (last.of.thread, _tap_for(last.of.diameter_mm))
    if not bites:
        thread = _one_thread(layers)
    passed = layers[:-1] if bites else layers
    standard = "ISO 10642" if passed[0].of.countersunk else "ISO 4762"
    size = _any_screw(standard, thread) if thread else None
    if size is None:
        return None
    head = (
        line.start_mm
        if passed[0].of.countersunk
        else line.start_mm - line.axis * passed[0].of.counterbore_depth_mm
    )
    bare = Stack(
        screw=_stub(f"{standard} {thread}"), size=size, head_mm=head, axis=line.axis,
        passed=tuple(passed), host=Host.NUT,
    )  # fmt: skip
    if bites:
        return replace(bare, host=Host.TAPPED, bitten=last)
    hit = _slot_below(around, line, last)
    if hit is not None:
        return replace(bare, host=Host.SLOT_NUT, nut=_stub(SLOT_NUT), hit=hit)
    bottom = line.start_mm - line.axis * last.to_mm
    core = core_at(around, bottom, line.axis, 1.0, size.thread.diameter_mm)
    if (
        core is not None
        and core[0].own is not None
        and core[1] in core[0].own.tapped
        and abs(core[2]) < TOUCHING_MM
    ):
        return replace(bare, host=Host.TAPPED, member=core[0], end=core[1])
    if len({layer.piece.id for layer in layers}) < 2:
        return None
    return replace(bare, nut=_stub(f"ISO 4032 {thread}"))


def _one_thread(layers: Sequence[Layer]) -> str:
    """The thread that all these holes let through; "" when there is no such one."""
    sizes = {_thread_for(layer.of.diameter_mm) for layer in layers}
    if len(sizes) != 1 or not all(layer.of.through and not layer.of.thread for layer in layers):
        return ""
    return sizes.pop()


def _blind(around: Surroundings, stacks: Sequence[Stack]) -> list[Stack]:
    """Screws for tapped ends that stand against a slot with a hole for the key behind it."""
    done = {(stack.member.id, stack.end) for stack in stacks if stack.member}
    new = []
    for member in around.members.values():
        own = member.own
        assert own is not None
        assert own.profile is not None
        for end in own.tapped:
            if (member.id, end) in done:
                continue
            along = member.placement.turn[:, 0]
            axis = -along if end == "a" else along
            for core in core_points_mm(own.profile):
                x = 0.0 if end == "a" else own.length_mm
                spot = member.placement.point(core + np.array([x, 0.0, 0.0]))
                hit = slot_at(around, spot, axis, 0.0, neighbour_of=member.id)
                size = _any_screw("ISO 7380-1", own.profile.core_thread)
                if hit is None or size is None or not _key_way(around, hit, spot, axis):
                    continue
                new.append(
                    Stack(
                        screw=_stub(f"ISO 7380-1 {own.profile.core_thread}"), size=size,
                        head_mm=spot + axis * hit.channel.profile.lip_mm, axis=axis, passed=(),
                        host=Host.TAPPED,
                        member=member, end=end, hit=hit, head_in_slot=True,
                    )
                )  # fmt: skip
    return new


def _key_way(around: Surroundings, hit: Hit, spot: Array, axis: Array) -> bool:
    return any(
        layer.piece.id == hit.channel.member and layer.of.through for layer in around.holes.on(spot, axis)
    )


def _slot_below(around: Surroundings, line: _Line, last: Layer) -> Hit | None:
    if last.piece.id in around.members:
        return None
    hit = around.channels.below(
        line.start_mm - line.axis * (last.to_mm - 0.2),
        line.axis,
        beside_mm=ON_AXIS_MM,
        reach_mm=0.2 + TOUCHING_MM,
    )
    if hit is None:
        return None
    below = float((line.start_mm - hit.channel.start_mm) @ line.axis)
    return Hit(channel=hit.channel, below_mm=below, at_mm=hit.at_mm, beside_mm=hit.beside_mm)


def _thread_for(diameter_mm: float) -> str:
    """The screw a clearance hole is for; "" when it is for none.

    Source: ISO 273; printed holes are a little wider.
    """
    best, off = "", 1.0
    for row in rows("clearance_holes"):
        name = row["thread"]
        fine, coarse = clearance_hole_mm(name, "fine"), clearance_hole_mm(name, "coarse")
        if fine - 0.02 <= diameter_mm <= coarse + BETWEEN_FITS_MM:
            away = abs(diameter_mm - clearance_hole_mm(name))
            if away < off:
                best, off = name, away
    return best


def _tap_for(diameter_mm: float) -> str:
    """The thread a hole of this diameter is tapped with: a tap drill's, or drawn at the nominal one."""
    for row in rows("threads"):
        if (
            min(abs(diameter_mm - float(row["tap_drill_mm"])), abs(diameter_mm - float(row["diameter_mm"])))
            < 0.06
        ):
            return str(row["name"])
    return ""


def _any_screw(standard: str, thread: str) -> Screw | None:
    try:
        return screw(standard, thread, sold_lengths_mm(standard, thread)[0])
    except (UnknownDesignation, IndexError):
        return None


def _stub(word: str) -> Piece:
    """A fastener that is not in the file."""
    return Piece(
        number=-1,
        id="",
        body=Body(name="", path=(), shape=-1, placement=Placement()),
        placement=Placement(facing((0.0, 0.0, 1.0)), np.zeros(3)),
        says=word,
    )

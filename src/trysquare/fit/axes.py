"""What moves with each axis, and whether every block stays on its rail over the whole travel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.fit.limits import ROUNDING_MM
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, unit
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.values import Axis, Fastening, Host, Machine, PlacedPart

_PARALLEL = 1 - 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """One axis with everything that moves with it; others stay as drawn.

    `low_mm` ≤ 0 and `high_mm` ≥ 0: how far it goes from where it is drawn, along `way`.
    `torn`: screws that hold something that moves to something that does not.
    """

    axis: Axis
    moves: frozenset[str]
    way: Array
    low_mm: float
    high_mm: float
    torn: tuple[Fastening, ...]


def motions(machine: Machine) -> list[Motion]:
    """All axes; what a joint brings moves when all that it holds moves."""
    return [_motion(machine, axis) for axis in machine.axes]


def _motion(machine: Machine, axis: Axis) -> Motion:
    moves = set(axis.moves)
    torn: list[Fastening] = []
    for joint in machine.joints:
        if joint.parts and moves.issuperset(joint.parts):
            moves.update(part.id for part in joint.brings)
            continue
        for fastening in joint.fastenings:
            held = held_by(machine, fastening)
            if held and moves.issuperset(held):
                moves.update((fastening.screw, fastening.host_part, *fastening.washers, fastening.carrier))
            elif not moves.isdisjoint(held):
                torn.append(fastening)
    moves.discard("")
    return Motion(
        axis=axis,
        moves=frozenset(moves),
        way=unit(axis.direction),
        low_mm=-axis.at_mm,
        high_mm=axis.travel_mm - axis.at_mm,
        torn=tuple(torn),
    )


def held_by(machine: Machine, fastening: Fastening) -> set[str]:
    """The parts a screw holds together that no joint brought: grips, host, the member of the slot."""
    words = {grip.part for grip in fastening.grips} | {fastening.host_part, fastening.slot_member}
    if fastening.host is Host.INSERT:
        words |= _around_insert(machine, fastening)
    return {word for word in words if word in machine.part and not machine.part[word].joint}


def _around_insert(machine: Machine, fastening: Fastening) -> set[str]:
    """The part that the joint's insert is melted into: the one with an insert hole at its place."""
    spot = machine.part[fastening.host_part].placement.origin_mm
    return {
        part
        for part in machine.joint[fastening.joint].parts
        for hole in machine.part[part].type.holes
        if hole.insert
        and float(np.linalg.norm(machine.part[part].placement.point(hole.at_mm) - spot)) < ON_AXIS_MM
    }


def axis_findings(machine: Machine, moving: list[Motion] | None = None) -> list[Finding]:
    """Blocks that run off their rails or are pulled across them, and joints an axis would tear."""
    found: list[Finding] = []
    for motion in motions(machine) if moving is None else moving:
        found += _blocks(machine, motion)
        found += _torn(machine, motion)
    return found


def _blocks(machine: Machine, motion: Motion) -> Iterator[Finding]:
    for joint in machine.joints:
        for block_id, rail_id in joint.slides_on.items():
            block, rail = machine.part[block_id], machine.part[rail_id]
            sign = int(block_id in motion.moves) - int(rail_id in motion.moves)
            if (
                sign
                and isinstance(block.type.standard, BlockSize)
                and isinstance(rail.type.standard, RailSize)
            ):
                yield from _block(motion, joint.id, block, rail, sign)


def _block(motion: Motion, joint: str, block: PlacedPart, rail: PlacedPart, sign: int) -> Iterator[Finding]:
    """`sign` +1: the block moves, -1: its rail moves under it."""
    size, track = block.type.standard, rail.type.standard
    assert isinstance(size, BlockSize)  # by the caller's choice
    assert isinstance(track, RailSize)
    along = float(motion.way @ rail.placement.turn[:, 0]) * sign
    spot = block.placement.origin_mm
    if abs(along) < _PARALLEL:
        yield Finding(
            code="axis-across-rail",
            says=f"Axis {motion.axis.id} moves {block.id} across {rail.id}, not along it.",
            parts=(block.id, rail.id),
            joint=joint,
            value=abs(along),
            limit=1.0,
            at_mm=_triple(spot),
            remedy="Correct the axis' direction or what it moves, or the rail's place.",
        )
        return
    at = float(rail.placement.back(spot)[0])
    ends = sorted((at + along * motion.low_mm, at + along * motion.high_mm))
    half = size.length_mm / 2
    over = {"a": half - ends[0], "b": ends[1] + half - track.length_mm}
    end = max(over, key=lambda name: over[name])
    if over[end] <= ROUNDING_MM:
        return
    both = (
        ", and by {:.1f} mm off end {}".format(*_other(over, end)) if min(over.values()) > ROUNDING_MM else ""
    )
    tip = rail.placement.point((0.0 if end == "a" else track.length_mm, 0.0, 0.0))
    yield Finding(
        code="block-runs-off-rail",
        says=f"Over the {motion.axis.travel_mm:g} mm of axis {motion.axis.id}, {block.id} runs "
        f"{over[end]:.1f} mm off end {end} of {rail.id}{both}.",
        parts=(block.id, rail.id),
        joint=joint,
        value=over[end],
        limit=0.0,
        unit="mm",
        at_mm=_triple(tip),
        remedy="Check from which end the rail's offset was measured; shift rail, block or end stop, or "
        "shorten the travel.",
    )


def _other(over: dict[str, float], end: str) -> tuple[float, str]:
    other = "b" if end == "a" else "a"
    return over[other], other


def _torn(machine: Machine, motion: Motion) -> Iterator[Finding]:
    said: set[str] = set()
    for fastening in motion.torn:
        if fastening.joint in said:
            continue
        said.add(fastening.joint)
        held = sorted(held_by(machine, fastening))
        goes = [part for part in held if part in motion.moves]
        stays = [part for part in held if part not in motion.moves]
        yield Finding(
            code="axis-tears-joint",
            says=f"Axis {motion.axis.id} moves {', '.join(goes)} but not {', '.join(stays)}, and "
            f"{fastening.joint} holds them together.",
            parts=(*goes, *stays),
            joint=fastening.joint,
            at_mm=fastening.head_mm,
            remedy=f"Add what moves to the axis in machine.toml, or correct {fastening.joint}.",
        )


def _triple(point: Array) -> tuple[float, float, float]:
    x, y, z = np.asarray(point, dtype=float)
    return (float(x), float(y), float(z))

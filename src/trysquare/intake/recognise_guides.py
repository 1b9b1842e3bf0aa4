"""Miniature rails and their blocks, from their hole patterns and outer sizes."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.catalogue.guides import rail
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.ground.placement import Array, Placement, cross
from trysquare.intake.bodies import FaceKind, Recognition, Shape, Sort
from trysquare.intake.recognise_holes import Axis, Outside, axes_of_holes, open_ends
from trysquare.intake.recognise_turned import is_parallel

WIDTH_MM = 0.12  # a rail's width is ground
HEIGHT_MM = 0.65  # heights differ between makers by half a millimetre
PITCH_MM = 0.05
HOLE_MM = 0.45
UNEQUAL_MM = 0.2  # ends that differ by more were ordered so, or cut
BLOCK_MM = 0.6
BLOCK_LENGTH_MM = 3.0  # lengths of blocks differ between makers, their hole patterns do not


def guide_of(shape: Shape) -> Recognition | None:
    """The rail or block that a shape is, or None."""
    axes = axes_of_holes(shape)
    return _rail(shape, axes) or _block(shape, axes)


def _families(axes: list[Axis]) -> list[list[Axis]]:
    """Axes that are parallel to each other, most first."""
    families: list[list[Axis]] = []
    for axis in axes:
        for family in families:
            if is_parallel(axis.direction, family[0].direction):
                family.append(axis)
                break
        else:
            families.append([axis])
    return sorted(families, key=len, reverse=True)


def _rail(shape: Shape, axes: list[Axis]) -> Recognition | None:
    """A bar with counterbored holes in one row at one pitch."""
    for family in _families(axes)[:2]:
        row = [axis for axis in family if len(axis.bores) >= 2]
        if len(row) < 2:
            continue
        z = row[0].direction * _up(row[0])
        starts = np.array([axis.origin_mm - z * float(axis.origin_mm @ z) for axis in row])
        spread = starts - starts.mean(axis=0)
        _, sizes, ways = np.linalg.svd(spread)
        if len(sizes) > 1 and sizes[1] > 0.05:
            continue
        x = ways[0] - z * float(ways[0] @ z)
        x = x / np.linalg.norm(x)
        along = np.sort(spread @ x)
        pitches = np.diff(along)
        if float(np.ptp(pitches)) > PITCH_MM:
            continue
        found = _known_rail(shape, row, z, x, float(pitches.mean()))
        if found is not None:
            return found
    return None


def _up(axis: Axis) -> float:
    """1 when the counterbore is at the axis's high end, −1 at its low end."""
    return 1.0 if axis.bores[0].high_mm > axis.bores[-1].high_mm else -1.0


def _known_rail(shape: Shape, row: list[Axis], z: Array, x: Array, pitch: float) -> Recognition | None:
    turn = np.column_stack([x, cross(z, x), z])
    local = shape.points_mm @ turn
    low, high = local.min(axis=0), local.max(axis=0)
    length, width, height = (float(size) for size in high - low)
    bore = row[0].bores
    counterbore, hole = bore[0].diameter_mm, bore[-1].diameter_mm
    fits = []
    for each in rows("rails"):
        off = (
            abs(width - float(each["width_mm"])) / WIDTH_MM,
            abs(height - float(each["height_mm"])) / HEIGHT_MM,
            abs(pitch - float(each["hole_pitch_mm"])) / PITCH_MM,
            abs(hole - float(each["hole_mm"])) / HOLE_MM,
            abs(counterbore - float(each["counterbore_mm"])) / (2 * HOLE_MM),
        )
        if max(off) <= 1:
            fits.append((sum(off) / len(off), each))
    if not fits:
        return None
    penalty, best = min(fits, key=lambda fit: fit[0])
    frame = Placement(turn, turn @ np.array([low[0], (low[1] + high[1]) / 2, low[2]]))
    ends = np.sort(np.array([float(frame.back(axis.origin_mm)[0]) for axis in row]))
    first, last = float(ends[0]), length - float(ends[-1])
    evidence = (
        f"bar {width:.4g} × {height:.4g} × {length:.5g}",
        f"{len(row)} holes Ø{hole:.3g} with counterbores Ø{counterbore:.3g}, {pitch:.4g} apart",
        f"first hole {first:.4g} from one end, {last:.4g} from the other",
    )
    doubts: tuple[str, ...] = ()
    designation = f"rail {best['width_mm']}x{written(round(length, 3))}"
    if abs(first - last) > UNEQUAL_MM:
        named = _unequal_rail(best, length, first, len(row))
        if named:
            designation = named
        else:
            doubts = (f"its holes are not centred: {first:.4g} and {last:.4g} from the ends",)
            penalty = 1.0
    return Recognition(
        sort=Sort.RAIL,
        designation=designation,
        parameters={
            "width_mm": width,
            "height_mm": height,
            "length_mm": length,
            "hole_pitch_mm": pitch,
            "first_hole_mm": first,
        },
        confidence=0.97 - 0.27 * min(1.0, penalty),
        evidence=evidence,
        doubts=doubts,
        frame=frame,
    )


def _unequal_rail(best: Mapping[str, str], length_mm: float, first_mm: float, holes: int) -> str:
    """The rail whose first hole lies this far from end a, the frame's origin; "" for ends that no rail has,
    and where a hole is missing or cut open at an end.

    The far end takes up what the rounding to hundredths leaves, so that the rest is whole pitches.
    """
    pitch = float(best["hole_pitch_mm"])
    length, first = round(length_mm, 2), round(first_mm, 2)
    last = round(length - first - pitch * (holes - 1), 2)
    if max(first, last) > pitch:
        return ""
    try:
        return rail(float(best["width_mm"]), length, (first, last)).designation
    except UnknownDesignation:
        return ""


def _block(shape: Shape, axes: list[Axis]) -> Recognition | None:
    """The threaded holes of a block's pattern in its top, and a channel of a rail's width below."""
    outside = Outside(shape)
    for family in _families(axes)[:3]:
        if not 2 <= len(family) <= 8:
            continue
        fits = [
            fit for each in rows("blocks") if (fit := _block_fit(shape, family, each, outside)) is not None
        ]
        if fits:
            penalty, each, frame, evidence = min(fits, key=lambda fit: fit[0])
            rivals = tuple(
                f"block {other['rail_width_mm']} {other['kind']}"
                for share, other, _frame, _evidence in sorted(fits, key=lambda fit: fit[0])[1:3]
                if share < penalty + 0.3
            )
            return Recognition(
                sort=Sort.BLOCK,
                designation=f"block {each['rail_width_mm']} {each['kind']}",
                parameters={"rail_width_mm": float(each["rail_width_mm"])},
                confidence=0.96 - 0.3 * min(1.0, penalty),
                evidence=evidence,
                alternatives=rivals,
                frame=frame,
            )
    return None


def _block_fit(
    shape: Shape, family: list[Axis], each: Mapping[str, str], outside: Outside
) -> tuple[float, Mapping[str, str], Placement, tuple[str, ...]] | None:
    across, along = float(each["pattern_across_mm"]), float(each["pattern_along_mm"])
    wanted = 4 if along else 2
    thread_mm = float(each["thread"].removeprefix("M"))
    z = family[0].direction
    spots = np.array([axis.origin_mm - z * float(axis.origin_mm @ z) for axis in family
                      if 0.78 * thread_mm < axis.bores[-1].diameter_mm < 1.03 * thread_mm])  # fmt: skip
    if len(spots) != wanted:
        return None
    pattern = _pattern(spots, across, along)
    if pattern is None:
        return None
    middle, y = pattern
    axis = next(each for each in family if 0.78 * thread_mm < each.bores[-1].diameter_mm < 1.03 * thread_mm)
    low_open, high_open = open_ends(axis, outside)
    centre = shape.box_mm.mean(axis=0)
    top = axis.at((axis.low_mm + axis.high_mm) / 2)
    z = z if (high_open and not low_open) or (high_open == low_open and float((top - centre) @ z) > 0) else -z
    x = cross(y, z)
    turn = np.column_stack([x, y, z])
    local = shape.points_mm @ turn
    low, high = local.min(axis=0), local.max(axis=0)
    length, width, tall = (float(size) for size in high - low)
    off = (
        abs(width - float(each["width_mm"])) / BLOCK_MM,
        abs(length - float(each["length_mm"])) / BLOCK_LENGTH_MM,
        abs(tall - (float(each["height_mm"]) - float(each["gap_mm"]))) / 1.2,
    )
    if max(off) > 1:
        return None
    channel = _channel_mm(shape, y, float(each["rail_width_mm"]))
    evidence = (
        f"{wanted} holes Ø{axis.bores[-1].diameter_mm:.3g} in a pattern {across:g} across"
        + (f" and {along:g} along" if along else ""),
        f"{width:.4g} wide, {length:.4g} long, {tall:.4g} tall",
        f"a channel {channel:.3g} wide" if channel else "no channel for a rail seen",
    )
    origin = turn @ np.array([float(middle @ x), float(middle @ y), high[2] - float(each["height_mm"])])
    return sum(off) / 3 + (0.0 if channel else 0.6), each, Placement(turn, origin), evidence


def _pattern(spots: Array, across: float, along: float) -> tuple[Array, Array] | None:
    """The middle of a rectangle of holes, and the direction across; None when they are none."""
    middle = spots.mean(axis=0)
    if not along:
        way = spots[1] - spots[0]
        size = float(np.linalg.norm(way))
        return (middle, way / size) if abs(size - across) < 0.1 else None
    if np.abs(np.linalg.norm(spots - middle, axis=1) - math.hypot(across, along) / 2).max() > 0.1:
        return None
    ways = spots[1:] - spots[0]
    sizes = np.linalg.norm(ways, axis=1)
    hits = np.flatnonzero(np.abs(sizes - across) < 0.1)
    others = np.flatnonzero(np.abs(sizes - along) < 0.1)
    if not len(hits) or not len(others):
        return None
    way, other = ways[hits[0]] / sizes[hits[0]], ways[others[-1]] / sizes[others[-1]]
    return (middle, way) if abs(float(way @ other)) < 0.01 else None


def _channel_mm(shape: Shape, y: Array, rail_width: float) -> float:
    """The width of a channel about as wide as the rail, between two planes that face each other, or 0."""
    walls = [
        (float(face.centre_mm @ y), float(face.direction @ y))
        for face in shape.faces
        if face.kind is FaceKind.PLANE and is_parallel(face.direction, y)
    ]
    best = 0.0
    for at, sign in walls:
        for other, way in walls:
            gap = other - at
            if sign > 0 > way and rail_width - 0.6 < gap < rail_width + 1.5:
                best = max(best, gap)
    return best

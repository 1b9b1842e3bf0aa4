"""Cylinders among a mesh's flats: their corners lie on a circle, and they along one axis."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.intake.bodies import FaceKind
from trysquare.intake.mesh_flats import Mesh

LEAST_TURN_RAD = math.radians(0.5)
WIDEST_RAD = math.radians(41)  # a round has nine flats or more; a hexagon is none
ON_ROUND_MM = 4e-3
ON_ROUND_RATIO = 2e-3
SQUARE = 4e-3  # of unit vectors: single precision on narrow flats
RADIAL = 0.03  # of unit vectors: normals of narrow flats in single precision
EVEN = 0.25  # of the widest flat's width; a round is drawn with like flats, others may cut some
LEAST_FLATS = 3
WRITTEN_MM = 2e-3  # people write diameters in tenths


@dataclass(slots=True, eq=False)
class Group:
    """Flats that are one face, with the fields of a `Face` that were found."""

    flats: list[int]
    kind: FaceKind = FaceKind.PLANE
    fields: dict[str, Any] = field(default_factory=dict)


def turned_pairs(mesh: Mesh) -> list[tuple[int, int]]:
    """Neighbouring flats turned a little from each other, those with most area first."""
    pairs = []
    for one, some in mesh.beside.items():
        for two in some:
            if one < two:
                turn = math.acos(float(np.clip(mesh.normal[one] @ mesh.normal[two], -1, 1)))
                if LEAST_TURN_RAD < turn < WIDEST_RAD:
                    pairs.append((-min(mesh.area[one], mesh.area[two]), one, two))
    return [(one, two) for _area, one, two in sorted(pairs)]


def cylinders_of(
    mesh: Mesh, taken: NDArray[np.bool_], pairs: list[tuple[int, int]], least_sweep_rad: float = 0.0
) -> Iterator[Group]:
    """Cylinders grown from pairs of neighbouring flats, that go round so far at least; their flats are taken.

    One at a time: what is taken between two of them is out of reach for the next. At the end, `pairs` keeps
    those of which some cylinder grew that went less far round.
    """
    short = []
    for one, two in pairs:
        if taken[one] or taken[two]:
            continue
        group = _grown(mesh, taken, one, two)
        if group is None:
            continue
        if group.fields["sweep_rad"] < least_sweep_rad:
            short.append((one, two))
            continue
        taken[group.flats] = True
        yield group
    pairs[:] = short


def _grown(mesh: Mesh, taken: NDArray[np.bool_], one: int, two: int) -> Group | None:
    axis = np.cross(mesh.normal[one], mesh.normal[two])
    axis /= np.linalg.norm(axis)
    if not (_is_strip(mesh, one, axis) or _is_strip(mesh, two, axis)):
        return None
    frame = across(axis)
    circle = _circle(_ends(mesh, (one, two), frame))
    if circle is None:
        return None
    members = _reached(mesh, taken, (one, two), axis, frame, circle)
    if len(members) < LEAST_FLATS:
        return None
    # once more with what all of them say: a pair of narrow flats gives the axis only roughly
    _, _, rows = np.linalg.svd(mesh.normal[members] * np.sqrt(mesh.area[members])[:, None])
    axis = rows[2]
    frame = across(axis)
    circle = _circle(_ends(mesh, members, frame))
    if circle is None:
        return None
    members = _reached(mesh, taken, (one, two), axis, frame, circle)
    if len(members) < LEAST_FLATS:
        return None
    centre, radius = circle
    if not _is_even(mesh, members, frame, centre):
        return None
    sweep = covered(mesh, members, frame, centre)
    origin = frame @ centre
    along = np.concatenate([mesh.points_mm[mesh.points[each]] for each in members]) @ axis
    radial = mesh.centre[members] @ frame - centre
    hollow = bool((radial * (mesh.normal[members] @ frame)).sum() < 0)
    apothems = np.abs((radial * (mesh.normal[members] @ frame)).sum(axis=1))
    fields = {
        "origin_mm": origin, "direction": axis, "radius_mm": _meant(radius, apothems), "hollow": hollow,
        "low_mm": float(along.min()), "high_mm": float(along.max()), "sweep_rad": sweep,
    }  # fmt: skip
    return Group(members, FaceKind.CYLINDER, fields)


def _is_even(mesh: Mesh, members: Sequence[int], frame: Array, centre: Array) -> bool:
    """Whether some flats are about as wide as the widest: a wide side with a strip of its rounded edge at
    either hand lies on one great circle too."""
    widths = [width_rad(mesh.points_mm[mesh.points[each]] @ frame - centre) for each in members]
    return sum(width > EVEN * max(widths) for width in widths) >= LEAST_FLATS


def _meant(radius: float, apothems: Array) -> float:
    """The radius that was drawn with flats: most programs put the corners on it, some the flats.

    The flats are believed when their diameter is a written one and that of the corners is not.
    """
    flat = float(np.median(apothems))
    if float(np.abs(apothems - flat).max()) > WRITTEN_MM:
        return radius
    return flat if _is_written(2 * flat) and not _is_written(2 * radius) else radius


def _is_written(diameter_mm: float) -> bool:
    return abs(diameter_mm - round(diameter_mm, 1)) < WRITTEN_MM


def _is_strip(mesh: Mesh, flat: int, axis: Array) -> bool:
    """Whether a flat has an edge along the axis at either side: those of a free form have not."""
    across = mesh.points_mm[mesh.points[flat]] @ np.cross(axis, mesh.normal[flat])
    low, high = across.min(), across.max()
    near = ON_ROUND_MM / 2
    return int((across < low + near).sum()) > 1 and int((across > high - near).sum()) > 1


def _reached(
    mesh: Mesh, taken: NDArray[np.bool_], start: Sequence[int], axis: Array, frame: Array,
    circle: tuple[Array, float],
) -> list[int]:  # fmt: skip
    """Flats connected with the first two that lie along the axis with all points on the circle."""
    centre, radius = circle
    allowed = ON_ROUND_MM + ON_ROUND_RATIO * radius
    members: list[int] = []
    seen = set(start)
    waiting = list(start)
    while waiting:
        each = waiting.pop()
        if taken[each] or abs(float(mesh.normal[each] @ axis)) > SQUARE:
            continue
        flat = mesh.points_mm[mesh.points[each]] @ frame - centre
        away = np.linalg.norm(flat, axis=1)
        width = width_rad(flat)
        # between its corners a flat lies inside of the round; others may cut it there
        least = radius * math.cos(width / 2) - allowed
        if width > WIDEST_RAD or float(away.max()) > radius + allowed or float(away.min()) < least:
            continue
        if not _looks_out(flat, mesh.normal[each] @ frame, width):
            continue
        members.append(each)
        new = mesh.beside[each] - seen
        seen |= new
        waiting += new
    return members


def _looks_out(flat: Array, normal: Array, width: float) -> bool:
    """Whether a flat, seen along the axis from the centre, looks along the radius at its middle, or where a
    cut has left one end of it: a wide side and the strips of its rounded edge lie on a great circle too."""
    along = flat @ np.array([-normal[1], normal[0]])
    middle = (flat[int(along.argmin())] + flat[int(along.argmax())]) / 2
    off = abs(float(middle[0] * normal[1] - middle[1] * normal[0]))
    return off < float(np.linalg.norm(middle)) * (width / 2 + RADIAL)


def _ends(mesh: Mesh, members: Sequence[int], frame: Array) -> Array:
    """Array (2k, 2): of each flat, seen along the axis, its two ends: they lie on the round."""
    ends = []
    for each in members:
        flat = mesh.points_mm[mesh.points[each]] @ frame
        normal = mesh.normal[each] @ frame
        along = flat @ np.array([-normal[1], normal[0]])
        ends += [flat[int(along.argmin())], flat[int(along.argmax())]]
    return np.array(ends)


def across(axis: Array) -> Array:
    """Array (3, 2): two unit columns square to an axis."""
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    x = np.cross(axis, helper)
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(axis, x)])


def _circle(points: Array) -> tuple[Array, float] | None:
    """Centre (2,) and radius of the circle nearest to points (n, 2); None when they are in line."""
    middle = points.mean(axis=0)
    local = points - middle
    matrix = np.column_stack([2 * local, np.ones(len(local))])
    found, _, rank, _ = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=1e-9)
    if rank < 3:
        return None
    square = float(found[2] + found[0] ** 2 + found[1] ** 2)
    return (found[:2] + middle, math.sqrt(square)) if square > 0 else None


def width_rad(flat: Array) -> float:
    """How far round the circle's centre points (n, 2) go, for less than half a turn."""
    mean = flat.mean(axis=0)
    turn = np.arctan2(mean[0] * flat[:, 1] - mean[1] * flat[:, 0], flat @ mean)
    return float(turn.max() - turn.min())


def covered(mesh: Mesh, members: Sequence[int], frame: Array, centre: Array) -> float:
    """How much of a turn the flats cover together."""
    pieces = []
    for each in members:
        flat = mesh.points_mm[mesh.points[each]] @ frame - centre
        mean = flat.mean(axis=0)
        middle = math.atan2(mean[1], mean[0])
        turn = np.arctan2(mean[0] * flat[:, 1] - mean[1] * flat[:, 0], flat @ mean)
        low, high = middle + float(turn.min()), middle + float(turn.max())
        pieces.append((low, high))
        if high > math.pi:
            pieces.append((low - 2 * math.pi, high - 2 * math.pi))
        if low < -math.pi:
            pieces.append((low + 2 * math.pi, high + 2 * math.pi))
    pieces.sort()
    covered, at = 0.0, -math.pi
    for low, high in pieces:
        end = min(high, math.pi)
        if end > max(low, at):
            covered += end - max(low, at)
            at = end
    return 2 * math.pi if covered > 2 * math.pi - 1e-3 else covered

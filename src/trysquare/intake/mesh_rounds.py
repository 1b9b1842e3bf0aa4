"""Rounds among a mesh's flats: cylinders by corners on a circle, cones by flats equally steep to an axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
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
LEAST_FLATS = 3
WRITTEN_MM = 2e-3  # people write diameters in tenths
LEAST_CONE_RAD = 0.5 * math.pi


@dataclass(slots=True, eq=False)
class Group:
    """Flats that are one face, with the fields of a `Face` that were found."""

    flats: list[int]
    kind: FaceKind = FaceKind.PLANE
    fields: dict[str, Any] = field(default_factory=dict)


def cylinders_of(mesh: Mesh, taken: NDArray[np.bool_]) -> list[Group]:
    """Cylinders grown from pairs of neighbouring flats, the best pairs (small turns) first."""
    pairs = []
    for one, some in mesh.beside.items():
        for two in some:
            if one < two:
                turn = math.acos(float(np.clip(mesh.normal[one] @ mesh.normal[two], -1, 1)))
                if LEAST_TURN_RAD < turn < WIDEST_RAD:
                    pairs.append((-min(mesh.area[one], mesh.area[two]), one, two))
    groups = []
    for _area, one, two in sorted(pairs):
        if taken[one] or taken[two]:
            continue
        group = _grown(mesh, taken, one, two)
        if group is not None:
            taken[group.flats] = True
            groups.append(group)
    return groups


def _grown(mesh: Mesh, taken: NDArray[np.bool_], one: int, two: int) -> Group | None:
    axis = np.cross(mesh.normal[one], mesh.normal[two])
    axis /= np.linalg.norm(axis)
    if not (_is_strip(mesh, one, axis) or _is_strip(mesh, two, axis)):
        return None
    frame = _across(axis)
    circle = _circle(_ends(mesh, (one, two), frame))
    if circle is None:
        return None
    members = _reached(mesh, taken, (one, two), axis, frame, circle)
    if len(members) < LEAST_FLATS:
        return None
    # once more with what all of them say: a pair of narrow flats gives the axis only roughly
    _, _, rows = np.linalg.svd(mesh.normal[members] * np.sqrt(mesh.area[members])[:, None])
    axis = rows[2]
    frame = _across(axis)
    circle = _circle(_ends(mesh, members, frame))
    if circle is None:
        return None
    members = _reached(mesh, taken, (one, two), axis, frame, circle)
    if len(members) < LEAST_FLATS:
        return None
    centre, radius = circle
    sweep = _covered(mesh, members, frame, centre)
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
        width = _width(flat)
        # between its corners a flat lies inside of the round; others may cut it there
        least = radius * math.cos(width / 2) - allowed
        if width > WIDEST_RAD or float(away.max()) > radius + allowed or float(away.min()) < least:
            continue
        members.append(each)
        new = mesh.beside[each] - seen
        seen |= new
        waiting += new
    return members


def _ends(mesh: Mesh, members: Sequence[int], frame: Array) -> Array:
    """Array (2k, 2): of each flat, seen along the axis, its two ends: they lie on the round."""
    ends = []
    for each in members:
        flat = mesh.points_mm[mesh.points[each]] @ frame
        normal = mesh.normal[each] @ frame
        along = flat @ np.array([-normal[1], normal[0]])
        ends += [flat[int(along.argmin())], flat[int(along.argmax())]]
    return np.array(ends)


def _across(axis: Array) -> Array:
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


def _width(flat: Array) -> float:
    """How far round the circle's centre points (n, 2) go, for less than half a turn."""
    mean = flat.mean(axis=0)
    turn = np.arctan2(mean[0] * flat[:, 1] - mean[1] * flat[:, 0], flat @ mean)
    return float(turn.max() - turn.min())


def _covered(mesh: Mesh, members: Sequence[int], frame: Array, centre: Array) -> float:
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


def cones_of(mesh: Mesh, taken: NDArray[np.bool_], rounds: Sequence[Group]) -> list[Group]:
    """Cones about the axes of the cylinders: connected flats that are equally steep and look at the axis."""
    groups = []
    for origin, axis in _lines(rounds):
        free = np.flatnonzero(~taken)
        if not len(free):
            break
        slant = mesh.normal[free] @ axis
        away = mesh.centre[free] - origin
        radial = away - np.outer(away @ axis, axis)
        distance = np.linalg.norm(radial, axis=1)
        flat = mesh.normal[free] - np.outer(slant, axis)
        side = np.cross(radial, flat) @ axis
        looks = (np.abs(slant) < 0.999) & (np.abs(slant) > 0.02) & (distance > 1e-3)
        looks &= np.abs(side) < 0.01 * distance
        steep = {int(number): float(value) for number, value in zip(free[looks], slant[looks], strict=True)}
        while steep:
            start, value = next(iter(steep.items()))
            del steep[start]
            members, waiting = [start], [start]
            while waiting:
                near = [
                    each for each in mesh.beside[waiting.pop()]
                    if each in steep and abs(steep[each] - value) < 0.006
                ]  # fmt: skip
                for each in near:
                    del steep[each]
                members += near
                waiting += near
            group = _cone(mesh, members, origin, axis)
            if group is not None:
                taken[members] = True
                groups.append(group)
    return groups


def _cone(mesh: Mesh, members: list[int], origin: Array, axis: Array) -> Group | None:
    if len(members) < LEAST_FLATS:
        return None
    frame = _across(axis)
    centre = origin @ frame
    spans = [_width(mesh.points_mm[mesh.points[each]] @ frame - centre) for each in members]
    if max(spans) > WIDEST_RAD and len(members) < 5:
        return None
    sweep = _covered(mesh, members, frame, centre)
    if sweep < LEAST_CONE_RAD:
        return None
    corners = mesh.points_mm[np.unique(np.concatenate([mesh.points[each] for each in members]))] - origin
    along = corners @ axis
    radius = np.linalg.norm(corners - np.outer(along, axis), axis=1)
    radial = mesh.centre[members] @ frame - centre
    hollow = bool((radial * (mesh.normal[members] @ frame)).sum() < 0)
    grows = float(np.polyfit(along, radius, 1)[0]) if np.ptp(along) > 1e-6 else 0.0
    if abs(grows) < 1e-3:
        return None
    if grows < 0:
        axis, along = -axis, -along
    fields = {
        "origin_mm": origin, "direction": axis, "hollow": hollow, "sweep_rad": sweep,
        "radius_mm": float(radius.max()), "second_radius_mm": float(radius.min()),
        "half_angle_rad": math.atan(abs(grows)), "low_mm": float(along.min()), "high_mm": float(along.max()),
    }  # fmt: skip
    return Group(members, FaceKind.CONE, fields)


def _lines(rounds: Sequence[Group]) -> list[tuple[Array, Array]]:
    """The different axes of the cylinders."""
    lines: list[tuple[Array, Array]] = []
    for group in rounds:
        origin, axis = np.asarray(group.fields["origin_mm"]), np.asarray(group.fields["direction"])
        for known, way in lines:
            off = origin - known
            if abs(float(axis @ way)) > 0.9999 and float(np.linalg.norm(off - way * (off @ way))) < 0.02:
                break
        else:
            lines.append((origin, axis))
    return lines

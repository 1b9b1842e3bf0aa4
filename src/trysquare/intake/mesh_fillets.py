"""Rounded edges among a mesh's flats: rings that run out of a cylinder's end, and the balls of corners.

A rounded mouth of a hole, a washer's edge, a blind hole's rounded bottom are pieces of a ring (a torus) about
the cylinder's own axis that leaves its end without a bend. So one figure, the fillet's radius, says where all
their corners lie.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.intake.bodies import FaceKind
from trysquare.intake.mesh_flats import Mesh
from trysquare.intake.mesh_rounds import LEAST_FLATS, WIDEST_RAD, Group, across, covered

ON_RING_MM = 4e-3  # text with six digits, at half a metre
ROUNDED_MM = 1e-3  # what lies farther from the cylinder is none of its end
ON_RING_RATIO = 0.01  # of the fillet's radius: drawn points lie on it, those of a like curve do not
LEAST_FILLET_MM = 0.02
LEAST_LEVELS = 3  # with two rings of corners it is a chamfer
BALL_MM = 0.02  # a ring about so small a circle is a ball


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """Where a cylinder ends. `origin_mm`: on its axis, there; `axis`: unit, away from the cylinder;
    `radius_mm`: of its corners; `meant_mm`: its radius as it was meant."""

    origin_mm: Array
    axis: Array
    radius_mm: float
    meant_mm: float

    def meridian(self, points_mm: Array) -> tuple[Array, Array]:
        """Of points (n, 3): how far outside of the cylinder they lie, and how far beyond its end."""
        away = points_mm - self.origin_mm
        along = away @ self.axis
        return np.linalg.norm(away - np.outer(along, self.axis), axis=1) - self.radius_mm, along


def fillets_of(mesh: Mesh, taken: NDArray[np.bool_], group: Group) -> list[Group]:
    """Rings that round the two ends of a cylinder off, outwards or inwards; their flats are taken."""
    groups = []
    beside = {other for flat in group.flats for other in mesh.beside[flat]}
    points = mesh.points_mm[np.unique(np.concatenate([mesh.points[each] for each in group.flats]))]
    for end in _ends(group, points):
        found = _fillet(mesh, taken, [each for each in beside if not taken[each]], end)
        if found is not None:
            taken[found.flats] = True
            groups.append(found)
    return groups


def _ends(group: Group, points: Array) -> list[End]:
    origin = np.asarray(group.fields["origin_mm"], dtype=float)
    axis = np.asarray(group.fields["direction"], dtype=float)
    away = points - origin
    along = away @ axis
    radii = np.linalg.norm(away - np.outer(along, axis), axis=1)
    radius, meant = float(np.sort(radii)[len(radii) // 2]), float(group.fields["radius_mm"])
    along = along[np.abs(radii - radius) < ROUNDED_MM]
    return [
        End(origin + axis * at, axis * sign, radius, meant)
        for at, sign in ((float(along.max()), 1.0), (float(along.min()), -1.0))
    ]


def _fillet(mesh: Mesh, taken: NDArray[np.bool_], near: Sequence[int], end: End) -> Group | None:
    """The ring grown from the flats beside a cylinder's end; None when they lie on none."""
    starts = []
    for each in near:
        _, along = end.meridian(mesh.points_mm[mesh.points[each]])
        if float(along.min()) > -ON_RING_MM:
            starts.append(each)
    first = [_tangent(mesh, each, end) for each in starts]
    known = [one for one in first if one is not None]
    if not known:
        return None
    fillet = float(np.median(known))
    if abs(fillet) < LEAST_FILLET_MM or end.radius_mm + fillet < -ON_RING_MM:
        return None
    members = _flooded(mesh, taken, starts, end, fillet)
    if len(members) < LEAST_FLATS:
        return None
    corners = mesh.points_mm[np.unique(np.concatenate([mesh.points[each] for each in members]))]
    out, along = end.meridian(corners)
    angles = np.arctan2(along, (fillet - out) * math.copysign(1.0, fillet))
    levels = 1 + int((np.diff(np.sort(angles)) > 0.05).sum())
    if levels < LEAST_LEVELS:
        return None
    if abs(end.radius_mm + fillet) < BALL_MM:
        return _ball(mesh, members)
    frame = across(end.axis)
    inside = _looks_inwards(mesh, members, end, fillet)
    fields = {
        "origin_mm": end.origin_mm, "direction": end.axis, "radius_mm": end.meant_mm + fillet,
        "second_radius_mm": abs(fillet), "hollow": inside, "low_mm": float(along.min()),
        "high_mm": float(along.max()), "sweep_rad": covered(mesh, members, frame, end.origin_mm @ frame),
    }  # fmt: skip
    return Group(members, FaceKind.TORUS, fields)


def _tangent(mesh: Mesh, flat: int, end: End) -> float | None:
    """The fillet's radius by one flat at the seam: positive when the ring goes outwards; None when flat or
    along the cylinder. A corner at (out, along) lies on it when out² + along² = 2 · fillet · out."""
    out, along = end.meridian(mesh.points_mm[mesh.points[flat]])
    beyond = along > ON_RING_MM
    if not beyond.any():
        return None
    out, along = out[beyond], along[beyond]
    if float(np.abs(out).min()) < 1e-4 or np.ptp(np.sign(out)) > 0:
        return None
    size = (out**2).sum()
    return float(((out**2 + along**2) * out).sum() / (2 * size))


def _flooded(
    mesh: Mesh, taken: NDArray[np.bool_], starts: Sequence[int], end: End, fillet: float
) -> list[int]:
    """Free flats connected with the first whose corners all lie on the ring, in its quarter."""
    allowed = ON_RING_MM + ON_RING_RATIO * abs(fillet)
    members: list[int] = []
    seen, waiting = set(starts), list(starts)
    while waiting:
        each = waiting.pop()
        if taken[each]:
            continue
        out, along = end.meridian(mesh.points_mm[mesh.points[each]])
        off = np.abs(np.hypot(out - fillet, along) - abs(fillet))
        reach = out * math.copysign(1.0, fillet)
        if float(off.max()) > allowed or along.min() < -allowed or reach.max() > abs(fillet) + allowed:
            continue
        if float(reach.min()) > abs(fillet) - allowed:  # the flat that the fillet ends in
            continue
        members.append(each)
        new = mesh.beside[each] - seen
        seen |= new
        waiting += new
    return members


def _looks_inwards(mesh: Mesh, members: Sequence[int], end: End, fillet: float) -> bool:
    """Whether the flats look at the ring's own middle circle: the material is outside of its tube."""
    away = mesh.centre[members] - end.origin_mm
    along = away @ end.axis
    radial = away - np.outer(along, end.axis)
    radius = np.linalg.norm(radial, axis=1)
    middle = radial / np.maximum(radius, 1e-9)[:, None] * (end.radius_mm + fillet)
    from_middle = away - middle
    looks = (from_middle * mesh.normal[members]).sum(axis=1)
    return bool((looks * mesh.area[members]).sum() < 0)


def balls_of(mesh: Mesh, taken: NDArray[np.bool_]) -> list[Group]:
    """Patches of free flats, each turned a little from the next, whose corners lie on one ball."""
    groups = []
    free = {int(each) for each in np.flatnonzero(~taken)}
    while free:
        start = free.pop()
        members, waiting = [start], [start]
        while waiting:
            one = waiting.pop()
            for other in mesh.beside[one] & free:
                if float(mesh.normal[one] @ mesh.normal[other]) > math.cos(WIDEST_RAD):
                    free.discard(other)
                    members.append(other)
                    waiting.append(other)
        group = _ball(mesh, members) if _has_inner_point(mesh, members) else None
        if group is not None:
            taken[members] = True
            groups.append(group)
    return groups


def _has_inner_point(mesh: Mesh, members: Sequence[int]) -> bool:
    """Whether some corner has none but these flats about it: any two rings of corners lie on a ball."""
    inside = set(members)
    edge = {
        int(point)
        for each in members
        for other in mesh.beside[each] - inside
        for point in np.intersect1d(mesh.points[each], mesh.points[other])
    }
    return any(int(point) not in edge for each in members for point in mesh.points[each])


def _ball(mesh: Mesh, members: list[int]) -> Group | None:
    points = mesh.points_mm[np.unique(np.concatenate([mesh.points[each] for each in members]))]
    middle = points.mean(axis=0)
    local = points - middle
    matrix = np.column_stack([2 * local, np.ones(len(local))])
    found, _, rank, _ = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=1e-9)
    square = float(found[3] + found[:3] @ found[:3])
    if rank < matrix.shape[1] or square <= 0:
        return None
    centre, radius = found[:3] + middle, math.sqrt(square)
    if float(np.abs(np.linalg.norm(points - centre, axis=1) - radius).max()) > ON_RING_MM:
        return None
    away = mesh.centre[members] - centre
    hollow = bool(((away * mesh.normal[members]).sum(axis=1) * mesh.area[members]).sum() < 0)
    fields = {"origin_mm": centre, "direction": np.zeros(3), "radius_mm": radius, "hollow": hollow}
    return Group(members, FaceKind.SPHERE, fields)

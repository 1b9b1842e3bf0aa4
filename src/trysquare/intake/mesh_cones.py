"""Cones among a mesh's flats: about the axes of its cylinders, equally steep to them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.intake.bodies import FaceKind
from trysquare.intake.mesh_flats import Mesh
from trysquare.intake.mesh_rounds import (
    LEAST_FLATS,
    ON_ROUND_MM,
    WIDEST_RAD,
    Group,
    across,
    covered,
    width_rad,
)

STEEP = 0.012  # of unit vectors: a cone that is drawn with more flats at its wide end is less steep there
LEAST_CONE_RAD = 0.5 * math.pi


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
                    if each in steep and abs(steep[each] - value) < STEEP
                ]  # fmt: skip
                for each in near:
                    del steep[each]
                members += near
                waiting += near
            group = _cone(mesh, members, origin, axis)
            if group is not None:
                wider = [*members, *_on_cone(mesh, taken, group)]
                group = _cone(mesh, wider, origin, axis) or group
                members = group.flats
                for each in members:
                    steep.pop(each, None)
                taken[members] = True
                groups.append(group)
    return groups


def _on_cone(mesh: Mesh, taken: NDArray[np.bool_], group: Group) -> list[int]:
    """More flats, connected with a cone's, whose corners lie on it: askew triangles look beside the axis."""
    origin, axis = np.asarray(group.fields["origin_mm"]), np.asarray(group.fields["direction"])
    grows = math.tan(float(group.fields["half_angle_rad"]))
    start = float(group.fields["second_radius_mm"]) - grows * float(group.fields["low_mm"])
    found: list[int] = []
    seen, waiting = set(group.flats), list(group.flats)
    while waiting:
        for other in mesh.beside[waiting.pop()] - seen:
            seen.add(other)
            away = mesh.points_mm[mesh.points[other]] - origin
            along = away @ axis
            radius = np.linalg.norm(away - np.outer(along, axis), axis=1)
            off = np.abs(radius - start - grows * along)
            if not taken[other] and float(off.max()) < ON_ROUND_MM:
                found.append(other)
                waiting.append(other)
    return found


def _cone(mesh: Mesh, members: list[int], origin: Array, axis: Array) -> Group | None:
    if len(members) < LEAST_FLATS:
        return None
    frame = across(axis)
    centre = origin @ frame
    spans = [width_rad(mesh.points_mm[mesh.points[each]] @ frame - centre) for each in members]
    if max(spans) > WIDEST_RAD and len(members) < 5:
        return None
    sweep = covered(mesh, members, frame, centre)
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

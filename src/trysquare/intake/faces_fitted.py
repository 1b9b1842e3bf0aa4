"""Plain surfaces behind free ones: many programs write a cylinder as a spline or as a swept line.

A free surface is looked at in a grid of points with their normals. Normals all alike: a plane. Normals
square to one axis, points equally far from it: a cylinder. Normals equally steep to an axis: a cone.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.bodies import FaceKind

SAMPLES = 7  # a side of the grid
ALIKE = 1e-5  # of unit normals
ROUND_WITHIN_MM = 2e-3  # splines of other programs approximate a round about as well
LEAST_SWEEP_RAD = 0.05


def fitted_surface(
    surface: Any, window: tuple[float, float, float, float], outwards: float
) -> dict[str, Any]:
    """The fields of a `Face` that a free surface fits, without area and outline; empty when none does."""
    points, normals = _grid(surface, window)
    if len(points) < SAMPLES:
        return {}
    normals = normals * outwards
    return fitted(points, normals)


def _grid(surface: Any, window: tuple[float, float, float, float]) -> tuple[Array, Array]:
    from OCP.gp import gp_Pnt, gp_Vec

    points, normals = [], []
    at, along, across = gp_Pnt(), gp_Vec(), gp_Vec()
    for u in np.linspace(window[0], window[1], SAMPLES):
        for v in np.linspace(window[2], window[3], SAMPLES):
            surface.D1(float(u), float(v), at, along, across)
            normal = along.Crossed(across)
            size = normal.Magnitude()
            if size > 1e-12 and math.isfinite(size):
                points.append(at.Coord())
                normals.append(np.array([normal.X(), normal.Y(), normal.Z()]) / size)
    return np.array(points).reshape(-1, 3), np.array(normals).reshape(-1, 3)


def fitted(points: Array, normals: Array) -> dict[str, Any]:
    """The surface through points (n, 3) with outward unit normals (n, 3), as fields of a `Face`."""
    mean = normals.mean(axis=0)
    if float(np.linalg.norm(normals - mean, axis=1).max()) < ALIKE:
        return {"kind": FaceKind.PLANE, "direction": mean / np.linalg.norm(mean)}
    # n·a is the same for all normals of a cylinder (0) or cone about the axis a
    _, sizes, rows = np.linalg.svd(normals - mean)
    axis = rows[2]
    if sizes[2] > ALIKE * len(points) or sizes[1] < LEAST_SWEEP_RAD:
        return {}
    slant = float(np.mean(normals @ axis))
    if slant < 0:
        axis, slant = -axis, -slant
    flat = normals - np.outer(normals @ axis, axis)
    # the axis passes nearest to all lines along the normals: (p + t n − c) has no part square to n and a
    side = np.cross(axis, flat)
    centre, *_ = np.linalg.lstsq(
        np.vstack([side, axis]), np.append((side * points).sum(axis=1), 0.0), rcond=None
    )
    away = points - centre
    along = away @ axis
    radial = away - np.outer(along, axis)
    radii = np.linalg.norm(radial, axis=1)
    hollow = bool(np.mean((radial * flat).sum(axis=1)) < 0)
    grow = math.tan(math.asin(min(slant, 0.999)))
    # an outward normal that leans along +axis narrows along it
    expected = radii.mean() + (along - along.mean()) * (grow if hollow else -grow)
    if float(np.abs(radii - expected).max()) > ROUND_WITHIN_MM:
        return {}
    if slant < ALIKE * 10:
        made = {"kind": FaceKind.CYLINDER, "radius_mm": float(radii.mean())}
    else:
        if not hollow:
            axis, along = -axis, -along
        made = {
            "kind": FaceKind.CONE,
            "radius_mm": float(radii.max()),
            "second_radius_mm": float(radii.min()),
            "half_angle_rad": math.asin(min(slant, 0.999)),
        }
    return made | {
        "origin_mm": centre,
        "direction": axis,
        "low_mm": float(along.min()),
        "high_mm": float(along.max()),
        "sweep_rad": _swept(radial, axis),
        "hollow": hollow,
    }


def _swept(radial: Array, axis: Array) -> float:
    """How far round the axis the points go: the whole turn less the widest gap."""
    first = radial[0] / np.linalg.norm(radial[0])
    second = np.cross(axis, first)
    angles = np.sort(np.arctan2(radial @ second, radial @ first))
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    widest = float(gaps.max())
    # a grid that closes on itself leaves gaps of one step everywhere
    return 2 * math.pi if widest < 2 * math.pi / (SAMPLES - 1) + 0.02 else 2 * math.pi - widest

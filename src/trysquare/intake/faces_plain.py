"""Planes, cylinders, cones, spheres and rings of the kernel as fields of our faces."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.bodies import FaceKind


def xyz(point: Any) -> Array:
    """A point or direction of the kernel, array (3,)."""
    return np.array([point.X(), point.Y(), point.Z()])


KINDS = {
    "GeomAbs_Plane": FaceKind.PLANE,
    "GeomAbs_Cylinder": FaceKind.CYLINDER,
    "GeomAbs_Cone": FaceKind.CONE,
    "GeomAbs_Sphere": FaceKind.SPHERE,
    "GeomAbs_Torus": FaceKind.TORUS,
}
Window = tuple[float, float, float, float]


def _plane(surface: Any, _window: Window, outwards: float) -> dict[str, Any]:
    position = surface.Plane().Position()
    normal = position.XDirection().Crossed(position.YDirection())
    return {"kind": FaceKind.PLANE, "direction": outwards * xyz(normal)}


def _axis(position: Any) -> tuple[Array, Array, float]:
    """Origin, axis, and 1 for a right-handed system, -1 for a left-handed one."""
    return xyz(position.Location()), xyz(position.Direction()), 1.0 if position.Direct() else -1.0


def _sweep(window: Window) -> float:
    return min(window[1] - window[0], 2 * math.pi)


def _cylinder(surface: Any, window: Window, outwards: float) -> dict[str, Any]:
    cylinder = surface.Cylinder()
    origin, axis, hand = _axis(cylinder.Position())
    return {
        "kind": FaceKind.CYLINDER,
        "origin_mm": origin,
        "direction": axis,
        "radius_mm": cylinder.Radius(),
        "low_mm": window[2],
        "high_mm": window[3],
        "sweep_rad": _sweep(window),
        "hollow": outwards * hand < 0,
    }


def _cone(surface: Any, window: Window, outwards: float) -> dict[str, Any]:
    cone = surface.Cone()
    origin, axis, hand = _axis(cone.Position())
    angle = cone.SemiAngle()
    low, high = window[2] * math.cos(angle), window[3] * math.cos(angle)
    first = cone.RefRadius() + window[2] * math.sin(angle)
    last = cone.RefRadius() + window[3] * math.sin(angle)
    if last < first:  # the axis of ours points to where it grows
        axis, low, high, first, last = -axis, -high, -low, last, first
    return {
        "kind": FaceKind.CONE,
        "origin_mm": origin,
        "direction": axis,
        "radius_mm": last,
        "second_radius_mm": first,
        "half_angle_rad": abs(angle),
        "low_mm": low,
        "high_mm": high,
        "sweep_rad": _sweep(window),
        "hollow": outwards * hand < 0,
    }


def _sphere(surface: Any, window: Window, outwards: float) -> dict[str, Any]:
    sphere = surface.Sphere()
    origin, axis, hand = _axis(sphere.Position())
    radius = sphere.Radius()
    return {
        "kind": FaceKind.SPHERE,
        "origin_mm": origin,
        "direction": axis,
        "radius_mm": radius,
        "low_mm": radius * math.sin(window[2]),
        "high_mm": radius * math.sin(window[3]),
        "sweep_rad": _sweep(window),
        "hollow": outwards * hand < 0,
    }


def _torus(surface: Any, window: Window, outwards: float) -> dict[str, Any]:
    torus = surface.Torus()
    origin, axis, hand = _axis(torus.Position())
    tube = torus.MinorRadius()
    angles = np.linspace(window[2], window[3], 17)
    heights = tube * np.sin(angles)
    return {
        "kind": FaceKind.TORUS,
        "origin_mm": origin,
        "direction": axis,
        "radius_mm": torus.MajorRadius(),
        "second_radius_mm": tube,
        "low_mm": float(heights.min()),
        "high_mm": float(heights.max()),
        "sweep_rad": _sweep(window),
        "hollow": outwards * hand < 0,
    }


MAKERS = {
    FaceKind.PLANE: _plane,
    FaceKind.CYLINDER: _cylinder,
    FaceKind.CONE: _cone,
    FaceKind.SPHERE: _sphere,
    FaceKind.TORUS: _torus,
}
"""Fields of a `Face`, but for its area and outline, from a surface, its window and the way out."""

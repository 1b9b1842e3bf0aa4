"""Motors, by the pattern of the holes in their face. Frame sizes of the trade stand here from memory."""

from __future__ import annotations

import math

import numpy as np

from trysquare.ground.placement import Array, Placement, cross, facing
from trysquare.intake.bodies import FaceKind, Recognition, Shape, Sort
from trysquare.intake.recognise_holes import axes_of_holes, holes_of
from trysquare.intake.recognise_turned import is_parallel

# distance of the four holes, width of the face, usual shaft; frame. From memory of the trade's frame sizes
MOTOR_FACES = (
    (16.0, 20.0, "frame 20"), (23.0, 28.0, "frame 28"), (26.0, 35.0, "frame 35"), (31.0, 42.3, "frame 42"),
    (47.14, 56.4, "frame 56"), (69.6, 86.0, "frame 86"),
)  # fmt: skip


def motor_of(shape: Shape) -> Recognition | None:
    """A motor by its face: four holes in a square round a shaft or its boss."""
    axes = axes_of_holes(shape)
    for first in axes:
        family = [axis for axis in axes if is_parallel(axis.direction, first.direction)]
        if len(family) < 4:
            continue
        z = first.direction
        spots = np.array([axis.origin_mm - z * float(axis.origin_mm @ z) for axis in family])
        for distance, face, name in MOTOR_FACES:
            square = _square(spots, distance)
            if square is None:
                continue
            found = _motor(shape, square, z, distance, face, name)
            if found is not None:
                return found
    return None


def _square(spots: Array, side: float) -> Array | None:
    """Centre of four spots in a square of this side; None when there are none."""
    gaps = np.linalg.norm(spots[:, None] - spots[None], axis=2)
    beside = np.abs(gaps - side) < 0.08
    across = np.abs(gaps - side * math.sqrt(2)) < 0.1
    corners = np.flatnonzero((beside.sum(axis=1) == 2) & (across.sum(axis=1) == 1))
    if not len(corners):
        return None
    centre: Array = (spots[corners[0]] + spots[int(np.argmax(across[corners[0]]))]) / 2
    return centre


def _motor(
    shape: Shape, centre: Array, z: Array, distance: float, face: float, name: str
) -> Recognition | None:
    shafts = [
        each
        for each in shape.faces
        if each.kind is FaceKind.CYLINDER and not each.hollow and is_parallel(each.direction, z)
        and np.linalg.norm((each.origin_mm - centre) - z * float((each.origin_mm - centre) @ z)) < 0.1
        and 2 * each.radius_mm < 0.75 * distance
    ]  # fmt: skip
    if not shafts:
        return None
    shaft = min(shafts, key=lambda each: each.radius_mm)
    turn = facing(z)
    local = shape.points_mm @ turn
    size = np.ptp(local, axis=0)
    tip = float((shaft.centre_mm - shape.centroid_mm) @ z)
    up = z if tip > 0 else -z
    wide = max(shafts, key=lambda each: each.radius_mm)
    body_ok = 0.9 * face < max(_square_size(shape, z)) < 1.12 * face
    along = sorted(float(shaft.end_mm(high=high) @ up) for high in (False, True))
    planes = [
        (each.area_mm2, float(each.centre_mm @ up))
        for each in shape.faces
        if each.kind is FaceKind.PLANE
        and float(each.direction @ up) > 0.9999
        and each.area_mm2 > 0.2 * face * face
    ]
    if not planes:
        return None
    front = max(planes)[1]
    flat = centre - up * float(centre @ up)
    return Recognition(
        sort=Sort.MOTOR,
        parameters={
            "pattern_mm": distance,
            "face_mm": max(_square_size(shape, z)),
            "shaft_mm": 2 * shaft.radius_mm,
            "shaft_length_mm": along[1] - front,
            "body_mm": float(size[2]) - (along[1] - front),
            "boss_mm": 2 * wide.radius_mm if wide is not shaft else 0.0,
        },
        confidence=0.9 if body_ok else 0.6,
        evidence=(
            f"four holes {distance:g} apart round a shaft Ø{2 * shaft.radius_mm:.3g}",
            f"face {max(_square_size(shape, z)):.4g}: {name}",
        ),
        doubts=() if body_ok else ("the face's width is not that of the frame",),
        frame=Placement(facing(up), flat + up * front),
        holes=holes_of(shape, Placement(facing(up), flat + up * front)),
    )


def _square_size(shape: Shape, z: Array) -> tuple[float, float]:
    """Extents across z, along the side planes with most area."""
    sides = [
        face for face in shape.faces if face.kind is FaceKind.PLANE and abs(float(face.direction @ z)) < 1e-4
    ]
    if not sides:
        return (0.0, 0.0)
    x = max(sides, key=lambda face: face.area_mm2).direction
    y = cross(z, x)
    return float(np.ptp(shape.points_mm @ x)), float(np.ptp(shape.points_mm @ y))

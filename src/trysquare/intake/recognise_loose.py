"""What bends and runs about: belts as closed thin loops, cables and tubes as rounds swept along a path.

The catalogue has no solid for them, so they stay own parts; what they look like is said with its figures.
"""

from __future__ import annotations

import math
from dataclasses import replace

from trysquare.intake.bodies import Face, FaceKind, Recognition, Shape
from trysquare.intake.recognise_others import own_part
from trysquare.intake.recognise_turned import is_parallel, is_square

THICKEST_BELT_MM = 4.0  # with teeth; common practice, no source
WIDEST_BELT_MM = 30.0
LEAST_SLENDER = 20.0  # path by thickness: a ring or a frame is stouter
SAME_SHARE = 0.01
THICKEST_CABLE_MM = 15.0
SWEPT_SHARE = 0.9  # of a cable's skin that is its round


def loose_of(shape: Shape) -> Recognition | None:
    """A belt, or a cable or tube; None when it is neither."""
    return belt_of(shape) or cable_of(shape)


def belt_of(shape: Shape) -> Recognition | None:
    """A loop of one width between two equal rims; `width_mm`, `path_mm`, `thickness_mm`, all but width mean.

    Equations: rim area = path · thickness; skin between the rims = 2 · path · width.
    """
    rims = [face for face in shape.faces if face.kind is FaceKind.PLANE and face.rings == 2]
    for one in rims:
        for other in rims:
            if float(one.direction @ other.direction) < 0 and is_parallel(one.direction, other.direction):
                found = _belt(shape, one, other)
                if found is not None:
                    return found
    return None


def _belt(shape: Shape, one: Face, other: Face) -> Recognition | None:
    width = abs(float((one.centre_mm - other.centre_mm) @ one.direction))
    rim = one.area_mm2
    if not 0 < width < WIDEST_BELT_MM or abs(other.area_mm2 - rim) > SAME_SHARE * rim:
        return None
    if abs(shape.volume_mm3 - rim * width) > SAME_SHARE * shape.volume_mm3:
        return None
    path = (shape.area_mm2 - 2 * rim) / (2 * width)
    thick = rim / path
    if thick > min(THICKEST_BELT_MM, width) or path < LEAST_SLENDER * thick:
        return None
    walls = [face for face in shape.faces if face is not one and face is not other]
    teeth = sum(face.kind is FaceKind.PLANE and is_square(face.direction, one.direction) for face in walls)
    kind = "toothed" if teeth > path / 6 else "smooth"
    return replace(
        own_part(shape), confidence=0.75,
        parameters={"width_mm": width, "path_mm": path, "thickness_mm": thick},
        evidence=(
            f"a closed {kind} loop {width:.4g} wide, {thick:.3g} thick, about {path:.5g} long: a belt",
        ),
        doubts=("a belt is bought by its pitch and teeth; say which it is",),
    )  # fmt: skip


def cable_of(shape: Shape) -> Recognition | None:
    """One round swept along lines and bends, with two ends; `diameter_mm` and `path_mm`."""
    tubes = [face for face in shape.faces if face.kind in (FaceKind.CYLINDER, FaceKind.TORUS)]
    outer = [face for face in tubes if not face.hollow]
    bends = [face for face in outer if face.kind is FaceKind.TORUS]
    if not bends:
        return None
    radius = max(_tube_mm(face) for face in outer)
    swept = [face for face in outer if abs(_tube_mm(face) - radius) < SAME_SHARE * radius]
    whole = shape.area_mm2 - sum(face.area_mm2 for face in tubes if face not in outer)
    skin = sum(face.area_mm2 for face in swept)
    if 2 * radius > THICKEST_CABLE_MM or skin < SWEPT_SHARE * whole:
        return None
    path = skin / (2 * math.pi * radius)
    if path < LEAST_SLENDER / 2 * radius:
        return None
    hollow = any(face.hollow for face in tubes)
    return replace(
        own_part(shape), confidence=0.75, parameters={"diameter_mm": 2 * radius, "path_mm": path},
        evidence=(
            f"a round Ø{2 * radius:.3g} along {len(bends)} bends, about {path:.4g} long: a "
            + ("tube" if hollow else "cable, rod or bent wire"),
        ),
        doubts=() if hollow else ("what is inside it is not drawn",),
    )  # fmt: skip


def _tube_mm(face: Face) -> float:
    return face.second_radius_mm if face.kind is FaceKind.TORUS else face.radius_mm

"""Round and prismatic bodies that every shape is made of.

Round things become flat-sided ones, and the flats always err to the side of air: a *shaft* is
inscribed (corners on the true radius), a *hole* is circumscribed (flats on it). A shaft in a hole
of the same diameter therefore touches and never crosses it, whichever way either is turned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

from trysquare.ground.placement import Array, Triple, facing

Outline: TypeAlias = Sequence[tuple[float, float]]

ABOVE_MM = 0.05  # a cutter begins this far above the surface, so that no skin of rounding stays
SMALL_ROUND_MM = 8.0  # up to this diameter 24 flats are within 0.035 mm of round
MEDIUM_ROUND_MM = 30.0
ALONG_X = np.array([[0.0, 0.0, 1.0, 0.0], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]])
"""Takes what is drawn in x and y and drawn out along z to y and z, drawn out along x."""


def facets(diameter_mm: float) -> int:
    """How many flats stand for a round: few, because every check pays for them; a multiple of 8,
    so that the extents along x and y are the true ones."""
    if diameter_mm <= SMALL_ROUND_MM:
        return 24
    return 32 if diameter_mm <= MEDIUM_ROUND_MM else 64


def circumscribed(radius_mm: float, sides: int) -> float:
    """Corner radius of a polygon whose flats lie at `radius_mm`."""
    return radius_mm / math.cos(math.pi / sides)


def shaft(diameter_mm: float, from_mm: float, to_mm: float) -> Manifold:
    """A cylinder about z, inscribed."""
    return Manifold.cylinder(
        to_mm - from_mm, diameter_mm / 2, diameter_mm / 2, facets(diameter_mm)
    ).translate((0.0, 0.0, from_mm))


def bore(diameter_mm: float, from_mm: float, to_mm: float) -> Manifold:
    """The cutter of a round hole about z, circumscribed. It cuts exactly from `from_mm` to `to_mm`."""
    radius_mm = circumscribed(diameter_mm / 2, facets(diameter_mm))
    return Manifold.cylinder(to_mm - from_mm, radius_mm, radius_mm, facets(diameter_mm)).translate(
        (0.0, 0.0, from_mm)
    )


def sink(top_diameter_mm: float, depth_mm: float) -> Manifold:
    """The cutter of a 90° countersink about z that is `top_diameter_mm` wide at z = 0.

    It runs down to z = -`depth_mm` and, growing on, a little above z = 0.
    """
    sides = facets(top_diameter_mm)
    low_mm = max(top_diameter_mm / 2 - depth_mm, 0.0)
    return Manifold.cylinder(
        depth_mm + ABOVE_MM,
        circumscribed(low_mm, sides),
        circumscribed(top_diameter_mm / 2 + ABOVE_MM, sides),
        sides,
    ).translate((0.0, 0.0, -depth_mm))


def spun(outline_mm: Outline, sides: int) -> Manifold:
    """The outline (radius, z), counter-clockwise, turned about z; inscribed."""
    return Manifold.revolve(CrossSection([list(outline_mm)]), sides)


def box(low_mm: Triple, high_mm: Triple) -> Manifold:
    """A box between two corners."""
    size = tuple(high - low for low, high in zip(low_mm, high_mm, strict=True))
    return Manifold.cube((size[0], size[1], size[2])).translate(low_mm)


def hexagon(across_flats_mm: float, from_mm: float, to_mm: float) -> Manifold:
    """A hexagonal prism about z with flats facing ±y."""
    corner_mm = across_flats_mm / math.sqrt(3)
    return Manifold.cylinder(to_mm - from_mm, corner_mm, corner_mm, 6).translate((0.0, 0.0, from_mm))


def prism_z(outline_mm: Outline, from_mm: float, to_mm: float) -> Manifold:
    """The outline (x, y) raised from one z to another. It may be wound either way."""
    section = CrossSection([list(outline_mm)], FillRule.NonZero)
    return Manifold.extrude(section, to_mm - from_mm).translate((0.0, 0.0, from_mm))


def section_of(outline_mm: Outline) -> list[Array]:
    """What an outline (x, y) encloses, as rings (n, 2): outlines counter-clockwise, openings clockwise."""
    return [np.asarray(ring) for ring in CrossSection([list(outline_mm)], FillRule.NonZero).to_polygons()]


def prism_x(section: CrossSection, from_mm: float, to_mm: float) -> Manifold:
    """A section drawn in (y, z) drawn out along x."""
    body = Manifold.extrude(section, to_mm - from_mm).transform(ALONG_X)
    return body.translate((from_mm, 0.0, 0.0)) if from_mm else body


def aimed(body: Manifold, at_mm: Triple | Array, z_axis: Triple | Array) -> Manifold:
    """The body, drawn about z from the origin, with its z along `z_axis` and its origin at `at_mm`."""
    turn = facing(z_axis)
    return body.transform(np.hstack([turn, np.asarray(at_mm, dtype=float)[:, None]]))

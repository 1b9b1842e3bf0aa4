"""Solids of screws, nuts, washers and inserts.

Threads are not modelled: a shank is a shaft of nominal diameter and every internal thread a hole of
the same diameter, so that a screw in its nut is contact and not overlap.
"""

from __future__ import annotations

import math

from manifold3d import Manifold

from trysquare.catalogue.values import Head, Insert, Nut, NutShape, Screw, Washer
from trysquare.solid.bodies import ABOVE_MM, bore, box, facets, hexagon, shaft, spun

DOME_STEPS = 4  # rings of a button head; their corners lie on the true dome


def screw_body(screw: Screw) -> Manifold:
    """A socket screw with its hexagon socket, in the coordinates of `Screw`.

    Length and head are the nominal, largest ones. A set screw's point is drawn flat.
    """
    radius_mm, head_mm = screw.thread.diameter_mm / 2, screw.head_diameter_mm / 2
    sides = facets(2 * max(radius_mm, head_mm))
    tip = [(0.0, -screw.length_mm), (radius_mm, -screw.length_mm)]
    top_mm = 0.0
    if screw.head is Head.CYLINDER:
        top_mm = screw.head_height_mm
        upper = [(radius_mm, 0.0), (head_mm, 0.0), (head_mm, top_mm), (0.0, top_mm)]
    elif screw.head is Head.BUTTON:
        top_mm = screw.head_height_mm
        upper = [(radius_mm, 0.0), *dome(head_mm, top_mm)]
    elif screw.head is Head.COUNTERSUNK:
        # 90° cone, whatever the table's head height: that is what the countersink is made for
        upper = [(radius_mm, radius_mm - head_mm), (head_mm, 0.0), (0.0, 0.0)]
    else:
        upper = [(radius_mm, 0.0), (0.0, 0.0)]
    body = spun([*tip, *upper], sides)
    if screw.key_mm <= 0 or screw.key_depth_mm <= 0:
        return body
    whole_mm = top_mm + screw.length_mm
    depth_mm = min(screw.key_depth_mm, 0.8 * whole_mm)
    return body - hexagon(screw.key_mm, top_mm - depth_mm, top_mm + ABOVE_MM)


def dome(radius_mm: float, height_mm: float) -> list[tuple[float, float]]:
    """The cap of a sphere from its rim at z = 0 to its top on the axis, as (radius, z) corners."""
    sphere_mm = (radius_mm**2 + height_mm**2) / (2 * height_mm)
    widest = math.asin(min(1.0, radius_mm / sphere_mm))
    corners = []
    for step in range(DOME_STEPS):
        angle = widest * (1 - step / DOME_STEPS)
        corners.append((sphere_mm * math.sin(angle), height_mm - sphere_mm * (1 - math.cos(angle))))
    corners[0] = (radius_mm, 0.0)
    return [*corners, (0.0, height_mm)]


def nut_body(nut: Nut) -> Manifold:
    """A hexagon or square nut with its thread as a plain hole."""
    half_mm, height_mm = nut.across_flats_mm / 2, nut.height_mm
    if nut.shape is NutShape.HEX:
        body = hexagon(nut.across_flats_mm, -height_mm, 0.0)
    else:
        body = box((-half_mm, -half_mm, -height_mm), (half_mm, half_mm, 0.0))
    return body - bore(nut.thread.diameter_mm, -height_mm - ABOVE_MM, ABOVE_MM)


def washer_body(washer: Washer) -> Manifold:
    """A plain washer."""
    thick_mm = washer.thickness_mm
    return shaft(washer.outer_mm, 0.0, thick_mm) - bore(washer.inner_mm, -ABOVE_MM, thick_mm + ABOVE_MM)


def insert_body(insert: Insert) -> Manifold:
    """A heat-set insert, drawn as wide as its hole: its knurl melts in, which is no clash."""
    body = shaft(insert.hole_mm, -insert.length_mm, 0.0)
    return body - bore(insert.thread.diameter_mm, -insert.length_mm - ABOVE_MM, ABOVE_MM)

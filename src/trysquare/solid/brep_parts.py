"""Exact bodies of standard parts, member by member what `screws`, `profiles`, `guides` and `drives` draw as
meshes. Threads are not modelled: a shank and its hole have the thread's nominal diameter."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from trysquare.catalogue.values import (
    BlockSize,
    Head,
    Insert,
    LeadScrew,
    Nut,
    NutShape,
    Profile,
    Pulley,
    RailSize,
    Screw,
    SlotNut,
    SlotNutShape,
    Washer,
)
from trysquare.ground.placement import Placement
from trysquare.solid.bodies import ABOVE_MM
from trysquare.solid.brep_bodies import (
    Shape,
    aimed,
    box,
    common,
    cylinder,
    hexagon,
    hole_shape,
    joined,
    less,
    moved,
    prism_x,
    spun,
)
from trysquare.solid.drives import sections, set_screw_places, set_screw_thread_mm
from trysquare.solid.guides import RUNNING_GAP_MM, rail_height_mm
from trysquare.solid.profiles import cell_centres, section

SETTLED = 6  # decimals of a millimetre: the section's own arithmetic leaves less behind


def screw_shape(screw: Screw) -> Shape:
    """A socket screw with its hexagon socket, in the coordinates of `Screw`; a button head is round."""
    radius_mm, head_mm = screw.thread.diameter_mm / 2, screw.head_diameter_mm / 2
    outline = [(0.0, -screw.length_mm), (radius_mm, -screw.length_mm), (radius_mm, 0.0)]
    top_mm, dome = 0.0, None
    if screw.head is Head.CYLINDER:
        top_mm = screw.head_height_mm
        outline += [(head_mm, 0.0), (head_mm, top_mm), (0.0, top_mm)]
    elif screw.head is Head.BUTTON:
        top_mm = screw.head_height_mm
        outline += [(head_mm, 0.0), (0.0, top_mm)]
        dome = (3, _on_dome(head_mm, top_mm))
    elif screw.head is Head.COUNTERSUNK:
        outline[2] = (radius_mm, radius_mm - head_mm)
        outline += [(head_mm, 0.0), (0.0, 0.0)]
    else:
        outline += [(0.0, 0.0)]
    body = spun(outline, dome)
    if screw.key_mm <= 0 or screw.key_depth_mm <= 0:
        return body
    depth_mm = min(screw.key_depth_mm, 0.8 * (top_mm + screw.length_mm))
    return less(body, [hexagon(screw.key_mm, top_mm - depth_mm, top_mm + ABOVE_MM)], screw.designation)


def _on_dome(radius_mm: float, height_mm: float) -> tuple[float, float]:
    """A corner half way up a cap of a ball: from its rim at z = 0 to its top on the axis."""
    ball_mm = (radius_mm**2 + height_mm**2) / (2 * height_mm)
    angle = math.asin(min(1.0, radius_mm / ball_mm)) / 2
    return ball_mm * math.sin(angle), height_mm - ball_mm * (1 - math.cos(angle))


def nut_shape(nut: Nut) -> Shape:
    """A hexagon or square nut with its thread as a plain hole."""
    half_mm, height_mm = nut.across_flats_mm / 2, nut.height_mm
    if nut.shape is NutShape.HEX:
        body = hexagon(nut.across_flats_mm, -height_mm, 0.0)
    else:
        body = box((-half_mm, -half_mm, -height_mm), (half_mm, half_mm, 0.0))
    return less(body, [cylinder(nut.thread.diameter_mm, -height_mm - ABOVE_MM, ABOVE_MM)], nut.designation)


def washer_shape(washer: Washer) -> Shape:
    """A plain washer."""
    return _ring(washer.inner_mm, washer.outer_mm, 0.0, washer.thickness_mm)


def insert_shape(insert: Insert) -> Shape:
    """A heat-set insert, as wide as its hole."""
    return _ring(insert.thread.diameter_mm, insert.hole_mm, -insert.length_mm, 0.0)


def _ring(inner_mm: float, outer_mm: float, low_mm: float, high_mm: float) -> Shape:
    inside, outside = inner_mm / 2, outer_mm / 2
    return spun([(inside, low_mm), (outside, low_mm), (outside, high_mm), (inside, high_mm)])


def slot_nut_shape(nut: SlotNut) -> Shape:
    """A slot nut as seated, as `profiles.slot_nut_body` says."""
    half_mm = nut.width_mm / 2
    under_mm = nut.height_mm - nut.neck_mm
    straight_mm = min(max(nut.shoulder_mm, 0.0), under_mm)
    floor_mm = max(half_mm - (under_mm - straight_mm), min(nut.thread.diameter_mm / 2, half_mm))
    outline = [(floor_mm, -under_mm), (half_mm, -straight_mm), (half_mm, 0.0)]
    if straight_mm == under_mm:
        outline = [(half_mm, -under_mm), (half_mm, 0.0)]
    if nut.neck_mm > 0:
        outline += [(nut.neck_width_mm / 2, 0.0), (nut.neck_width_mm / 2, nut.neck_mm)]
    both = [*outline, *((-y, z) for y, z in reversed(outline))]
    body = prism_x([both], -nut.length_mm / 2, nut.length_mm / 2)
    above_mm = max(nut.neck_mm, 0.0) + ABOVE_MM
    if nut.shape is SlotNutShape.HEX_IN_SLOT:
        body = common(body, hexagon(nut.width_mm, -under_mm - ABOVE_MM, above_mm), nut.designation)
    return less(body, [cylinder(nut.thread.diameter_mm, -under_mm - ABOVE_MM, above_mm)], nut.designation)


def member_shape(
    profile: Profile,
    length_mm: float,
    tapped_ends: Sequence[str] = (),
    tapped_depth_mm: float = 0.0,
    tapped_diameter_mm: float = 0.0,
) -> Shape:
    """A member from x = 0 to x = length with its slots and round cores; tapped ends as wide as the thread."""
    rings = [np.round(np.asarray(ring), SETTLED) for ring in section(profile, 0.0).to_polygons()]
    middles = [
        (y, z)
        for y in cell_centres(profile.cells_y, profile.cell_mm)
        for z in cell_centres(profile.cells_z, profile.cell_mm)
    ]
    cores = [(y, z, profile.core_mm / 2) for y, z in middles] if profile.core_mm > 0 else []
    body = prism_x(rings, 0.0, length_mm, cores)
    depth_mm = min(tapped_depth_mm, length_mm / 2)
    if depth_mm <= 0 or tapped_diameter_mm <= profile.core_mm or not tapped_ends:
        return body
    cutter = hole_shape(tapped_diameter_mm, depth_mm)
    cutters = [
        aimed(cutter, (x, y, z), (way, 0.0, 0.0))
        for end, x, way in (("a", 0.0, -1.0), ("b", length_mm, 1.0))
        if end in tapped_ends
        for y, z in middles
    ]
    return less(body, cutters, profile.designation)


def rail_shape(rail: RailSize) -> Shape:
    """A rail as a bar with its counterbored holes."""
    half_mm, height_mm = rail.width_mm / 2, rail.height_mm
    bar = box((0.0, -half_mm, 0.0), (rail.length_mm, half_mm, height_mm))
    hole = hole_shape(rail.hole_mm, height_mm + ABOVE_MM, rail.counterbore_mm, rail.counterbore_depth_mm)
    return less(bar, [_at(hole, x, 0.0, height_mm) for x in rail.holes_mm], rail.designation)


def block_shape(block: BlockSize) -> Shape:
    """A block as a saddle with the threaded holes of its pattern in the top."""
    half_x, half_y = block.length_mm / 2, block.width_mm / 2
    inner_mm = block.rail_width_mm / 2 + RUNNING_GAP_MM
    under_mm = min(
        rail_height_mm(block.rail_width_mm) + RUNNING_GAP_MM, block.height_mm - block.thread_depth_mm
    )
    low, high = block.gap_mm, block.height_mm
    ring = [(-half_y, low), (half_y, low), (half_y, high), (-half_y, high)]
    if under_mm > low:
        ring = [
            (-half_y, low), (-inner_mm, low), (-inner_mm, under_mm), (inner_mm, under_mm), (inner_mm, low),
            *ring[1:],
        ]  # fmt: skip
    body = prism_x([ring], -half_x, half_x)
    hole = hole_shape(float(block.thread.removeprefix("M")), block.thread_depth_mm)
    along = [-block.pattern_along_mm / 2, block.pattern_along_mm / 2] if block.pattern_along_mm else [0.0]
    across = (-block.pattern_across_mm / 2, block.pattern_across_mm / 2)
    return less(body, [_at(hole, x, y, high) for x in along for y in across], block.designation)


def _at(body: Shape, x_mm: float, y_mm: float, z_mm: float) -> Shape:
    return moved(body, Placement(np.eye(3), np.array([x_mm, y_mm, z_mm])))


def pulley_shape(pulley: Pulley) -> Shape:
    """A pulley or idler: running cylinder, flanges, hub, bore and the holes of its set screws."""
    parts = sections(pulley)
    ends = (parts.flanges_mm[0][0] if parts.flanges_mm else 0.0,
            parts.flanges_mm[-1][1] if parts.flanges_mm else pulley.length_mm)  # fmt: skip
    hub_mm = max(pulley.hub_mm, pulley.bore_mm + 1.0)
    rings = [(*parts.running_mm, pulley.running_mm), *((*one, pulley.flange_mm) for one in parts.flanges_mm)]
    rings += [
        (low, high, hub_mm) for low, high in ((0.0, ends[0]), (ends[1], pulley.length_mm)) if high > low
    ]
    body = joined([cylinder(wide, low, high) for low, high, wide in sorted(rings)], pulley.designation)
    cutters = [cylinder(pulley.bore_mm, -ABOVE_MM, pulley.length_mm + ABOVE_MM)]
    thread_mm = set_screw_thread_mm(pulley)
    if thread_mm > 0:
        # To the axis, but a little short of it: a cutter that ends on an axis ends on the seam of its bore.
        hole = hole_shape(thread_mm, pulley.hub_mm / 2 - pulley.bore_mm / 4)
        cutters += [aimed(hole, at_mm, out) for at_mm, out in set_screw_places(pulley)]
    return less(body, cutters, pulley.designation)


def lead_screw_shape(screw: LeadScrew) -> Shape:
    """A lead screw as a shaft of its outer diameter."""
    return cylinder(screw.diameter_mm, 0.0, screw.length_mm)

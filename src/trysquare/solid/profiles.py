"""Solids of T-slot members and of the nuts that lie in their slots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType

from trysquare.catalogue.values import Profile, SlotNut, SlotNutShape
from trysquare.ground.placement import facing
from trysquare.solid.bodies import ABOVE_MM, ALONG_X, aimed, bore, circumscribed, facets, hexagon, prism_x
from trysquare.solid.drilled import CLEAR_MM, Bore, Piece, clear_bores, drilled

Corner = tuple[float, float]


def slot_outline(profile: Profile) -> list[Corner]:
    """One slot as (across, depth below the face), from the face down and up again; begins and
    ends a little above the face so that cutting leaves no skin."""
    half_mouth, half_inside, half_floor = (
        profile.mouth_mm / 2, profile.inside_mm / 2, profile.floor_mm / 2,
    )  # fmt: skip
    side = [
        (half_mouth, -ABOVE_MM),
        (half_mouth, profile.lip_mm),
        (half_inside, profile.lip_mm),
        (half_inside, profile.shoulder_mm),
        (half_floor, profile.depth_mm),
    ]
    return [*((-across, depth) for across, depth in side), *reversed(side)]


@cache
def section(profile: Profile, core_mm: float) -> CrossSection:
    """The section in (y, z) about the profile's centre, with round cores of `core_mm` (0: filled)."""
    half_y, half_z = profile.size_y_mm / 2, profile.size_z_mm / 2
    cut: list[list[Corner]] = []
    slot = slot_outline(profile)
    across_y = cell_centres(profile.cells_y, profile.cell_mm)
    across_z = cell_centres(profile.cells_z, profile.cell_mm)
    for z in across_z:
        cut.append([(half_y - depth, z + across) for across, depth in slot])
        cut.append([(depth - half_y, z + across) for across, depth in slot])
    for y in across_y:
        cut.append([(y + across, half_z - depth) for across, depth in slot])
        cut.append([(y + across, depth - half_z) for across, depth in slot])
    square = CrossSection.square((profile.size_y_mm, profile.size_z_mm), center=True)
    body = square - CrossSection(cut, FillRule.NonZero)
    if core_mm <= 0:
        return body
    hole = CrossSection.circle(circumscribed(core_mm / 2, facets(core_mm)), facets(core_mm))
    return body - CrossSection.batch_boolean(
        [hole.translate((y, z)) for y in across_y for z in across_z], OpType.Add
    )


def cell_centres(cells: int, cell_mm: float) -> list[float]:
    """Centres of the cells across the section, the middle of all at 0."""
    return [(i - (cells - 1) / 2) * cell_mm for i in range(cells)]


def member_body(
    profile: Profile,
    length_mm: float,
    tapped_ends: tuple[str, ...] = (),
    tapped_depth_mm: float = 0.0,
    tapped_diameter_mm: float = 0.0,
) -> Manifold:
    """A member from x = 0 to x = length with its slots and cores; tapped ends have their cores
    widened to the thread's nominal diameter."""
    tapped_mm = max(tapped_diameter_mm, profile.core_mm)
    depth_mm = min(tapped_depth_mm, length_mm / 2)
    if depth_mm <= 0 or tapped_mm <= profile.core_mm or not tapped_ends:
        return prism_x(section(profile, profile.core_mm), 0.0, length_mm)
    middles = [
        (y, z)
        for y in cell_centres(profile.cells_y, profile.cell_mm)
        for z in cell_centres(profile.cells_z, profile.cell_mm)
    ]
    body = _drilled_member(profile, length_mm, tapped_ends, depth_mm, tapped_mm, middles)
    if body is not None:
        return body
    cutter = bore(tapped_mm, -ABOVE_MM, depth_mm)
    cutters = []
    for y, z in middles:
        if "a" in tapped_ends:
            cutters.append(aimed(cutter, (0.0, y, z), (1.0, 0.0, 0.0)))
        if "b" in tapped_ends:
            cutters.append(aimed(cutter, (length_mm, y, z), (-1.0, 0.0, 0.0)))
    body = prism_x(section(profile, profile.core_mm), 0.0, length_mm)
    return body - Manifold.batch_boolean(cutters, OpType.Add)


def _drilled_member(
    profile: Profile,
    length_mm: float,
    tapped_ends: tuple[str, ...],
    depth_mm: float,
    tapped_mm: float,
    middles: Sequence[Corner],
) -> Manifold | None:
    """The member as a slab along its length, its cores as bores; None where it is nothing so simple."""
    low_mm = depth_mm if "a" in tapped_ends else 0.0
    high_mm = length_mm - depth_mm if "b" in tapped_ends else length_mm
    if high_mm - low_mm < CLEAR_MM or profile.core_mm <= 0:
        return None
    # Drawn in (y, z) along x, and turned as `aimed` turns a cutter.
    turned = [facing((sign, 0.0, 0.0))[:, 0] for sign in (1.0, -1.0)]
    turn_a, turn_b = (math.atan2(first[2], first[1]) for first in turned)
    pieces = [Piece(profile.core_mm, high_mm, low_mm)]
    if "b" in tapped_ends:
        pieces.insert(0, Piece(tapped_mm, length_mm, high_mm, turn_b))
    if "a" in tapped_ends:
        pieces.append(Piece(tapped_mm, low_mm, 0.0, turn_a))
    bores = [Bore(y, z, tuple(pieces)) for y, z in middles]
    rings = [np.asarray(ring) for ring in section(profile, 0.0).to_polygons()]
    body = drilled(rings, 0.0, length_mm, bores) if clear_bores(rings, bores).all() else None
    return None if body is None else body.transform(ALONG_X)


def slot_nut_body(nut: SlotNut) -> Manifold:
    """A slot nut as seated: the body keeps its width down to the shoulder, then narrows at 45° as
    the slot does; the thread is a plain hole through its whole height.

    Roll-in and quarter-turn nuts are drawn seated, with the same section along their length; what
    lets them in through the mouth is not drawn.
    """
    half_mm = nut.width_mm / 2
    under_mm = nut.height_mm - nut.neck_mm  # below the bearing shoulder
    straight_mm = min(max(nut.shoulder_mm, 0.0), under_mm)
    floor_mm = max(half_mm - (under_mm - straight_mm), min(nut.thread.diameter_mm / 2, half_mm))
    outline = [(floor_mm, -under_mm), (half_mm, -straight_mm), (half_mm, 0.0)]
    if nut.neck_mm > 0:
        outline += [(nut.neck_width_mm / 2, 0.0), (nut.neck_width_mm / 2, nut.neck_mm)]
    both = [*outline, *((-y, z) for y, z in reversed(outline))]
    body = prism_x(CrossSection([both]), -nut.length_mm / 2, nut.length_mm / 2)
    if nut.shape is SlotNutShape.HEX_IN_SLOT:
        body = body ^ hexagon(nut.width_mm, -under_mm - ABOVE_MM, max(nut.neck_mm, 0.0) + ABOVE_MM)
    return body - bore(nut.thread.diameter_mm, -under_mm - ABOVE_MM, max(nut.neck_mm, 0.0) + ABOVE_MM)

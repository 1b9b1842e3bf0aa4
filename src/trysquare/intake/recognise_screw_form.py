"""The form of a screw as measured: socket, head, shank, length. `recognise_screws` says which it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Head
from trysquare.intake.bodies import FaceKind
from trysquare.intake.recognise_turned import SAME_MM, Round, Turned, ring_of_flats

COUNTERSINK_RAD = math.radians(45)
LEAST_CORNERS = 10  # a round is drawn with 18 corners or more, a square or hexagon has 4 or 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What was measured of something like a screw; lengths count from the tip's end."""

    view: Turned
    up: bool  # the socket is at the high end of the view
    key_mm: float  # 0: no six-sided recess
    key_depth_mm: float
    key_angle_rad: float
    head: Head
    head_mm: float
    head_height_mm: float
    shank_mm: float
    modelled_thread: bool
    length_mm: float  # as the standard counts it for this head
    bearing_mm: float  # where in the view its z = 0 is
    cup: bool


def measures_of(view: Turned) -> Measures | None:
    """What is measured of a view that has a screw's form; None when it has not."""
    return _with_socket(view) or _without_socket(view)


def _with_socket(view: Turned) -> Measures | None:
    sockets = [
        side for side in ring_of_flats(view.flats, 6, inner=True) if side.across_mm < 1.7 * view.reach_mm
    ]
    if not sockets:
        return None
    socket = sockets[0]
    if view.length_mm < SAME_MM:
        return None
    up = view.high_mm - socket.high_mm < socket.low_mm - view.low_mm
    top = view.high_mm if up else view.low_mm
    sign = 1.0 if up else -1.0

    def below_mm(at: float) -> float:
        """How far below the top, towards the tip."""
        return (top - at) * sign

    depth = max(below_mm(socket.low_mm), below_mm(socket.high_mm))
    if depth > 0.9 * view.length_mm:
        return None
    return _measured(view, up, socket.across_mm, depth, socket.angle_rad)


def _without_socket(view: Turned) -> Measures | None:
    """A head and a shank without a recess: screws are often drawn so plainly. Nothing else may be there."""
    if view.flats or view.others or any(each.hollow for each in view.rounds) or view.length_mm < SAME_MM:
        return None
    part = 0.1 * view.length_mm
    ends = (
        view.reach_between(view.low_mm, view.low_mm + part),
        view.reach_between(view.high_mm - part, view.high_mm),
    )
    found = _measured(view, ends[1] > ends[0], 0.0, 0.0, 0.0)
    return None if found is None or found.head is Head.NONE else found


def _measured(view: Turned, up: bool, key_mm: float, depth: float, angle_rad: float) -> Measures | None:
    """Head, shank and length, the head's end being known."""
    top = view.high_mm if up else view.low_mm
    sign = 1.0 if up else -1.0
    whole = view.length_mm
    head_mm = 2 * _reach(view, top, sign, 0.0, 0.35 * whole)
    if not _is_round(view):  # something square with a six-sided hole
        return None
    shank_mm, modelled = _shank(view, top, sign, head_mm)
    if shank_mm <= 0:
        return None
    cones = [
        ((top - each.low_mm) * sign, (top - each.high_mm) * sign, each)
        for each in view.rounds
        if each.kind is FaceKind.CONE and not each.hollow
    ]
    head, height = _head(view, top, sign, head_mm, shank_mm, cones)
    if head in (Head.COUNTERSUNK, Head.NONE):
        length, bearing = whole, top
    else:
        length, bearing = whole - height, top - sign * height
    tip = view.low_mm if up else view.high_mm
    cup = any(
        each.kind is FaceKind.CONE
        and each.hollow
        and min(abs(each.low_mm - tip), abs(each.high_mm - tip)) < 0.15
        for each in view.rounds
    )
    return Measures(
        view=view, up=up, key_mm=key_mm, key_depth_mm=depth, key_angle_rad=angle_rad, head=head,
        head_mm=head_mm, head_height_mm=height, shank_mm=shank_mm, modelled_thread=modelled,
        length_mm=length, bearing_mm=bearing, cup=cup,
    )  # fmt: skip


def _is_round(view: Turned) -> bool:
    """Whether the farthest points from the axis lie all round it."""
    x, y = view.points_mm[:, 0], view.points_mm[:, 1]
    far = np.hypot(x, y) > 0.97 * view.reach_mm
    return len(np.unique(np.round(np.arctan2(y[far], x[far]), 2))) >= LEAST_CORNERS


def _reach(view: Turned, top: float, sign: float, from_mm: float, to_mm: float) -> float:
    ends = sorted((top - sign * from_mm, top - sign * to_mm))
    return view.reach_between(ends[0], ends[1])


def _shank(view: Turned, top: float, sign: float, head_mm: float) -> tuple[float, bool]:
    """Diameter of the shank, and whether its thread is modelled."""
    whole = view.length_mm
    reach = max(_reach(view, top, sign, 0.45 * whole, whole), _reach(view, top, sign, 0.7 * whole, whole))
    low_part = [each for each in view.outer() if _below(each.low_mm, each.high_mm, top, sign) > 0.6 * whole]
    plain = [each for each in low_part if each.length_mm > 0.15 * whole]
    if plain and view.others < 3:
        narrow = [each for each in plain if each.radius_mm * 2 < head_mm - SAME_MM]
        return 2 * (narrow or plain)[0].radius_mm, False
    last = _reach(view, top, sign, 0.75 * whole, whole)
    return 2 * (last or reach), True


def _below(low: float, high: float, top: float, sign: float) -> float:
    return max((top - low) * sign, (top - high) * sign)


def _head(
    view: Turned, top: float, sign: float, head_mm: float, shank_mm: float,
    cones: list[tuple[float, float, Round]],
) -> tuple[Head, float]:  # fmt: skip
    """The head's form, and its height."""
    if head_mm < shank_mm * 1.12 + SAME_MM:
        return Head.NONE, 0.0
    over = (head_mm - shank_mm) / 2
    for one, other, cone in cones:
        tall = abs(one - other)
        slope = abs(cone.high_radius_mm - cone.low_radius_mm)
        grows_up = (cone.high_radius_mm > cone.low_radius_mm) is (sign > 0)
        if (
            grows_up
            and slope > 0.6 * over
            and abs(math.atan2(slope, tall) - COUNTERSINK_RAD) < math.radians(4)
        ):
            return Head.COUNTERSUNK, max(one, other)
    # the bearing face looks to the tip, and lies above it
    faces = [
        ((top - end.at_mm) * sign, end.area_mm2)
        for end in view.ends
        if end.up is (sign < 0) and (top - end.at_mm) * sign < view.length_mm - SAME_MM
    ]
    if faces:
        height = max(faces, key=lambda face: face[1])[0]
    else:
        wide = [each for each in view.outer() if 2 * each.radius_mm > shank_mm * 1.12]
        height = max((_below(each.low_mm, each.high_mm, top, sign) for each in wide), default=0.0)
    straight = sum(
        each.length_mm for each in view.outer() if 2 * each.radius_mm > head_mm - 0.1 * (head_mm - shank_mm)
    )
    return (Head.CYLINDER if straight > 0.45 * height else Head.BUTTON), height

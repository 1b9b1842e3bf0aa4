"""Round holes of a shape: cylinders with the material outside, put together along their axes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Face, FaceKind, Hole, Shape
from trysquare.intake.recognise_turned import distance_from_line, is_parallel

LEAST_ROUND_RAD = 1.72 * math.pi  # a hole may be broken open by a slot, a fillet never goes so far round
LEAST_SEAT_RAD = 0.4 * math.pi
LEAST_BORE_MM = 0.05  # where one cutter went a hair deeper than another
ON_AXIS_MM = 0.02
SAME_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Bore:
    """One stretch of one diameter. `low_mm`, `high_mm`: along the axis from `Axis.origin_mm`."""

    diameter_mm: float
    low_mm: float
    high_mm: float
    sweep_rad: float


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """A line with all holes on it. `bores`: widest first. `sinks`: hollow cones as (wide diameter, where,
    narrow diameter, where) along the axis. `low_mm`, `high_mm`: their whole extent."""

    origin_mm: Array
    direction: Array
    bores: tuple[Bore, ...]
    sinks: tuple[tuple[float, float, float, float], ...]

    @property
    def low_mm(self) -> float:
        return min(bore.low_mm for bore in self.bores)

    @property
    def high_mm(self) -> float:
        return max(bore.high_mm for bore in self.bores)

    def at(self, along_mm: float) -> Array:
        point: Array = self.origin_mm + self.direction * along_mm
        return point


def axes_of_holes(shape: Shape, least_sweep_rad: float = LEAST_ROUND_RAD) -> list[Axis]:
    """All axes with at least one hole that goes round, in the shape's coordinates."""
    groups: list[list[Face]] = []
    for face in shape.faces:
        if face.kind is FaceKind.TORUS or (face.kind in (FaceKind.CYLINDER, FaceKind.CONE) and face.hollow):
            for group in groups:
                first = group[0]
                if is_parallel(face.direction, first.direction) and (
                    distance_from_line(face.origin_mm, first.origin_mm, first.direction) < ON_AXIS_MM
                ):
                    group.append(face)
                    break
            else:
                groups.append([face])
    found = []
    for group in groups:
        axis = _axis(group, least_sweep_rad)
        if axis is not None:
            found.append(axis)
    return found


def _axis(group: Sequence[Face], least_sweep_rad: float) -> Axis | None:
    origin, direction = group[0].origin_mm, group[0].direction
    bores: list[Bore] = []
    sinks: list[tuple[float, float, float, float]] = []
    edges: list[Bore] = []
    for face in group:
        way = float(face.direction @ direction)
        base = float((face.origin_mm - origin) @ direction)
        low, high = sorted((base + way * face.low_mm, base + way * face.high_mm))
        if face.kind is FaceKind.CYLINDER:
            bores.append(Bore(2 * face.radius_mm, low, high, face.sweep_rad))
        elif face.kind is FaceKind.TORUS:
            tube_mm = face.second_radius_mm if face.hollow else -face.second_radius_mm
            edges.append(Bore(2 * (face.radius_mm + tube_mm), low, high, face.sweep_rad))
        else:
            wide, narrow = (high, low) if way > 0 else (low, high)
            sinks.append((2 * face.radius_mm, wide, 2 * face.second_radius_mm, narrow))
    joined = [_sharp(bore, edges) for bore in _joined(bores)]
    joined = [bore for bore in joined if bore.high_mm - bore.low_mm > LEAST_BORE_MM] or joined
    whole = [bore.diameter_mm for bore in joined if bore.sweep_rad > least_sweep_rad]
    if not whole:
        return None
    # a counterbore over a slot keeps less of its round than the hole that goes on
    kept = tuple(
        bore for bore in joined if bore.sweep_rad > LEAST_SEAT_RAD and bore.diameter_mm > min(whole) - SAME_MM
    )
    return Axis(origin, direction, tuple(sorted(kept, key=lambda bore: -bore.diameter_mm)), tuple(sinks))


def _sharp(bore: Bore, edges: Sequence[Bore]) -> Bore:
    """The bore as if its edges were sharp: a rounded mouth and a rounded bottom belong to its length.

    `edges`: fillets as rounds of the diameter at which they run out along the axis.
    """
    low, high = bore.low_mm, bore.high_mm
    for edge in edges:
        if abs(edge.diameter_mm - bore.diameter_mm) < SAME_MM:
            if abs(edge.high_mm - bore.low_mm) < SAME_MM:
                low = min(low, edge.low_mm)
            if abs(edge.low_mm - bore.high_mm) < SAME_MM:
                high = max(high, edge.high_mm)
    return Bore(bore.diameter_mm, low, high, bore.sweep_rad)


def _joined(bores: list[Bore]) -> list[Bore]:
    """Faces of one diameter put together: side by side their sweeps add, in a row their lengths."""
    by_diameter: dict[int, list[Bore]] = {}
    for bore in bores:
        by_diameter.setdefault(round(bore.diameter_mm / SAME_MM * 2), []).append(bore)
    joined = []
    for some in by_diameter.values():
        some.sort(key=lambda bore: bore.low_mm)
        stretches: list[list[Bore]] = []
        for bore in some:
            if stretches and bore.low_mm < max(each.high_mm for each in stretches[-1]) + SAME_MM:
                stretches[-1].append(bore)
            else:
                stretches.append([bore])
        for each in stretches:
            low, high = min(bore.low_mm for bore in each), max(bore.high_mm for bore in each)
            covered = sum(bore.sweep_rad * (bore.high_mm - bore.low_mm) for bore in each)
            most = max(bore.sweep_rad for bore in each)
            # cut open on a part of its length, it is still round elsewhere
            sweep = max(most, covered / max(high - low, 1e-9)) if len(each) > 1 else most
            joined.append(Bore(some[0].diameter_mm, low, high, min(sweep, 2 * math.pi)))
    return joined


def holes_of(shape: Shape, frame: Placement | None = None) -> tuple[Hole, ...]:
    """The holes of any solid, in coordinates of `frame` (see `Recognition.frame`), sorted by place.

    A hole opens where its counterbore or countersink is; without, and through, on the side that looks
    along the frame's +z (then +y, then +x).
    """
    frame = frame or Placement()
    outside = Outside(shape)
    holes = [_hole(axis, frame, outside) for axis in axes_of_holes(shape)]
    return tuple(
        sorted(
            (hole for hole in holes if hole is not None),
            key=lambda hole: (hole.diameter_mm, *np.round(hole.at_mm, 3)),
        )
    )


class Outside:
    """Tells whether a point of an axis lies in air: where a hole ends in a bottom, the metal goes on."""

    def __init__(self, shape: Shape) -> None:
        corners = shape.points_mm[shape.triangles] if len(shape.triangles) else np.zeros((0, 3, 3))
        self._first = corners[:, 0]
        self._one, self._two = corners[:, 1] - self._first, corners[:, 2] - self._first

    def is_blocked(self, start_mm: Array, direction: Array) -> bool:
        """Whether a ray from a point meets the shape's own skin."""
        if not len(self._first):
            return False
        x, y, z = direction
        turn = np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])  # rows @ turn: direction × row
        across = self._two @ turn
        size = np.einsum("ij,ij->i", self._one, across)
        good = np.abs(size) > 1e-12
        inverse = np.where(good, 1.0 / np.where(good, size, 1.0), 0.0)
        away = start_mm - self._first
        u = np.einsum("ij,ij->i", away, across) * inverse
        v = -np.einsum("ij,ij->i", away, self._one @ turn) * inverse
        slack = 1e-9
        met = np.flatnonzero(good & (u >= -slack) & (v >= -slack) & (u + v <= 1 + slack))
        if not len(met):
            return False
        other = np.cross(away[met], self._one[met])
        t = np.einsum("ij,ij->i", self._two[met], other) * inverse[met]
        return bool((t > 1e-7).any())


def open_ends(axis: Axis, outside: Outside) -> tuple[bool, bool]:
    """Whether the axis leaves the holes into free air at its low and at its high end."""
    narrow = axis.bores[-1]
    middle = (narrow.low_mm + narrow.high_mm) / 2
    # A little beside the axis: a ray through the tip of a drill's cone, or a mesh corner, decides nothing.
    helper = np.array([1.0, 0.0, 0.0]) if abs(axis.direction[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    side = np.cross(axis.direction, helper)
    side = side / np.linalg.norm(side) * narrow.diameter_mm * 0.0613
    start = axis.at(middle) + side
    return not outside.is_blocked(start, -axis.direction), not outside.is_blocked(start, axis.direction)


def _hole(axis: Axis, frame: Placement, outside: Outside) -> Hole | None:
    low_open, high_open = open_ends(axis, outside)
    if not low_open and not high_open:
        return None
    narrow = axis.bores[-1]
    wide = [bore for bore in axis.bores if bore.diameter_mm > narrow.diameter_mm + 10 * SAME_MM]
    up = high_open
    if low_open and high_open:
        up = _opens_up(axis, narrow, wide, frame)
    sign = 1.0 if up else -1.0
    ends = [axis.high_mm if up else axis.low_mm]
    ends += [at for _wide, at, _narrow, _other in axis.sinks if (at - ends[0]) * sign > 0]
    top = max(ends) if up else min(ends)
    bottom = narrow.low_mm if up else narrow.high_mm
    if low_open and high_open:  # a chamfer at its far mouth belongs to the hole
        far = [bottom, *(at for _wide, at, _narrow, inner in axis.sinks if abs(inner - bottom) < SAME_MM)]
        bottom = min(far) if up else max(far)
    counterbore = None
    if wide and abs((wide[0].high_mm if up else wide[0].low_mm) - top) < 3:
        floor = wide[0].low_mm if up else wide[0].high_mm
        counterbore = (wide[0].diameter_mm, abs(top - floor))
    sinks = [size for size, at, _narrow, _other in axis.sinks if abs(at - top) < SAME_MM]
    countersink = max(sinks) if sinks and max(sinks) > 1.3 * narrow.diameter_mm else None
    return Hole(
        at_mm=frame.back(axis.at(top)),
        direction=frame.back_direction(axis.direction * sign),
        diameter_mm=narrow.diameter_mm,
        depth_mm=abs(top - bottom),
        through=low_open and high_open,
        counterbore_mm=counterbore,
        countersink_mm=countersink,
    )


def _opens_up(axis: Axis, narrow: Bore, wide: list[Bore], frame: Placement) -> bool:
    """Which end a through hole opens at: True for the axis's high end."""
    if wide:
        return wide[0].high_mm > narrow.high_mm
    if axis.sinks:
        biggest = max(axis.sinks)
        return biggest[1] > (narrow.low_mm + narrow.high_mm) / 2
    looks = frame.back_direction(axis.direction)
    for number in (2, 1, 0):
        if abs(looks[number]) > 0.5:
            return bool(looks[number] > 0)
    return True

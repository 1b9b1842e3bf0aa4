"""A shape seen along its main axis: rounds about it, ends square to it, flats along it.

Everything that a lathe or a header makes is read from this view, however the shape was turned in its file.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trysquare.ground.placement import Array, Placement, facing
from trysquare.intake.bodies import Face, FaceKind, Shape

KEPT_VIEWS = 8  # of the shape that is being read
PARALLEL = 1e-4  # of unit vectors; programs write directions with 6 digits or more
COSINE_OF_PARALLEL = 1.0 - 5e-7  # of a milliradian
ON_AXIS_MM = 0.01
SAME_MM = 0.02  # two drawn lengths that are meant to be one


@dataclass(frozen=True, slots=True)
class Round:
    """A face round the axis, from `low_mm` to `high_mm` along it, with its radius at either."""

    kind: FaceKind
    hollow: bool
    low_mm: float
    high_mm: float
    low_radius_mm: float
    high_radius_mm: float
    sweep_rad: float

    @property
    def radius_mm(self) -> float:
        return max(self.low_radius_mm, self.high_radius_mm)

    @property
    def length_mm(self) -> float:
        return self.high_mm - self.low_mm


@dataclass(frozen=True, slots=True)
class End:
    """A plane square to the axis. `up`: its material lies below it."""

    at_mm: float
    up: bool
    area_mm2: float


@dataclass(frozen=True, slots=True)
class Flat:
    """A plane along the axis. `inner`: it looks at the axis. `angle_rad`: its normal's, from the view's x."""

    distance_mm: float
    inner: bool
    angle_rad: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """The view. `frame` takes its coordinates (z the axis) to the shape's. `low_mm`, `high_mm`: whole extent
    along the axis; `reach_mm`: the farthest point from the axis. `others`: how many faces are neither."""

    frame: Placement
    rounds: tuple[Round, ...]
    ends: tuple[End, ...]
    flats: tuple[Flat, ...]
    low_mm: float
    high_mm: float
    reach_mm: float
    others: int
    points_mm: Array

    @property
    def length_mm(self) -> float:
        return self.high_mm - self.low_mm

    def outer(self, least_length_mm: float = 0.0) -> list[Round]:
        """Cylinders with air outside, joined over their seams and splits, widest first."""
        return joined_rounds((each for each in self.rounds if not each.hollow), least_length_mm)

    def inner(self, least_length_mm: float = 0.0) -> list[Round]:
        """Cylinders with air inside, widest first."""
        return joined_rounds((each for each in self.rounds if each.hollow), least_length_mm)

    def reach_between(self, low_mm: float, high_mm: float) -> float:
        """The farthest point from the axis within a stretch of it; 0 when no point lies there."""
        z = self.points_mm[:, 2]
        there = (z > low_mm - SAME_MM) & (z < high_mm + SAME_MM)
        if not there.any():
            return 0.0
        return float(np.hypot(self.points_mm[there, 0], self.points_mm[there, 1]).max())


def joined_rounds(rounds: Iterable[Round], least_length_mm: float = 0.0) -> list[Round]:
    """Cylinders of one radius that touch along the axis as one, widest first; sweeps side by side add up."""
    left = sorted(
        (each for each in rounds if each.kind is FaceKind.CYLINDER),
        key=lambda each: (each.radius_mm, each.low_mm),
    )
    joined: list[Round] = []
    for each in left:
        last = joined[-1] if joined else None
        if (
            last
            and abs(last.radius_mm - each.radius_mm) < SAME_MM / 4
            and each.low_mm < last.high_mm + SAME_MM
        ):
            beside = each.low_mm < last.low_mm + SAME_MM
            sweep = min(last.sweep_rad + each.sweep_rad, 2 * math.pi) if beside else last.sweep_rad
            joined[-1] = Round(
                each.kind, each.hollow, last.low_mm, max(last.high_mm, each.high_mm),
                last.low_radius_mm, last.high_radius_mm, sweep,
            )  # fmt: skip
        else:
            joined.append(each)
    return sorted(
        (each for each in joined if each.length_mm > least_length_mm), key=lambda each: -each.radius_mm
    )


def turned_views(shape: Shape, most: int = 3) -> list[Turned]:
    """The shape along each of its axes that carry most round or facetted area, best first."""
    return [_view(shape, number) for number in range(min(most, len(_axes(shape))))]


@lru_cache(maxsize=KEPT_VIEWS)
def _view(shape: Shape, number: int) -> Turned:
    """One of them; the readers of fasteners and of round parts ask for the same."""
    return view_along(shape, *_axes(shape)[number])


@lru_cache(maxsize=KEPT_VIEWS)
def _axes(shape: Shape) -> list[tuple[Array, Array]]:
    """Axis lines of the rounds, the one with most area first."""
    lines: list[list[object]] = []
    for face in shape.faces:
        if face.kind in (FaceKind.PLANE, FaceKind.OTHER, FaceKind.SPHERE):
            continue
        for line in lines:
            origin, axis, _area = line
            if _same_line(face, origin, axis):  # type: ignore[arg-type]
                line[2] += face.area_mm2  # type: ignore[operator]
                break
        else:
            lines.append([face.origin_mm, face.direction, face.area_mm2])
    lines.sort(key=lambda line: -float(line[2]))  # type: ignore[arg-type]
    return [(line[0], line[1]) for line in lines]  # type: ignore[misc]


def _same_line(face: Face, origin: Array, axis: Array) -> bool:
    return is_parallel(face.direction, axis) and distance_from_line(face.origin_mm, origin, axis) < ON_AXIS_MM


def is_parallel(one: Array, other: Array) -> bool:
    """Whether two unit vectors lie along one line, either way, within a milliradian.

    A face that is neither flat nor round has no direction: it is never parallel to anything.
    """
    return abs(float(one @ other)) > COSINE_OF_PARALLEL


def is_square(one: Array, other: Array) -> bool:
    """Whether two unit vectors are square to each other."""
    return abs(float(one @ other)) < PARALLEL


def distance_from_line(point: Array, origin: Array, axis: Array) -> float:
    """How far a point, array (3,), is from a line."""
    away = point - origin
    off = away - axis * float(away @ axis)
    return math.sqrt(float(off @ off))


def view_along(shape: Shape, origin: Array, axis: Array) -> Turned:
    """The shape in coordinates whose z is the given axis."""
    frame = Placement(facing(axis), origin)
    rounds, ends, flats, others = [], [], [], 0
    for face in shape.faces:
        if face.kind is FaceKind.PLANE:
            normal = frame.back_direction(face.direction)
            if is_parallel(face.direction, axis):
                ends.append(End(float(frame.back(face.centre_mm)[2]), bool(normal[2] > 0), face.area_mm2))
            elif is_square(face.direction, axis):
                flats.append(_flat(face, frame, normal))
            else:
                others += 1
        elif face.kind is FaceKind.SPHERE and distance_from_line(face.origin_mm, origin, axis) < ON_AXIS_MM:
            rounds.append(_ball(face, frame))
        elif face.kind in (FaceKind.CYLINDER, FaceKind.CONE, FaceKind.TORUS) and _same_line(
            face, origin, axis
        ):
            rounds.append(_round(face, frame))
        else:
            others += 1
    points = frame.back(shape.points_mm)
    z = points[:, 2] if len(points) else np.zeros(1)
    reach = float(np.hypot(points[:, 0], points[:, 1]).max()) if len(points) else 0.0
    return Turned(
        frame=frame,
        rounds=tuple(rounds),
        ends=tuple(ends),
        flats=tuple(flats),
        low_mm=float(z.min()),
        high_mm=float(z.max()),
        reach_mm=reach,
        others=others,
        points_mm=points,
    )


def _flat(face: Face, frame: Placement, normal: Array) -> Flat:
    centre = frame.back(face.centre_mm)
    distance = float(centre @ normal)
    z = frame.back(face.corners_mm)[:, 2] if len(face.corners_mm) else np.array([centre[2]])
    return Flat(abs(distance), distance < 0, math.atan2(normal[1], normal[0]), float(z.min()), float(z.max()))


def _round(face: Face, frame: Placement) -> Round:
    way = float(face.direction @ frame.turn[:, 2])
    base = float(frame.back(face.origin_mm)[2])
    at_low, at_high = base + way * face.low_mm, base + way * face.high_mm
    low_radius, high_radius = face.radius_mm, face.radius_mm
    if face.kind is FaceKind.CONE:
        low_radius = face.second_radius_mm
    elif face.kind is FaceKind.TORUS:
        low_radius = high_radius = face.radius_mm + (0 if face.hollow else face.second_radius_mm)
    if at_low > at_high:
        at_low, at_high, low_radius, high_radius = at_high, at_low, high_radius, low_radius
    return Round(face.kind, face.hollow, at_low, at_high, low_radius, high_radius, face.sweep_rad)


def _ball(face: Face, frame: Placement) -> Round:
    """A piece of a sphere about the axis: its extent from its corners is not kept, so from centre of area."""
    centre = frame.back(face.origin_mm)
    middle = float(frame.back(face.centre_mm)[2])
    # Archimedes: a zone's area is 2π r · height, and its centre of area lies half way up
    height = face.area_mm2 / (2 * math.pi * face.radius_mm)
    low, high = middle - height / 2, middle + height / 2
    at = [
        math.sqrt(max(0.0, face.radius_mm**2 - min(abs(z - centre[2]), face.radius_mm) ** 2))
        for z in (low, high)
    ]
    return Round(face.kind, face.hollow, low, high, at[0], at[1], face.sweep_rad)


@dataclass(frozen=True, slots=True)
class Sides:
    """A regular ring of flats: how many, width across, the stretch they share, one normal's angle."""

    count: int
    across_mm: float
    low_mm: float
    high_mm: float
    angle_rad: float


def ring_of_flats(flats: Iterable[Flat], count: int, *, inner: bool) -> list[Sides]:
    """Regular rings of `count` flats at one distance from the axis, nearest to the axis first.

    Half of the flats and two neighbours must be there: a corner may be cut, a face split.
    """
    found: list[Sides] = []
    some = sorted((flat for flat in flats if flat.inner is inner and flat.distance_mm > SAME_MM),
                  key=lambda flat: flat.distance_mm)  # fmt: skip
    while some:
        first = some[0]
        near = [flat for flat in some if abs(flat.distance_mm - first.distance_mm) < SAME_MM]
        some = some[len(near) :]
        step = 2 * math.pi / count
        for start in near:
            turns = {
                round((flat.angle_rad - start.angle_rad) / step) % count: flat
                for flat in near
                if abs(math.remainder(flat.angle_rad - start.angle_rad, step)) < 0.005
            }
            if len(turns) == count:
                members = list(turns.values())
                found.append(
                    Sides(
                        count,
                        2 * sum(flat.distance_mm for flat in members) / count,
                        min(flat.low_mm for flat in members),
                        max(flat.high_mm for flat in members),
                        start.angle_rad,
                    )
                )
                break
    return found


def facing_socket(view: Turned, *, upside_down: bool, origin_mm: float, angle_rad: float = 0.0) -> Placement:
    """Coordinates whose z is the view's axis or against it, z = 0 at `origin_mm`, x turned by `angle_rad`."""
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    if upside_down:
        turn = turn @ np.diag([1.0, -1.0, -1.0])
    return view.frame.then(Placement(turn, np.array([0.0, 0.0, origin_mm])))

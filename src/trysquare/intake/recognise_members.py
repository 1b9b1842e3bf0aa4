"""T-slot members: one section along the whole length, slots with lips, round cores, drilled holes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.lookup import profile
from trysquare.catalogue.rows import rows
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Profile
from trysquare.ground.placement import Array, Placement, cross
from trysquare.intake.bodies import FaceKind, Hole, Recognition, Shape, Sort
from trysquare.intake.recognise_holes import Axis, Bore, Outside, axes_of_holes, open_ends
from trysquare.intake.recognise_turned import COSINE_OF_PARALLEL, PARALLEL, is_square

OUTER_MM = 0.25  # drawn outer sizes of profiles differ by less
MOUTH_MM = 0.45  # maker's mouths differ from each other by so much
LIP_REACH_MM = 0.9  # the lip's flank begins this near to the outer face: its edges may be rounded
LEAST_RUN = 0.3  # a flank of a slot runs along most of the length; holes may cut it in two
CORE_RAD = 1.2 * math.pi
MOST_DIRECTIONS = 25  # a member's axis is among those with the largest flats


@dataclass(frozen=True, slots=True)
class Slot:
    """A slot as measured: the side it opens on ("+y" …), its middle across that side, its mouth's width."""

    side: str
    middle_mm: float
    mouth_mm: float


def member_of(shape: Shape) -> Recognition | None:
    """The member that a shape is, or None when it has no T-slots along it."""
    for axis in _directions(shape)[:2]:
        frame = _frame(shape, axis)
        if frame is None:
            continue
        points = frame.back(shape.points_mm)
        size = points.max(axis=0) - points.min(axis=0)
        slots = _slots(shape, frame, size)
        if slots:
            return _member(shape, frame, size, slots)
    return None


def _directions(shape: Shape) -> list[Array]:
    """Directions that most of the skin runs along: the greatest area of planes square to them first."""
    planes = sorted(  # a mesh may have many slivers
        (face for face in shape.faces if face.kind is FaceKind.PLANE), key=lambda face: -face.area_mm2
    )
    rounds = [face for face in shape.faces if face.kind is FaceKind.CYLINDER]
    if not planes:
        return []
    ways, round_ways = (
        np.array([face.direction for face in some]).reshape(-1, 3) for some in (planes, rounds)
    )
    areas, round_areas = (np.array([face.area_mm2 for face in some]) for some in (planes, rounds))
    left = np.ones(len(planes), dtype=bool)
    runs: list[tuple[float, int, Array]] = []
    while left.any() and len(runs) < MOST_DIRECTIONS:
        direction = ways[int(np.argmax(left))]
        cosines = np.abs(ways @ direction)
        left &= cosines <= COSINE_OF_PARALLEL
        square = cosines < PARALLEL
        along = areas[square].sum() + round_areas[np.abs(round_ways @ direction) > COSINE_OF_PARALLEL].sum()
        runs.append((float(along), int(square.sum()), direction))
    runs.sort(key=lambda run: (-round(run[0] / max(shape.area_mm2, 1e-9), 2), -run[1]))
    return [run[2] for run in runs]


def _frame(shape: Shape, axis: Array) -> Placement | None:
    """The member's coordinates: x from end a along `axis`, y and z out of its faces, y the shorter side."""
    planes = [face for face in shape.faces if face.kind is FaceKind.PLANE and is_square(face.direction, axis)]
    if not planes:
        return None
    ways = np.array([face.direction for face in planes])
    areas = np.array([face.area_mm2 for face in planes])
    alike = np.abs(ways @ ways.T) > COSINE_OF_PARALLEL
    y = ways[int(np.argmax(np.round(alike.astype(float) @ areas, 3)))]  # of equal sides the first
    z = cross(axis, y)
    z = z / np.linalg.norm(z)
    extents = [np.ptp(shape.points_mm @ way) for way in (y, z)]
    if extents[0] > extents[1] + OUTER_MM:
        y, z = z, -y
    turn = np.column_stack([axis, cross(z, axis), z])
    local = shape.points_mm @ turn
    low, high = local.min(axis=0), local.max(axis=0)
    origin = turn @ np.array([low[0], (low[1] + high[1]) / 2, (low[2] + high[2]) / 2])
    return Placement(turn, origin)


def _slots(shape: Shape, frame: Placement, size: Array) -> list[Slot]:
    """Pairs of flanks that face each other and begin at an outer face."""
    found: list[Slot] = []
    flanks: dict[str, list[tuple[float, float]]] = {}
    planes = [face for face in shape.faces if face.kind is FaceKind.PLANE and len(face.corners_mm)]
    normals = np.array([face.direction for face in planes]).reshape(-1, 3) @ frame.turn
    square = np.abs(np.abs(normals) - 1) < 1e-4
    for number in np.flatnonzero(square[:, 1] | square[:, 2]):
        face, normal = planes[number], normals[number]
        across = 1 if square[number, 1] else 2
        corners = frame.back(face.corners_mm)
        if np.ptp(corners[:, 0]) < LEAST_RUN * size[0]:
            continue
        outwards = 3 - across  # the other of y and z
        for sign in (1.0, -1.0):
            reach = float((corners[:, outwards] * sign).max())
            inner = float((corners[:, outwards] * sign).min())
            at = float(corners[:, across].mean())
            is_side = abs(at) > size[across] / 2 - 0.4
            if reach > size[outwards] / 2 - LIP_REACH_MM and inner > 0 and not is_side:
                side = f"{'+' if sign > 0 else '-'}{'xyz'[outwards]}"
                flanks.setdefault(side, []).append((at, float(np.sign(normal[across]))))
    for side, walls in sorted(flanks.items()):
        in_order = sorted({(round(at, 4), sign) for at, sign in walls})
        for (at, sign), (next_at, next_sign) in itertools.pairwise(in_order):
            if sign > 0 > next_sign:
                found.append(Slot(side, (at + next_at) / 2, next_at - at))
    return found


def _member(shape: Shape, frame: Placement, size: Array, slots: list[Slot]) -> Recognition | None:
    mouth = float(np.median([slot.mouth_mm for slot in slots]))
    length = float(size[0])
    known = _profiles(size, mouth, slots)
    sides = sorted({slot.side for slot in slots})
    evidence = [
        f"one section {size[1]:.4g} × {size[2]:.4g} along {length:.5g}",
        f"{len(slots)} slots with a mouth of {mouth:.3g} on {', '.join(sides)}",
    ]
    parameters = {
        "length_mm": length,
        "size_y_mm": float(size[1]),
        "size_z_mm": float(size[2]),
        "mouth_mm": mouth,
    }
    if _undercut_sides(shape, frame, size) < (1 if known else 2):
        return None
    if not known:
        return Recognition(
            sort=Sort.MEMBER, parameters=parameters, confidence=0.5, frame=frame,
            evidence=tuple(evidence), doubts=("no profile of the tables has this section",),
        )  # fmt: skip
    penalty, best = known[0]
    parameters["slot_mm"] = best.slot_mm
    outside = Outside(shape)
    axes = axes_of_holes(shape, CORE_RAD)
    tapped, depth, core_remark = _tapped(axes, frame, best, length)
    if depth:
        parameters["tapped_depth_mm"] = depth
    evidence += core_remark
    holes = _holes(axes, frame, size, best, outside)
    doubts = []
    expected = 2 * (best.cells_y + best.cells_z)
    if len(slots) != expected:
        doubts.append(f"{len(slots)} open slots; {best.designation} has {expected}: some faces may be closed")
        penalty += 0.5
    return Recognition(
        sort=Sort.MEMBER,
        designation=best.designation,
        parameters=parameters,
        confidence=max(0.3, 0.97 - 0.3 * penalty),
        evidence=tuple(evidence),
        doubts=tuple(doubts),
        alternatives=tuple(each.designation for _penalty, each in known[1:3]),
        frame=frame,
        holes=holes,
        tapped=tapped,
    )


def _undercut_sides(shape: Shape, frame: Placement, size: Array) -> int:
    """On how many sides lips stand over the slots: planes along the member that look inwards."""
    sides = set()
    for face in shape.faces:
        normal = frame.back_direction(face.direction)
        across = int(np.argmax(np.abs(normal)))
        if face.kind is FaceKind.PLANE and across and len(face.corners_mm):
            corners = frame.back(face.corners_mm)
            at = float(corners[:, across].mean())
            inwards = at * normal[across] < 0 and abs(at) > size[across] / 4
            if inwards and np.ptp(corners[:, 0]) > 0.9 * size[0]:
                sides.add((across, at > 0))
    return len(sides)


def _profiles(size: Array, mouth: float, slots: list[Slot]) -> list[tuple[float, Profile]]:
    found = []
    for row in rows("profiles"):
        try:
            each = profile(*_sizes(row), float(row["slot_mm"]))
        except UnknownDesignation:
            continue
        off = max(abs(each.size_y_mm - size[1]), abs(each.size_z_mm - size[2]))
        off_mouth = abs(each.mouth_mm - mouth)
        if off > OUTER_MM or off_mouth > MOUTH_MM:
            continue
        middles = [
            _centres(each.cells_y if slot.side[1] == "z" else each.cells_z, each.cell_mm) for slot in slots
        ]
        off_middle = max(
            min(abs(slot.middle_mm - middle) for middle in some)
            for slot, some in zip(slots, middles, strict=True)
        )
        if off_middle < 0.5:
            found.append((off / OUTER_MM * 0.3 + off_mouth / MOUTH_MM * 0.5 + off_middle * 0.4, each))
    return sorted(found, key=lambda pair: pair[0])


def _sizes(row: Mapping[str, str]) -> tuple[float, float]:
    cell = float(row["cell_mm"])
    return cell * int(row["cells_y"]), cell * int(row["cells_z"])


def _centres(cells: int, cell_mm: float) -> list[float]:
    return [(number - (cells - 1) / 2) * cell_mm for number in range(cells)]


def _tapped(
    axes: list[Axis], frame: Placement, best: Profile, length: float
) -> tuple[tuple[str, ...], float, list[str]]:
    """The ends whose cores are wider than elsewhere: by a thread drawn at its nominal or minor diameter.

    Also how deep the least deep of them goes, 0 without: half the member's length when it goes all through.
    """
    wide = thread(best.core_thread).diameter_mm
    tapped: dict[str, float] = {}

    def goes(end: str, depth: float) -> None:
        tapped[end] = min(depth, tapped.get(end, depth))

    core = 0.0
    for axis in axes:
        along = frame.back_direction(axis.direction)
        if abs(along[0]) < 0.999:
            continue
        narrow = axis.bores[-1]
        core = narrow.diameter_mm
        for bore in axis.bores:
            if abs(bore.diameter_mm - wide) > 0.06 * wide:
                continue
            ends = sorted(float(frame.back(axis.at(at))[0]) for at in (bore.low_mm, bore.high_mm))
            if ends[0] < 0.6 and ends[1] < 0.999 * length:
                goes("a", ends[1])
            if ends[1] > length - 0.6 and ends[0] > 0.001 * length:
                goes("b", length - ends[0])
            if ends[0] < 0.6 and ends[1] > length - 0.6:
                goes("a", length / 2)
                goes("b", length / 2)
    remarks = [f"core Ø{core:.3g}"] if core else []
    if tapped:
        remarks.append(f"core widened to Ø{wide:g} at end {' and '.join(sorted(tapped))}")
    depth = round(min(tapped.values(), default=0.0), 3)
    return tuple(sorted(tapped)), depth, remarks


def _holes(
    axes: list[Axis], frame: Placement, size: Array, best: Profile, outside: Outside
) -> tuple[Hole, ...]:
    """Holes drilled from the side, each with its face and its distance from end a."""
    found = []
    for axis in axes:
        along = frame.back_direction(axis.direction)
        across = int(np.argmax(np.abs(along)))
        if across == 0 or abs(abs(along[across]) - 1) > 1e-3:
            continue
        narrow = axis.bores[-1]
        ends = [frame.back(axis.at(at)) for at in (axis.low_mm, axis.high_mm)]
        low, high = sorted(float(end[across]) for end in ends)
        low_open, high_open = open_ends(axis, outside)
        if along[across] < 0:
            low_open, high_open = high_open, low_open
        both = low < -best.core_mm / 2 and high > best.core_mm / 2
        up = high_open and (high > -low - 0.01 or not low_open)
        wide = [bore for bore in axis.bores if bore.diameter_mm > narrow.diameter_mm + 0.2]
        if wide and both:
            middle = frame.back(axis.at((wide[0].low_mm + wide[0].high_mm) / 2))
            up = bool(middle[across] > 0)
        half = float(size[across]) / 2
        sign = 1.0 if up else -1.0
        at = ends[0].copy()
        at[across] = sign * half
        direction = np.zeros(3)
        direction[across] = sign
        through = both and low_open and high_open
        bottom = low if up else high
        found.append(
            Hole(
                at_mm=at,
                direction=direction,
                diameter_mm=narrow.diameter_mm,
                depth_mm=float(size[across]) if through else abs(sign * half - bottom),
                through=through,
                counterbore_mm=(wide[0].diameter_mm, _reach_in(axis, wide[0], frame, across, sign, half))
                if wide
                else None,
                countersink_mm=_sink_mm(axis, narrow.diameter_mm),
                face=f"{'+' if up else '-'}{'xyz'[across]}",
                from_a_mm=float(at[0]),
            )
        )
    return tuple(sorted(found, key=lambda hole: (hole.face, hole.from_a_mm or 0.0)))


def _sink_mm(axis: Axis, diameter_mm: float) -> float | None:
    """The widest countersink on the axis, None when there is none worth naming."""
    widest = max((sink[0] for sink in axis.sinks), default=0.0)
    return widest if widest > 1.3 * diameter_mm else None


def _reach_in(axis: Axis, bore: Bore, frame: Placement, across: int, sign: float, half: float) -> float:
    """How deep under the face a wide piece goes."""
    ends = [sign * float(frame.back(axis.at(at))[across]) for at in (bore.low_mm, bore.high_mm)]
    return half - min(ends)

"""What stands in the way of an axis over its travel. Each axis moves alone, the others stay as drawn.

Equation: a body moved straight crosses another only if their shadows along the way cross; the shadows
of sliding fits (a block over its rail) do not. What is left is asked of the swept solid, exactly.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from trysquare.catalogue.values import Screw
from trysquare.fit.axes import Motion, held_by, motions
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, Placement, facing
from trysquare.ground.tolerances import CONTACT_MM
from trysquare.machine.values import Kind, Machine, PlacedPart
from trysquare.solid.broad import Crowd, Numbers, crowd_of
from trysquare.solid.overlap import solids_of
from trysquare.solid.shapes import Solid
from trysquare.solid.shared import found_apart, is_apart, meet, shared_between
from trysquare.solid.sizes import name_of
from trysquare.solid.sweep import swept

_HALVINGS = 7  # of the travel, to say where along it the two first meet: 300 mm to 2.5 mm
_AT_ONCE_MM = 0.1  # far more than contact, far less than a builder reads off an axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """A moving part meets a standing one; `shift_mm`: that far from where the axis is drawn."""

    moving: PlacedPart
    standing: PlacedPart
    shift_mm: float
    at_mm: tuple[float, float, float]


def moving_findings(
    machine: Machine, moving: Sequence[Motion] | None = None, unusable: set[str] | None = None
) -> list[Finding]:
    """Whatever an axis runs into over its travel: one finding for each thing that stands in the way."""
    found: list[Finding] = []
    for motion in motions(machine) if moving is None else moving:
        found += _said(motion, meetings(machine, motion, unusable))
    return found


def meetings(machine: Machine, motion: Motion, unusable: set[str] | None = None) -> list[Meeting]:
    """For each standing part in the way the first meeting along the travel; not what crosses as drawn.

    What a joint brought is asked for only as far as the parts it holds: where a plate is met, its
    screws behind it say nothing new.
    """
    belts = {joint.belt.placed for joint in machine.joints if joint.belt}
    parts = [part for part in machine.placed if part.type.kind is not Kind.JIG and part.id not in belts]
    movers = [part for part in parts if part.id in motion.moves]
    behind = _left_behind(machine, motion)
    others = [part for part in parts if part.id not in motion.moves and part.id not in behind]
    unusable = set() if unusable is None else unusable
    mover = crowd_of(movers, solids_of(movers, machine.folder, unusable=unusable))
    other = crowd_of(others, solids_of(others, machine.folder, unusable=unusable))
    if not len(mover.row) or not len(other.row):
        return []
    first: dict[str, Meeting] = {}
    ways = _ways(mover, other, motion)
    for j in sorted(
        ways, key=lambda row: bool(others[other.row[row]].joint)
    ):  # what joints brought comes last
        two = others[other.row[j]]
        held = machine.joint[two.joint].parts if two.joint else ()
        met = [abs(first[part].shift_mm) for part in held if part in first]
        reach = min(met, default=float("inf"))
        for way in sorted(ways[j]):
            one = movers[mover.row[way.mover]]
            if way.free_mm >= reach - CONTACT_MM:
                break
            shift = _first_shift(_Course(mover, way.mover, other, j, motion.way), way, min(reach, way.end_mm))
            if shift is not None:
                reach = abs(shift)
                first[two.id] = Meeting(
                    moving=one, standing=two, shift_mm=shift,
                    at_mm=_Course(mover, way.mover, other, j, motion.way).place(shift),
                )  # fmt: skip
    return list(first.values())


@dataclass(frozen=True, slots=True, order=True)
class _Way:
    """A mover's way to a standing part: free by their boxes, how far it goes at most, which sense."""

    free_mm: float
    end_mm: float
    sense: int  # +1 along the axis' way, -1 against it
    mover: int


def _ways(mover: Crowd, other: Crowd, motion: Motion) -> dict[int, list[_Way]]:
    """By standing part: which movers may meet it and not before how far."""
    i_low, i_high = _extent(mover, motion.way)
    j_low, j_high = _extent(other, motion.way)
    answer: dict[int, list[_Way]] = {}
    for row_i, row_j in _near(mover, other, motion):
        i, j = int(row_i), int(row_j)
        gaps = {
            1: (float(j_low[j] - i_high[i]), motion.high_mm),
            -1: (float(i_low[i] - j_high[j]), -motion.low_mm),
        }
        for sense, (gap, end) in gaps.items():
            behind = gaps[-sense][0] >= 0.0
            if gap < end - CONTACT_MM and not behind and end > 0:
                way = _Way(free_mm=max(0.0, gap), end_mm=end, sense=sense, mover=i)
                answer.setdefault(j, []).append(way)
    return answer


def _extent(crowd: Crowd, way: Array) -> tuple[Array, Array]:
    """Arrays (n,), (n,): where each piece's turned box begins and ends along the way."""
    middle = crowd.centre_mm @ way
    reach = _reach(crowd.turn, crowd.half_mm, np.broadcast_to(way, crowd.centre_mm.shape))
    return middle - reach, middle + reach


def _first_shift(course: _Course, way: _Way, limit_mm: float) -> float | None:
    """How far along the axis (negative: against it) the two first meet, if before the limit."""
    limit = way.sense * limit_mm
    name = course.name(limit)
    if is_apart(name):
        return None
    if not course.shadows_cross() or not course.meets(0.0, limit):
        found_apart(name)
        return None
    if course.meets(0.0, 0.0):
        return None
    return course.first(way.sense * way.free_mm, limit)


def _left_behind(machine: Machine, motion: Motion) -> set[str]:
    """Standing parts that a joint holds to something that moves: that alone is said, not what they hit."""
    words: set[str] = set()
    for fastening in motion.torn:
        joint = machine.joint[fastening.joint]
        words |= held_by(machine, fastening) | {part.id for part in joint.brings}
    return words - motion.moves


def _near(mover: Crowd, other: Crowd, motion: Motion) -> Numbers:
    """Pairs whose boxes cross somewhere along the travel, by more than contact."""
    low, high = motion.way * motion.low_mm, motion.way * motion.high_mm
    box = np.hstack(
        [mover.box_mm[:, :3] + np.minimum(low, high), mover.box_mm[:, 3:] + np.maximum(low, high)]
    )
    shared = np.minimum(box[:, None, 3:], other.box_mm[None, :, 3:]) - np.maximum(
        box[:, None, :3], other.box_mm[None, :, :3]
    )
    pairs: Numbers = np.argwhere((shared > CONTACT_MM).all(axis=2))
    return pairs[_boxes_shadow(mover, pairs[:, 0], other, pairs[:, 1], motion.way)]


def _boxes_shadow(mover: Crowd, i: Numbers, other: Crowd, j: Numbers, way: Array) -> NDArray[np.bool_]:
    """Whether the shadows of the turned boxes cross, by the sides of both that lie square to the way."""
    cross = np.ones(len(i), dtype=bool)
    offset = other.centre_mm[j] - mover.centre_mm[i]
    for turns in (mover.turn[i], other.turn[j]):
        for axis in range(3):
            direction = np.cross(way, turns[:, :, axis])
            length = np.linalg.norm(direction, axis=1)
            usable = length > 1e-6
            direction = direction / np.where(usable, length, 1.0)[:, None]
            reach = _reach(mover.turn[i], mover.half_mm[i], direction)
            reach += _reach(other.turn[j], other.half_mm[j], direction)
            apart = np.abs(np.einsum("mi,mi->m", offset, direction))
            cross &= ~usable | (reach - apart > CONTACT_MM)
    return cross


def _reach(turn: Array, half_mm: Array, direction: Array) -> Array:
    answer: Array = (np.abs(np.einsum("mki,mk->mi", turn, direction)) * half_mm).sum(axis=1)
    return answer


_shadows: dict[Hashable, CrossSection] = {}


def _shadow(solid: Solid, turn: Array, way: Array) -> CrossSection:
    """The solid's outline seen along the way, its origin at the origin; made once for each turn."""
    seen = (facing(way).T @ turn).round(9) + 0.0
    key = (solid.digest, seen.tobytes())
    known = _shadows.get(key)
    if known is None:
        if len(_shadows) > 4000:
            _shadows.clear()
        known = solid.manifold.transform(np.hstack([seen, np.zeros((3, 1))])).project()
        _shadows[key] = known
    return known


class _Course:
    """One moving and one standing solid, asked over pieces of the travel.

    Swept is the one of fewer triangles: the mover forwards or, which is the same, the other backwards.
    """

    def __init__(self, mover: Crowd, i: int, other: Crowd, j: int, way: Array) -> None:
        self.one, self.two = mover.solids[mover.which[i]], other.solids[other.which[j]]
        self.one_place = Placement(mover.turn[i], mover.origin_mm[i])
        self.two_place = Placement(other.turn[j], other.origin_mm[j])
        self.way = way
        self.aside = facing(way).T @ (other.origin_mm[j] - mover.origin_mm[i])
        self.forward = self.one.triangle_count <= self.two.triangle_count

    def name(self, limit_mm: float) -> bytes:
        """Names all that the answer for this much of the travel follows from, to far below contact."""
        turn = self.one_place.turn.T @ self.two_place.turn
        aside = self.one_place.back_direction(self.two_place.origin_mm - self.one_place.origin_mm)
        numbers = np.concatenate([turn.ravel(), aside, self.one_place.back_direction(self.way), [limit_mm]])
        rounded = np.rint(numbers * 1e6).astype(np.int64).tobytes()
        return name_of(b"course", self.one.digest, self.two.digest, rounded)

    def meets(self, from_mm: float, to_mm: float) -> bool:
        """Whether the mover runs into the other between two shifts, more than touching it."""
        low, high = min(from_mm, to_mm), max(from_mm, to_mm)
        if self.forward:
            start = _shifted(self.one_place, self.way * low)
            body = swept(self.one, start.back_direction(self.way), high - low)
            return meet(body, self.two, start.inverse().then(self.two_place).matrix())
        start = _shifted(self.two_place, -self.way * high)
        body = swept(self.two, start.back_direction(self.way), high - low)
        return meet(self.one, body, self.one_place.inverse().then(start).matrix())

    def shadows_cross(self) -> bool:
        """Whether the two can meet at all, wherever along the way they are: by more than contact."""
        one = _shadow(self.one, self.one_place.turn, self.way)
        two = _shadow(self.two, self.two_place.turn, self.way)
        common = one ^ two.translate((float(self.aside[0]), float(self.aside[1])))
        if common.is_empty() or common.area() <= CONTACT_MM**2:
            return False
        return not common.offset(-CONTACT_MM / 2).is_empty()

    def first(self, free_mm: float, met_mm: float) -> float:
        """Shift at which the mover first meets the other, between one that is free and one that is not."""
        soon = free_mm + math.copysign(min(_AT_ONCE_MM, abs(met_mm - free_mm)), met_mm)
        if self.meets(0.0, soon):
            return soon  # flat faces meet as soon as their boxes do
        for _ in range(_HALVINGS):
            middle = (free_mm + met_mm) / 2
            if self.meets(0.0, middle):
                met_mm = middle
            else:
                free_mm = middle
        return met_mm

    def place(self, shift_mm: float) -> tuple[float, float, float]:
        """The middle of what they share at a shift; the standing part's middle when the mover is through."""
        start = _shifted(self.one_place, self.way * shift_mm)
        common = shared_between(self.one, self.two, start.inverse().then(self.two_place).matrix())
        if common is None:
            x, y, z = self.two_place.point((self.two.low_mm + self.two.high_mm) / 2)
        else:
            x, y, z = start.point(common.at_mm)
        return (float(x), float(y), float(z))


def _shifted(place: Placement, by_mm: Array) -> Placement:
    return Placement(place.turn, place.origin_mm + by_mm)


def _said(motion: Motion, found: Sequence[Meeting]) -> list[Finding]:
    """One finding for each standing thing; alike things of one joint are one."""
    groups: dict[tuple[str, str], list[Meeting]] = {}
    for meeting in found:
        standing = meeting.standing
        groups.setdefault((standing.type.id, standing.joint or standing.id), []).append(meeting)
    return [_one(motion, group) for group in groups.values()]


def _one(motion: Motion, group: Sequence[Meeting]) -> Finding:
    first = min(group, key=lambda meeting: abs(meeting.shift_mm))
    axis = motion.axis
    position = axis.at_mm + first.shift_mm
    alike = f" {len(group)} places alike." if len(group) > 1 else ""
    return Finding(
        code="in-moving-path",
        says=f"{first.standing.id} ({first.standing.type.id}) stands in the way of {first.moving.id} "
        f"({first.moving.type.id}): axis {axis.id} meets it at about {position:.0f} mm of "
        f"{axis.travel_mm:g} mm.{alike}",
        parts=tuple(dict.fromkeys(part.id for one in group for part in (one.standing, one.moving))),
        joint=first.standing.joint or first.moving.joint,
        value=position,
        limit=axis.travel_mm if first.shift_mm > 0 else 0.0,
        unit="mm",
        at_mm=first.at_mm,
        remedy=(
            "Shorten the screw or turn it round, shift the part, or limit the travel."
            if isinstance(first.standing.type.standard, Screw)
            else "Shift it, limit the travel, or add it to what the axis moves if it moves along."
        ),
    )

"""What stands in the way of an axis over its travel. Each axis moves alone, the others stay as drawn.

Equation: a body moved straight crosses another only if their shadows along the way cross; the shadows
of sliding fits (a block over its rail) do not. What is left is asked of the swept solid, exactly.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from trysquare.fit.axes import Motion, held_by, motions
from trysquare.fit.faults import pair
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, Placement, facing
from trysquare.ground.tolerances import CONTACT_MM
from trysquare.machine.values import Kind, Machine, PlacedPart
from trysquare.solid.broad import Crowd, Numbers, crowd_of
from trysquare.solid.overlap import solids_of
from trysquare.solid.shapes import Solid
from trysquare.solid.shared import meet, shared_between
from trysquare.solid.sweep import swept

_HALVINGS = 7  # of the travel, to say where along it the two first meet: 300 mm to 2.5 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """A moving part meets a standing one; `shift_mm`: that far from where the axis is drawn."""

    moving: PlacedPart
    standing: PlacedPart
    shift_mm: float
    at_mm: tuple[float, float, float]
    volume_mm3: float


def moving_findings(
    machine: Machine, moving: Sequence[Motion] | None = None, unusable: set[str] | None = None
) -> list[Finding]:
    """Whatever an axis runs into over its travel: one finding for each thing that stands in the way."""
    found: list[Finding] = []
    for motion in motions(machine) if moving is None else moving:
        found += _said(motion, meetings(machine, motion, unusable))
    return found


def meetings(machine: Machine, motion: Motion, unusable: set[str] | None = None) -> list[Meeting]:
    """All pairs of a moving and a standing solid that meet along the travel but not where it is drawn."""
    belts = {joint.belt.placed for joint in machine.joints if joint.belt}
    parts = [part for part in machine.placed if part.type.kind is not Kind.JIG and part.id not in belts]
    movers = [part for part in parts if part.id in motion.moves]
    others = [part for part in parts if part.id not in motion.moves]
    unusable = set() if unusable is None else unusable
    mover = crowd_of(movers, solids_of(movers, machine.folder, unusable=unusable))
    other = crowd_of(others, solids_of(others, machine.folder, unusable=unusable))
    if not len(mover.row) or not len(other.row):
        return []
    joined = _joined(machine, motion)
    answer = []
    for i, j in _near(mover, other, motion):
        one, two = movers[mover.row[i]], others[other.row[j]]
        if pair(one.id, two.id) in joined:
            continue
        meeting = _meeting(motion, mover, int(i), other, int(j), one, two)
        if meeting is not None:
            answer.append(meeting)
    return answer


def _joined(machine: Machine, motion: Motion) -> set[frozenset[str]]:
    """Pairs that a joint the axis would tear holds together: that is said elsewhere."""
    pairs: set[frozenset[str]] = set()
    for fastening in motion.torn:
        joint = machine.joint[fastening.joint]
        words = {*held_by(machine, fastening), *joint.parts, *(part.id for part in joint.brings)}
        pairs |= {pair(one, other) for one in words for other in words if one != other}
    return pairs


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


def _shadows_cross(mover: Crowd, i: int, other: Crowd, j: int, way: Array) -> bool:
    one = _shadow(mover.solids[mover.which[i]], mover.turn[i], way)
    two = _shadow(other.solids[other.which[j]], other.turn[j], way)
    aside = facing(way).T @ (other.origin_mm[j] - mover.origin_mm[i])
    common = one ^ two.translate((float(aside[0]), float(aside[1])))
    if common.is_empty() or common.area() <= CONTACT_MM**2:
        return False
    return not common.offset(-CONTACT_MM / 2).is_empty()


def _meeting(
    motion: Motion, mover: Crowd, i: int, other: Crowd, j: int, one: PlacedPart, two: PlacedPart
) -> Meeting | None:
    if not _shadows_cross(mover, i, other, j, motion.way):
        return None
    course = _Course(mover, i, other, j, motion.way)
    # What crosses already where it is drawn is an overlap, said elsewhere.
    if course.meets(0.0, 0.0) or not course.meets(motion.low_mm, motion.high_mm):
        return None
    firsts = [course.first(end) for end in (motion.low_mm, motion.high_mm) if end and course.meets(0.0, end)]
    shift = min(firsts, key=abs, default=motion.high_mm)
    volume, spot = course.shared(shift)
    return Meeting(
        moving=one, standing=two, shift_mm=shift, volume_mm3=volume,
        at_mm=(float(spot[0]), float(spot[1]), float(spot[2])),
    )  # fmt: skip


class _Course:
    """One moving and one standing solid, asked over pieces of the travel.

    Swept is the one of fewer triangles: the mover forwards or, which is the same, the other backwards.
    """

    def __init__(self, mover: Crowd, i: int, other: Crowd, j: int, way: Array) -> None:
        self.one, self.two = mover.solids[mover.which[i]], other.solids[other.which[j]]
        self.one_place = Placement(mover.turn[i], mover.origin_mm[i])
        self.two_place = Placement(other.turn[j], other.origin_mm[j])
        self.way = way
        self.forward = len(self.one.triangles) <= len(self.two.triangles)

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

    def first(self, end_mm: float) -> float:
        """How far the mover gets towards an end before it meets the other, to within a small share."""
        free, met = 0.0, end_mm
        for _ in range(_HALVINGS):
            middle = (free + met) / 2
            if self.meets(0.0, middle):
                met = middle
            else:
                free = middle
        return met

    def shared(self, shift_mm: float) -> tuple[float, Array]:
        """Shared volume and its middle with the mover shifted; the standing part's middle when it is through."""
        start = _shifted(self.one_place, self.way * shift_mm)
        common = shared_between(self.one, self.two, start.inverse().then(self.two_place).matrix())
        if common is None:
            return 0.0, self.two_place.point((self.two.low_mm + self.two.high_mm) / 2)
        return common.volume_mm3, start.point(common.at_mm)


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
    more = len({meeting.moving.id for meeting in group}) - 1
    others = f" (and {more} more)" if more else ""
    position = axis.at_mm + first.shift_mm
    return Finding(
        code="in-moving-path",
        says=f"{first.standing.id} ({first.standing.type.id}) stands in the way of {first.moving.id} "
        f"({first.moving.type.id}){others}: axis {axis.id} meets it at about {position:.0f} mm of "
        f"{axis.travel_mm:g} mm.",
        parts=tuple(
            dict.fromkeys(part.id for meeting in group for part in (meeting.standing, meeting.moving))
        ),
        joint=first.standing.joint or first.moving.joint,
        value=position,
        limit=axis.travel_mm if first.shift_mm > 0 else 0.0,
        unit="mm",
        at_mm=first.at_mm,
        remedy="Shorten the screw, turn it round, shift what stands in the way, or limit the travel.",
    )

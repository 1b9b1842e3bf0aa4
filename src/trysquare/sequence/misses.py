"""Which of a joint's asks another pose, or another part, does not give."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Head, Pulley
from trysquare.fit.key_holes import key_corners_mm
from trysquare.ground.placement import Array, Placement
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.values import Hole, PartType
from trysquare.sequence.asks import Ask
from trysquare.sequence.poses import moved_hole

MOVED_POINT_MM = 5.0  # a terminal or an opening this far away is seen when the cable is laid
OUT_OF_PLANE_MM = 0.5  # what a belt forgives, as in the belt recipe
OFF_SHAFT_MM = 0.1
GAP_MM = 0.2  # air under a screw that a person sees; sheets and prints vary by less
SEAT_MM = 0.3  # a head that seats this much deeper or shallower makes no difference to its thread


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Miss:
    """What a wrong part or pose does not give.

    `event`: when it is noticed; None when no step asks for it, or when it is `silent`: it fails and
    nobody notices. `hole`: the right part's hole that is asked for; `spot_mm`: a point of the right part
    to look at, `name` what is there; in its own coordinates.
    """

    code: str
    joint: str
    event: int | None
    says: str
    hole: Hole | None = None
    spot_mm: Array | None = None
    name: str = ""
    silent: bool = False


def unmet(ask: Ask, right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    """What the wrong part, in this pose in the right one's place, does not give; None when it does."""
    return _JUDGES[ask.sort](ask, right, wrong, pose)


def _pass(ask: Ask, right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    one = ask.fastening
    assert one is not None
    hole = _on_line(right.holes, ask)
    if hole is None:
        return None  # the right part has none either: said elsewhere
    there = _on_line([moved_hole(each, pose) for each in wrong.holes], ask)
    screw = one.screw_type
    if there is None or there.diameter_mm < screw.thread.diameter_mm - 1e-6:
        size = "no hole" if there is None else f"a hole of {there.diameter_mm:g} mm"
        return _miss(ask, "hole-missing", f"the screw of {ask.joint} meets {size} there", hole)
    gap = abs(_under(there, ask) - _under(hole, ask))
    if not ask.first:
        gap = max(gap, abs(_over(there, ask) - _over(hole, ask)))
    if gap > GAP_MM:
        return _gap(ask, hole, gap)
    if not ask.first:
        return None
    if screw.head is not Head.NONE and there.diameter_mm >= screw.head_diameter_mm and not one.washers:
        return _miss(ask, "hole-missing", f"the head of {ask.joint}'s screw falls through the hole", hole)
    shift = _seat(there, ask, screw.head) - _seat(hole, ask, screw.head)
    if screw.head is Head.COUNTERSUNK and hole.countersunk and not _sunk_here(there, ask):
        shift += screw.head_height_mm
    return _reseated(ask, hole, shift)


def _reseated(ask: Ask, hole: Hole, shift_mm: float) -> Miss | None:
    """What follows when the head seats `shift_mm` farther out (positive) or deeper (negative)."""
    one = ask.fastening
    assert one is not None
    length, pitch = one.screw_type.length_mm, one.screw_type.thread.pitch_mm
    bite = length - one.thread_from_mm - shift_mm
    if shift_mm > SEAT_MM and bite < pitch:
        return _miss(
            ask, "screw-too-short", f"the screw of {ask.joint} ends {-bite:.1f} mm before its thread"
            if bite < 0 else f"the screw of {ask.joint} hardly touches its thread", hole,
        )  # fmt: skip
    if shift_mm > SEAT_MM:
        says = (
            f"the heads of {ask.joint} stand {shift_mm:.1f} mm proud and their screws bite only {bite:.1f} mm"
        )
        return Miss(code="head-proud", joint=ask.joint, event=None, says=says, hole=hole, silent=True)
    if shift_mm < -SEAT_MM and length - shift_mm > one.room_mm:
        says = (
            f"the screws of {ask.joint} bottom, {-shift_mm:.1f} mm too deep: they feel tight, clamp nothing"
        )
        return Miss(code="screw-bottoms", joint=ask.joint, event=None, says=says, hole=hole, silent=True)
    return None


def _gap(ask: Ask, hole: Hole, gap_mm: float) -> Miss:
    says = f"under the screw of {ask.joint} it does not lie where it should, {gap_mm:.1f} mm off"
    return _miss(ask, "gap-in-stack", says, hole)


def _over(hole: Hole, ask: Ask) -> float:
    """How far above the asked bearing face the hole's end nearer to the head lies."""
    at = float((np.asarray(hole.at_mm) - ask.at_mm) @ ask.way)
    return max(at, at - hole.depth_mm * float(np.asarray(hole.direction) @ ask.way))


def _under(hole: Hole, ask: Ask) -> float:
    """The same of its other end, where the next layer begins."""
    at = float((np.asarray(hole.at_mm) - ask.at_mm) @ ask.way)
    return min(at, at - hole.depth_mm * float(np.asarray(hole.direction) @ ask.way))


def _seat(hole: Hole, ask: Ask, head: Head) -> float:
    """How far above the asked bearing face a head comes to sit on this hole."""
    toward = float(np.asarray(hole.direction) @ ask.way) > 0
    above = float((np.asarray(hole.at_mm) - ask.at_mm) @ ask.way)
    if not toward:
        return above + hole.depth_mm
    if head is Head.COUNTERSUNK and hole.countersunk:
        return above
    return above - hole.counterbore_depth_mm


def _sunk_here(hole: Hole, ask: Ask) -> bool:
    return hole.countersunk and float(np.asarray(hole.direction) @ ask.way) > 0


def _thread(ask: Ask, right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    one = ask.fastening
    assert one is not None
    if right.profile is not None and abs(float(ask.way[0])) > 0.99 and _on_line(right.holes, ask) is None:
        end = "b" if ask.way[0] > 0 else "a"
        own_end = end if pose.turn[0, 0] > 0 else {"a": "b", "b": "a"}[end]
        if end not in right.tapped_ends or (wrong.profile is not None and own_end in wrong.tapped_ends):
            return None
        x = right.length_mm if end == "b" else 0.0
        says = f"that end has no thread for the screw of {ask.joint}"
        return Miss(
            code="end-not-tapped",
            joint=ask.joint,
            event=ask.event,
            says=says,
            spot_mm=np.array([x, 0.0, 0.0]),
        )
    hole = _on_line([each for each in right.holes if each.thread], ask)
    if hole is None:
        return None
    taps = [moved_hole(each, pose) for each in wrong.holes if each.thread == hole.thread]
    there = _on_line(taps, ask)
    if there is None or not (there.through or float(np.asarray(there.direction) @ ask.way) > 0):
        says = f"the screw of {ask.joint} meets no {hole.thread} thread there"
        return _miss(ask, "hole-missing", says, hole)
    gap = abs(_over(there, ask) - _over(hole, ask))
    return _gap(ask, hole, gap) if gap > GAP_MM else None


def _insert(ask: Ask, right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    hole = _on_line([each for each in right.holes if each.insert], ask)
    if hole is None:
        return None
    there = _on_line([moved_hole(each, pose) for each in wrong.holes if each.insert == hole.insert], ask)
    if there is None or float(np.asarray(there.direction) @ ask.way) < 0:
        return _miss(ask, "hole-missing", f"the screw of {ask.joint} meets no insert there", hole)
    gap = abs(_over(there, ask) - _over(hole, ask))
    return _gap(ask, hole, gap) if gap > GAP_MM else None


def _slot(ask: Ask, right: PartType, wrong: PartType, _pose: Placement) -> Miss | None:
    if wrong.profile is None or right.profile is None or wrong.profile.slot_mm != right.profile.slot_mm:
        size = f"slot {wrong.profile.slot_mm:g}" if wrong.profile is not None else "no slot"
        says = f"{ask.joint} finds {size} there"
        return Miss(code="slot-differs", joint=ask.joint, event=ask.event, says=says, spot_mm=ask.at_mm)
    return None


def _access(ask: Ask, right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    one = ask.fastening
    assert one is not None
    hole = _on_line([each for each in right.holes if each.through], ask)
    if hole is None:
        return None
    there = _on_line([moved_hole(each, pose) for each in wrong.holes if each.through], ask)
    if there is not None and there.diameter_mm >= key_corners_mm(one.screw_type.key_mm) - 1e-6:
        return None
    says = f"there is no access hole for the {one.screw_type.key_mm:g} mm key to the screw of {ask.joint}"
    return _miss(ask, "access-hole-missing", says, hole)


def _shaft(ask: Ask, _right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    for shaft in wrong.shafts:
        away = pose.point(shaft.at_mm) - ask.at_mm
        same_way = float(pose.direction(shaft.direction) @ ask.way) > 1 - 1e-6
        if same_way and float(np.linalg.norm(away)) <= OFF_SHAFT_MM:
            return None
    return Miss(
        code="shaft-elsewhere",
        joint=ask.joint,
        event=ask.event,
        says=f"the shaft for {ask.joint} is elsewhere",
        spot_mm=ask.at_mm,
        name=ask.name,
    )


def _point(ask: Ask, _right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    point = wrong.points.get(ask.name)
    if point is not None and float(np.linalg.norm(pose.point(point) - ask.at_mm)) <= MOVED_POINT_MM:
        return None
    return Miss(
        code="point-elsewhere",
        joint=ask.joint,
        event=ask.event,
        says=f"its '{ask.name}', where {ask.joint} ends, is on another side",
        spot_mm=ask.at_mm,
        name=ask.name,
    )


def _opening(ask: Ask, _right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    hole = ask.hole
    assert hole is not None
    for each in wrong.holes:
        there = moved_hole(each, pose)
        middle = np.asarray(there.at_mm) - np.asarray(there.direction) * there.depth_mm / 2
        wide = there.diameter_mm >= hole.diameter_mm - 1e-6
        if wide and float(np.linalg.norm(middle - ask.at_mm)) <= MOVED_POINT_MM:
            return None
    return _miss(ask, "hole-missing", f"the cable of {ask.joint} finds no opening there", hole)


def _belt(ask: Ask, _right: PartType, wrong: PartType, pose: Placement) -> Miss | None:
    pulley = wrong.standard
    if isinstance(pulley, Pulley):
        away = pose.point((0.0, 0.0, pulley.belt_centre_mm)) - ask.at_mm
        if abs(float(away @ ask.way)) <= OUT_OF_PLANE_MM:
            return None
    return Miss(
        code="belt-out-of-plane",
        joint=ask.joint,
        event=ask.event,
        says=f"the belt of {ask.joint} runs out of its plane there",
        spot_mm=ask.at_mm,
    )


_JUDGES = {
    "pass": _pass,
    "thread": _thread,
    "insert": _insert,
    "slot": _slot,
    "access": _access,
    "shaft": _shaft,
    "point": _point,
    "opening": _opening,
    "belt": _belt,
}


def _miss(ask: Ask, code: str, says: str, hole: Hole) -> Miss:
    return Miss(code=code, joint=ask.joint, event=ask.event, says=says, hole=hole)


def _on_line(holes: Iterable[Hole], ask: Ask) -> Hole | None:
    """The hole on a screw's line that lies nearest under its head; also one beside the line where the
    screw can shift to it."""
    best: tuple[float, Hole] | None = None
    for hole in holes:
        way = np.asarray(hole.direction)
        if abs(float(way @ ask.way)) < 1 - 1e-6:
            continue
        away = ask.at_mm - np.asarray(hole.at_mm)
        below = float(away @ ask.way)
        aside = away - below * ask.way
        shifted = 0.0 if ask.slides is None else float(aside @ ask.slides)
        if ask.slides is not None:
            aside = aside - shifted * ask.slides
        far = abs(below) + abs(shifted)
        if float(np.linalg.norm(aside)) <= ON_AXIS_MM and (best is None or far < best[0]):
            best = (far, hole)
    return None if best is None else best[1]

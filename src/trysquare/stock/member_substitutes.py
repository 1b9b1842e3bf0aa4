"""Whether another member or plate serves in a place: one with more holes or threads does, one with fewer
does not."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Hole, PartType
from trysquare.stock.substitutes import Compromise

SAME_PLACE_MM = 0.1  # what a saw and a drill jig are apart without anybody calling it another part
POINTS_HOLES = 3
MOST_HOLE_POINTS = 6


def member_serves(asked: PartType, offered: PartType) -> Compromise | None:
    """What it costs to take another cut of the same profile and length, turned as it must be; or None.

    Every hole and tapped end of the asked member must be there, of the same size; what more there is
    stays unused. Of the turns that bring the asked holes together, the simplest is told.
    """
    if asked.profile is None or asked.profile != offered.profile:
        return None
    if abs(asked.length_mm - offered.length_mm) > SAME_PLACE_MM:
        return None
    for words, turn in _turns(asked):
        ends = {_end(end, turn) for end in offered.tapped_ends}
        if not set(asked.tapped_ends) <= ends or offered.tapped_depth_mm < asked.tapped_depth_mm * bool(
            asked.tapped_ends
        ):
            continue
        if _holes_there(asked.holes, offered.holes, turn, asked.length_mm):
            return _told(asked, offered, words)
    return None


def plate_serves(asked: PartType, offered: PartType) -> Compromise | None:
    """What it costs to take a plate of the same outline, thickness and material with more holes; or None."""
    if not asked.outline_mm or asked.outline_mm != offered.outline_mm:
        return None
    if asked.thickness_mm != offered.thickness_mm or asked.material != offered.material:
        return None
    if not _holes_there(asked.holes, offered.holes, np.eye(3), 0.0):
        return None
    return _told(asked, offered, "")


def _turns(asked: PartType) -> Iterable[tuple[str, Array]]:
    """Proper rotations that bring the section onto itself, the simplest first, with words for them.

    Own x runs along the member: quarter turns about x (half turns for a section that is not square),
    each with and without end for end.
    """
    profile = asked.profile
    square = profile is not None and profile.size_y_mm == profile.size_z_mm
    quarters = (0, 1, 2, 3) if square else (0, 2)
    for end_for_end in (False, True):
        for quarter in quarters:
            angle = quarter * np.pi / 2
            about = np.array(
                [[1, 0, 0], [0, np.cos(angle), -np.sin(angle)], [0, np.sin(angle), np.cos(angle)]]
            )
            turn = np.round(about, 9)
            words = ["", "turned a quarter", "turned upside down", "turned a quarter back"][quarter]
            if end_for_end:
                turn = turn @ np.diag([-1.0, 1.0, -1.0])
                words = f"end for end{', ' + words if words else ''}"
            yield words, turn


def _end(end: str, turn: Array) -> str:
    return end if turn[0, 0] > 0 else {"a": "b", "b": "a"}[end]


def _holes_there(asked: Iterable[Hole], offered: Iterable[Hole], turn: Array, length_mm: float) -> bool:
    """Whether every asked hole has one of the offered, turned, in its place and of its size."""
    shift = np.array([length_mm, 0.0, 0.0]) if turn[0, 0] < 0 else np.zeros(3)
    there = [
        (turn @ np.asarray(hole.at_mm) + shift, turn @ np.asarray(hole.direction), hole) for hole in offered
    ]
    return all(any(_same(hole, at, way, other) for at, way, other in there) for hole in asked)


def _same(asked: Hole, at_mm: Array, direction: Array, offered: Hole) -> bool:
    """Same axis and size; a hole right through may be entered from either side."""
    own, way = np.asarray(asked.at_mm), np.asarray(asked.direction)
    along = float(way @ direction)
    if abs(along) < 1 - 1e-6 or (along < 0 and not (asked.through and offered.through)):
        return False
    apart = at_mm - own
    if along < 0:
        apart = apart - float(apart @ way) * way  # only the axis must agree
    return (
        float(np.linalg.norm(apart)) <= SAME_PLACE_MM
        and abs(asked.diameter_mm - offered.diameter_mm) <= 0.05
        and (asked.thread, asked.insert, asked.countersunk, asked.through)
        == (offered.thread, offered.insert, offered.countersunk, offered.through)
        and offered.depth_mm >= asked.depth_mm - SAME_PLACE_MM
        and (asked.counterbore_mm, asked.counterbore_depth_mm)
        == (offered.counterbore_mm, offered.counterbore_depth_mm)
    )


def _told(asked: PartType, offered: PartType, turned: str) -> Compromise:
    holes = len(offered.holes) - len(asked.holes)
    threads = len(offered.tapped_ends) - len(asked.tapped_ends)
    more = " and ".join(
        text
        for text in (
            f"{holes} hole{'s' * (holes != 1)} more" if holes else "",
            f"{threads} tapped end{'s' * (threads != 1)} more" if threads else "",
        )
        if text
    )
    says = (
        f"It has {more} than the step asks for; what is more stays unused."
        if more
        else ("The same holes under another name.")
    )
    if turned:
        says += f" Build it in {turned}, so that the holes the joints need come where they belong."
    return Compromise(
        points=min(MOST_HOLE_POINTS, POINTS_HOLES * bool(more) + max(0, holes) // 2 + bool(turned)) or 1,
        sort="holes",
        says=says,
    )

"""What of a crowd may be seen at all: its lines and faces, less what is hidden before the exact search."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.eye import Crowd, before_any
from trysquare.solid.drawing.looks import Look, bare_lines, first_met, looks_of, slack_mm
from trysquare.solid.drawing.paper import Faces, Flags, Lines, boxes_of, faces_on_paper, grid_of
from trysquare.solid.drawing.scene import Numbers
from trysquare.solid.drawing.visibility import visible

MANY_LOOKS = 12  # so many bodies met for the first time are worth a search for those that need no look
CLOSED = 0.4  # of the lines not under lids: where more are, most bodies are seen and the search is in vain


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """What of a crowd may be seen, in machine mm. `looks`: of each piece that is drawn, by its number;
    `covers`: numbers of those that may hide some of it. `sort`, `goes_on` (n,): of the lines, as looks have
    them."""

    looks: Mapping[int, Look]
    covers: Numbers
    faces: Faces
    lines: Lines
    sort: Numbers
    goes_on: Numbers


def staged(crowd: Crowd, within: Array | None = None) -> Stage:
    """Lines of all pieces, and faces of all but ghosts, less what the crowd's lids hide anyway.

    `within` (2, 2): only of pieces that meet this box, in machine mm, and faces of those that may cover them.
    """
    by = slack_mm(crowd.size_mm)
    alive = ~crowd.lids.hide(crowd.low, crowd.high, by)
    covers = alive & crowd.solid
    if within is not None:
        alive &= (crowd.low[:, :2] <= within[1]).all(axis=1) & (crowd.high[:, :2] >= within[0]).all(axis=1)
        covers &= before_any(crowd, np.flatnonzero(alive))
    corners, owner = crowd.fronts(np.flatnonzero(covers))
    some = ~crowd.lids.hide(*boxes_of(corners), by)
    corners, owner = corners[some], owner[some]
    # every line of a solid bounds one of its faces: where all those are hidden so are they
    alive &= ~crowd.solid | (np.bincount(owner, minlength=len(alive)) > 0)
    faces = faces_on_paper(corners, owner, crowd.size_mm)
    alive &= ~_hidden_at_once(crowd, np.flatnonzero(alive), faces, by)
    rows = np.flatnonzero(alive)
    looks = looks_of(
        [crowd.bodies[n] for n in rows.tolist()], crowd.frames[rows], [crowd.keys[n] for n in rows.tolist()]
    )
    lines = lines_of([look.begin for look in looks], [look.end for look in looks], crowd.at[rows], rows, by)
    open_ = _not_under(crowd, lines, by)
    sort, goes_on = _numbers([look.sort for look in looks]), _numbers([look.goes_on for look in looks])
    goes_on = goes_on * np.append(open_[1:], False)[: len(goes_on)]
    return Stage(
        looks=dict(zip(rows.tolist(), looks, strict=True)),
        covers=np.unique(owner),
        faces=faces,
        lines=lines.some(open_),
        sort=sort[open_],
        goes_on=goes_on[open_],
    )


def _not_under(crowd: Crowd, lines: Lines, by: float) -> Flags:
    """Flags (n,): which lines the lids do not hide as a whole."""
    low, high = np.minimum(lines.begin, lines.end), np.maximum(lines.begin, lines.end)
    return ~crowd.lids.hide(low, high, by)


def _hidden_at_once(crowd: Crowd, rows: Numbers, faces: Faces, by: float) -> Flags:
    """Flags (n,): which of the pieces `rows` others hide as a whole, of those met for the first time.

    Lines as they are before a body hides some of them itself are had cheaply, and in a closed machine most
    bodies need no look. What is met again is likely to be met often, and gets one.
    """
    hidden = np.zeros(len(crowd.pieces), dtype=bool)
    rows = rows[first_met([crowd.keys[n] for n in rows.tolist()])]
    if len(rows) < MANY_LOOKS:
        return hidden
    begin, end = bare_lines([crowd.bodies[n] for n in rows.tolist()], crowd.frames[rows])
    lines = lines_of(begin, end, crowd.at[rows], rows, by)
    open_ = _not_under(crowd, lines, by)
    left = lines.some(open_)
    hidden[rows] = True
    if open_.mean() > CLOSED:
        hidden[left.owner] = False
    else:
        hidden[left.owner[visible(faces, left, grid_of, crowd.size_mm, own_too=False).line]] = False
    return hidden


def lines_of(begin: Sequence[Array], end: Sequence[Array], at: Array, owner: Numbers, slack: float) -> Lines:
    """Lines of bodies, each moved to its place `at` (n, 3); `owner` (n,): whose they are."""
    count = np.array([len(each) for each in begin], dtype=np.int64)
    shift = np.repeat(at, count, axis=0)
    return Lines(
        begin=_joined(begin, (0, 3)) + shift,
        end=_joined(end, (0, 3)) + shift,
        slack=np.full(len(shift), slack),
        owner=np.repeat(owner, count),
    )


def _joined(arrays: Sequence[Array], shape: tuple[int, ...]) -> Array:
    return np.concatenate(arrays) if len(arrays) else np.zeros(shape)


def _numbers(arrays: Sequence[Numbers]) -> Numbers:
    return np.concatenate(arrays) if len(arrays) else np.zeros(0, dtype=np.int64)

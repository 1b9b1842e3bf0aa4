"""Marks over a step's drawing: ways in, keys and which way they turn, sizes to set, holes that stay empty."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.catalogue.designation import written
from trysquare.ground.placement import Array, facing
from trysquare.publish.callouts import Paper
from trysquare.publish.picture_svg import arrow, group, path, rect, text_width, words
from trysquare.publish.picture_window import Window
from trysquare.publish.step_shown import Setting, StepScene, Turn
from trysquare.solid.drawing import View

KEY_LONG_MM = 11.0  # on the picture: how far a key's line stands out
SPIN_MM = 2.1  # radius of the turning arrow
MOST_KEYS = 6
SIZE_OFF_MM = 7.0
SIZE_PT_MM = 2.9
LEAST_SIZE_MM = 1.0  # on the picture: a shorter one cannot be seen


def leads(scene: StepScene, view: View, window: Window, large: Iterable[str]) -> list[str]:
    """The ways in, dotted; on those of large parts an arrow."""
    lines, arrows = [], []
    big = set(large)
    for name, away in scene.away.items():
        if len(away.lead_mm) < 2:
            continue
        on = window.at(view.project(away.lead_mm))
        lines.append(on)
        length = float(np.linalg.norm(on[-1] - on[0]))
        if name in big and length > 6.0:
            arrows.append(arrow(on[0] + (on[-1] - on[0]) * min(0.75, 1 - 2 / length), on[-1] - on[0], 1.9))
    return [group("lead", [path(lines)]), group("arrow", arrows)]


def shown_turns(scene: StepScene, view: View, window: Window) -> list[Turn]:
    """A few screws that stand for all: different joints first, those whose key comes towards the eye."""
    away = view.frame()[2]
    inside = [turn for turn in scene.turns if bool(window.holds(view.project(turn.head_mm))[0])]
    inside.sort(key=lambda turn: round(float(turn.axis @ away), 3))
    rows: dict[tuple[str, tuple[float, ...]], list[Turn]] = {}
    for turn in inside:
        joint = turn.fastening.rpartition(".")[0]
        rows.setdefault((joint, tuple(np.round(turn.axis, 2).tolist())), []).append(turn)
    # the middle one of a row: at its ends there are sizes, call-outs and insets
    return [turns[len(turns) // 2] for turns in rows.values()][:MOST_KEYS]


def keys(turns: Sequence[Turn], view: View, window: Window) -> list[str]:
    """A key's line out of each screw, and round it the way it turns: clockwise for who looks at the head."""
    axes, spins, tips = [], [], []
    for turn in turns:
        per_mm = view.scale * window.scale
        long = KEY_LONG_MM / per_mm
        end = turn.head_mm + turn.axis * long
        on = window.at(view.project(np.stack([turn.head_mm, end])))
        axes.append(on)
        frame = facing(turn.axis)
        angles = np.linspace(math.radians(70), math.radians(70 - 290), 24)
        radius = SPIN_MM / per_mm
        ring = (
            turn.head_mm + turn.axis * long * 0.7
            + radius * (np.cos(angles)[:, None] * frame[:, 0] + np.sin(angles)[:, None] * frame[:, 1])
        )  # fmt: skip
        drawn = window.at(view.project(ring))
        spins.append(drawn)
        tips.append(arrow(drawn[-1], drawn[-1] - drawn[-3], 1.5))
    return [
        group("halo", [path(spins)]),
        group("key", [path(axes)]),
        group("spin", [path(spins)]),
        group("arrow", tips),
    ]


def sizes(
    settings: Sequence[Setting], view: View, window: Window, paper: Paper
) -> tuple[list[str], list[Array]]:
    """Dimension lines of offsets, with a mark on the datum face; and the lines that labels must not cover.

    Each stands to the side of what it measures on which it covers least of what is on the paper already.
    """
    rows: list[str] = []
    taken: list[Array] = []
    for one in settings:
        points = np.stack([one.datum_mm, one.to_mm])
        if not bool(window.holds(view.project(points)).any()):
            continue
        begin, end = window.at(view.project(points))
        if float(np.hypot(*(end - begin))) < LEAST_SIZE_MM:
            continue
        found = [_size(one, begin, end, away) for away in _sides(one, view, window)]
        best = min(found, key=lambda size: paper.covered(size.lines) + 2 * paper.covered([size.box]))
        triangle = _datum(begin, (end - begin) / float(np.hypot(*(end - begin))))
        x, y = best.box.mean(axis=0)
        wide = float(np.ptp(best.box[:, 0]))
        rows += [
            group("halo", [path(best.lines)]), group("size", [path(best.lines)]),
            group("arrow", [arrow(best.lines[2][1], best.way), arrow(best.lines[2][0], -best.way)]),
            rect(float(x) - wide / 2, float(y) - 1.7, wide, 3.4),
            words(_value(one), float(x), float(y), SIZE_PT_MM, name="strong"),
            group("arrow", [path([triangle], closed=True)]),
        ]  # fmt: skip
        across = np.array([[x - wide / 2, y], [x + wide / 2, y]])
        taken += [*best.lines, best.box, across, triangle]
        paper.take_lines([*best.lines, across])
    return rows, taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Size:
    """A dimension line as it could be drawn: two lines out, the line itself last; `way` (2,) along it;
    `box` (5, 2): round its words."""

    lines: list[Array]
    way: Array
    box: Array


def _value(one: Setting) -> str:
    return f"{written(round(one.value_mm, 1))} mm"


def _sides(one: Setting, view: View, window: Window) -> list[Array]:
    """Directions (2,) on the paper, of length 1, in which the dimension line may stand away."""
    along = one.to_mm - one.datum_mm
    side = np.cross(one.out, along / (float(np.linalg.norm(along)) or 1.0))
    per_mm = view.scale * window.scale
    begin, end = window.at(view.project(np.stack([one.datum_mm, one.to_mm])))
    line = (end - begin) / float(np.hypot(*(end - begin)))
    found = []
    for way in (one.out, side, -side, -one.out):
        drawn = window.at(view.project(np.stack([one.datum_mm, one.datum_mm + way])))
        away = drawn[1] - drawn[0]
        size = float(np.hypot(*away))
        # seen end on, or along the line itself, it would leave no room between
        if size > 0.2 * per_mm and abs(float(line[0] * away[1] - line[1] * away[0])) > 0.3 * size:
            found.append(away / size)
    return found or [np.array([-line[1], line[0]]), np.array([line[1], -line[0]])]


def _size(one: Setting, begin: Array, end: Array, away: Array) -> _Size:
    off, beyond = away * SIZE_OFF_MM, away * 1.2
    one_end, other = begin + off, end + off
    long = float(np.hypot(*(end - begin)))
    wide = text_width(_value(one), SIZE_PT_MM)
    middle = (one_end + other) / 2
    if long < wide + 4:  # beyond the line, where it has no room on it
        across = np.array([begin[1] - end[1], end[0] - begin[0]]) / long
        clear = 0.8 + abs(float(across[0])) * wide / 2 + abs(float(across[1])) * 1.7
        middle = middle + away * clear / abs(float(across @ away))
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]]) * (wide / 2, 1.7)
    lines = [
        np.stack([begin, one_end + beyond]), np.stack([end, other + beyond]), np.stack([one_end, other]),
    ]  # fmt: skip
    return _Size(lines=lines, way=(end - begin) / long, box=box + middle)


def _datum(at: Array, way: Array) -> Array:
    """The triangle that marks a datum face: its tip on the face, from outside."""
    side = np.array([-way[1], way[0]])
    return np.stack([at, at - way * 2.4 + side * 1.4, at - way * 2.4 - side * 1.4])


def empty_holes(scene: StepScene, view: View, window: Window, visible: NDArray[np.bool_]) -> list[str]:
    """A small cross on each hole that stays empty and is seen, about as large as the hole."""
    points_mm = scene.empty_holes_mm
    if not len(points_mm):
        return []
    on = view.project(points_mm)
    lines = []
    inside = visible & window.holds(on)
    sizes_mm = np.clip(0.4 * scene.empty_diameters_mm * view.scale * window.scale, 0.45, 1.2)
    for middle, half in zip(window.at(on)[inside], sizes_mm[inside].tolist(), strict=True):
        for dx, dy in ((half, half), (half, -half)):
            lines.append(middle + np.array([[-dx, -dy], [dx, dy]]))
    return [group("halo", [path(lines)]), group("empty", [path(lines)])]


def threads(scene: StepScene, view: View, window: Window) -> tuple[list[str], list[Array]]:
    """Belts and cables on their way, drawn over everything: a dark line with a light core."""
    lines = [window.at(view.project(points)) for _, points in scene.threads]
    return [group("halo", [path(lines)]), group("thread", [path(lines)]), group("core", [path(lines)])], lines

"""The foot of a step's picture: axes as a scale, remarks, turned work; and the picture in words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import DIRECTIONS, Array, side
from trysquare.publish.picture_stage import Stage
from trysquare.publish.picture_svg import arrow, group, path, rect, text_width, words
from trysquare.publish.picture_window import Window
from trysquare.solid.drawing import View

FOOT_MM = 8.0  # strip for scale, axes and remarks
_ARMS_MM = (20000.0, 10000.0, 5000.0, 2000.0, 1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0)
MOST_SAID = 12


def foot(stage: Stage, window: Window, height: float, *, empty: bool, over_drawing: bool) -> list[str]:
    """Axes with arms of a round length, the scale, what marks mean, and which side was turned up.

    `over_drawing`: the axes stand over a close-up, and get white ground.
    """
    axes = _axes(stage, window, height)
    lines, tips, names = [], [], []
    for way, name in zip(axes.ways, _axis_names(stage.scene.up), strict=True):
        length = float(np.hypot(*way))
        if length < 1.0:
            continue
        lines.append(np.stack([axes.origin, axes.origin + way]))
        tips.append(arrow(axes.origin + way, way, 1.2))
        unit = way / length
        beyond = axes.origin + way + unit * (1.6 + abs(float(unit[0])) * text_width(name, 2.4) / 2)
        names.append(words(name, float(beyond[0]), float(beyond[1]), 2.4))
    rows = []
    if over_drawing:
        wide_mm, high_mm = ground_mm(stage, window, height)
        rows.append(rect(0.0, height - high_mm, wide_mm, high_mm))
    rows += [group("size", [path(lines)]), group("arrow", tips), *names]
    x = axes.right + 10.5
    says = [f"arms {axes.long_mm:g} mm, about {_ratio(1 / (axes.per_mm * math.sqrt(2 / 3)))}"]
    if empty:
        says.append("× stays empty")
    if stage.scene.settings:
        says.append("▲ datum")
    said = " · ".join(says)
    rows.append(words(said, x, height - 3.0, 2.5, anchor="start"))
    if stage.scene.turned_now or stage.scene.up != "+z":
        rows += _turned_over(x + text_width(said, 2.5) * 0.9 + 4.0, height - FOOT_MM + 0.4, stage.scene.up)
    return rows


def ground_mm(stage: Stage, window: Window, height: float) -> tuple[float, float]:
    """Width and height of the ground, in the left bottom corner, that the axes need."""
    axes = _axes(stage, window, height)
    return axes.right + 9.5, height - axes.top + 4.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Axes:
    """The machine's axes on the picture: `ways` (3, 2) from `origin` (2,), `long_mm` of the machine each."""

    origin: Array
    ways: Array
    long_mm: float
    per_mm: float

    @property
    def right(self) -> float:
        return float(self.origin[0] + max(float(self.ways[:, 0].max()), 0.0))

    @property
    def top(self) -> float:
        return float(self.origin[1] + min(float(self.ways[:, 1].min()), 0.0))


def _axes(stage: Stage, window: Window, height: float) -> _Axes:
    per_mm = stage.view.scale * window.scale
    long = next((size for size in _ARMS_MM if size * per_mm <= 11.0), _ARMS_MM[-1])
    ways = stage.view.project(np.eye(3) * long)[:, :2] * window.scale
    low, high = np.minimum(ways.min(axis=0), 0), np.maximum(ways.max(axis=0), 0)
    below = 4.8 if high[1] > 1.0 else 2.5  # a name stands below an arm that points down
    origin = np.array([9.0, height - below]) - np.array([low[0], high[1]])
    return _Axes(origin=origin, ways=ways, long_mm=long, per_mm=per_mm)


def says_of(stage: Stage) -> str:
    """The picture in words."""
    said = []
    for sort, names in stage.sorts.items():
        coming = [name for name in names if name in stage.coming]
        letter = stage.known.letter(sort)
        name = stage.known.machine.part[names[0]].type.name
        said.append(f"{len(coming or names)} × {name}{f' ({letter})' if letter else ''}")
    what = ", ".join(said[:MOST_SAID]) + (" and more" if len(said) > MOST_SAID else "")
    laid = ", ".join(dict.fromkeys(name for name, _ in stage.scene.threads))
    verb = "Drawn strong" if stage.coming else "Worked on"
    parts = (
        f"Step {stage.known.number_of[stage.step.id]}, seen {from_words(stage.view)}.",
        f"{verb}: {what}." if what else "",
        f"Laid: {laid}." if laid else "",
    )
    return " ".join(part for part in parts if part)


def from_words(view: View, *, short: bool = False) -> str:
    """From where the eye looks, in words."""
    x, y, z = view.frame()[2].tolist()
    sides = (
        "above" if z < -0.1 else "below" if z > 0.1 else "",
        "the front" if y > 0.1 else "the back" if y < -0.1 else "",
        "the left" if x > 0.1 else "the right" if x < -0.1 else "",
    )
    said = [word for word in sides if word]
    return "from " + (" ".join(word.removeprefix("the ") for word in said) if short else ", ".join(said))


def _ratio(ratio: float) -> str:
    """A scale as people say it."""
    if ratio >= 1:
        return f"1 : {ratio:.1f}" if ratio < 2.5 else f"1 : {ratio:.0f}"
    return f"{1 / ratio:.1f} : 1"


def _axis_names(up: str) -> tuple[str, str, str]:
    """What the drawn axes are called on the machine as it lies."""
    if up == "+z":
        return ("right", "back", "up")
    if up == "-z":
        return ("right", "front", "bottom")
    return ("", "", side(np.asarray(DIRECTIONS[up])))


def _turned_over(left: float, top: float, up: str) -> list[str]:
    """The arrow that says that the work was turned, and what is up now."""
    angles = np.linspace(math.radians(200), math.radians(-20), 20)
    middle = np.array([left + 4.0, top + 5.4])
    arc = middle + 3.0 * np.stack([np.cos(angles), -np.sin(angles)], axis=1)
    way = arc[-1] - arc[-3]
    return [
        group("spin", [path([arc])]),
        group("arrow", [arrow(arc[-1] + way * 0.3, way, 1.9)]),
        words(
            f"turned: {side(np.asarray(DIRECTIONS[up]))} up",
            left + 9.0,
            top + 4.4,
            2.7,
            anchor="start",
            name="strong",
        ),
    ]

"""Insets beside a step's drawing: where a close-up lies, what is small, and what only another side shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from trysquare.ground.placement import Array
from trysquare.publish.callouts import Paper, place
from trysquare.publish.picture_foot import from_words
from trysquare.publish.picture_stage import BESIDE, PILL_MM, Stage, box_of
from trysquare.publish.picture_svg import pill, pill_width, rect, text_width, words
from trysquare.publish.picture_window import Window, drawn, fitted_window
from trysquare.solid.drawing import DrawnPart, View, choose_view, visible_shares

SIDE_MM = 29.0  # width of the column
TALL_MM, WHERE_MM = 27.0, 24.0  # heights of an inset, and of that which shows where a close-up lies
GAP_MM = 2.0
MOST_INSETS = 3
SMALL_MM = 3.4  # a part drawn smaller than this wants an inset
PART_MM = 7.5  # as large is it drawn there
KNOWN_SHARE = 0.25  # a part that shows less of its outline is not known again
LEAST_SHARE = 0.15  # a part that shows less counts as hidden
FEW = 3  # pieces of a hidden sort for which the other side is chosen
AROUND_MM = 25.0  # of the machine, at least shown from the other side
MOST_SCALE = 2.0
MARK_MM = 4.2  # of an inset's corner, for its letter


@dataclass(slots=True, kw_only=True)
class Column:
    """The column of insets while it is filled. `named`: pieces whose call-out stands in an inset; `other`:
    pieces that are seen from the other side, with the share."""

    left: float
    bottom: float
    top: float = 0.3
    rows: list[str] = field(default_factory=list)
    named: set[str] = field(default_factory=set)
    other: dict[str, float] = field(default_factory=dict)
    number: int = 0
    marks: int = 0
    letters: list[Array] = field(default_factory=list)  # where in the main picture insets have their letters

    def has_room(self) -> bool:
        """Whether one more inset fits."""
        return self.number < MOST_INSETS and self.top + TALL_MM <= self.bottom

    def frame(self, tall: float) -> None:
        """The frame of the next inset."""
        self.rows.append(
            f'<rect class="frame" x="{self.left:.2f}" y="{self.top:.2f}" width="{SIDE_MM - 0.3:.2f}" '
            f'height="{tall:.2f}" rx="1.2"/>'
        )


def small_sorts(stage: Stage, scale: float) -> list[str]:
    """Sorts that come and are drawn too small to be told at this scale of the drawing, the smallest first."""
    found = []
    for sort, names in stage.sorts.items():
        sizes_mm = []
        for name in names:
            part = stage.drawing.part.get(name)
            if name in stage.coming and part is not None and part.box_mm is not None:
                sizes_mm.append(float((part.box_mm[1] - part.box_mm[0]).max()) * scale)
        if sizes_mm and max(sizes_mm) < SMALL_MM:
            found.append((max(sizes_mm), sort))
    return [sort for _, sort in sorted(found)]


def hidden_sorts(stage: Stage) -> list[str]:
    """Sorts that come and of which no piece is seen."""
    shares = stage.shares()
    found = []
    for sort, names in stage.sorts.items():
        seen = [shares[name] for name in names if name in shares]
        if seen and max(seen) < LEAST_SHARE:
            found.append(sort)
    return found


def where_it_lies(stage: Stage, column: Column, main: Window, tag: str) -> None:
    """The whole work, small, with a frame about what the close-up shows."""
    low, high = box_of(list(stage.boxes.values()))
    window = fitted_window(low, high, column.left + 1, column.top + 1, SIDE_MM - 2.3, WHERE_MM - 2, 10.0)
    column.frame(WHERE_MM)
    column.rows += drawn(stage.drawing, window, f"o{tag}", only_outlines=True)
    corner, far = window.at(np.stack([main.low, main.high]))
    corner = np.maximum(corner, [column.left + 0.6, column.top + 0.6])
    far = np.minimum(far, [column.left + SIDE_MM - 0.9, column.top + WHERE_MM - 0.6])
    column.rows.append(
        f'<rect class="spot" x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{far[0] - corner[0]:.2f}" '
        f'height="{far[1] - corner[1]:.2f}"/>'
    )
    column.top += WHERE_MM + GAP_MM


def enlarged(
    stage: Stage, column: Column, small: Sequence[str], main: Window, paper: Paper, tag: str
) -> None:
    """What is small, enlarged, each inset with a letter and a ring where it lies in the main picture."""
    done: set[str] = set()
    for sort in small:
        if sort in done or not column.has_room():
            continue
        best = [part for part in stage.best(stage.sorts[sort], main) if part.visible_share >= KNOWN_SHARE]
        if not best:
            continue
        box = stage.boxes[best[0].id]
        middle = box.mean(axis=0)
        extent = float((box[1] - box[0]).max())
        window = _window(column, middle, PART_MM / max(extent, 1e-6))
        column.frame(TALL_MM)
        column.rows += drawn(stage.drawing, window, f"i{column.number}{tag}")
        done |= _labels(stage, column, window, sort, [other for other in small if other not in done])
        at = main.at(middle[None])[0]
        ring = max(1.6, extent * main.scale * 0.8)
        beside = _beside(at, ring, column.letters)
        column.letters.append(beside)
        mark, right = "abc"[column.marks], column.left + SIDE_MM - 2.6
        column.rows += [
            f'<circle class="spot" cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{ring:.2f}"/>',
            f'<circle cx="{beside[0]:.2f}" cy="{beside[1]:.2f}" r="1.5" fill="#fff"/>',
            words(mark, float(beside[0]), float(beside[1]), 2.8, name="strong"),
            f'<circle class="pill" cx="{right:.2f}" cy="{column.top + 2.4:.2f}" r="1.7"/>',
            words(mark, right, column.top + 2.4, 2.8, name="strong"),
        ]
        paper.take_box(at[0] - ring, at[1] - ring, at[0] + ring, at[1] + ring)
        paper.take_box(beside[0] - 1.5, beside[1] - 1.5, beside[0] + 1.5, beside[1] + 1.5)
        column.number += 1
        column.marks += 1
        column.top += TALL_MM + GAP_MM


def other_side(stage: Stage, column: Column, hidden: Sequence[str], tag: str) -> None:
    """What the main view hides, from where it is seen."""
    if not hidden or not column.has_room():
        return
    names = [name for sort in hidden for name in stage.sorts[sort]]
    few = [name for sort in hidden for name in stage.sorts[sort][:FEW]]
    view = choose_view(stage.scene.scene, few)
    view = View(view.direction, view.up, stage.view.scale)
    shown = visible_shares(stage.scene.scene, view, names)
    seen = [name for name in names if shown.get(name, 0.0) >= LEAST_SHARE]
    if not seen:
        return
    boxes = replace(stage, view=view).boxes
    box = box_of([boxes[name] for name in seen])
    size = np.maximum(box[1] - box[0], AROUND_MM * view.scale) * 1.5
    scale = min((SIDE_MM - 2) / float(size[0]), (TALL_MM - 5) / float(size[1]), MOST_SCALE / view.scale)
    window = _window(column, box.mean(axis=0), scale)
    other = replace(stage, view=view, within=np.stack([window.low, window.high]))
    column.frame(TALL_MM)
    column.rows += drawn(other.drawing, window, f"b{tag}")
    sorts = [sort for sort in hidden if any(name in seen for name in stage.sorts[sort])]
    _labels(other, column, window, sorts[0], sorts)
    says = from_words(other.view, short=True)
    width = text_width(says, 2.3) * 0.92 + 0.6
    column.rows += [
        rect(column.left + 0.9, column.top + TALL_MM - 3.8, width, 3.0),
        words(says, column.left + 1.3, column.top + TALL_MM - 2.3, 2.3, anchor="start"),
    ]
    column.other |= {name: shown[name] for name in seen}
    column.number += 1
    column.top += TALL_MM + GAP_MM


def _beside(at: Array, ring: float, letters: Sequence[Array]) -> Array:
    """Where beside its ring an inset's letter stands: not over one that stands there already."""
    aside = ring + 1.3
    spots = [at + np.array([x * aside, y * ring]) for x, y in ((1, -1), (1, 1), (-1, -1), (-1, 1))]
    free = [spot for spot in spots if all(float(np.hypot(*(spot - other))) > 2.6 for other in letters)]
    return np.asarray((free or spots)[0])


def _window(column: Column, middle: Array, scale: float) -> Window:
    half = np.array([SIDE_MM - 2, TALL_MM - 2]) / scale / 2
    return Window(
        low=middle - half, high=middle + half, left=column.left + 0.85, top=column.top + 1, scale=scale
    )


def _labels(stage: Stage, column: Column, window: Window, first: str, sorts: Sequence[str]) -> set[str]:
    """Call-outs of the sorts that lie in an inset. Its own sort is named in any case: where there is no free
    paper over the drawing, on white ground; else in a corner, without a leader."""
    area = Paper(window.left, window.top, window.right, window.bottom)
    stage.take(area, window)
    mark = (window.right - MARK_MM, window.top, window.right, window.top + MARK_MM)
    area.take_box(*mark)
    wanted, own = [], []
    for sort in dict.fromkeys((first, *sorts)):
        parts = [part for part in stage.best(stage.sorts[sort], window) if _is_large(part, window)]
        if parts:
            anchors = np.array([part.anchor_mm for part in parts])
            wanted.append(stage.wanted(sort, window.at(anchors)))
            own += [window.at(stage.boxes[part.id]) for part in parts if sort == first]
    placed, _ = place(wanted, area)
    if not any(one.name == first for one in placed):
        over = Paper(window.left, window.top, window.right, window.bottom)
        over.take_box(*mark)
        for box in own:
            over.take_box(*box.min(axis=0).tolist(), *box.max(axis=0).tolist())
        mine, _ = place([one for one in wanted if one.name == first], over)
        if not mine:
            column.rows.append(_in_corner(stage, window, first))
            area.take_box(window.left, window.top, window.left + SIDE_MM / 2, window.top + PILL_MM + 1)
        for one in mine:
            column.rows.append(_ground(one.left_mm, one.top_mm, one.width_mm))
        others, _ = place([one for one in wanted if one.name != first], area, mine)
        placed = (*mine, *others)
    column.rows += [stage.label(one) for one in placed]
    named = {first, *(one.name for one in placed)}
    for sort in named:
        column.named |= set(stage.sorts[sort])
    return named


def _is_large(part: DrawnPart, window: Window) -> bool:
    """Whether a part is large enough in an inset to be pointed at."""
    return part.box_mm is not None and float((part.box_mm[1] - part.box_mm[0]).max()) * window.scale > 2.5


def _in_corner(stage: Stage, window: Window, sort: str) -> str:
    letter, beside = stage.text(sort)
    width = pill_width(letter, PILL_MM) + (text_width(beside, PILL_MM * BESIDE) + 1.0 if beside else 0.0)
    left, top = window.left + 0.7, window.top + 0.6
    return _ground(left, top, width) + pill(letter, beside, left, top, PILL_MM)


def _ground(left: float, top: float, width: float) -> str:
    """White ground for a call-out that stands over the drawing."""
    return (
        f'<rect x="{left - 0.4:.2f}" y="{top - 0.4:.2f}" width="{width + 0.8:.2f}" '
        f'height="{PILL_MM + 0.8:.2f}" rx="2.4" fill="#fff"/>'
    )

"""A step's picture: the drawing of its scene with ways, keys, sizes, call-outs, insets and scale, as SVG."""

from __future__ import annotations

import hashlib
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.values import Step
from trysquare.publish.callouts import Paper, Placed, Wanted, place
from trysquare.publish.known import Known
from trysquare.publish.picture_svg import arrow, flag, group, head, path, pens_for, pill, pill_width, text_width, words
from trysquare.publish.picture_window import Window, drawn, fitted_window, lines_in
from trysquare.publish.step_marks import empty_holes, keys, leads, shown_turns, sizes, threads
from trysquare.publish.step_scene import StepScene
from trysquare.publish.step_view import step_view
from trysquare.publish.typst_page import plain
from trysquare.sequence.telling import side
from trysquare.solid.drawing import ISOMETRIC, NEW, DrawnPart, Scene, View, draw, seen

WIDTH_MM, HEIGHT_MM = 118.0, 100.0
COVER_MM = (130.0, 125.0)
FOOT_MM = 8.0  # strip for scale, axes and remarks
EDGE_MM = 9.0  # left free all round for call-outs
SIDE_MM = 29.0  # column of insets
GAP_MM = 2.0
LOWEST_MM = 58.0
CLOSE_UP = 0.42  # of the work's size: when all that comes takes less, the picture shows its surroundings only
AROUND = 0.45  # of what comes, shown about it in a close-up
LEAST_SHOWN_MM = 70.0  # of the machine, in a close-up
MOST_SCALE = 2.0
SMALL_MM = 3.4  # a part drawn smaller than this wants an inset
INSET_SHARE = 0.25  # a part that shows less is not known again in an inset
INSET_PART_MM = 7.5  # as large is it drawn there
LEAST_SHARE = 0.15  # of its outline: a new part that shows less is drawn through what hides it
PILL_MM = 4.3
ANCHORS = 4  # pieces of one sort that its call-out may point at
MOST_READS = 4
MOST_THREADS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A finished picture. `says`: it in words. `shares`: for each coming part with a solid how much of its
    outline is seen, and how: "seen", "inset" or "through". `told`: what could not be drawn or named."""

    svg: str
    width_mm: float
    height_mm: float
    says: str
    view: View
    shares: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    told: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """As the templates read it."""
        return {"svg": self.svg, "width": self.width_mm, "height": self.height_mm, "says": self.says}


def step_picture(
    known: Known,
    step: Step,
    scene: StepScene,
    previous: View | None = None,
    *,
    width_mm: float = WIDTH_MM,
    height_mm: float = HEIGHT_MM,
    size: str = "",
) -> Picture | None:
    """The picture of one step; None when nothing of it has a solid or a path. `size`: attributes of the SVG's
    width and height, else it has its true size."""
    if scene.is_empty or not scene.scene.pieces:
        return None
    view = step_view(known, scene, previous)
    return _Composing(known, step, scene, view, width_mm, height_mm).picture(size)


def machine_picture(known: Known, scene: Scene) -> Picture | None:
    """The finished machine without any marks, for the cover; None without any solid."""
    view = View(ISOMETRIC.direction)
    box = _box_of(list(_boxes(scene, view).values()))
    size = box[1] - box[0]
    if not (size > 0).all():
        return None
    scale = min(COVER_MM[0] / float(size[0]), COVER_MM[1] / float(size[1]))
    drawing = draw(scene, View(view.direction, view.up, scale))
    low, high = drawing.box_mm
    window = Window(low=low - 0.5, high=high + 0.5, left=0.0, top=0.0, scale=1.0)
    says = f"{known.machine.name}, finished, seen {_from_words(view)}."
    begin = head(round(window.right, 1), round(window.bottom, 1), known.machine.name, says, pens=pens_for(scale))
    rows = drawn(drawing, window, "cover", strong=())
    return Picture(
        svg="\n".join([*begin, *rows, "</svg>", ""]), width_mm=round(window.right, 1),
        height_mm=round(window.bottom, 1), says=says, view=view, told=drawing.told,
    )  # fmt: skip


class _Composing:
    """One picture while it is made. The drawing has the scale 1: paper mm are mm of the machine."""

    def __init__(
        self, known: Known, step: Step, scene: StepScene, view: View, width_mm: float, height_mm: float
    ) -> None:
        self.known, self.step, self.scene, self.view = known, step, scene, view
        self.width, self.height = width_mm, height_mm
        self.told: list[str] = []
        boxes = self.boxes = _boxes(scene.scene, view)
        self.whole = _box_of(list(boxes.values()))
        self.focus = self._focus(boxes)
        self.tag = hashlib.blake2b(f"{step.id}{width_mm}{height_mm}".encode(), digest_size=4).hexdigest()
        large = self.whole[1] - self.whole[0]
        part = self.focus[1] - self.focus[0]
        self.close = bool((part < CLOSE_UP * large).all())
        low, high = self.whole
        if self.close:
            room = np.maximum(part * AROUND, (LEAST_SHOWN_MM - part) / 2)
            low, high = self.focus[0] - room, self.focus[1] + room
        shown = max(float((high - low).max()), 1e-6)
        # the drawing is made at the scale of the picture, so that fine and coarse are right on it
        roughly = min((width_mm - 2 * EDGE_MM - SIDE_MM) / shown, MOST_SCALE)
        self.view = View(view.direction, view.up, roughly)
        self.low, self.high = low * roughly, high * roughly
        self.whole = self.whole * roughly
        self.drawing = draw(scene.scene, self.view)
        self.told += self.drawing.told
        self.coming = [name for name in scene.new if name in scene.away or not self._is_old(name)]

    def _is_old(self, name: str) -> bool:
        events = self.known.events_of[self.step.id]
        at = self.known.timeline.comes.get(name)
        return at is not None and bool(events) and at < events[0].at

    def _focus(self, boxes: Mapping[str, Array]) -> Array:
        """What must be in the picture: all that is new, its ways, its keys, the sizes, the threads."""
        found = [boxes[name] for name in self.scene.new if name in boxes]
        points = [away.lead_mm for away in self.scene.away.values() if len(away.lead_mm)]
        points += [points_mm for _, points_mm in self.scene.threads]
        points += [np.stack([one.datum_mm, one.to_mm]) for one in self.scene.settings]
        found += [_box_of([self.view.project(each)[:, :2]]) for each in points]
        if not self.scene.away and self.scene.reads:
            found += [boxes[name] for name in self.scene.reads.values() if name in boxes]
        return _box_of(found) if found else self.whole

    # -- layout ---------------------------------------------------------------------------------

    def picture(self, size: str) -> Picture:
        """All of it."""
        insets = self._small_sorts()
        column = SIDE_MM + GAP_MM if self.close or insets else 0.0
        edge = EDGE_MM if self._labels_wanted() else 2.0
        self._lower(edge, column, len(insets))
        main = fitted_window(
            self.low, self.high, edge, edge, self.width - column - 2 * edge, self.height - FOOT_MM - 2 * edge,
            MOST_SCALE / self.view.scale,
        )  # fmt: skip
        frame = Window(
            low=main.low - edge / main.scale, high=main.high + edge / main.scale, left=0.0, top=0.0, scale=main.scale
        )
        # Whatever lies in the margin is drawn too, but nothing beyond the picture's own rectangle.
        main = frame
        paper = Paper(0.4, 0.4, self.width - column - 0.4, self.height - FOOT_MM)
        rows = drawn(self.drawing, main, f"w{self.tag}")
        self._take(paper, main)
        shares = self._shares()
        hidden = [name for name in self.scene.new if (part := self.drawing.part.get(name)) is not None
                  and part.visible_share < LEAST_SHARE and self._is_named(name)]  # fmt: skip
        rows += self._through(hidden, main)
        rows += self._marks(paper, main)
        side_rows, inset_of = self._side_column(insets, main, paper, column)
        told_labels = self._call_outs(paper, main, inset_of)
        rows += told_labels
        rows += side_rows
        rows += self._foot(main)
        says = self._says()
        begin = head(self.width, self.height, self.step.title, says, size=size, pens=pens_for(self.view.scale * main.scale))
        through = set(hidden)
        return Picture(
            svg="\n".join([*begin, *(row for row in rows if row), "</svg>", ""]),
            width_mm=self.width,
            height_mm=self.height,
            says=says,
            view=View(self.view.direction, self.view.up, 1.0),
            shares={
                name: (share, "through" if name in through else "inset" if name in inset_of else "seen")
                for name, share in shares.items()
            },
            told=tuple(self.told),
        )

    def _lower(self, edge: float, column: float, insets: int) -> None:
        """Makes a picture lower that its drawing does not fill."""
        size = np.maximum(self.high - self.low, 1e-6)
        wide = self.width - column - 2 * edge
        scale = min(wide / float(size[0]), (self.height - FOOT_MM - 2 * edge) / float(size[1]), MOST_SCALE / self.view.scale)
        needed = float(size[1]) * scale + FOOT_MM + 2 * edge
        beside = FOOT_MM + (26.0 if self.close else 0.0) + 29.0 * min(insets, 3)
        self.height = round(min(self.height, max(needed, beside, LOWEST_MM)), 1)

    def _take(self, paper: Paper, window: Window) -> None:
        """Cells that labels must leave free."""
        for part in self.drawing.parts:
            if part.role == NEW and part.region:
                paper.take_area([window.at(loop) for loop in part.region])
        paper.take_lines(window.at(line.points_mm) for part in self.drawing.parts for line in part.lines)

    def _shares(self) -> dict[str, float]:
        return {
            name: self.drawing.part[name].visible_share
            for name in self.coming
            if name in self.drawing.part and self._is_named(name) and (not self._is_old(name) or name in self.scene.moving)
        }

    def _is_named(self, name: str) -> bool:
        """What a unit that comes as a whole holds inside was shown when it was built."""
        return name not in self.scene.moving or not self.known.machine.part[name].joint

    def _through(self, names: Sequence[str], window: Window) -> list[str]:
        """What is hidden is drawn in dashes through what hides it."""
        if not names:
            return []
        chosen = set(names)
        alone = Scene(tuple(piece for piece in self.scene.scene.pieces if piece.id in chosen))
        lines = [
            line for part in draw(alone, self.view).parts for line in lines_in(part, window, "outline", 0.3)
        ]
        return [group("through", [path(lines)])]

    def _marks(self, paper: Paper, window: Window) -> list[str]:
        view = self.view
        large = [
            name for name in self.scene.away
            if not self.known.machine.part[name].joint or self.known.machine.part[name].id in self.known.timeline.walk.slot_of
        ]  # fmt: skip
        rows = leads(self.scene, view, window, large)
        for away in self.scene.away.values():
            if len(away.lead_mm) > 1:
                paper.take_lines([window.at(view.project(away.lead_mm))])
        visible = seen(self.scene.scene, view, self.scene.empty_holes_mm, slack=0.3) if len(self.scene.empty_holes_mm) else np.zeros(0, bool)
        self.empty = bool(visible.any())
        rows += empty_holes(self.scene, view, window, visible)
        more, lines = threads(self.scene, view, window)
        rows += more
        paper.take_lines(lines)
        self.turns = shown_turns(self.scene, view, window)
        rows += keys(self.turns, view, window)
        for turn in self.turns:
            long = 13.0 / (view.scale * window.scale)
            on = window.at(view.project(np.stack([turn.head_mm, turn.head_mm + turn.axis * long])))
            paper.take_lines([on])
            x, y = on[0] + (on[1] - on[0]) * 0.6
            paper.take_box(x - 2.4, y - 2.4, x + 2.4, y + 2.4)
        more, lines = sizes(self.scene.settings, view, window)
        paper.take_lines(lines)
        return [*rows, *more]

    # -- insets ---------------------------------------------------------------------------------

    def _sorts(self) -> dict[str, list[str]]:
        """New pieces by what their call-out says: the letter, else the part's name."""
        rows: dict[str, list[str]] = {}
        moving = set(self.scene.moving)
        for name in self.scene.new:
            part = self.known.machine.part[name]
            if name in moving and part.joint:
                continue
            rows.setdefault(part.type.id, []).append(name)
        return rows

    def _small_sorts(self) -> list[str]:
        """Sorts that come and that would be drawn too small to be told, the smallest first."""
        wide = self.width - 2 * EDGE_MM - SIDE_MM
        scale = min(
            wide / max(float(self.high[0] - self.low[0]), 1e-6),
            (self.height - FOOT_MM - 2 * EDGE_MM) / max(float(self.high[1] - self.low[1]), 1e-6),
            MOST_SCALE / self.view.scale,
        )
        found = []
        for sort, names in self._sorts().items():
            sizes_mm = [
                float((part.box_mm[1] - part.box_mm[0]).max()) * scale
                for name in names
                if name in self.coming and (part := self.drawing.part.get(name)) is not None and part.box_mm is not None
            ]
            if sizes_mm and max(sizes_mm) < SMALL_MM:
                found.append((max(sizes_mm), sort))
        return [sort for _, sort in sorted(found)]

    def _side_column(
        self, small: Sequence[str], main: Window, paper: Paper, column: float
    ) -> tuple[list[str], dict[str, Window]]:
        """Insets at the right: where a close-up lies in the whole, and what is small, enlarged."""
        rows: list[str] = []
        inset_of: dict[str, Window] = {}
        if not column:
            return rows, inset_of
        left, top = self.width - SIDE_MM, 0.3
        if self.close:
            tall = 24.0
            low, high = self.whole
            window = fitted_window(low, high, left + 1, top + 1, SIDE_MM - 2.3, tall - 2, 10.0)
            rows.append(_frame(left, top, SIDE_MM - 0.3, tall))
            rows += drawn(self.drawing, window, f"o{self.tag}", only_outlines=True)
            corner, far = window.at(np.stack([main.low, main.high]))
            rows.append(
                f'<rect class="spot" x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{far[0] - corner[0]:.2f}" '
                f'height="{far[1] - corner[1]:.2f}"/>'
            )
            top += tall + GAP_MM
        sorts = self._sorts()
        done: set[str] = set()
        tall = 27.0
        number = 0
        for sort in small:
            if sort in done or top + tall > self.height - FOOT_MM + 2 or number == 3:
                continue
            best = [part for part in self._best(sorts[sort], main) if part.visible_share >= INSET_SHARE]
            if not best:
                continue
            part = best[0]
            box = self.boxes[part.id] * self.view.scale
            middle = box.mean(axis=0)
            extent = float((box[1] - box[0]).max())
            scale = INSET_PART_MM / max(extent, 1e-6)
            half = np.array([SIDE_MM - 2, tall - 2]) / scale / 2
            window = Window(low=middle - half, high=middle + half, left=left + 0.85, top=top + 1, scale=scale)
            rows.append(_frame(left, top, SIDE_MM - 0.3, tall))
            rows += drawn(self.drawing, window, f"i{number}{self.tag}")
            rows += self._inset_labels(window, sort, small, sorts, tall, done, inset_of)
            at = main.at(middle[None])[0]
            ring = max(1.6, extent * main.scale * 0.8)
            number += 1
            mark = "abc"[number - 1]
            rows.append(f'<circle class="spot" cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{ring:.2f}"/>')
            rows.append(words(mark, float(at[0] + ring + 1.3), float(at[1] - ring), 2.8, name="strong"))
            rows.append(f'<circle class="pill" cx="{left + SIDE_MM - 2.6:.2f}" cy="{top + 2.4:.2f}" r="1.7"/>')
            rows.append(words(mark, left + SIDE_MM - 2.6, top + 2.4, 2.8, name="strong"))
            paper.take_box(at[0] - ring, at[1] - ring - 2, at[0] + ring + 2.6, at[1] + ring)
            top += tall + GAP_MM
        return rows, inset_of

    def _inset_labels(
        self, window: Window, first: str, small: Sequence[str], sorts: Mapping[str, list[str]], tall: float,
        done: set[str], inset_of: dict[str, Window],
    ) -> list[str]:  # fmt: skip
        """Call-outs of the small sorts that lie in an inset."""
        area = Paper(window.left, window.top, window.right, window.bottom)
        self._take(area, window)
        wanted = []
        for sort in [first, *(other for other in small if other != first and other not in done)]:
            parts = [
                part for part in self._best(sorts[sort], window)
                if bool(window.holds(part.anchor_mm[None])[0])  # type: ignore[index]
                and float((part.box_mm[1] - part.box_mm[0]).max()) * window.scale > 2.5  # type: ignore[index]
            ]  # fmt: skip
            if parts:
                wanted.append(self._wanted(sort, parts, sorts[sort], window))
        placed, left = place(wanted, area)
        rows = [self._label(one, sorts[one.name]) for one in placed]
        if first in left or not any(one.name == first for one in placed):
            # no room beside it: its name stands in the corner, for the whole inset
            letter, beside = self._text(first, sorts[first])
            width = pill_width(letter, PILL_MM) + (text_width(beside, PILL_MM * 0.63) + 1.0 if beside else 0.0)
            rows.append(
                f'<rect x="{window.left + 0.3:.2f}" y="{window.top + 0.2:.2f}" width="{width + 0.8:.2f}" '
                f'height="{PILL_MM + 0.8:.2f}" rx="2.4" fill="#fff"/>'
                + pill(letter, beside, window.left + 0.7, window.top + 0.6, PILL_MM)
            )
        for name in (first, *(one.name for one in placed)):
            done.add(name)
            for piece in sorts[name]:
                inset_of[piece] = window
        return rows

    # -- call-outs ------------------------------------------------------------------------------

    def _labels_wanted(self) -> bool:
        return bool(self.scene.new or self.scene.reads)

    def _best(self, names: Sequence[str], window: Window) -> list[DrawnPart]:
        """The pieces of a sort that are seen best within a window."""
        parts = [self.drawing.part[name] for name in names if name in self.drawing.part]
        inside = [
            part for part in parts
            if part.anchor_mm is not None and part.box_mm is not None and bool(window.holds(part.anchor_mm[None])[0])
        ]  # fmt: skip
        inside.sort(key=lambda part: -round(part.visible_share, 1) * min(part.visible_mm, 40.0 / window.scale))
        return inside[:ANCHORS]

    def _wanted(self, sort: str, parts: Sequence[DrawnPart], names: Sequence[str], window: Window) -> Wanted:
        letter, beside = self._text(sort, names)
        width = pill_width(letter, PILL_MM) + (text_width(beside, PILL_MM * 0.63) + 0.6 if beside else 0.0)
        anchors = window.at(np.array([part.anchor_mm for part in parts]))
        return Wanted(name=sort, width_mm=width, height_mm=PILL_MM, anchors_mm=anchors)

    def _text(self, sort: str, names: Sequence[str]) -> tuple[str, str]:
        letter = self.known.letter(sort)
        coming = [name for name in names if name in self.coming] or names
        count = f"× {len(coming)}" if len(coming) > 1 else ""
        if letter:
            return letter, count
        name = self.known.machine.part[names[0]].type.name
        return (name if len(name) <= 18 else f"{name[:17]}…"), count

    def _label(self, one: Placed, names: Sequence[str]) -> str:
        letter, beside = self._text(one.name, names)
        line = np.array([one.from_mm, one.to_mm])
        return "".join((
            group("halo", [path([line])]),
            group("leader", [path([line])]),
            f'<circle class="dot" cx="{one.to_mm[0]:.2f}" cy="{one.to_mm[1]:.2f}" r=".5"/>',
            pill(letter, beside, one.left_mm, one.top_mm, PILL_MM),
        ))  # fmt: skip

    def _call_outs(self, paper: Paper, window: Window, inset_of: Mapping[str, Window]) -> list[str]:
        """Call-outs in the main window: sorts that no inset names, what is read, keys."""
        sorts = self._sorts()
        wanted = []
        for sort, names in sorts.items():
            if any(name in inset_of for name in names):
                continue
            parts = self._best(names, window)
            if parts:
                wanted.append(self._wanted(sort, parts, names, window))
            elif points := self._hidden_points(names, window):
                letter, beside = self._text(sort, names)
                width = pill_width(letter, PILL_MM) + (text_width(beside, PILL_MM * 0.63) + 0.6 if beside else 0.0)
                wanted.append(Wanted(name=sort, width_mm=width, height_mm=PILL_MM, anchors_mm=np.array(points)))
        on_part: dict[str, list[int]] = {}
        for number, name in enumerate(self.scene.reads.values(), start=1):
            on_part.setdefault(name, []).append(number)
        for name, numbers in list(on_part.items())[:MOST_READS]:
            part = self.drawing.part.get(name)
            if part is not None and part.anchor_mm is not None and bool(window.holds(part.anchor_mm[None])[0]):
                text = f"read {', '.join(map(str, numbers))}"
                wanted.append(Wanted(
                    name=f"\0{text}", width_mm=text_width(text, PILL_MM * 0.7) + 1.6, height_mm=PILL_MM,
                    anchors_mm=window.at(part.anchor_mm[None]),
                ))  # fmt: skip
        wanted += self._thread_labels(window)
        told: dict[float, None] = {}
        for turn in self.turns:
            if turn.key_mm not in told:
                told[turn.key_mm] = None
                text = f"key {turn.key_mm:g}"
                long = 10.0 / (self.view.scale * window.scale)
                tip = window.at(self.view.project(turn.head_mm + turn.axis * long))
                wanted.append(Wanted(
                    name=f"\1{text}", width_mm=text_width(text, 2.9) + 0.4, height_mm=3.2, anchors_mm=tip,
                ))  # fmt: skip
        placed, left = place(wanted, paper)
        self.told += [f"no room for the call-out {_named(name)}" for name in left]
        rows = []
        for one in placed:
            line = np.array([one.from_mm, one.to_mm])
            if one.name.startswith("\0"):
                rows += [group("halo", [path([line])]), group("leader", [path([line])]),
                         f'<circle class="dot" cx="{one.to_mm[0]:.2f}" cy="{one.to_mm[1]:.2f}" r=".5"/>',
                         flag(one.name[1:], one.left_mm, one.top_mm, one.width_mm, one.height_mm)]  # fmt: skip
            elif one.name.startswith(("\1", "\2")):
                middle = one.left_mm + one.width_mm / 2
                size = 2.9 if one.name.startswith("\1") else 2.6
                rows += [group("halo", [path([line])]), group("leader", [path([line])]),
                         words(one.name[1:], middle, one.top_mm + one.height_mm / 2, size)]  # fmt: skip
            else:
                rows.append(self._label(one, sorts[one.name]))
        self.placed = placed
        return rows

    def _thread_labels(self, window: Window) -> list[Wanted]:
        """Names of the cables and belts that are laid, when they are few enough to be told apart."""
        lines: dict[str, list[Array]] = {}
        for name, points in self.scene.threads:
            lines.setdefault(name, []).append(window.at(self.view.project(points)))
        if len(lines) > MOST_THREADS:
            return []
        found = []
        for name, each in lines.items():
            parts = [(a + (b - a) * share, float(np.hypot(*(b - a)))) for on in each for a, b in itertools.pairwise(on)
                     for share in (0.5, 0.3, 0.7)]  # fmt: skip
            parts.sort(key=lambda pair: -pair[1])
            text = plain(name.rpartition("/")[2])
            text = text if len(text) <= 16 else f"{text[:15]}…"
            found.append(Wanted(
                name=f"\2{text}", width_mm=text_width(text, 2.6) + 0.6, height_mm=3.2,
                anchors_mm=np.array([point for point, _ in parts[:6]]),
            ))  # fmt: skip
        return found

    def _hidden_points(self, names: Sequence[str], window: Window) -> list[Array]:
        """Where hidden pieces lie: their call-out points at the dashes, or at the key's line."""
        boxes = _boxes(Scene(tuple(piece for piece in self.scene.scene.pieces if piece.id in set(names))), self.view)
        points = [window.at(box.mean(axis=0)[None])[0] for box in boxes.values() if bool(window.holds(box.mean(axis=0)[None])[0])]
        return points[:ANCHORS]

    # -- foot -----------------------------------------------------------------------------------

    def _foot(self, window: Window) -> list[str]:
        """Axes as a scale, remarks, and the arrow of work that is turned over."""
        per_mm = self.view.scale * window.scale
        long = next((size for size in (200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0) if size * per_mm <= 11.0), 1.0)
        ways = self.view.project(np.eye(3) * long)[:, :2] * window.scale
        low, high = np.minimum(ways.min(axis=0), 0), np.maximum(ways.max(axis=0), 0)
        origin = np.array([7.0, self.height - 2.5]) - np.array([low[0], high[1]])
        top = _turn_names(self.scene.up)
        rows: list[str] = []
        lines, tips, names = [], [], []
        for way, name in zip(ways, top, strict=True):
            end = origin + way
            if float(np.hypot(*way)) < 1.0:
                continue
            lines.append(np.stack([origin, end]))
            tips.append(arrow(end, way, 1.2))
            beyond = end + way / float(np.hypot(*way)) * 1.9
            names.append(words(name, float(beyond[0]), float(beyond[1]), 2.4))
        if self.close:
            high_mm = float(self.height - (origin[1] + low[1])) + 4.5
            wide_mm = float(origin[0] + high[0]) + 7.0
            rows.append(
                f'<rect x="0" y="{self.height - high_mm:.2f}" width="{wide_mm:.2f}" height="{high_mm:.2f}" fill="#fff"/>'
            )
        rows += [group("size", [path(lines)]), group("arrow", tips), *names]
        x = float(origin[0] + high[0] + 7.5)
        y = self.height - 3.0
        ratio = 1 / (per_mm * math.sqrt(2 / 3))
        says = [f"arms {long:g} mm, about {_ratio(ratio)}"]
        if self.empty:
            says.append("× stays empty")
        if self.scene.settings:
            says.append("▲ datum")
        rows.append(words(" · ".join(says), x, y, 2.5, anchor="start"))
        if self.scene.turned_now or self.scene.up != "+z":
            x += text_width(" · ".join(says), 2.5) * 0.9 + 4.0
            rows += _turned_over(x, self.height - FOOT_MM + 0.4, self.scene.up)
        return rows

    def _says(self) -> str:
        """The picture in words."""
        said = []
        for sort, names in self._sorts().items():
            coming = [name for name in names if name in self.coming]
            letter = self.known.letter(sort)
            name = self.known.machine.part[names[0]].type.name
            said.append(f"{len(coming or names)} × {name}{f' ({letter})' if letter else ''}")
        what = ", ".join(said[:12]) + (" and more" if len(said) > 12 else "")
        threads_said = ", ".join(dict.fromkeys(name for name, _ in self.scene.threads))
        looks = _from_words(self.view)
        begin = f"Step {self.known.number_of[self.step.id]}, seen {looks}."
        verb = "Drawn strong" if self.coming else "Worked on"
        return " ".join(
            part for part in (begin, f"{verb}: {what}." if what else "", f"Laid: {threads_said}." if threads_said else "") if part
        )


def _named(name: str) -> str:
    """A label's name without the sign that says of which sort it is."""
    return name.lstrip("\0\1\2")


def _frame(left: float, top: float, width: float, height: float) -> str:
    return f'<rect class="frame" x="{left:.2f}" y="{top:.2f}" width="{width:.2f}" height="{height:.2f}" rx="1.2"/>'


def _boxes(scene: Scene, view: View) -> dict[str, Array]:
    """The box (2, 2) on paper of every piece."""
    frame = view.frame()
    found = {}
    for piece in scene.pieces:
        points = piece.body.points_mm
        if len(points):
            on = piece.placement.point(points) @ frame[:2].T * view.scale
            found[piece.id] = np.stack([on.min(axis=0), on.max(axis=0)])
    return found


def _box_of(boxes: Sequence[Array]) -> Array:
    """The box about boxes or points (n, 2)."""
    if not boxes:
        return np.zeros((2, 2))
    points = np.concatenate(boxes)
    return np.stack([points.min(axis=0), points.max(axis=0)])


def _ratio(ratio: float) -> str:
    """A scale as people say it."""
    if ratio >= 1:
        return f"1 : {ratio:.1f}" if ratio < 2.5 else f"1 : {ratio:.0f}"
    return f"{1 / ratio:.1f} : 1"


def _turn_names(up: str) -> tuple[str, str, str]:
    """What the drawn x, y and z axes are called on the machine as it lies."""
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
    word = f"turned: {side(np.asarray(DIRECTIONS[up]))} up" if up in DIRECTIONS else "turned"
    return [
        group("spin", [path([arc])]), group("arrow", [arrow(arc[-1] + (arc[-1] - arc[-3]) * 0.3, arc[-1] - arc[-3], 1.9)]),
        words(word, left + 9.0, top + 4.4, 2.7, anchor="start", name="strong"),
    ]  # fmt: skip


def _from_words(view: View) -> str:
    """From where the eye looks, in words."""
    x, y, z = view.frame()[2].tolist()
    words_ = [
        "above" if z < -0.1 else "below" if z > 0.1 else "",
        "the front" if y > 0.1 else "the back" if y < -0.1 else "",
        "the left" if x > 0.1 else "the right" if x < -0.1 else "",
    ]
    return "from " + ", ".join(word for word in words_ if word)

"""A step's picture: the drawing of its scene with ways, keys, sizes, call-outs, insets and scale, as SVG."""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Step
from trysquare.publish.callouts import Paper, Wanted, place
from trysquare.publish.known import Known
from trysquare.publish.look_marks import is_look, look_labels, look_mark, seen_looks
from trysquare.publish.picture_foot import FOOT_MM, foot, from_words, ground_mm, says_of
from trysquare.publish.picture_insets import (
    GAP_MM,
    LEAST_SHARE,
    SIDE_MM,
    TALL_MM,
    WHERE_MM,
    Column,
    enlarged,
    hidden_sorts,
    other_side,
    small_sorts,
    where_it_lies,
)
from trysquare.publish.picture_stage import ANCHORS, PILL_MM, Stage, box_of, led
from trysquare.publish.picture_svg import flag, group, head, path, pens_for, text_width, words
from trysquare.publish.picture_window import Window, drawn, fitted_window, lines_in
from trysquare.publish.specks import without_specks
from trysquare.publish.step_marks import empty_holes, keys, leads, shown_turns, sizes, threads
from trysquare.publish.step_shown import StepScene
from trysquare.publish.step_view import says_nothing, step_view
from trysquare.publish.typst_page import plain
from trysquare.solid.drawing import ISOMETRIC, Scene, View, boxes_on_paper, draw, seen
from trysquare.solid.drawing.looks import OUTLINE

WIDTH_MM, HEIGHT_MM = 118.0, 100.0
COVER_MM = (130.0, 125.0)
LOWEST_MM = 58.0
EDGE_MM = 9.0  # left free all round for call-outs
CLOSE_UP = 0.42  # of the work's size: when all that comes takes less, the picture shows its surroundings only
AROUND = 0.45  # of what comes, shown about it in a close-up
LEAST_SHOWN_MM = 70.0  # of the machine, in a close-up
MOST_SCALE = 2.0
SMALL_SCALE = 0.14  # below it small pieces far from what comes are left out
MOST_READS = 4
MOST_THREADS = 14
READ, KEY, THREAD = "\0", "\1", "\2"  # first sign of a label's name that is no sort


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A finished picture. `says`: it in words. `shares`: for each coming part with a solid how much of its
    outline is seen, and how: "seen", "inset" (enlarged), "other side" (an inset from there), or "through"
    (in dashes through what hides it). `told`: what could not be drawn or named."""

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
    """The picture of one step; None when nothing of it has a solid or a path, and when it would only point at
    parts that lie hidden. `size`: attributes of the SVG's width and height, else it has its true size."""
    if scene.is_empty or not scene.scene.pieces:
        return None
    view = step_view(known, scene, previous)
    if says_nothing(scene, view):
        return None
    return _Composing(known, step, scene, view, width_mm, height_mm).picture(size)


def machine_picture(known: Known, scene: Scene) -> Picture | None:
    """The finished machine without any marks, for the cover; None without any solid."""
    view = View(ISOMETRIC.direction)
    box = box_of(list(boxes_on_paper(scene, view).values()))
    size = box[1] - box[0]
    if not (size > 0).all():
        return None
    scale = min(COVER_MM[0] / float(size[0]), COVER_MM[1] / float(size[1]))
    drawing = draw(scene, View(view.direction, view.up, scale))
    low, high = drawing.box_mm
    window = Window(low=low - 0.5, high=high + 0.5, left=0.0, top=0.0, scale=1.0)
    says = f"{known.machine.name}, finished, seen {from_words(view)}."
    begin = head(
        round(window.right, 1), round(window.bottom, 1), known.machine.name, says, pens=pens_for(scale)
    )
    rows = drawn(drawing, window, "cover", strong=())
    return Picture(
        svg="\n".join([*begin, *rows, "</svg>", ""]), width_mm=round(window.right, 1),
        height_mm=round(window.bottom, 1), says=says, view=view, told=drawing.told,
    )  # fmt: skip


class _Composing:
    """One picture while it is made."""

    def __init__(
        self, known: Known, step: Step, scene: StepScene, view: View, width_mm: float, height_mm: float
    ) -> None:
        self.known, self.step, self.scene = known, step, scene
        self.width, self.height = width_mm, height_mm
        boxes = boxes_on_paper(scene.scene, view)
        whole = box_of(list(boxes.values()))
        focus = self._focus(boxes, view)
        part, large = focus[1] - focus[0], whole[1] - whole[0]
        self.close = bool((part < CLOSE_UP * large).all())
        low, high = whole
        if self.close:
            room = np.maximum(part * AROUND, (LEAST_SHOWN_MM - part) / 2)
            low, high = focus[0] - room, focus[1] + room
        # The drawing is made near the picture's scale, so that what is left out as too fine is right on it.
        shown = max(float((high - low).max()), 1e-6)
        scale = min((width_mm - 2 * EDGE_MM - SIDE_MM) / shown, MOST_SCALE)
        if not self.close and scale < SMALL_SCALE:
            self.scene = scene = without_specks(scene, boxes, scale)
        self.view = View(view.direction, view.up, scale)
        self.low, self.high = low * scale, high * scale
        self.stage = Stage(known=known, step=step, scene=scene, view=self.view)
        self.told = list(self.stage.drawing.told)
        self.tag = hashlib.blake2b(
            f"{step.id} {width_mm}".encode("utf-8", "surrogatepass"), digest_size=4
        ).hexdigest()

    def _focus(self, boxes: Mapping[str, Array], view: View) -> Array:
        """What must be in the picture: all that is new, its ways, the sizes, the threads."""
        scene = self.scene
        found = [boxes[name] for name in scene.new if name in boxes]
        points = [away.lead_mm for away in scene.away.values() if len(away.lead_mm)]
        points += [points_mm for _, points_mm in scene.threads]
        points += [np.stack([one.datum_mm, one.to_mm]) for one in scene.settings]
        found += [box_of([view.project(each)[:, :2]]) for each in points]
        if not scene.away and scene.reads:
            found += [boxes[name] for name in scene.reads.values() if name in boxes]
        return box_of(found) if found else box_of(list(boxes.values()))

    # -- layout ---------------------------------------------------------------------------------

    def picture(self, size: str) -> Picture:
        """All of it."""
        stage = self.stage
        edge = EDGE_MM if self.scene.new or self.scene.reads or self.scene.threads else 2.0
        small = small_sorts(stage, self._scale(edge, SIDE_MM + GAP_MM))
        hidden = hidden_sorts(stage)
        wide = SIDE_MM + GAP_MM if self.close or small or hidden else 0.0
        self._lower(edge, wide, min(len(small) + bool(hidden), 3))
        main = fitted_window(
            self.low, self.high, edge, edge, self.width - wide - 2 * edge, self.height - FOOT_MM - 2 * edge,
            MOST_SCALE / self.view.scale,
        )  # fmt: skip
        # Whatever lies in the margin is drawn too: call-outs stand between it.
        margin = edge / main.scale
        main = Window(low=main.low - margin, high=main.high + margin, left=0.0, top=0.0, scale=main.scale)
        paper = Paper(0.4, 0.4, self.width - wide - 0.4, self.height - FOOT_MM)
        rows = drawn(stage.drawing, main, f"w{self.tag}")
        stage.take(paper, main)
        # The axes stand higher than the foot, and over whatever else were there.
        wide_mm, high_mm = self.ground = ground_mm(stage, main, self.height)
        paper.take_box(0.0, self.height - high_mm, wide_mm, self.height)
        column = Column(left=self.width - SIDE_MM, bottom=self.height - FOOT_MM + 2)
        if self.close:
            where_it_lies(stage, column, main, self.tag)
        if hidden:  # a place is kept for the other side
            column.number += 1
            column.bottom -= TALL_MM + GAP_MM
        enlarged(stage, column, small, main, paper, self.tag)
        if hidden:
            column.number -= 1
            column.bottom += TALL_MM + GAP_MM
            other_side(stage, column, hidden, self.tag)
        through = [
            name for name in self.scene.new
            if name in stage.drawing.part and stage.is_named(name) and name not in column.other
            and stage.drawing.part[name].visible_share < LEAST_SHARE
        ]  # fmt: skip
        rows += self._through(through, main)
        rows += self._marks(paper, main)
        rows += self._call_outs(paper, main, column.named)
        rows += column.rows
        rows += foot(stage, main, self.height, empty=self.empty, over_drawing=self.close)
        says = says_of(stage)
        begin = head(
            self.width,
            self.height,
            self.step.title,
            says,
            size=size,
            pens=pens_for(self.view.scale * main.scale),
        )
        return Picture(
            svg="\n".join([*begin, *(row for row in rows if row), "</svg>", ""]),
            width_mm=self.width, height_mm=self.height, says=says,
            view=View(self.view.direction, self.view.up, 1.0),
            shares=self._how_seen(set(through), column), told=tuple(self.told),
        )  # fmt: skip

    def _how_seen(self, through: set[str], column: Column) -> dict[str, tuple[float, str]]:
        found = {}
        for name, share in self.stage.shares().items():
            if name in column.other:
                found[name] = (column.other[name], "other side")
            elif name in through:
                found[name] = (share, "through")
            else:
                found[name] = (share, "inset" if name in column.named else "seen")
        return found

    def _scale(self, edge: float, column: float) -> float:
        """Of the main window, to the drawing."""
        size = np.maximum(self.high - self.low, 1e-6)
        return min(
            (self.width - column - 2 * edge) / float(size[0]),
            (self.height - FOOT_MM - 2 * edge) / float(size[1]),
            MOST_SCALE / self.view.scale,
        )  # fmt: skip

    def _lower(self, edge: float, column: float, insets: int) -> None:
        """Makes a picture lower that its drawing does not fill."""
        needed = float(self.high[1] - self.low[1]) * self._scale(edge, column) + FOOT_MM + 2 * edge
        beside = FOOT_MM + (WHERE_MM + GAP_MM if self.close else 0.0) + (TALL_MM + GAP_MM) * insets
        self.height = round(min(self.height, max(needed, beside, LOWEST_MM)), 1)

    def _through(self, names: Sequence[str], window: Window) -> list[str]:
        """What is hidden is drawn in dashes through what hides it."""
        if not names:
            return []
        chosen = set(names)
        alone = Scene(tuple(piece for piece in self.scene.scene.pieces if piece.id in chosen))
        lines = [
            line
            for (_, sort), some in lines_in(draw(alone, self.view).ink, window, 0.3).items()
            if sort == OUTLINE
            for line in some
        ]
        return [group("through", [path(lines)])]

    def _marks(self, paper: Paper, window: Window) -> list[str]:
        """Ways in, empty holes, threads, keys and sizes; labels will leave them free."""
        view, scene = self.view, self.scene
        slots = self.known.timeline.walk.slot_of
        large = [name for name in scene.away if not self.known.machine.part[name].joint or name in slots]
        rows = leads(scene, view, window, large)
        paper.take_lines(
            window.at(view.project(away.lead_mm)) for away in scene.away.values() if len(away.lead_mm) > 1
        )
        points_mm = np.concatenate([scene.empty_holes_mm, *(look.at_mm for look in scene.looks)])
        visible = np.zeros(0, dtype=bool)
        if len(points_mm):
            visible = seen(scene.scene, view, points_mm, slack=0.3)
        self.looks = seen_looks(scene.looks, visible[len(scene.empty_holes_mm) :])
        visible = visible[: len(scene.empty_holes_mm)]
        self.empty = bool(visible.any())
        rows += empty_holes(scene, view, window, visible)
        more, lines = threads(scene, view, window)
        rows += more
        paper.take_lines(lines)
        self.turns = shown_turns(scene, view, window)
        rows += keys(self.turns, view, window)
        for turn in self.turns:
            long = 13.0 / (view.scale * window.scale)
            on = window.at(view.project(np.stack([turn.head_mm, turn.head_mm + turn.axis * long])))
            paper.take_lines([on])
            x, y = on[0] + (on[1] - on[0]) * 0.6
            paper.take_box(x - 2.4, y - 2.4, x + 2.4, y + 2.4)
        more, lines = sizes(scene.settings, view, window, paper)
        paper.take_lines(lines)
        for box in lines:
            if len(box) == 5:  # the words of a size: all of their box
                paper.take_box(*box.min(axis=0), *box.max(axis=0))
        return [*rows, *more]

    # -- call-outs ------------------------------------------------------------------------------

    def _call_outs(self, paper: Paper, window: Window, named: set[str]) -> list[str]:
        """Call-outs in the main window: sorts that no inset names, what is read, threads, keys."""
        wanted = [
            *self._sort_labels(window, named), *self._read_labels(window), *self._thread_labels(window),
            *self._key_labels(window), *look_labels(self.looks, self.view, window),
        ]  # fmt: skip
        placed, left = place(self._uncovered(wanted), paper)
        # A place to look at that has no room stands in the words beside the picture.
        self.told += [f"no room for the call-out {_named(name)}" for name in left if not is_look(name)]
        rows = []
        for one in placed:
            if one.name.startswith(READ):
                rows.append(
                    led(one) + flag(one.name[1:], one.left_mm, one.top_mm, one.width_mm, one.height_mm)
                )
            elif is_look(one.name):
                rows.append(look_mark(one))
            elif one.name.startswith((KEY, THREAD)):
                size = 2.9 if one.name.startswith(KEY) else 2.6
                middle = (one.left_mm + one.width_mm / 2, one.top_mm + one.height_mm / 2)
                rows.append(led(one) + words(one.name[1:], *middle, size))
            else:
                rows.append(self.stage.label(one))
        return rows

    def _uncovered(self, wanted: Sequence[Wanted]) -> list[Wanted]:
        """Labels without those points that lie under the ground of a close-up's axes."""
        if not self.close:
            return list(wanted)
        wide_mm, high_mm = self.ground
        found = []
        for one in wanted:
            x, y = one.anchors_mm.T
            free = one.anchors_mm[(x > wide_mm) | (y < self.height - high_mm)]
            if len(free):
                found.append(replace(one, anchors_mm=free))
        return found

    def _sort_labels(self, window: Window, named: set[str]) -> list[Wanted]:
        found = []
        for sort, names in self.stage.sorts.items():
            if any(name in named for name in names):
                continue
            if self.scene.threads and not self.known.letter(sort):
                continue  # from a roll: each length that is laid has its own name
            anchors = [
                part.anchor_mm for part in self.stage.best(names, window) if part.anchor_mm is not None
            ]
            points = window.at(np.array(anchors)) if anchors else self._hidden_points(names, window)
            if len(points):
                found.append(self.stage.wanted(sort, points))
        return found

    def _hidden_points(self, names: Sequence[str], window: Window) -> Array:
        """Where hidden pieces lie: their call-out points at the dashes."""
        middles = [self.stage.boxes[name].mean(axis=0) for name in names if name in self.stage.boxes]
        inside = [middle for middle in middles if bool(window.holds(middle[None])[0])]
        return window.at(np.array(inside[:ANCHORS])) if inside else np.zeros((0, 2))

    def _read_labels(self, window: Window) -> list[Wanted]:
        on_part: dict[str, list[int]] = {}
        for number, name in enumerate(self.scene.reads.values(), start=1):
            on_part.setdefault(name, []).append(number)
        found = []
        for name, numbers in list(on_part.items())[:MOST_READS]:
            part = self.stage.drawing.part.get(name)
            if part is None or part.anchor_mm is None:
                continue
            # several points of it, for the best may be where nothing can stand beside it
            points = [part.anchor_mm[:2], *(line.points_mm.mean(axis=0) for line in part.lines[:12])]
            inside = [point for point in points if bool(window.holds(point[None])[0])]
            if inside:
                text = f"read {', '.join(map(str, numbers))}"
                found.append(Wanted(
                    name=READ + text, width_mm=text_width(text, PILL_MM * 0.7) + 1.6, height_mm=PILL_MM,
                    anchors_mm=window.at(np.array(inside)),
                ))  # fmt: skip
        return found

    def _key_labels(self, window: Window) -> list[Wanted]:
        found: dict[float, Wanted] = {}
        long = 10.0 / (self.view.scale * window.scale)
        for turn in self.turns:
            if turn.key_mm not in found:
                text = f"key {turn.key_mm:g}"
                tips = [each.head_mm + each.axis * long for each in self.turns if each.key_mm == turn.key_mm]
                found[turn.key_mm] = Wanted(
                    name=KEY + text, width_mm=text_width(text, 2.9) + 0.4, height_mm=3.2,
                    anchors_mm=window.at(self.view.project(np.array(tips))),
                )  # fmt: skip
        return list(found.values())

    def _thread_labels(self, window: Window) -> list[Wanted]:
        """Names of the cables and belts that are laid, when they are few enough to be told apart."""
        lines: dict[str, list[Array]] = {}
        for name, points in self.scene.threads:
            lines.setdefault(name, []).append(window.at(self.view.project(points)))
        if len(lines) > MOST_THREADS:
            return []
        found = []
        for name, each in lines.items():
            spots = [
                (a + (b - a) * share, float(np.hypot(*(b - a))))
                for on in each for a, b in itertools.pairwise(on) for share in (0.5, 0.3, 0.7)
            ]  # fmt: skip
            spots.sort(key=lambda pair: -pair[1])
            text = plain(name.rpartition("/")[2])
            text = text if len(text) <= 16 else f"{text[:15]}…"
            found.append(Wanted(
                name=THREAD + text, width_mm=text_width(text, 2.6) + 0.6, height_mm=3.2,
                anchors_mm=np.array([point for point, _ in spots[:6]]),
            ))  # fmt: skip
        return found


def _named(name: str) -> str:
    """A label's name without the sign that says of which sort it is."""
    return name.lstrip(READ + KEY + THREAD)

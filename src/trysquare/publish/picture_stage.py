"""A step's scene as it is drawn from one side: what of it is where, what its call-outs say and point at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Step
from trysquare.publish.callouts import Paper, Placed, Wanted
from trysquare.publish.known import Known
from trysquare.publish.picture_svg import group, path, pill, pill_width, text_width
from trysquare.publish.picture_window import Window
from trysquare.publish.step_shown import StepScene
from trysquare.solid.drawing import NEW, Drawing, DrawnPart, View, boxes_on_paper, draw

PILL_MM = 4.3
BESIDE = 0.63  # size of the count beside a ring, in parts of the ring's height
ANCHORS = 4  # pieces of one sort that its call-out may point at
LONGEST_NAME = 18


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class Stage:
    """A drawing of a step's scene. Its paper mm are `view.scale` for each mm of the machine. `within` (2, 2):
    only what meets this box of it is needed."""

    known: Known
    step: Step
    scene: StepScene
    view: View
    within: Array | None = None

    @cached_property
    def drawing(self) -> Drawing:
        return draw(self.scene.scene, self.view, self.within)

    @cached_property
    def boxes(self) -> dict[str, Array]:
        """The box (2, 2) on the drawing's paper of every piece, hidden or not."""
        return boxes_on_paper(self.scene.scene, self.view)

    def is_old(self, name: str) -> bool:
        """Whether a piece came with an earlier step."""
        events = self.known.events_of[self.step.id]
        at = self.known.timeline.comes.get(name)
        return at is not None and bool(events) and at < events[0].at

    def is_named(self, name: str) -> bool:
        """What a unit that comes as a whole holds inside was shown when it was built."""
        return name not in self.scene.moving or not self.known.machine.part[name].joint

    @cached_property
    def coming(self) -> frozenset[str]:
        """What comes in this step: new pieces, and units that come as a whole."""
        return frozenset(name for name in self.scene.new if name in self.scene.away or not self.is_old(name))

    @cached_property
    def sorts(self) -> dict[str, list[str]]:
        """Pieces drawn strong by part id: each sort has one call-out."""
        rows: dict[str, list[str]] = {}
        for name in self.scene.new:
            if self.is_named(name):
                rows.setdefault(self.known.machine.part[name].type.id, []).append(name)
        return rows

    def shares(self) -> dict[str, float]:
        """How much of its outline each coming piece shows."""
        part = self.drawing.part
        return {
            name: part[name].visible_share
            for name in self.scene.new
            if name in part and name in self.coming and self.is_named(name)
            and (not self.is_old(name) or name in self.scene.moving)
        }  # fmt: skip

    # -- call-outs ------------------------------------------------------------------------------

    def best(self, names: Sequence[str], window: Window) -> list[DrawnPart]:
        """The pieces of a sort that are seen best within a window."""
        inside = []
        for name in names:
            part = self.drawing.part.get(name)
            if part is None or part.anchor_mm is None or part.box_mm is None:
                continue
            if bool(window.holds(part.anchor_mm[None])[0]):
                inside.append(part)
        # Rounded: of pieces seen equally well the first is taken, whatever the last digits are.
        inside.sort(
            key=lambda part: (
                -round(round(part.visible_share, 1) * min(part.visible_mm, 40.0 / window.scale), 2)
            )
        )
        return inside[:ANCHORS]

    def text(self, sort: str) -> tuple[str, str]:
        """What a call-out says: in its ring the letter, else the name; beside it how many come."""
        names = self.sorts[sort]
        coming = [name for name in names if name in self.coming] or names
        count = f"× {len(coming)}" if len(coming) > 1 else ""
        letter = self.known.letter(sort)
        if letter:
            return letter, count
        name = self.known.machine.part[names[0]].type.name
        return (name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"), count

    def width_of(self, sort: str) -> float:
        """How wide a call-out is."""
        letter, beside = self.text(sort)
        return pill_width(letter, PILL_MM) + (text_width(beside, PILL_MM * BESIDE) + 0.6 if beside else 0.0)

    def wanted(self, sort: str, anchors_mm: Array) -> Wanted:
        """A call-out that wants a place."""
        return Wanted(name=sort, width_mm=self.width_of(sort), height_mm=PILL_MM, anchors_mm=anchors_mm)

    def label(self, one: Placed) -> str:
        """A call-out in its place, with its leader."""
        return led(one) + pill(*self.text(one.name), one.left_mm, one.top_mm, PILL_MM)

    def take(self, paper: Paper, window: Window) -> None:
        """Takes the cells that labels must leave free."""
        for part in self.drawing.parts:
            if part.role == NEW and part.region:
                paper.take_area([window.at(loop) for loop in part.region])
        ink = self.drawing.ink
        paper.take_chains(window.at(ink.points_mm), ink.first)


def led(one: Placed) -> str:
    """A leader with its dot."""
    line = np.array([one.from_mm, one.to_mm])
    x, y = one.to_mm
    return (
        group("halo", [path([line])])
        + group("leader", [path([line])])
        + f'<circle class="dot" cx="{x:.2f}" cy="{y:.2f}" r=".5"/>'
    )


def box_of(boxes: Sequence[Array]) -> Array:
    """The box (2, 2) about boxes or points (n, 2); zeros about nothing."""
    if not boxes:
        return np.zeros((2, 2))
    points = np.concatenate(boxes)
    return np.stack([points.min(axis=0), points.max(axis=0)])

"""From where a step is looked at: where what comes is seen best, and from where the step before was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trysquare.publish.known import Known
from trysquare.publish.step_scene import StepScenes
from trysquare.publish.step_shown import StepScene
from trysquare.solid.drawing import DIRECTIONS, ISOMETRIC, Choice, View, seen

FIRST = 4  # the isometric views from above are tried before all others
ENOUGH = 0.4  # mean share seen with which no other view is tried
OF_EACH_SORT = 3  # pieces of one sort that are looked for
KEY_OUT_MM = 25.0  # before a screw's head: where a hand would be


def step_view(known: Known, scene: StepScene, previous: View | None) -> View:
    """The direction, at scale 1. Nothing to see: as before."""
    wanted = looked_for(known, scene)
    coming = set(scene.away) | set(scene.moving)
    if wanted and (coming or not scene.turns):
        choice = Choice(scene.scene, wanted)
        chosen = choice.best(previous, DIRECTIONS[:FIRST])
        shares = list(choice.shares(chosen).values())
        if shares and float(np.mean(shares)) < ENOUGH:
            chosen = choice.best(previous)
        return replace(chosen, scale=1.0)
    if scene.turns:
        return _towards_keys(scene, previous)
    return replace(previous or ISOMETRIC, scale=1.0)


def says_nothing(scene: StepScene, view: View) -> bool:
    """Whether a picture shows no work, only parts that are named, and hardly anything of them is seen."""
    if scene.away or scene.turns or scene.threads or scene.settings or scene.reads or scene.moving:
        return False
    shares = list(Choice(scene.scene, list(scene.new)).shares(view).values())
    return float(np.mean(shares)) < ENOUGH


def looked_for(known: Known, scene: StepScene) -> list[str]:
    """What the view is chosen for: of each sort that comes a few pieces, of a unit its large parts."""
    moving = set(scene.moving)
    rows: dict[str, list[str]] = {}
    for name in scene.new:
        part = known.machine.part[name]
        if name in moving and part.joint:
            continue
        rows.setdefault(part.type.id, []).append(name)
    found = []
    for names in rows.values():
        step = max(1, len(names) // OF_EACH_SORT)
        found += names[::step][:OF_EACH_SORT]
    return found


def _towards_keys(scene: StepScene, previous: View | None) -> View:
    """The usual view in which most of the keys could be seen; the last one if it is as good."""
    points = np.array([turn.head_mm + turn.axis * KEY_OUT_MM for turn in scene.turns])
    views = [View(direction) for direction in DIRECTIONS[:FIRST]]
    if previous is not None:
        views.insert(0, replace(previous, scale=1.0))
    shares = [float(seen(scene.scene, view, points).mean()) for view in views]
    return views[_best(shares)]


def _best(shares: Sequence[float]) -> int:
    """The first of the largest; another must be better by a tenth than the one before it."""
    best = 0
    for number, share in enumerate(shares):
        if share > shares[best] + 0.1:
            best = number
    return best


def view_of_step(known: Known, scenes: StepScenes, step_id: str) -> tuple[StepScene, View]:
    """A step's scene, and the view of the step before it in the same run of steps of one unit."""
    view, unit = ISOMETRIC, None
    for step, scene in scenes:
        if step.unit != unit:
            view, unit = ISOMETRIC, step.unit
        if step.id == step_id:
            return scene, view
        following = next((other.unit for other in known.machine.steps if other.id == step_id), None)
        if step.unit == following and not scene.is_empty and scene.scene.pieces:
            seen_from = step_view(known, scene, view)
            view = view if says_nothing(scene, seen_from) else seen_from
    raise KeyError(step_id)

"""All pictures of a book: steps that follow each other in one unit share their view as far as they can.

Runs of steps are independent of each other, so they are drawn side by side where the computer can.
"""

from __future__ import annotations

import hashlib
import itertools
import multiprocessing
import os
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from trysquare.machine.values import Step
from trysquare.publish.known import Known
from trysquare.publish.picture_store import PictureStore
from trysquare.publish.step_picture import HEIGHT_MM, WIDTH_MM, Picture, machine_picture, step_picture
from trysquare.publish.step_scene import StepScenes
from trysquare.publish.step_shown import StepScene, facts_of
from trysquare.solid.drawing import ISOMETRIC, View

Run = list[tuple[Step, StepScene]]

_NOTHING: dict[str, Any] = {"nothing": True}  # kept for a step whose picture would say nothing

_work: tuple[Known, list[Run], PictureStore, str, float, float] | None = None


def pictures_of(
    known: Known,
    store: PictureStore | None = None,
    stamp: str = "",
    *,
    width_mm: float = WIDTH_MM,
    height_mm: float = HEIGHT_MM,
    workers: int | None = None,
    told: Callable[[Mapping[str, Picture]], None] | None = None,
) -> dict[str, Picture]:
    """The picture of each step that has one, by its id, and of the finished machine under "".

    `stamp` names the program: pictures of another one are not taken from the store. `told` is called with
    pictures as they are drawn, a run of steps at a time.
    """
    store = store or PictureStore(None)
    scenes = StepScenes(known)
    every = list(scenes)
    runs = [list(rows) for _, rows in itertools.groupby(every, key=lambda pair: pair[0].unit)]
    found = _drawn(known, runs, store, stamp, width_mm, height_mm, workers, told or (lambda _: None))
    finished = scenes.finished()
    if finished.pieces:
        key = _key(stamp, known.machine.name, facts_of(finished), (), width_mm, height_mm, ISOMETRIC)
        whole = _kept(store, key) or machine_picture(known, finished)
        if whole is not None:
            _keep(store, key, whole)
            found[""] = whole
            if told is not None:
                told({"": whole})
    store.thin()
    return found


def _drawn(
    known: Known, runs: list[Run], store: PictureStore, stamp: str, width_mm: float, height_mm: float,
    workers: int | None, told: Callable[[Mapping[str, Picture]], None],
) -> dict[str, Picture]:  # fmt: skip
    """All runs, the longest first, by as many processes as are worth it."""
    global _work  # noqa: PLW0603  # what the processes that are forked off find ready
    count = workers if workers is not None else min(2, os.cpu_count() or 1)
    found: dict[str, Picture] = {}
    missing = []
    for number, run in enumerate(runs):
        done = _from_store(known, run, store, stamp, width_mm, height_mm)
        if done is None:
            missing.append(number)
        else:
            found |= done
            told(done)
    _work = (known, runs, store, stamp, width_mm, height_mm)
    try:
        missing.sort(key=lambda number: -len(runs[number]))
        if count < 2 or len(missing) < 2 or "fork" not in multiprocessing.get_all_start_methods():
            for number in missing:
                drawn = _draw_run(number)
                found |= drawn
                told(drawn)
        else:
            # Python warns of forks beside threads; ours hold none of the locks that the children need.
            with (
                warnings.catch_warnings(action="ignore", category=DeprecationWarning),
                multiprocessing.get_context("fork").Pool(count) as pool,
            ):
                for drawn in pool.imap_unordered(_draw_run, missing, chunksize=1):
                    found |= drawn
                    told(drawn)
    finally:
        _work = None
    return {step.id: found[step.id] for run in runs for step, _ in run if step.id in found}


def _draw_run(number: int) -> dict[str, Picture]:
    """One run of steps, each seen as the one before if that shows it well."""
    assert _work is not None
    known, runs, store, stamp, width_mm, height_mm = _work
    found: dict[str, Picture] = {}
    view = ISOMETRIC
    for step, scene in runs[number]:
        key = _step_key(known, step, scene, stamp, width_mm, height_mm, view)
        picture = _kept(store, key)
        if picture is None:
            if store.read(key) == _NOTHING:
                continue
            picture = step_picture(known, step, scene, view, width_mm=width_mm, height_mm=height_mm)
            if picture is not None:
                _keep(store, key, picture)
            else:
                store.keep(key, _NOTHING)
        if picture is not None:
            found[step.id] = picture
            view = picture.view
    return found


def _from_store(
    known: Known, run: Run, store: PictureStore, stamp: str, width_mm: float, height_mm: float
) -> dict[str, Picture] | None:
    """A whole run from the store; None when anything of it must be drawn."""
    found: dict[str, Picture] = {}
    view = ISOMETRIC
    for step, scene in run:
        if scene.is_empty or not scene.scene.pieces:
            continue
        key = _step_key(known, step, scene, stamp, width_mm, height_mm, view)
        picture = _kept(store, key)
        if picture is not None:
            found[step.id] = picture
            view = picture.view
        elif store.read(key) != _NOTHING:
            return None
    return found


# --- keys


def _step_key(
    known: Known, step: Step, scene: StepScene, stamp: str, width_mm: float, height_mm: float, view: View
) -> str:
    letters = sorted({(known.machine.part[name].type.id, known.letter(known.machine.part[name].type.id),
                       known.machine.part[name].type.name) for name in scene.new})  # fmt: skip
    first = known.events_of[step.id][0].at if known.events_of[step.id] else 0
    olds = tuple(name for name in scene.new if known.timeline.comes.get(name, first) < first)
    about = (step.id, step.title, known.number_of[step.id], letters, olds)
    return _key(stamp, repr(about), scene.facts(), scene.new, width_mm, height_mm, view)


def _key(
    stamp: str,
    about: str,
    facts: Sequence[bytes],
    new: Sequence[str],
    width: float,
    height: float,
    view: View,
) -> str:
    digest = hashlib.blake2b(digest_size=20)
    way = tuple(round(part, 6) for part in view.direction)
    for part in (stamp, about, repr(tuple(new)), f"{width} {height} {way}"):
        digest.update(part.encode("utf-8", "surrogatepass") + b"\0")
    for row in facts:
        digest.update(row + b"\0")
    return digest.hexdigest()


def _kept(store: PictureStore, key: str) -> Picture | None:
    facts = store.read(key)
    if facts is None:
        return None
    try:
        return Picture(
            svg=facts["svg"], width_mm=facts["width"], height_mm=facts["height"], says=facts["says"],
            view=View(tuple(facts["direction"])),
            shares={name: (share, how) for name, share, how in facts["shares"]}, told=tuple(facts["told"]),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        return None


def _keep(store: PictureStore, key: str, picture: Picture) -> None:
    facts: dict[str, Any] = {
        **picture.facts(),
        "direction": list(picture.view.direction),
        "shares": [[name, share, how] for name, (share, how) in picture.shares.items()],
        "told": list(picture.told),
    }
    store.keep(key, facts)

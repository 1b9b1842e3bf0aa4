"""Where to look on a picture, lest a part goes in wrong: a leader to the feature, and its number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trysquare.publish.callouts import Flags, Placed, Wanted
from trysquare.publish.picture_stage import PILL_MM, led
from trysquare.publish.picture_svg import rect, text_width, words
from trysquare.publish.picture_window import Window
from trysquare.publish.step_shown import Look
from trysquare.solid.drawing import View

MOST_LOOKS = 4  # of a picture: the words below it name all
_LOOK = "\3"  # first sign of such a label's name


def look_labels(looks: Sequence[Look], view: View, window: Window) -> list[Wanted]:
    """Labels of the features that can be seen, the costliest mistakes first."""
    found: list[Wanted] = []
    for look in looks:
        on = view.project(look.at_mm)
        on = on[window.holds(on)]
        if len(found) < MOST_LOOKS and len(on):
            text = f"look {look.number}"
            wide = text_width(text, PILL_MM * 0.68) + 1.6
            anchors = window.at(on)
            found.append(Wanted(name=_LOOK + text, width_mm=wide, height_mm=PILL_MM, anchors_mm=anchors))
    return found


def seen_looks(looks: Sequence[Look], visible: Flags) -> list[Look]:
    """Looks with those of their points that are seen; `visible`: a flag for each point of all of them."""
    found: list[Look] = []
    at = 0
    for look in looks:
        flags = visible[at : at + len(look.at_mm)]
        at += len(look.at_mm)
        if flags.any():
            found.append(replace(look, at_mm=look.at_mm[flags]))
    return found


def is_look(name: str) -> bool:
    """Whether a label's name is that of a place to look at."""
    return name.startswith(_LOOK)


def look_mark(one: Placed) -> str:
    """Black words in a frame: told apart from what is read, which is white on black."""
    middle = (one.left_mm + one.width_mm / 2, one.top_mm + one.height_mm / 2)
    return (
        led(one)
        + rect(one.left_mm, one.top_mm, one.width_mm, one.height_mm, name="pill", round_mm=0.5)
        + words(one.name.removeprefix(_LOOK), *middle, PILL_MM * 0.68, name="strong")
    )

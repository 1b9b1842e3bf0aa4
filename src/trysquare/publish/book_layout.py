"""How a step's page is laid out: what stands beside the picture and what below it.

The height of each way is estimated from the lengths of its words, and the lowest is taken: two low steps
share a page. An estimate is enough to choose by, and to tell which steps may be higher than a page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

PAGE_MM = 180.0  # between the margins; a letter page has some more
GAP_MM = 4.0
HALF_MM = 87.0
BARE_MM = 62.0  # the column beside the work of a step without a picture
CHAR_MM = 1.42  # mean width of a sign of our sans at 9 points
LINE_MM = 3.5
ROW_MM = 4.0  # a line that begins with a letter in its ring
HEAD_MM = 4.3  # a small heading with its air
PICTURE_ROW_MM = 9.6  # a part with its picture
SURE_MM = 230.0  # what is estimated lower fits on a page for certain
BODY_MM = 267.0  # of a page between its margins
REAL = 0.9  # share of the estimate that a step takes in truth; of the demo's books 0.77 to 0.96
MAYBE_MM = 20.0  # estimated higher by so much, two may still fit
SMALLER = 0.85  # so large are the pictures of two steps that share a page only then
MOST_BESIDE = 9  # parts: more stand in two columns of their own below the picture

BELOW, BESIDE, ALL_BESIDE = "below", "beside", "all beside"


def layout_of(step: Mapping[str, Any]) -> str:
    """The lowest way to lay out a step of `book_steps.step_facts`: the work "below" the picture, "beside" it,
    or "all beside" it, readings, too. A step without a picture has one way only."""
    heights = heights_mm(step)
    return min(heights, key=lambda way: (round(heights[way]), way != BELOW))


def is_long(step: Mapping[str, Any]) -> bool:
    """Whether the step may be higher than a page: it then begins on a page of its own and may be parted."""
    return height_mm(step) > SURE_MM


def pairs(steps: Sequence[Mapping[str, Any]]) -> frozenset[int]:
    """Numbers of those steps that with the one after them may fit on one page when the pictures of both are a
    little smaller, and fit on none as they are. The page measures them and decides."""
    found: set[int] = set()
    at = 0
    while at < len(steps) - 1:
        one, other = steps[at], steps[at + 1]
        both = REAL * (height_mm(one) + height_mm(other)) + GAP_MM
        if both <= BODY_MM and not (one["long"] or other["long"]):
            at += 2
            continue
        if one["picture"] and other["picture"] and not (one["long"] or other["long"]):
            saved = (1 - SMALLER) * (one["picture"]["height"] + other["picture"]["height"])
            if both - saved <= BODY_MM + MAYBE_MM:
                found.add(one["number"])
                at += 2
                continue
        at += 1
    return frozenset(found)


def height_mm(step: Mapping[str, Any]) -> float:
    """The estimated height of the whole step, laid out in its lowest way."""
    tables = sum(
        2 * HEAD_MM + ROW_MM * len(rows) + more
        for rows, more in (
            (step["nuts"], 0.0),
            (step["wires"], LINE_MM * sum(map(_more_lines, step["wires"]))),
        )
        if rows
    )
    signs: float = 16.0 * sum(bool(one["sign"]) for one in step["actions"])
    heads: float = 15.0 + LINE_MM * bool(step["why"]) + 8.0 * len(step["cautions"])
    if step["picture"] is None:
        hand = sum(_words(row, BARE_MM) for row in (step["tools"], step["supplies"]) if row)
        side = _parts(step["parts"], BARE_MM) + hand + _reading(step, BARE_MM) + _wrong(step, BARE_MM)
        work = _doing(step, PAGE_MM - BARE_MM - 6)
        return heads + max(work + tables + signs, side + _leaving(step, BARE_MM))
    return heads + min(heights_mm(step).values()) + tables + signs


def heights_mm(step: Mapping[str, Any]) -> dict[str, float]:
    """The estimated height of each way, without the heads and tables that are the same in all."""
    picture = step["picture"]
    if picture is None:
        return {BELOW: 0.0}
    beside = PAGE_MM - picture["width"] - GAP_MM
    hand = sum(_words(row, beside) for row in (step["tools"], step["supplies"]) if row)
    many = len(step["parts"]) > MOST_BESIDE
    parts = 0.0 if many else _parts(step["parts"], beside)
    apart = _parts(step["parts"], HALF_MM) / 2 if many else 0.0
    doing = {width: _doing(step, width) for width in (beside, HALF_MM, PAGE_MM)}
    leaving = {width: _leaving(step, width) for width in (beside, HALF_MM, PAGE_MM)}
    reading, wrong = _reading(step, HALF_MM), _wrong(step, HALF_MM)
    two = wrong / 2 + HEAD_MM / 2 if len(step["mistakes"]) > 1 else wrong
    high = picture["height"]
    side = reading + wrong
    return {
        BELOW: max(high, parts + hand) + apart
        + (max(doing[HALF_MM], side + leaving[HALF_MM]) if side else doing[PAGE_MM] + leaving[PAGE_MM]),
        BESIDE: max(high, parts + hand + doing[beside] + leaving[beside]) + apart
        + (max(reading, wrong) if reading and wrong else reading + two),
        ALL_BESIDE: max(high, parts + hand + doing[beside] + _reading(step, beside) + leaving[beside]) + apart
        + two,
    }  # fmt: skip


def _more_lines(wire: Mapping[str, Any]) -> int:
    """How many lines the row of a wire has beyond its first."""
    return _lines(f"{wire['to']} through {wire['through']}", 50.0) - 1 if wire["through"] else 0


def _lines(text: str, width_mm: float) -> int:
    return max(1, math.ceil(len(text) * CHAR_MM / width_mm)) if text else 0


def _words(said: Iterable[str], width_mm: float) -> float:
    return HEAD_MM + _lines(", ".join(said), width_mm) * LINE_MM


def _parts(parts: Iterable[Mapping[str, Any]], width_mm: float) -> float:
    room = width_mm - 31  # letter, count and picture stand beside the words
    rows = [
        max(PICTURE_ROW_MM, 2.3 + LINE_MM * sum(_lines(one[key], room) for key in ("name", "size", "where")))
        for one in parts
    ]
    return HEAD_MM + sum(rows) if rows else 0.0


def _doing(step: Mapping[str, Any], width_mm: float) -> float:
    room = width_mm - 5
    high = HEAD_MM
    for one in step["actions"]:
        said = " ".join(word for word in (one["verb"], one["to"], one["how"], one["says"]) if word)
        high += 1.7 + LINE_MM * (_lines(said, room) + _lines(one["order"], room))
        for screw in one["screws"]:
            words = " · ".join(screw[key] for key in ("name", "key", "torque", "joints") if screw[key])
            high += ROW_MM + LINE_MM * (_lines(words, room - 12) - 1)
    return high


def _reading(step: Mapping[str, Any], width_mm: float) -> float:
    rows = [
        8.0 + LINE_MM * (_lines(f"{one['what']} of {one['of']}: at most {one['limit']}", width_mm)
                         + _lines(f"{one['with']} {one['verdict']}".strip(), width_mm))
        for one in step["reads"]
    ]  # fmt: skip
    return HEAD_MM + sum(rows) if rows else 0.0


def _wrong(step: Mapping[str, Any], width_mm: float) -> float:
    rows = [
        1.6 + LINE_MM * _lines(" ".join(str(word) for word in one.values()) + " also goes in", width_mm)
        for one in step["mistakes"]
    ]
    return HEAD_MM + sum(rows) if rows else 0.0


def _leaving(step: Mapping[str, Any], width_mm: float) -> float:
    rows = [
        1.3 + LINE_MM * _lines(f"{one['state']} until {one['joints']}", width_mm) for one in step["leaves"]
    ]
    return HEAD_MM + sum(rows) if rows else 0.0

"""How a person says where something is: front left, the back end of left-base, push it right."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from trysquare.ground.placement import Array
from trysquare.truing.bodies import Assembly, Body
from trysquare.truing.features import Feature, Features
from trysquare.truing.readings import Reading

_WAYS = (("left", "right"), ("to the front", "to the back"), ("down", "up"))
_SIDES = (("left", "right"), ("front", "back"), ("low", "high"))
_ENDS = (("left", "right"), ("front", "back"), ("bottom", "top"))
_OUTER = 0.3  # share of the machine's size that counts as its side


def way_words(way: Sequence[float]) -> str:
    """A direction as one pushes: "right", "to the back", "up"; a slanting one by its two largest parts."""
    size = np.abs(np.asarray(way))
    order = [int(axis) for axis in np.argsort(-size) if size[axis] > 0.35]
    return " and ".join(_WAYS[axis][int(way[axis] > 0)] for axis in order) or "along"


def spot_words(assembly: Assembly, at_mm: Sequence[float] | Array) -> str:
    """Where in the machine a spot is: "front left", "back right, high"; "in the middle"."""
    corners = np.array([body.centre_mm for body in assembly.bodies])
    low, high = corners.min(axis=0), corners.max(axis=0)
    share = (np.asarray(at_mm) - low) / np.maximum(high - low, 1e-9)
    words = ["", "", ""]
    for axis in range(3):
        if high[axis] - low[axis] > 20 and not _OUTER < share[axis] < 1 - _OUTER:
            words[axis] = _SIDES[axis][int(share[axis] > 0.5)]
    flat = " ".join(word for word in (words[1], words[0]) if word)
    return ", ".join(word for word in (flat, words[2]) if word) or "in the middle"


def end_words(body: Body, sign: float) -> str:
    """An end of a body as it lies in the machine: "the top end of left-front"."""
    way = sign * body.along
    axis = int(np.argmax(np.abs(way)))
    return f"the {_ENDS[axis][int(way[axis] > 0)]} end of {short(body.id)}"


def short(name: str) -> str:
    """A placed id without its unit."""
    return name.rpartition("/")[2]


_FACES = (("left", "right"), ("front", "back"), ("underside", "top"))


def feature_words(body: Body, feature: Feature) -> str:
    """A feature as one points at it: "the front end of left-base, right side", "the top of front-base"."""
    spec, _, station = feature.spec.partition("@")
    turn = body.placed.placement.turn
    sides: list[str] = []
    end = 0.0
    for axis, side in enumerate(_sides(spec, body.has_ends)):
        if side and axis == 0 and body.has_ends:
            end = side
        elif side:
            sides.append(_side_words(side * turn[:, axis]))
    if feature.sort == "hole":
        return f"hole {spec} of {short(body.id)}"
    if end:
        return ", ".join([end_words(body, end), *sides])
    whole = " and ".join(sides)
    at = f", {float(station.lstrip('ab')):g} mm from {_end_of(body, station)}" if station else ""
    return f"{f'the {whole} of ' if whole else ''}{short(body.id)}{at}"


def _end_of(body: Body, station: str) -> str:
    return end_words(body, 1.0 if station.startswith("b") else -1.0).partition(" of ")[0]


def _side_words(way: Array) -> str:
    axis = int(np.argmax(np.abs(way)))
    word = _FACES[axis][int(way[axis] > 0)]
    return word if axis == 2 else f"{word} side"


def _sides(spec: str, has_ends: bool) -> tuple[float, float, float]:
    """The signs of a feature's sides along its own three axes."""
    found = [0.0, 0.0, 0.0]
    if has_ends and spec[:1] in ("a", "b"):
        found[0] = -1.0 if spec[0] == "a" else 1.0
    for sign, axis in itertools.pairwise(spec):
        if sign in "+-" and axis in "xyz":
            found["xyz".index(axis)] = 1.0 if sign == "+" else -1.0
    return found[0], found[1], found[2]


def reading_words(assembly: Assembly, features: Features, reading: Reading) -> str:
    """What to read, as one says it to a person at the bench."""

    def words(name: str, at_mm: float | None = None) -> str:
        feature = features.find(name, at_mm)
        number = assembly.number(feature.part)
        return feature_words(assembly.bodies[number], feature) if number is not None else name

    sort, first = reading.sort, reading.first
    if sort == "direct":
        return first
    if sort == "length":
        return f"the length of {short(features.find(first).part)}"
    if sort == "gap":
        turned = ", square turned over" if reading.turned else ""
        return f"the square: stock on {words(first)}, blade along {words(reading.second)}{turned}"
    if sort == "height":
        return f"the height of {words(first)} over the plate"
    if sort == "rock":
        return f"the gap under {words(first)} while its other three corners touch the plate"
    if sort == "level":
        return f"the level along {words(first)}"
    if sort == "sweep":
        return f"the dial carried along {words(first)}, on {words(reading.second, reading.at_mm)}"
    joined = "the diagonal from" if sort == "diagonal" else "the distance from"
    return f"{joined} {words(first)} to {words(reading.second)}"

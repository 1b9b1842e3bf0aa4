"""A belt's way as one line: its free spans, and round each pulley the arc on which it lies.

A span ends where the belt touches a pulley and the next one begins where it leaves it, both along the
tangent there: that fixes the circle between them.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import BeltRun

ARC_STEP_RAD = math.radians(15)  # between points of an arc: finer is not seen on a picture
STRAIGHT = 1e-9  # sine of the angle below which two directions are one


def belt_line(run: BeltRun) -> Array:
    """Array (n, 3), millimetres in the machine frame, from the first span's beginning to the last one's end;
    a closed belt ends where it begins. Empty (0, 3) without spans."""
    spans = [np.array([span.from_mm, span.to_mm]) for span in run.spans]
    if not spans:
        return np.zeros((0, 3))
    pairs = list(itertools.pairwise(spans))
    if run.closed:
        pairs.append((spans[-1], spans[0]))
    normal = _normal(spans)
    line = [spans[0][0]]
    for before, after in pairs:
        line += [before[1], *_arc(before, after, normal)]
        if after is not spans[0]:
            line.append(after[0])
    line.append(spans[0][0] if run.closed else spans[-1][1])
    points = np.array(line)
    moved = np.linalg.norm(np.diff(points, axis=0), axis=1) > STRAIGHT
    return points[np.append(moved, True)] if moved.any() else points[:1]


def _normal(spans: list[Array]) -> Array:
    """The unit normal of the belt's plane; zero when all spans lie in one line."""
    ways = np.array([_along(span) for span in spans])
    points = np.concatenate(spans)
    crosses = np.cross(ways[0], np.concatenate([ways[1:], points - points[0]]))
    sizes = np.linalg.norm(crosses, axis=1)
    best = int(sizes.argmax()) if len(sizes) else 0
    return crosses[best] / sizes[best] if len(sizes) and sizes[best] > STRAIGHT else np.zeros(3)


def _along(span: Array) -> Array:
    """The unit direction of a span; zero for one without length."""
    way = span[1] - span[0]
    return np.asarray(way / (float(np.linalg.norm(way)) or 1.0))


def _arc(before: Array, after: Array, normal: Array) -> list[Array]:
    """Points strictly between where the belt touches a pulley and where it leaves it."""
    touch, leave = before[1], after[0]
    chord = leave - touch
    into, out = _along(before), _along(after)
    side = np.cross(normal, into)  # to the left of the way
    across = float(chord @ side)
    if not normal.any() or abs(across) < STRAIGHT:
        return []
    # The circle touches `into` at its beginning: its middle lies on the left (or right) at the radius.
    radius = float(chord @ chord) / (2 * across)
    middle = touch + side * radius
    turn = math.copysign(1.0, radius)
    angle = math.atan2(float(np.cross(into, out) @ normal), float(into @ out)) * turn % (2 * math.pi)
    steps = math.ceil(angle / ARC_STEP_RAD)
    spoke = touch - middle
    across_spoke = np.cross(normal, spoke) * turn
    return [
        middle + spoke * math.cos(angle * at / steps) + across_spoke * math.sin(angle * at / steps)
        for at in range(1, steps)
    ]

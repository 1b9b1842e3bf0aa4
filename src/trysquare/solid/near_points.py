"""Whether two sets of points lie on each other."""

from __future__ import annotations

import numpy as np

from trysquare.ground.placement import Array

_ALONG = np.array([0.5419, 0.6373, 0.5479])  # no edge of a usual part lies square to it
_PAIRS_AT_ONCE = 100_000


def lie_on_each_other(points_mm: Array, others_mm: Array, slack_mm: float) -> bool:
    """Whether each point (n, 3) has one of the others (m, 3) within the slack, and each of those a point.

    Pairs are looked for only where both lie near each other along one line, so it takes some n log n.
    """
    return _each_has_one(points_mm, others_mm, slack_mm) and _each_has_one(others_mm, points_mm, slack_mm)


def _each_has_one(points: Array, others: Array, slack: float) -> bool:
    if not len(points) or not len(others):
        return not len(points)
    along = _ALONG / np.linalg.norm(_ALONG)
    order = np.argsort(others @ along)
    sorted_others = others[order]
    at = sorted_others @ along
    mine = points @ along
    first = np.searchsorted(at, mine - slack, side="left")
    count = np.searchsorted(at, mine + slack, side="right") - first
    if not count.all():
        return False
    ends = np.cumsum(count)
    done, begin = 0, 0
    while begin < len(points):
        until = max(begin + 1, int(np.searchsorted(ends, done + _PAIRS_AT_ONCE, side="right")))
        some = count[begin:until]
        starts = ends[begin:until] - some - done
        pairs = np.arange(int(some.sum())) + np.repeat(first[begin:until] - starts, some)
        apart = sorted_others[pairs] - np.repeat(points[begin:until], some, axis=0)
        nearest = np.minimum.reduceat(np.einsum("ij,ij->i", apart, apart), starts)
        if float(nearest.max()) > slack * slack:
            return False
        done, begin = int(ends[until - 1]), until
    return True

"""Whether a cable to something that moves reaches every corner of the travel."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.fit.axes import Motion, motions
from trysquare.ground.placement import Array
from trysquare.machine.values import CableRun, Machine
from trysquare.tuning.wiring import ends_of

# A cable pulled straight breaks at its terminals: it keeps this much more than the straight way. Ours.
SPARE_SHARE, SPARE_MM = 0.05, 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """The free piece of a run between two holds that move apart.

    `has_mm`: its length with the slack; `needs_mm`: the straight way at the worst corner; `corner`: where
    each axis stands there, mm of travel.
    """

    run: CableRun
    begins: str
    ends: str
    has_mm: float
    needs_mm: float
    corner: Mapping[str, float]

    @property
    def spare_mm(self) -> float:
        """What is left at the worst corner."""
        return self.has_mm - self.needs_mm

    @property
    def wanted_mm(self) -> float:
        """What should be left."""
        return max(SPARE_MM, SPARE_SHARE * self.needs_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """A place where the run is held: index of its path's point, the part, the axes that move it."""

    index: int
    part: str
    moved_by: frozenset[str]


def reaches(machine: Machine, runs: Sequence[CableRun]) -> list[Reach]:
    """The worst free piece of every run that spans a motion; runs that stand wholly have none.

    The run is held at its ends and at what it passes; points between bind nothing. Slack is pulled to where
    it is wanted most.
    """
    axes = motions(machine)
    found = []
    for run in runs:
        path = np.array(run.points_mm)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
        slack = run.length_mm - float(along[-1])
        held = _held(machine, run, path, axes)
        free = [(a, b) for a, b in itertools.pairwise(held) if a.moved_by != b.moved_by]
        if free:
            pieces = [_worst(run, path, along, pair, axes) for pair in free]
            found.append(_with_slack(pieces, slack))
    return found


def _with_slack(pieces: Sequence[Reach], slack_mm: float) -> Reach:
    """The piece with the least to spare after the slack has gone where least was."""
    spares = sorted(one.spare_mm for one in pieces)
    level = spares[0] + slack_mm
    for count in range(2, len(spares) + 1):
        level = min(level, (sum(spares[:count]) + slack_mm) / count)
    worst = min(pieces, key=lambda one: one.spare_mm)
    return replace(worst, has_mm=worst.needs_mm + level)


def _held(machine: Machine, run: CableRun, path: Array, axes: Sequence[Motion]) -> list[_Held]:
    begin, end = ends_of(machine, run)
    places = [(0, begin)]
    for name in run.through:
        spot = np.array(machine.part[name].placement.origin_mm)
        inner = path[1:-1]
        if len(inner):
            places.append((1 + int(np.argmin(np.linalg.norm(inner - spot, axis=1))), name))
    places.append((len(path) - 1, end))
    places.sort(key=lambda place: place[0])
    return [
        _Held(index=index, part=part, moved_by=frozenset(one.axis.id for one in axes if part in one.moves))
        for index, part in places
    ]


def _worst(
    run: CableRun, path: Array, along: Array, pair: tuple[_Held, _Held], axes: Sequence[Motion]
) -> Reach:
    first, second = pair
    apart = path[second.index] - path[first.index]
    parting = [one for one in axes if one.axis.id in first.moved_by ^ second.moved_by]
    worst, corner = 0.0, {}
    for ends in itertools.product(*((one.low_mm, one.high_mm) for one in parting)):
        # An axis that moves the first hold shortens what the same way of the second would lengthen.
        shift = sum(
            (
                (1.0 if one.axis.id in second.moved_by else -1.0) * end * one.way
                for one, end in zip(parting, ends, strict=True)
            ),
            np.zeros(3),
        )
        needs = float(np.linalg.norm(apart + shift))
        if needs > worst:
            worst = needs
            corner = {one.axis.id: end - one.low_mm for one, end in zip(parting, ends, strict=True)}
    return Reach(
        run=run, begins=first.part, ends=second.part,
        has_mm=float(along[second.index] - along[first.index]), needs_mm=worst, corner=corner,
    )  # fmt: skip

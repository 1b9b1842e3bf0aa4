"""Which members of a frame must be equally long, because they are opposite sides of one rectangle.

Two parallel members with level ends are partners when each end of both butts on something that holds the
two ends together: one cross member that both touch, or two that a third one joins. If one is longer, the
far side leans: by the difference over the distance between the two.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Kind, Machine, PlacedPart

TOUCH_MM = 1.0  # an end drawn this near a face butts on it
LEVEL_MM = 1.0  # ends this far from level are not meant to be
PARALLEL = 0.999

BOTH_ENDS, ONE_END = "both ends", "one end"
ONE_END_WEIGHT = 0.1
"""A free end sets no other member askew; it only makes the ends uneven. common practice, no source"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Partners:
    """Two placed members that must be equally long. `apart_mm`: between their middle lines. `held`: whether
    both ends butt on cross members, or only one and the other is free. `between`: what they butt on."""

    one: str
    other: str
    apart_mm: float
    held: str
    between: tuple[str, ...]

    @property
    def weight(self) -> float:
        return 1.0 if self.held == BOTH_ENDS else ONE_END_WEIGHT

    def lean_mm_per_100(self, difference_mm: float) -> float:
        """How far the side across leans, in mm over 100 mm, when the first is longer by this.

        Equation: lean = difference / apart. Source: similar triangles; small angles.
        """
        return 100.0 * difference_mm / self.apart_mm


def partners(machine: Machine) -> tuple[Partners, ...]:
    """All pairs of partners, in the machine's order."""
    bars = [_Bar(part) for part in machine.placed if part.type.kind is Kind.MEMBER and part.type.profile]
    for bar in bars:
        bar.butts = tuple(
            tuple(other.id for other in bars if other is not bar and other.touched_by(bar, end))
            for end in (0, 1)
        )
    found = []
    for one, other in itertools.combinations(bars, 2):
        pair = _pair(one, other, bars)
        if pair is not None:
            found.append(pair)
    return tuple(found)


class _Bar:
    """A member with its middle line in the machine frame."""

    def __init__(self, part: PlacedPart) -> None:
        assert part.type.profile is not None
        self.id, self.placement, self.length_mm = part.id, part.placement, part.type.length_mm
        self.half = np.array([part.type.profile.size_y_mm, part.type.profile.size_z_mm]) / 2
        self.along: Array = part.placement.turn[:, 0]
        self.ends = (part.placement.origin_mm, part.placement.origin_mm + self.along * self.length_mm)
        self.butts: tuple[tuple[str, ...], ...] = ((), ())

    def touched_by(self, other: _Bar, end: int) -> bool:
        """Whether an end of another member butts on one of this one's faces."""
        if abs(float(self.along @ other.along)) > 1 - PARALLEL:
            return False
        x, *across = self.placement.back(other.ends[end])
        beside = np.abs(np.asarray(across)) - self.half
        on_face = bool((np.abs(beside) <= TOUCH_MM).any() and (beside <= TOUCH_MM).all())
        return on_face and -TOUCH_MM <= x <= self.length_mm + TOUCH_MM


def _pair(one: _Bar, other: _Bar, bars: list[_Bar]) -> Partners | None:
    if abs(float(one.along @ other.along)) < PARALLEL or abs(one.length_mm - other.length_mm) > LEVEL_MM:
        return None
    same_way = float(one.along @ other.along) > 0
    matching = ((0, 0), (1, 1)) if same_way else ((0, 1), (1, 0))
    away = other.ends[matching[0][1]] - one.ends[0]
    if abs(float(away @ one.along)) > LEVEL_MM:
        return None
    apart = float(np.linalg.norm(away))
    if float(np.abs(one.placement.back_direction(away)).max()) < PARALLEL * apart:
        return None  # across a corner: no two sides of one rectangle
    if apart < 2 * float(max(one.half.min(), other.half.min())) + TOUCH_MM:
        return None  # they lie on each other
    held = [_held(one.butts[end], other.butts[far], bars) for end, far in matching]
    if not any(held):
        return None
    # A single held end counts only where the other ends are both free: then nothing else sets the lengths.
    if not all(held):
        loose = held.index(())
        if one.butts[matching[loose][0]] or other.butts[matching[loose][1]]:
            return None
    return Partners(
        one=one.id,
        other=other.id,
        apart_mm=apart,
        held=BOTH_ENDS if all(held) else ONE_END,
        between=tuple(dict.fromkeys(itertools.chain(*held))),
    )


def _held(first: tuple[str, ...], second: tuple[str, ...], bars: list[_Bar]) -> tuple[str, ...]:
    """What holds two ends together: members that both butt on, else two that a third joins end to end."""
    shared = tuple(name for name in first if name in second)
    if shared:
        return shared
    for bar in bars:
        begins, ends = bar.butts
        for one in first:
            for other in second:
                if (one in begins and other in ends) or (one in ends and other in begins):
                    return one, other
    return ()

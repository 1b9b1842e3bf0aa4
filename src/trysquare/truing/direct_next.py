"""What to do, and to read next, about a characteristic that is read as it is and not worked out of others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.machine.values import Characteristic, Machine
from trysquare.sequence.instruments import best_of_kinds, expanded_of, is_felt, spans_of
from trysquare.truing.instruments import gauge_of
from trysquare.truing.next_reading import chance_of_deciding
from trysquare.truing.uncertainty import COVERAGE
from trysquare.truing.verdicts import Judged

# What a hand does about one that is bad. Common practice, no source.
BY_HAND = {
    "squareness": "One figure does not say which corner leans: read each corner with the square, or both "
    "diagonals, and a push follows from that",
    "twist": "Loosen its corners to snug, and what stands on it or ties it; press the frame down flat on the "
    "plate (one that stands already: shim its feet until nothing rocks), tighten corner by corner, and read "
    "again",
    "parallelism": "Loosen the rail that is not the reference to snug, move the carriages to both ends so "
    "that it follows, tighten behind them, and read again",
    "offset": "Loosen the rail to snug, shift it by what it is off, tighten from the middle outwards, and "
    "read again",
    "flatness": "Loosen its screws to snug, let it lie on what carries it, look for a burr or a chip "
    "beneath, tighten from the middle outwards, and read again",
    "flush": "Loosen that end to snug, push it flush against a flat, tighten, and read again",
    "height-difference": "Loosen the higher one to snug, set it down to the other, tighten, and read again",
    "free-motion": "Loosen what was tightened last along that motion to snug, run it over its travel "
    "twice, tighten, and read again: what pinches is most often the second rail or a nut's mount",
}


ONE_PART = (
    "A part by itself cannot be pushed true: loosen its screws to snug, shim it where it is low or held "
    "askew, and read again; what then remains is in the part"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectNext:
    """A characteristic to be read as it is. `expanded`: U of one reading with the instrument, in `unit`;
    `chance`: that it then is decided, None when nothing was read before; `owned`: whether it is at hand."""

    characteristic: str
    instrument: str
    expanded: float
    unit: str
    chance: float | None
    owned: bool
    says: str


def by_hand(one: Characteristic) -> str:
    """What to do about a bad one that nothing is known to push for; "" for a sort that says nothing."""
    if one.sort in ("twist", "flatness", "squareness") and len(one.of) == 1:
        return ONE_PART
    return BY_HAND.get(one.sort, "")


def direct_next(
    machine: Machine, opened: Sequence[tuple[Characteristic, Judged | None, frozenset[str]]]
) -> tuple[DirectNext, ...]:
    """For each open one, with what was read of it and with which instruments, the best reading with another.

    The surest to decide comes first. Reading again with the same one takes nothing off its error limits.
    """
    found = [one for each in opened if (one := _best(machine, *each)) is not None]
    return tuple(sorted(found, key=lambda one: (not one.owned, -(one.chance or 0.0))))


def _best(
    machine: Machine, one: Characteristic, judged: Judged | None, used: frozenset[str]
) -> DirectNext | None:
    if is_felt(one):
        return None
    offered = []
    spans = spans_of(machine, one)
    for owned in machine.instruments:
        gauge = gauge_of(owned)
        expanded = expanded_of(one, owned, spans)
        if expanded is not None:
            offered.append((expanded, owned.id, gauge.words if gauge is not None else owned.id))
    able = [each for each in offered if each[0] < one.limit]
    if able:
        fresh = [each for each in able if each[1] not in used]
        if not fresh:
            return None
        expanded, name, words = min(fresh)
        chance = None if judged is None else _chance(judged, expanded / COVERAGE)
        return DirectNext(
            characteristic=one.id, instrument=name, expanded=expanded, unit=one.unit, chance=chance,
            owned=True, says=f"{one.id} itself with {words}: to ± {expanded:.2g} {one.unit}",
        )  # fmt: skip
    kind = best_of_kinds(machine, one)
    if kind is None:
        return None
    return DirectNext(
        characteristic=one.id, instrument=kind.sort, expanded=0.0, unit=one.unit, chance=None, owned=False,
        says=f"{one.id} itself: nothing that you own calls it good at its limit of {one.limit:g} {one.unit}; "
        f"{kind.words} would",
    )  # fmt: skip


def _chance(judged: Judged, spread: float) -> float:
    """That a further reading decides, as for readings of a shape."""
    variance = (judged.expanded / COVERAGE) ** 2
    taken = variance**2 / (variance + spread**2)
    rows = (np.array([[value]]) for value in (judged.value, variance, taken, judged.limit))
    return float(chance_of_deciding(*rows)[0, 0])

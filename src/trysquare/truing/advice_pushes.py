"""Which pushes, and how far: the fewest that bring everything right in frames whose joints slip unlike."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.truing.moves import PUSH_MM, Give
from trysquare.truing.uncertainty import standard_uncertainty

AIM = 0.25  # share of its limit that a component is brought within: what is just good goes bad when tightened
INEXACT = 0.07  # share by which a push misses its length. common practice, no source
ENOUGH = 0.7  # share of its limit within which a component counts as brought right
SMALL_MM = 0.1  # a push that is left out when it hardly helps
MOST_PUSHES = 10
FEW = 2  # pushes against the ground that are rather made than one that needs a body held …
WORTH_HOLDING = 0.75  # … unless what is left out comes down to this share
HELD = 3.0  # times the trouble of a push against the ground
EXCHANGES = 2  # rounds in which every push may be exchanged for another
LEAST_PUSH_MM = 0.02  # nobody moves an end by less
BEYOND = 1.0  # slips over their play that a joint allows

Chosen = tuple[tuple[int, float], ...]  # handle and how far, mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """What is to be brought right. `values`, `limits`, `weights` (k,): of all components; what is not known
    well has the value 0, so that it is left as it is, and weighs less. `rates` (k, n)."""

    values: Array
    limits: Array
    weights: Array
    rates: Array
    aims: Array  # (k,): what is out counts wholly; what is good may stay as good as it is


def fewest(wanted: Wanted, give: Give, read: NDArray[np.bool_]) -> Chosen:
    """The fewest pushes that bring all to the aim; the best of the most allowed where none do.

    Where a push or two against the ground are enough, nobody is asked to hold a body and to swing another."""
    plain = [number for number, one in enumerate(give.handles) if one.link < 0 or one.along]
    if len(plain) < len(give.handles):
        alone = give.only(plain)
        few = _fewest(wanted, alone, read, FEW)
        reached = ratio_unlike(wanted, alone, few, read) if few else np.inf
        told = tuple((plain[number], size) for number, size in few)
        if reached <= AIM:
            return told
        more = _fewest(wanted, give, read, MOST_PUSHES)
        return more if more and ratio_unlike(wanted, give, more, read) < WORTH_HOLDING * reached else told
    return _fewest(wanted, give, read, MOST_PUSHES)


def _fewest(wanted: Wanted, give: Give, read: NDArray[np.bool_], most: int) -> Chosen:
    if not give.handles:
        return ()
    effects = wanted.rates @ give.answers
    useful = np.flatnonzero(np.abs(effects * wanted.weights[:, None]).max(axis=0) > 1e-3)
    if not len(useful):
        return ()
    # as good as can be over frames whose joints slip unlike: what only works in one of them is passed over
    every = [wanted.rates @ one[:, useful] for one in (give.answers, *give.unlike)]
    scaled = np.vstack([wanted.weights[:, None] * one for one in every]) / np.sqrt(len(every))
    target = np.tile(-wanted.weights * wanted.values, len(every)) / np.sqrt(len(every))
    best: tuple[float, Chosen] = (np.inf, ())
    before = ratio_of(wanted, np.zeros(len(wanted.values)), read)
    chosen: list[int] = []
    for count in range(1, most + 1):
        sets = (
            itertools.combinations(range(len(useful)), count)
            if count <= 2 and len(useful) <= 120
            else [(*chosen, other) for other in range(len(useful)) if other not in chosen]
        )
        found = _best_of(list(sets), scaled, target, give, useful)
        if found is None:
            break
        if count > 2:
            found = _exchanged(found, len(useful), scaled, target, give, useful)
        chosen = list(found[0])
        pushes = tuple(
            (int(useful[index]), _rounded(size)) for index, size in zip(chosen, found[1], strict=True)
        )
        ratio = ratio_unlike(wanted, give, pushes, read)
        if ratio < best[0] * 0.9:
            best = (ratio, pushes)
        if ratio <= AIM:
            break
    if best[0] >= before * 0.9:
        return ()
    return _without_needless(wanted, give, best[1], best[0], read)


def _without_needless(
    wanted: Wanted, give: Give, pushes: Chosen, ratio: float, read: NDArray[np.bool_]
) -> Chosen:
    """The pushes less those that hardly help, the smallest first."""
    allowed = max(AIM, 1.1 * ratio)
    small = [one for one in pushes if abs(one[1]) <= SMALL_MM]
    for one in sorted(small, key=lambda push: abs(push[1])):
        fewer = tuple(other for other in pushes if other is not one)
        if fewer and ratio_unlike(wanted, give, fewer, read) <= allowed:
            pushes = fewer
    return pushes


Found = tuple[tuple[int, ...], Array, float]  # pushes, their sizes, and what is left


def _exchanged(
    found: Found, count: int, scaled: Array, target: Array, give: Give, useful: NDArray[np.int64]
) -> Found:
    """Each push in turn exchanged for a better one, until none is: added one by one, the first ones were
    chosen without knowing the later ones."""
    for _ in range(EXCHANGES):
        before = found[2]
        for place in range(len(found[0])):
            kept = found[0][:place] + found[0][place + 1 :]
            sets = [(*kept, other) for other in range(count) if other not in kept]
            other = _best_of(sets, scaled, target, give, useful)
            if other is not None and other[2] < found[2]:
                found = other
        if found[2] > 0.999 * before:
            break
    return found


def _best_of(
    sets: list[tuple[int, ...]], scaled: Array, target: Array, give: Give, useful: NDArray[np.int64]
) -> Found | None:
    """The set of pushes with the least squares left, each set solved by its own small equations."""
    if not sets:
        return None
    picked = np.array(sets)
    count = picked.shape[1]
    gram = scaled.T @ scaled
    right = scaled.T @ target
    # a push is never quite as long as it was meant: long ones against each other are no way to do it
    inexact = np.diagonal(gram) * INEXACT**2 + 1e-9 * np.trace(gram) / len(gram)
    small = gram[picked[:, :, None], picked[:, None, :]] + np.eye(count) * inexact[picked][:, None, :]
    sizes = np.linalg.solve(small, right[picked][:, :, None])[:, :, 0]
    left = float(target @ target) - (sizes * right[picked]).sum(axis=1)
    slips = np.abs(give.slips[:, :, useful]).max(axis=(0, 1))
    # to hold one body and push another takes both hands, and somebody else for the gauge
    hands = np.array([HELD if give.handles[index].link >= 0 else 1.0 for index in useful])
    strain = (np.abs(sizes) * hands[picked]).sum(axis=1) * 1e-3 + 0.05 * np.maximum(
        0, (np.abs(sizes) * slips[picked]).max(axis=1) - BEYOND
    ) ** 2  # of equally good sets the one with the smaller move, and none that tears a joint
    best = int(np.argmin(left + strain))
    return sets[best], sizes[best], float(left[best] + strain[best])


def _rounded(size: float) -> float:
    """As people push against a dial: to 0.05 mm, below half a millimetre to 0.02."""
    step = 0.05 if abs(size) >= 0.5 else LEAST_PUSH_MM
    return round(size / step) * step


def effect_of(wanted: Wanted, give: Give, pushes: Chosen) -> Array:
    """What these pushes change of every component."""
    change: Array = wanted.rates @ change_of(give, pushes)
    return change


def change_of(give: Give, pushes: Chosen) -> Array:
    """What these pushes change of the unknowns."""
    total = np.zeros(len(give.answers))
    for index, size in pushes:
        total += give.answers[:, index] * size
    return total


def ratio_unlike(wanted: Wanted, give: Give, pushes: Chosen, read: NDArray[np.bool_]) -> float:
    """The worst component over its limit, on the average over frames whose joints slip unlike."""
    handles = [index for index, _ in pushes]
    sizes = np.array([size for _, size in pushes])
    changes = np.array([wanted.rates @ (one[:, handles] @ sizes) for one in give.unlike])
    # every push puts in an error of its own, however short it is
    noise = standard_uncertainty(PUSH_MM) * np.linalg.norm(wanted.rates @ give.answers[:, handles], axis=1)
    ratios = wanted.aims * np.hypot(wanted.values + changes, 1.5 * noise) / wanted.limits
    return float(ratios[:, read].max(axis=1, initial=0.0).mean())


def ratio_of(wanted: Wanted, change: Array, read: NDArray[np.bool_]) -> float:
    """The worst component that is read, over its limit, after a change."""
    ratios = np.abs(wanted.values + change) / wanted.limits
    return float(ratios[read].max(initial=0.0))


def is_good(wanted: Wanted, give: Give, pushes: Chosen, read: NDArray[np.bool_]) -> bool:
    """Whether these pushes bring right what is read, and tear no joint."""
    if not pushes or ratio_of(wanted, effect_of(wanted, give, pushes), read) > ENOUGH:
        return False
    return strain_of(give, pushes) <= BEYOND


def strain_of(give: Give, pushes: Chosen) -> float:
    """The largest slip of any joint over its play."""
    slip = sum((give.slips[:, :, index] * size for index, size in pushes), np.zeros(give.slips.shape[:2]))
    return float(np.abs(slip[[index for index, loose in enumerate(give.loose) if loose]]).max(initial=0.0))

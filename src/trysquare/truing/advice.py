"""What to do about a frame that is out: the fewest pushes of joints still snug, or the fewest to loosen.

Said as a person does it, with the reading to expect afterwards.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.sequence.state import Tightness
from trysquare.truing.bodies import lies_low
from trysquare.truing.characteristics import Component
from trysquare.truing.features import Features
from trysquare.truing.model import Model
from trysquare.truing.moves import (
    PUSH_MM,
    Give,
    Handle,
    body_columns,
    compliance,
    give_of,
    pressed,
    slip_matrix,
)
from trysquare.truing.network import Adjustment
from trysquare.truing.places import end_words, reading_words, short, spot_words, way_words
from trysquare.truing.standing import Standing, tightness_of
from trysquare.truing.uncertainty import COVERAGE, standard_uncertainty
from trysquare.truing.verdicts import Judged, Verdict

AIM = 0.2  # share of its limit that a component is brought within: what is just good goes bad when tightened
INEXACT = 0.07  # share by which a push misses its length. common practice, no source
ENOUGH = 0.7  # share of its limit within which a component counts as brought right
MAY_STAY = 0.6  # weight of what is not out: good may stay a little less than best
SMALL_MM = 0.1  # a push that is left out when it hardly helps
JUST = 1.0  # share of its limit beyond which final joints are loosened
MOST_PUSHES = 10
UNREAD = 0.03  # weight of what no reading has seen: left as it is where that costs nothing
LEAST_PUSH_MM = 0.02  # nobody moves an end by less
BEYOND = 1.0  # slips over their play that a joint allows


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """One push. `handle`: where and which way; `by_mm`: how far, always positive along `way`."""

    part: str
    end: str  # "a" or "b"
    by_mm: float
    at_mm: tuple[float, float, float]
    way: tuple[float, float, float]
    says: str
    presses: int = -1  # the component that pressing onto a flat plate sets right; −1: an ordinary push
    link: int = -1  # where the end slides on another body that is held; −1: it is pushed against the ground


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A reading to make again afterwards, and what it should then say, ± U."""

    observation: int
    what: str
    value: float
    expanded: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Advice:
    """What to do. `loosen`: links of final joints to loosen first; `enough`: whether all that is out comes
    within its limit; `after` (k,): the components' expected values; `change` (n,): of the unknowns."""

    pushes: tuple[Push, ...]
    loosen: tuple[int, ...]
    loosen_says: tuple[str, ...]
    expects: tuple[Expected, ...]
    enough: bool
    within_play: bool
    after: Array
    change: Array
    says: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """What is to be brought right. `values`, `limits`, `weights` (k,): of all components; what is not known
    well has the value 0, so that it is left as it is, and weighs less. `rates` (k, n)."""

    values: Array
    limits: Array
    weights: Array
    rates: Array
    aims: Array  # (k,): what is out counts wholly; what is good may stay as good as it is


def advise(
    model: Model,
    solved: Adjustment,
    components: Sequence[Component],
    judged: Sequence[Judged],
    rates: Array,
    standing: Standing,
) -> Advice | None:
    """The least that makes all good; None when nothing is known to be out, or nothing can be moved."""
    values = np.array([one.value for one in judged])
    limits = np.array([one.limit for one in components])
    read = np.array([one.verdict is not Verdict.NOT_READ for one in judged])
    out = np.array([_is_out(one) for one in judged])
    if not out.any():
        return None
    doubt = np.array([one.expanded for one in judged])
    # what is hardly known is hardly worth a push, and says little about whether one helped
    weights = np.where(read, 1.0, UNREAD) / np.hypot(limits, np.where(out, 0.0, doubt))
    sure = read & (out | (doubt <= 1.5 * limits))
    aims = np.where(out, 1.0, MAY_STAY)
    wanted = Wanted(
        values=np.where(sure, values, 0.0), limits=limits, weights=weights, rates=rates, aims=aims
    )
    read = sure
    give = give_of(model, solved.matrix, standing)
    presses = _presses(model, components, out, give)
    flat = np.zeros(model.equations.unknowns)
    for index in presses:
        left = wanted.values[index] + float(rates[index] @ flat)
        flat += left * pressed(model, solved.matrix, standing, rates[index])
    if presses:
        wanted = replace(wanted, values=np.where(sure, wanted.values + rates @ flat, 0.0))
        give = _without_lifting(model, give)
    pushes = _fewest(wanted, give, read)
    loosen: tuple[int, ...] = ()
    if _ratio(wanted, _effect(wanted, give, pushes), read) > JUST:
        more = _fewest_to_loosen(model, solved, wanted, standing, read)
        if more is not None:
            loosen, give, pushes = more
    if not pushes and not presses:
        return None
    return _told(model, solved, wanted, components, judged, give, pushes, loosen, read, presses, flat)


def _presses(
    model: Model, components: Sequence[Component], out: NDArray[np.bool_], give: Give
) -> tuple[int, ...]:
    """Components out that a flat plate sets right: the twist of bodies that lie on it and can still move."""
    loose = {
        number
        for link, one in zip(model.assembly.links, give.loose, strict=True)
        if one
        for number in (link.one, link.other)
    }
    twists = {one.id for one in model.assembly.machine.characteristics if one.sort == "twist"}
    return tuple(
        index
        for index, row in enumerate(components)
        if out[index]
        and row.characteristic in twists
        and all(lies_low(model.assembly, number) and number in loose for number in row.bodies)
    )


def _without_lifting(model: Model, give: Give) -> Give:
    """No pushes up or down of what is pressed onto the plate."""
    kept = [
        index
        for index, one in enumerate(give.handles)
        if abs(one.way[2]) < 0.7 or not lies_low(model.assembly, one.body)
    ]
    return replace(
        give,
        handles=tuple(give.handles[index] for index in kept),
        answers=give.answers[:, kept],
        unlike=tuple(one[:, kept] for one in give.unlike),
        slips=give.slips[:, :, kept],
    )


def _is_out(one: Judged) -> bool:
    """Bad, or not known to be good and more out than in doubt."""
    doubtful = abs(one.value) > max(one.expanded, one.limit / 2)
    return one.verdict is Verdict.BAD or (one.verdict is Verdict.CANNOT_TELL and doubtful)


# --- choosing pushes

_Chosen = tuple[tuple[int, float], ...]  # handle and how far, mm


def _fewest(wanted: Wanted, give: Give, read: NDArray[np.bool_]) -> _Chosen:
    """The fewest pushes that bring all to the aim; the best of the most allowed where none do."""
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
    best: tuple[float, _Chosen] = (np.inf, ())
    before = _ratio(wanted, np.zeros(len(wanted.values)), read)
    chosen: list[int] = []
    for count in range(1, MOST_PUSHES + 1):
        sets = (
            itertools.combinations(range(len(useful)), count)
            if count <= 2 and len(useful) <= 120
            else [(*chosen, other) for other in range(len(useful)) if other not in chosen]
        )
        found = _best_of(list(sets), scaled, target, give, useful)
        if found is None:
            break
        chosen = list(found[0])
        pushes = tuple(
            (int(useful[index]), _rounded(size)) for index, size in zip(chosen, found[1], strict=True)
        )
        ratio = _ratio_unlike(wanted, give, pushes, read)
        if ratio < best[0] * 0.9:
            best = (ratio, pushes)
        if ratio <= AIM:
            break
    if best[0] >= before * 0.9:
        return ()
    return _without_needless(wanted, give, best[1], best[0], read)


def _without_needless(
    wanted: Wanted, give: Give, pushes: _Chosen, ratio: float, read: NDArray[np.bool_]
) -> _Chosen:
    """The pushes less those that hardly help, the smallest first."""
    allowed = max(AIM, 1.1 * ratio)
    small = [one for one in pushes if abs(one[1]) <= SMALL_MM]
    for one in sorted(small, key=lambda push: abs(push[1])):
        fewer = tuple(other for other in pushes if other is not one)
        if fewer and _ratio_unlike(wanted, give, fewer, read) <= allowed:
            pushes = fewer
    return pushes


def _best_of(
    sets: list[tuple[int, ...]], scaled: Array, target: Array, give: Give, useful: NDArray[np.int64]
) -> tuple[tuple[int, ...], Array] | None:
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
    strain = (
        np.abs(sizes) @ np.ones(count) * 1e-3
        + 0.05 * np.maximum(0, (np.abs(sizes) * slips[picked]).max(axis=1) - BEYOND) ** 2
    )  # of equally good sets the one with the smaller move, and none that tears a joint
    best = int(np.argmin(left + strain))
    return sets[best], sizes[best]


def _rounded(size: float) -> float:
    """As people push against a dial: to 0.05 mm, below half a millimetre to 0.02."""
    step = 0.05 if abs(size) >= 0.5 else LEAST_PUSH_MM
    return round(size / step) * step


def _effect(wanted: Wanted, give: Give, pushes: _Chosen) -> Array:
    change: Array = wanted.rates @ _change(give, pushes)
    return change


def _change(give: Give, pushes: _Chosen) -> Array:
    total = np.zeros(len(give.answers))
    for index, size in pushes:
        total += give.answers[:, index] * size
    return total


def _ratio_unlike(wanted: Wanted, give: Give, pushes: _Chosen, read: NDArray[np.bool_]) -> float:
    """The worst component over its limit, on the average over frames whose joints slip unlike."""
    handles = [index for index, _ in pushes]
    sizes = np.array([size for _, size in pushes])
    changes = np.array([wanted.rates @ (one[:, handles] @ sizes) for one in give.unlike])
    # every push puts in an error of its own, however short it is
    noise = standard_uncertainty(PUSH_MM) * np.linalg.norm(wanted.rates @ give.answers[:, handles], axis=1)
    ratios = wanted.aims * np.hypot(wanted.values + changes, 1.5 * noise) / wanted.limits
    return float(ratios[:, read].max(axis=1, initial=0.0).mean())


def _ratio(wanted: Wanted, change: Array, read: NDArray[np.bool_]) -> float:
    """The worst component that is read, over its limit, after a change."""
    ratios = np.abs(wanted.values + change) / wanted.limits
    return float(ratios[read].max(initial=0.0))


def _good(wanted: Wanted, give: Give, pushes: _Chosen, read: NDArray[np.bool_]) -> bool:
    if not pushes or _ratio(wanted, _effect(wanted, give, pushes), read) > ENOUGH:
        return False
    return _strain(give, pushes) <= BEYOND


def _strain(give: Give, pushes: _Chosen) -> float:
    """The largest slip of any joint over its play."""
    slip = sum((give.slips[:, :, index] * size for index, size in pushes), np.zeros(give.slips.shape[:2]))
    return float(np.abs(slip[[index for index, loose in enumerate(give.loose) if loose]]).max(initial=0.0))


# --- choosing what to loosen


def _fewest_to_loosen(
    model: Model,
    solved: Adjustment,
    wanted: Wanted,
    standing: Standing,
    read: NDArray[np.bool_],
) -> tuple[tuple[int, ...], Give, _Chosen] | None:
    """Final joints that must slip so that what is out comes right, as few as can be found.

    All are taken as loose first, those that hardly slip are made stiffer, again and again: what still slips
    must be loosened. Then each is left out in turn as long as it still works.
    """
    links = model.assembly.links
    final = [
        index
        for index, link in enumerate(links)
        if tightness_of(model.assembly.machine, link.joint, link.screws, standing) is Tightness.FINAL
        and not link.play.runs
        and link.screws
    ]
    if not final:
        return None
    columns = body_columns(model)
    slip = slip_matrix(model, solved.matrix, columns)
    loose = give_of(model, solved.matrix, standing).loose
    rates = wanted.rates[:, columns] * wanted.weights[:, None]
    rates = rates[read]
    target = -(wanted.weights * wanted.values)[read]
    share = np.ones(len(links))
    slipped = np.zeros(len(links))
    for _ in range(12):
        give = compliance(slip, np.repeat(np.maximum(share, 1e-3), 6))
        spread = rates @ give @ rates.T
        spread[np.diag_indices_from(spread)] += 1e-6 * max(float(np.trace(spread)), 1e-12)
        change = give @ rates.T @ np.linalg.solve(spread, target)
        slipped = np.abs(slip @ change).reshape(len(links), 6).max(axis=1)
        top = max(float(slipped[final].max(initial=0.0)), 1e-12)
        for index in final:
            share[index] = np.sqrt(slipped[index] / top)
    chosen = [index for index in final if slipped[index] > 0.03 * slipped[final].max(initial=0.0)]
    if not chosen or len(chosen) + sum(loose) == 0:
        return None

    def tried(some: Sequence[int]) -> tuple[Give, _Chosen]:
        give = give_of(model, solved.matrix, standing, also_loose=some)
        return give, _fewest(wanted, give, read)

    give_, pushes = tried(chosen)
    if not _good(wanted, give_, pushes, read):
        return (tuple(chosen), give_, pushes) if pushes else None
    for index in sorted(chosen, key=lambda index: slipped[index]):
        fewer = [other for other in chosen if other != index]
        other_give, other_pushes = tried(fewer)
        if _good(wanted, other_give, other_pushes, read):
            chosen, give_, pushes = fewer, other_give, other_pushes
    return tuple(chosen), give_, pushes


# --- words


def _told(
    model: Model,
    solved: Adjustment,
    wanted: Wanted,
    components: Sequence[Component],
    judged: Sequence[Judged],
    give: Give,
    chosen: _Chosen,
    loosen: tuple[int, ...],
    read: NDArray[np.bool_],
    presses: tuple[int, ...],
    flat: Array,
) -> Advice:
    pushes = tuple(_press(model, components, judged, index) for index in presses)
    pushes += tuple(_push(model, give.handles[index], size) for index, size in chosen if size)
    pushed = _change(give, chosen)
    change = flat + pushed
    after = np.array([one.value for one in judged]) + wanted.rates @ change
    told = tuple(_loosen_words(model, index) for index in loosen)
    expects = _expected(model, solved, give, chosen, change)
    words = [f"Loosen {one}." for one in told]
    words += [_sentence(one.says) for one in pushes]
    if expects:
        words.append("Read again: " + "; ".join(
            f"{one.what}, expect {one.value:.2f} ± {one.expanded:.2f} {one.unit}" for one in expects
        ) + ".")  # fmt: skip
    return Advice(
        pushes=pushes,
        loosen=loosen,
        loosen_says=told,
        expects=expects,
        enough=_ratio(wanted, wanted.rates @ pushed, read) <= ENOUGH,
        within_play=_strain(give, chosen) <= BEYOND,
        after=after,
        change=change,
        says=" ".join(words),
    )


def _push(model: Model, handle: Handle, size: float) -> Push:
    body = model.assembly.bodies[handle.body]
    way = tuple(float(np.sign(size)) * part for part in handle.way)
    words = f"push {end_words(body, handle.sign)} {way_words(way)} by {abs(size):.2f} mm"
    if handle.link >= 0:
        link = model.assembly.links[handle.link]
        held = short(model.assembly.bodies[link.other].id)
        where = f"{end_words(body, handle.sign)} {way_words(way)} on it by {abs(size):.2f} mm"
        words = f"hold {held} and slide {where}"
    return Push(
        part=body.id,
        end="a" if handle.sign < 0 else "b",
        by_mm=abs(size),
        at_mm=handle.at_mm,
        way=(way[0], way[1], way[2]),
        says=words,
        link=handle.link,
    )


def _press(model: Model, components: Sequence[Component], judged: Sequence[Judged], index: int) -> Push:
    """A frame pressed flat; `end` is "" for it goes for all of them."""
    at = model.assembly.bodies[components[index].bodies[0]].centre_mm
    return Push(
        part="",
        end="",
        by_mm=abs(judged[index].value),
        at_mm=(float(at[0]), float(at[1]), float(at[2])),
        way=(0.0, 0.0, -1.0),
        says="press all corners down onto the flat plate while the joints are snug",
        presses=index,
    )


def _loosen_words(model: Model, index: int) -> str:
    link = model.assembly.links[index]
    count = len(link.screws)
    bodies = model.assembly.bodies
    names = f"{short(bodies[link.one].id)} to {short(bodies[link.other].id)}"
    screws = "the screw" if count == 1 else f"the {count} screws"
    return f"{screws} of {names} ({spot_words(model.assembly, link.at_mm)})"


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:] + "."


def _expected(
    model: Model, solved: Adjustment, give: Give, chosen: _Chosen, change: Array
) -> tuple[Expected, ...]:
    """The reading that changes most for its uncertainty, and a second one where two belong together."""
    if not len(model.rows_of):
        return ()
    rows = model.rows_of
    matrix = solved.matrix[rows]
    shifts = matrix @ change
    sigma = model.equations.sigma[rows]
    pushed = matrix @ give.answers[:, [index for index, _ in chosen]] * standard_uncertainty(PUSH_MM)
    spread = np.sqrt((pushed**2).sum(axis=1) + solved.uncertainty(matrix) ** 2 + sigma**2)
    strength = np.abs(shifts) / spread
    features = Features(model.assembly.machine)
    order = [int(index) for index in np.argsort(-strength) if strength[index] > 0.5][:2]
    predicted = model.equations.predict(solved.x + change)[rows]
    return tuple(
        Expected(
            observation=index,
            what=reading_words(model.assembly, features, model.observations[index].first),
            value=float(predicted[index]),
            expanded=float(COVERAGE * spread[index]),
            unit=model.observations[index].first.unit,
        )
        for index in order
    )

"""What to do about a frame that is out: the fewest pushes of joints still snug, or the fewest to loosen.

Said as a person does it, with the reading to expect afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.truing.advice_loosen import fewest_to_loosen
from trysquare.truing.advice_pushes import (
    BEYOND,
    ENOUGH,
    Chosen,
    Wanted,
    change_of,
    effect_of,
    fewest,
    ratio_of,
    strain_of,
)
from trysquare.truing.bodies import lies_low
from trysquare.truing.characteristics import Component
from trysquare.truing.features import Features
from trysquare.truing.model import Model
from trysquare.truing.moves import (
    PUSH_MM,
    Give,
    Handle,
    give_of,
    pressed,
)
from trysquare.truing.network import Adjustment
from trysquare.truing.places import end_words, reading_words, short, spot_words, way_words
from trysquare.truing.standing import Standing
from trysquare.truing.uncertainty import COVERAGE, standard_uncertainty
from trysquare.truing.verdicts import Judged, Verdict

MAY_STAY = 0.6  # weight of what is not out: good may stay a little less than best
JUST = 1.0  # share of its limit beyond which final joints are loosened
UNREAD = 0.03  # weight of what no reading has seen: left as it is where that costs nothing


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
    link: int = -1  # to the body that is held, from which it is measured; −1: it is pushed against the ground


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
    pushes = fewest(wanted, give, read)
    loosen: tuple[int, ...] = ()
    if ratio_of(wanted, effect_of(wanted, give, pushes), read) > JUST:
        more = fewest_to_loosen(model, solved, wanted, standing, read)
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
    return give.only(kept)


def _is_out(one: Judged) -> bool:
    """Bad, or not known to be good and more out than in doubt."""
    doubtful = abs(one.value) > max(one.expanded, one.limit / 2)
    return one.verdict is Verdict.BAD or (one.verdict is Verdict.CANNOT_TELL and doubtful)


# --- words


def _told(
    model: Model,
    solved: Adjustment,
    wanted: Wanted,
    components: Sequence[Component],
    judged: Sequence[Judged],
    give: Give,
    chosen: Chosen,
    loosen: tuple[int, ...],
    read: NDArray[np.bool_],
    presses: tuple[int, ...],
    flat: Array,
) -> Advice:
    pushes = tuple(_press(model, components, judged, index) for index in presses)
    pushes += tuple(_push(model, give.handles[index], size) for index, size in chosen if size)
    pushed = change_of(give, chosen)
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
        enough=ratio_of(wanted, wanted.rates @ pushed, read) <= ENOUGH,
        within_play=strain_of(give, chosen) <= BEYOND,
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
        where = f"{end_words(body, handle.sign)} {way_words(way)}"
        by = f"by {abs(size):.2f} mm"
        words = f"hold {held} and slide {where} on it {by}"
        if not handle.along:
            words = f"hold {held} still and swing {where} {by}, as seen from {held}"
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
    model: Model, solved: Adjustment, give: Give, chosen: Chosen, change: Array
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

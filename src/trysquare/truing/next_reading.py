"""The next reading worth making: which one, with what is at hand, most likely settles what is still open.

A reading along the row a with uncertainty σ takes ``(c P a)² / (a P a + σ²)`` off the variance of a component
c, P the covariance. How likely it then decides follows before anybody has read it: the new value will lie
around the present one with just that variance. No inversion is needed: all candidates at once are a few
matrix products.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.special import ndtr

from trysquare.catalogue.instruments import instrument_kinds
from trysquare.ground.placement import Array
from trysquare.truing.candidates import Candidate, candidates_for
from trysquare.truing.characteristics import Component
from trysquare.truing.instruments import usual_gauge
from trysquare.truing.model import Model, ModelBuilder
from trysquare.truing.network import Adjustment
from trysquare.truing.reading_rows import row_of
from trysquare.truing.uncertainty import COVERAGE
from trysquare.truing.verdicts import Judged, Verdict

WORTH = 0.05  # chance of deciding below which a reading is not worth walking to the bench
SEVERAL = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """A candidate with what it would bring. `decides`: expected number of open components that it settles;
    `chances`: for each characteristic that it helps the chance that one of its components is settled."""

    candidate: Candidate
    decides: float
    chances: tuple[tuple[str, float], ...]
    expanded_after: tuple[tuple[str, float], ...]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReadings:
    """The best readings with what one owns, best first; where none is worth it, those with what one would
    have to borrow. `considered`: how many were weighed."""

    owned: tuple[NextReading, ...]
    borrowed: tuple[NextReading, ...]
    considered: int


def next_readings(
    builder: ModelBuilder,
    model: Model,
    solved: Adjustment,
    components: Sequence[Component],
    judged: Sequence[Judged],
    rates: Array,
    settled: Collection[str] = (),
) -> NextReadings:
    """Ranks what could be read next. Nothing open: nothing to read. `settled`: characteristics that were read
    as they are and are decided."""
    open_ = [
        index
        for index, one in enumerate(judged)
        if one.verdict in (Verdict.CANNOT_TELL, Verdict.NOT_READ)
        and components[index].characteristic not in settled
    ]
    if not open_:
        return NextReadings(owned=(), borrowed=(), considered=0)
    wanted = [components[index] for index in open_]
    values = np.array([judged[index].value for index in open_])
    limits = np.array([components[index].limit for index in open_])
    owned = [gauge for gauge in builder.gauges.values() if gauge.kind.reads != {"direct"}]
    offered = candidates_for(model.assembly, wanted, owned)
    best = _ranked(builder, model, solved, offered, wanted, values, limits, rates[open_])
    if best and best[0].decides >= WORTH:
        return NextReadings(owned=best, borrowed=(), considered=len(offered))
    have = {gauge.kind.sort for gauge in owned}
    others = [
        usual_gauge(sort)
        for sort, kind in instrument_kinds().items()
        if sort not in have and kind.reads != {"direct"}
    ]
    more = candidates_for(model.assembly, wanted, others)
    borrowed = _ranked(builder, model, solved, more, wanted, values, limits, rates[open_])
    worth = tuple(one for one in borrowed if one.decides >= WORTH)
    return NextReadings(owned=best, borrowed=worth, considered=len(offered) + len(more))


def _ranked(
    builder: ModelBuilder,
    model: Model,
    solved: Adjustment,
    candidates: Sequence[Candidate],
    wanted: Sequence[Component],
    values: Array,
    limits: Array,
    rates: Array,
) -> tuple[NextReading, ...]:
    if not candidates:
        return ()
    rows, noise = candidate_rows(builder, model, solved, candidates)
    share = variance_taken(solved.covariance, rates, rows, noise)
    variance = solved.uncertainty(rates) ** 2
    decided = chance_of_deciding(values[:, None], variance[:, None], share, limits[:, None])
    # what does not decide but narrows counts a little, so that there is always a best
    narrowed = share / np.maximum(variance[:, None], 1e-18)
    work = np.array([one.work for one in candidates])
    score = (decided.sum(axis=0) + 0.02 * narrowed.sum(axis=0)) / np.sqrt(work)
    order = np.argsort(-score, kind="stable")[:SEVERAL]
    found: list[NextReading] = []
    for index in order:
        if narrowed[:, index].max() < 1e-3:
            break
        after = COVERAGE * np.sqrt(np.maximum(variance - share[:, index], 0.0))
        helped = np.flatnonzero(narrowed[:, index] > 0.05)
        chances: dict[str, float] = {}
        narrowest: dict[str, float] = {}
        for row in map(int, helped):
            name = wanted[row].characteristic
            chances[name] = max(chances.get(name, 0.0), float(decided[row, index]))
            narrowest[name] = min(narrowest.get(name, np.inf), float(after[row]))
        found.append(
            NextReading(
                candidate=candidates[index],
                decides=float(decided[:, index].sum()),
                chances=tuple(chances.items()),
                expanded_after=tuple(narrowest.items()),
                says=candidates[index].says(model.assembly, builder.features),
            )
        )
    return tuple(found)


def candidate_rows(
    builder: ModelBuilder, model: Model, solved: Adjustment, candidates: Sequence[Candidate]
) -> tuple[sparse.csr_matrix, Array]:
    """Rates (c, n) of all candidates at the adjusted shape, and their own variances (c,)."""
    probe = model.builder.like()
    parts: list[tuple[int, int, float]] = []
    noise = np.zeros(len(candidates))
    known: dict[tuple[object, ...], int] = {}
    own: list[tuple[int, int, float]] = []
    for number, candidate in enumerate(candidates):
        gauge = candidate.gauge
        shared = 0.0
        for reading, share in zip(candidate.readings, candidate.shares, strict=True):
            key = reading.same
            if key not in known:
                known[key] = row_of(builder, probe, reading, gauge)
            parts.append((number, known[key], share))
            noise[number] += share**2 * (gauge.reading_uncertainty_mm**2 + gauge.kind.scatter_mm**2)
            shared += share * (1.0 if reading.turned else -1.0)
        if gauge.kind.own_error and shared:
            column = model.own_errors.get(gauge.id)
            if column is None:
                noise[number] += (shared * gauge.own_uncertainty_mm) ** 2
            else:
                own.append((number, column, shared))
    matrix = probe.done().linearised(solved.x)[1]
    who, row, factor = zip(*parts, strict=True)
    combine = sparse.csr_matrix((factor, (who, row)), shape=(len(candidates), matrix.shape[0]))
    rows = (combine @ matrix).tocsr()
    if own:
        numbers, columns, shares = zip(*own, strict=True)
        rows = rows + sparse.csr_matrix((shares, (numbers, columns)), shape=rows.shape)
    return rows, noise


def variance_taken(covariance: Array, rates: Array, rows: sparse.csr_matrix, noise: Array) -> Array:
    """What each candidate takes off each component's variance, (k, c), by rank-one updates."""
    carried = rows @ covariance  # (c, n)
    along = np.asarray(rows.multiply(carried).sum(axis=1)).ravel()
    shared = rates @ carried.T
    taken: Array = shared**2 / (along + noise)
    return taken


def chance_of_deciding(value: Array, variance: Array, taken: Array, limit: Array) -> Array:
    """Chance that a component is good or bad for certain once a reading has taken so much off its variance.

    The value then known is normal around the present one with variance `taken`; it is good within the limit
    less U and bad beyond the limit plus U, with the U that is left.
    """
    spread = np.sqrt(np.maximum(taken, 1e-18))
    expanded = COVERAGE * np.sqrt(np.maximum(variance - taken, 0.0))
    inner = np.maximum(limit - expanded, 0.0)
    good = ndtr((inner - value) / spread) - ndtr((-inner - value) / spread)
    good = np.where(limit > expanded, good, 0.0)
    outer = limit + expanded
    bad = ndtr((-outer - value) / spread) + ndtr((value - outer) / spread)
    chance: Array = np.clip(good + bad, 0.0, 1.0)
    return chance

"""Before the build: what saws and joints make of a frame, which of it matters, and whether it can be trued.

The same equations as the adjustment's, without readings: every cut, every cut end and every joint puts in an
error; the frame takes the shape that divides them by its stiffness. Draws are made of the same errors, each
anywhere within its limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.machine.values import Machine
from trysquare.truing.bodies import assembly_of
from trysquare.truing.candidates import candidates_for
from trysquare.truing.characteristics import Component, Components, components_of
from trysquare.truing.model import Model, ModelBuilder
from trysquare.truing.network import Adjustment, adjust
from trysquare.truing.next_reading import candidate_rows, chance_of_deciding, variance_taken
from trysquare.truing.places import short
from trysquare.truing.uncertainty import COVERAGE

DRAWS = 1_000_000
CHUNK = 20_000
TRUED_DRAWS = 50_000  # draws on which corrections are looked for: known to a fifth of a per cent
NEGLIGIBLE = 1e-5  # share of every component's variance
ROUNDS = 6  # of looking for corrections within the play


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One error's part in a component. `rate`: of the component for 1 mm (or rad) of it; `share`: of the
    component's variance."""

    source: str
    kind: str  # "cut length", "cut end", "joint"
    rate: float
    half_width: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentStack:
    """What comes of a component before anybody trues it. `deviation`: standard, in its unit; `as_it_comes`:
    chance that it is within its limit untouched."""

    component: Component
    deviation: float
    as_it_comes: float
    contributions: tuple[Contribution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suffices:
    """Whether an instrument can decide a characteristic. `expanded`: the best U with it; `chance`: of its
    deciding, before anybody has read anything; `how`: the reading."""

    characteristic: str
    instrument: str
    expanded: float
    chance: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StackReport:
    """The tolerance stack. `can_be_trued`: chance that some shift of the joints within their play brings all
    within their limits, by corrections that were found; `at_most`: a bound that no corrections can beat."""

    components: tuple[ComponentStack, ...]
    all_as_it_comes: float
    can_be_trued: float
    at_most: float
    by_characteristic: tuple[tuple[str, float], ...]
    draws: int
    suffices: tuple[Suffices, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Errors:
    """All errors with limits: `effect` (k, e): of each on each component; `half_width` (e,). `movable` (e,):
    those that a snug joint's play can take back."""

    effect: Array
    half_width: Array
    movable: NDArray[np.bool_]
    sources: tuple[tuple[str, str], ...]


def stack(machine: Machine, *, draws: int = DRAWS, seed: int = 1, workers: int = 2) -> StackReport:
    """The tolerance stack of a machine as drawn."""
    assembly = assembly_of(machine)
    builder = ModelBuilder(assembly)
    model = builder.done()
    solved = adjust(model.equations, held=model.held)
    components = components_of(assembly, model.builder)
    errors = errors_of(model, solved, components)
    limits = np.array([row.limit for row in components.rows])
    counted = draw(errors, limits, draws=draws, seed=seed, workers=workers)
    variance = (errors.effect * errors.half_width) ** 2 / 3
    names = list(dict.fromkeys(row.characteristic for row in components.rows))
    of = {name: [i for i, row in enumerate(components.rows) if row.characteristic == name] for name in names}
    return StackReport(
        components=tuple(
            _component(row, index, errors, variance, counted) for index, row in enumerate(components.rows)
        ),
        all_as_it_comes=counted.all_within,
        can_be_trued=counted.trued,
        at_most=counted.at_most,
        by_characteristic=tuple((name, float(counted.trued_each[of[name]].min())) for name in names),
        draws=draws,
        suffices=_suffices(builder, model, solved, components),
    )


def errors_of(model: Model, solved: Adjustment, components: Components) -> Errors:
    """Every error and its effect: S = C N⁻¹ Jᵀ W over the rows of cuts and joints.

    Source: the law of propagation with the least-squares solution, JCGM 100:2008, 5.1.2 and H.3.
    """
    rates = components.rates(solved.x)
    rows: list[int] = []
    half: list[float] = []
    movable: list[bool] = []
    sources: list[tuple[str, str]] = []
    bodies = model.assembly.bodies
    for number, row in model.cut_rows.items():
        rows.append(row)
        half.append(bodies[number].cut_mm)
        movable.append(False)
        sources.append((bodies[number].id, "cut length"))
    for index, link in enumerate(model.assembly.links):
        names = f"{short(bodies[link.one].id)} to {short(bodies[link.other].id)}"
        for place in range(6):
            if link.play.runs:
                continue
            row = int(model.joint_rows[index, place])
            play = float(np.r_[link.play.shift_mm, link.play.turn_rad][place])
            rows.append(row)
            half.append(play)
            movable.append(place != 0)
            sources.append((names, "joint"))
            lean = float(link.end_rad[place - 3]) if place >= 3 else 0.0
            if lean > 0:
                rows.append(row)
                half.append(lean)
                movable.append(False)
                sources.append((f"end {link.end} of {bodies[link.one].id}", "cut end"))
    chosen = np.array(rows)
    matrix = solved.matrix[chosen]
    weight = 1 / solved.sigma[chosen] ** 2
    carried = rates @ solved.covariance
    effect = np.asarray((matrix @ carried.T).T) * weight
    return Errors(effect=effect, half_width=np.array(half), movable=np.array(movable), sources=tuple(sources))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """Shares of all draws. `within` (k,): of each component as it comes; `trued_each` (k,): after truing."""

    within: Array
    all_within: float
    trued: float
    trued_each: Array
    at_most: float


def draw(errors: Errors, limits: Array, *, draws: int, seed: int, workers: int = 2) -> Drawn:
    """Draws every error evenly within its limits, and looks for shifts of the joints that make all good."""
    size = errors.effect * errors.half_width / limits[:, None]
    total = np.maximum((size**2).sum(axis=1, keepdims=True), 1e-18)
    matters = (size**2 / total).max(axis=0) > NEGLIGIBLE
    fixed = size[:, ~errors.movable & matters].astype(np.float32)
    play = size[:, errors.movable & matters].astype(np.float32)
    pull = _correction(play)
    chunks = [min(CHUNK, draws - begun) for begun in range(0, draws, CHUNK)]
    seeds = np.random.SeedSequence(seed).spawn(len(chunks))
    searched = [begun < TRUED_DRAWS for begun in range(0, draws, CHUNK)]

    def one(chunk: tuple[int, np.random.SeedSequence, bool]) -> Array:
        return _counted(fixed, play, pull, *chunk)

    with ThreadPoolExecutor(max_workers=max(1, workers)) as pool:
        counts = list(pool.map(one, zip(chunks, seeds, searched, strict=True)))
    total_counts = np.sum(counts, axis=0)
    k = len(limits)
    looked = max(1, sum(size for size, also in zip(chunks, searched, strict=True) if also))
    return Drawn(
        within=total_counts[:k] / draws,
        trued_each=total_counts[k : 2 * k] / looked,
        all_within=float(total_counts[2 * k] / draws),
        trued=float(total_counts[2 * k + 1] / looked),
        at_most=float(total_counts[2 * k + 2] / looked),
    )


def _correction(play: NDArray[np.float32]) -> NDArray[np.float32]:
    """How the joints are to be shifted for each component that is out: the smallest shifts that do it."""
    spread = (play @ play.T).astype(float)
    spread[np.diag_indices_from(spread)] += 1e-3 * max(float(np.trace(spread)) / max(len(spread), 1), 1e-9)
    pull: NDArray[np.float32] = (play.T @ np.linalg.inv(spread)).astype(np.float32)
    return pull


def _counted(
    fixed: NDArray[np.float32],
    play: NDArray[np.float32],
    pull: NDArray[np.float32],
    draws: int,
    seed: np.random.SeedSequence,
    search: bool,
) -> Array:
    """Counts of one chunk (2k + 3,): components within as they come, within after truing, and all together
    as they come, after truing and at most. Without `search` only as they come."""
    chance = np.random.Generator(np.random.SFC64(seed))
    even = chance.random((draws, fixed.shape[1] + play.shape[1]), dtype=np.float32)
    even *= 2
    even -= 1
    if not search:
        inside = np.abs(even @ np.hstack([fixed, play]).T) <= 1
        nothing = np.zeros(inside.shape[1])
        alone: Array = np.r_[inside.sum(axis=0), nothing, inside.all(axis=1).sum(), 0, 0].astype(float)
        return alone
    built = even[:, : fixed.shape[1]] @ fixed.T  # what cannot be shifted
    shift = even[:, fixed.shape[1] :]  # where the joints happen to be
    found = built + shift @ play.T
    within: NDArray[np.bool_] = np.abs(found) <= 1
    good: NDArray[np.bool_] = np.asarray(within.all(axis=1))
    open_ = np.flatnonzero(~good)
    shift, left, base = shift[open_], found[open_], built[open_]
    trued: NDArray[np.bool_] = np.ones(within.shape, dtype=bool)
    done = good.copy()
    for _ in range(ROUNDS):
        # only what is out by more than half its limit is pulled: the rest is good enough as it is
        out = np.sign(left) * np.maximum(np.abs(left) - 0.5, 0)
        shift = np.clip(shift - out @ pull.T, -1, 1)
        left = base + shift @ play.T
        still = np.abs(left).max(axis=1, initial=0) > 1
        done[open_[~still]] = True
        trued[open_] = np.abs(left) <= 1
        open_, shift, left, base = open_[still], shift[still], left[still], base[still]
        if not len(open_):
            break
    reach = np.abs(play).sum(axis=1)
    possible = (np.abs(built) <= 1 + reach).all(axis=1) | done
    counts = np.r_[within.sum(axis=0), trued.sum(axis=0), good.sum(), done.sum(), possible.sum()]
    found_counts: Array = counts.astype(float)
    return found_counts


def _component(row: Component, index: int, errors: Errors, variance: Array, counted: Drawn) -> ComponentStack:
    mine = variance[index]
    total = float(mine.sum())
    gathered: dict[tuple[str, str], tuple[float, float, float]] = {}
    for number, source in enumerate(errors.sources):
        share, rate, half = gathered.get(source, (0.0, 0.0, 0.0))
        stronger = mine[number] > rate**2 * half**2 / 3
        gathered[source] = (
            share + float(mine[number]),
            float(errors.effect[index, number]) if stronger else rate,
            float(errors.half_width[number]) if stronger else half,
        )
    ranked = sorted(gathered.items(), key=lambda item: -item[1][0])
    return ComponentStack(
        component=row,
        deviation=float(np.sqrt(total)),
        as_it_comes=float(counted.within[index]),
        contributions=tuple(
            Contribution(source=name, kind=kind, rate=rate, half_width=half, share=share / total)
            for (name, kind), (share, rate, half) in ranked
            if total > 0 and share > 0.01 * total
        ),
    )


def _suffices(
    builder: ModelBuilder, model: Model, solved: Adjustment, components: Components
) -> tuple[Suffices, ...]:
    """For every characteristic and every instrument at hand the best single reading."""
    rates = components.rates(solved.x).toarray()
    variance = solved.uncertainty(rates) ** 2
    limits = np.array([row.limit for row in components.rows])
    gauges = [gauge for gauge in builder.gauges.values() if gauge.kind.reads != {"direct"}]
    candidates = candidates_for(model.assembly, components.rows, gauges)
    if not candidates:
        return ()
    matrix, noise = candidate_rows(builder, model, solved, candidates)
    taken = variance_taken(solved.covariance, rates, matrix, noise)
    chance = chance_of_deciding(np.zeros((len(limits), 1)), variance[:, None], taken, limits[:, None])
    best: dict[tuple[str, str], Suffices] = {}
    names: Sequence[str] = [row.characteristic for row in components.rows]
    for index, candidate in enumerate(candidates):
        for row, name in enumerate(names):
            if taken[row, index] < 0.05 * variance[row]:
                continue
            known = best.get((name, candidate.gauge.id))
            if known is None or chance[row, index] > known.chance:
                best[(name, candidate.gauge.id)] = Suffices(
                    characteristic=name,
                    instrument=candidate.gauge.id,
                    expanded=float(COVERAGE * np.sqrt(max(0.0, variance[row] - taken[row, index]))),
                    chance=float(chance[row, index]),
                    how=candidate.says(model.assembly, builder.features),
                )
    return tuple(sorted(best.values(), key=lambda one: (names.index(one.characteristic), -one.chance)))

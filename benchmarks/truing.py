"""Measures truing: the adjustment's time against a library's, next readings, draws, and simulated builds.

python -m benchmarks.truing [--builds 1000]

The frame of sixty members is a rack of our own; its three hundred readings are those that the program itself
would offer. Simulated builds are those of the tests: random saws and joints, imperfect
instruments, joints of unlike friction.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from benchmarks.figures import heading, median_own_seconds, row
from trysquare.machine.load import load_machine
from trysquare.machine.values import Characteristic, Instrument, Machine
from trysquare.truing.bodies import Assembly, assembly_of
from trysquare.truing.candidates import candidates_for
from trysquare.truing.characteristics import components_of
from trysquare.truing.instruments import gauge_of
from trysquare.truing.model import Model, ModelBuilder, repeats
from trysquare.truing.network import adjust
from trysquare.truing.next_reading import candidate_rows, chance_of_deciding, variance_taken
from trysquare.truing.readings import Reading
from trysquare.truing.report import report
from trysquare.truing.stack import draw, errors_of, stack
from trysquare.truing.verdicts import Verdict

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
LARCH = ROOT / "demo" / "larch"
INSTRUMENTS = tuple(
    Instrument(id=sort, sort=sort, half_width_mm=half, reach_mm=reach, source="")
    for sort, half, reach in (
        ("caliper", 0.03, 150), ("tape", 0.5, 3000), ("square", 0.04, 75), ("pinch-rod", 0.1, 700),
        ("dial", 0.03, 10), ("feeler", 0.02, 1),
    )
)  # fmt: skip


def sixty_members(bays: int = 4, levels: int = 4) -> Machine:
    """A rack: two rows of posts, so many bays wide, joined lengthwise and across at so many levels."""
    members, ends, rings = [], [], {}
    for column in range(bays + 1):
        for number, y in enumerate((10, 330)):
            spot = f"at_mm = [{10 + 320 * column}, {y}, 0]"
            members.append(f'post-{column}-{number} = {{ part = "post", {spot}, along = "+z" }}')
    for level in range(levels):
        height = 10 + 200 * level
        for column in range(bays):
            for number, y in enumerate((10, 330)):
                name = f"x-{level}-{column}-{number}"
                members.append(f'{name} = {{ part = "beam", at_mm = [{20 + 320 * column}, {y}, {height}] }}')
                ends += [f"{name}:a", f"{name}:b"]
        for column in range(bays + 1):
            name = f"y-{level}-{column}"
            spot = f"at_mm = [{10 + 320 * column}, 20, {height}]"
            members.append(f'{name} = {{ part = "beam", {spot}, along = "+y" }}')
            ends += [f"{name}:a", f"{name}:b"]
        rings[f"level-{level}"] = [name for name in members if name[0] in "xy" and name[2] == str(level)]
    part = 'kind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = '
    files = {
        "machine.toml": 'format = 1\nname = "Rack"\n',
        "parts.toml": f'[part.post]\n{part}700\n[part.beam]\n{part}300\ntapped = ["a", "b"]\n',
        "units/rack.toml": "[place]\n" + "\n".join(members)
        + f'\n[joint.ends]\nrecipe = "blind-joint"\nends = {json.dumps(ends)}\nscrew = "ISO 7380-1 M5x12"\n',
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        for name, body in files.items():
            file = Path(folder) / name
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(body, encoding="utf-8")
        machine = load_machine(folder)
    characteristics = tuple(
        Characteristic(
            id=name,
            sort="squareness",
            of=tuple(f"rack/{line.partition(' ')[0]}" for line in lines),
            limit=0.05,
            unit="mm/100",
        )
        for name, lines in rings.items()
    )
    return replace(machine, characteristics=characteristics, instruments=INSTRUMENTS)


def some_readings(machine: Machine, assembly: Assembly, count: int) -> tuple[Reading, ...]:
    """So many different readings that the program would offer."""
    builder = ModelBuilder(assembly)
    components = components_of(assembly, builder.build).rows
    gauges = [gauge for one in machine.instruments if (gauge := gauge_of(one)) is not None]
    found: dict[tuple[object, ...], Reading] = {}
    for candidate in candidates_for(assembly, components, gauges):
        for reading in candidate.readings:
            found.setdefault(reading.same, replace(reading, id=str(len(found))))
    every = list(found.values())
    order = np.random.default_rng(1).permutation(len(every))[:count]
    return tuple(every[index] for index in order)


def read_model(machine: Machine, count: int) -> tuple[ModelBuilder, Model]:
    """A model with so many readings of a frame that is some tenths out."""
    assembly = assembly_of(machine)
    readings = some_readings(machine, assembly, count)
    model = ModelBuilder(assembly).done(repeats(readings))
    chance = np.random.default_rng(2)
    observed = chance.normal(0, model.equations.sigma)
    before = np.arange(model.equations.rows) < model.prior_rows
    true = adjust(replace(model.equations, observed=observed), held=model.held, used=before).x
    exact = model.equations.predict(true)
    made = [
        replace(one.first, value=float(exact[line] + chance.normal(0, one.uncertainty)))
        for one, line in zip(model.observations, model.rows_of, strict=True)
    ]
    builder = ModelBuilder(assembly)
    return builder, builder.done(repeats(made))


def adjustment() -> None:
    """The adjustment of sixty members, against scipy's own solver on the same rows."""
    builder, model = read_model(sixty_members(), 300)
    equations, held = model.equations, model.held
    members = sum(body.is_member for body in model.assembly.bodies)
    ours = adjust(equations, held=held)
    seconds = median_own_seconds(lambda: adjust(equations, held=held), 9)
    size = f"{members} members, {len(model.rows_of)} readings, {equations.unknowns} unknowns"
    row(f"adjustment with covariance: {size}", "≤ 60 ms", f"{1000 * seconds:.0f} ms")
    free = ~held

    def residual(x: np.ndarray) -> np.ndarray:
        whole = np.zeros(equations.unknowns)
        whole[free] = x
        return (equations.predict(whole) - equations.observed) / equations.sigma

    def jacobian(x: np.ndarray) -> np.ndarray:
        whole = np.zeros(equations.unknowns)
        whole[free] = x
        return equations.linearised(whole)[1].toarray()[:, free] / equations.sigma[:, None]

    start = np.zeros(int(free.sum()))
    best = np.inf
    for method in ("lm", "trf"):
        options = {
            "method": method,
            "jac": jacobian,
            "xtol": 1e-12,
            "ftol": 1e-12,
            "gtol": 1e-12,
            "x_scale": "jac",
        }
        solved = least_squares(residual, start, **options)
        theirs = median_own_seconds(lambda options=options: least_squares(residual, start, **options), 3)  # type: ignore[misc]
        apart = float(np.abs(solved.x - ours.x[free]).max())
        best = min(best, theirs)
        row(
            f"  scipy least_squares ({method}) given our exact rates, no covariance",
            "",
            f"{1000 * theirs:.0f} ms, apart {apart:.1e}",
        )
    row("  times faster than the better of them", "≥ 5", f"{best / seconds:.1f}")
    _next_reading(builder, model)


def _next_reading(builder: ModelBuilder, model: Model) -> None:
    solved = adjust(model.equations, held=model.held)
    components = components_of(model.assembly, model.builder)
    rates = components.rates(solved.x).toarray()
    gauges = list(builder.gauges.values())
    every = candidates_for(model.assembly, components.rows, gauges)
    chosen = [every[index] for index in np.random.default_rng(1).permutation(len(every))[:500]]
    values, limits = components.values(solved.x), np.array([one.limit for one in components.rows])
    variance = solved.uncertainty(rates) ** 2

    def rank() -> np.ndarray:
        rows, noise = candidate_rows(builder, model, solved, chosen)
        taken = variance_taken(solved.covariance, rates, rows, noise)
        decided = chance_of_deciding(values[:, None], variance[:, None], taken, limits[:, None])
        return np.argsort(-decided.sum(axis=0))

    row(
        f"ranking {len(chosen)} candidates over {len(limits)} components",
        "≤ 200 ms",
        f"{1000 * median_own_seconds(rank, 9):.0f} ms",
    )


def draws() -> None:
    """A million frames from random saws and joints."""
    machine = load_machine(LARCH)
    assembly = assembly_of(machine)
    model = ModelBuilder(assembly).done()
    solved = adjust(model.equations, held=model.held)
    components = components_of(assembly, model.builder)
    errors = errors_of(model, solved, components)
    limits = np.array([one.limit for one in components.rows])
    start, busy = time.perf_counter(), time.process_time()
    draw(errors, limits, draws=1_000_000, seed=1, workers=os.cpu_count() or 1)
    wall, busy = time.perf_counter() - start, time.process_time() - busy
    size = f"{len(errors.half_width)} errors, {len(limits)} components"
    row(f"10⁶ draws of Larch: {size}", "≤ 2 s", f"{wall:.2f} s ({busy:.2f} s of processor)")
    whole = median_own_seconds(lambda: stack(machine), 3)
    row("  the whole tolerance stack of Larch, folder read already", "", f"{whole:.2f} s of processor")


@dataclass
class Tally:
    """Counts over builds."""

    builds: int = 0
    held: int = 0
    components: int = 0
    good: int = 0
    wrong: int = 0
    trued: int = 0
    first: int = 0
    pushes: list[int] = field(default_factory=list)
    blunders: int = 0
    found: int = 0
    named: int = 0
    accused: int = 0
    clean: int = 0


def builds(count: int) -> None:
    """Simulated builds: half of the base alone, half of uprights and carry beams; normal and even errors."""
    from simulated_builds import Workshop, targets_of  # type: ignore[import-not-found]
    from truing_plans import base_plan, frame_plan  # type: ignore[import-not-found]

    machine = load_machine(LARCH)
    for normal in (True, False):
        sums = Tally()
        for plan in (base_plan(machine), frame_plan(machine)):
            shop = Workshop(plan, normal=normal)
            mine = Tally()
            for number in range(count // 2):
                one_build(shop, targets_of(shop), np.random.default_rng([1, number]), mine, sums)
            _tell(f"{plan.standing.step}, {'normal' if normal else 'even'} errors", mine)
        _tell(f"both, {'normal' if normal else 'even'} errors", sums)


def one_build(shop, targets, chance, *tallies) -> None:  # type: ignore[no-untyped-def]
    """One frame: built, read, pushed and read again; then the first readings once more with a blunder."""
    machine, plan = shop.plan.machine, shop.plan
    limits = np.array([one.limit for one in shop.components.rows])
    true = shop.build(chance)
    first = shop.read(chance, true)
    readings = first
    for number in (1, 2, 3):
        found = report(machine, readings, plan.standing)
        truth = shop.truth(true)
        results = [each for one in found.characteristics for each in one.components]
        for tally in tallies:
            for index, each in enumerate(results):
                if each.judged.verdict is Verdict.NOT_READ:
                    continue
                if number == 1:
                    tally.components += 1
                    tally.held += abs(each.judged.value - truth[index]) <= each.judged.expanded
                if each.judged.verdict is Verdict.GOOD:
                    tally.good += 1
                    tally.wrong += abs(truth[index]) > limits[index]
            if number == 1:
                tally.clean += 1
                tally.accused += bool(found.shape.snooped.blunders)
        if found.advice is None or number == 3:
            break
        for tally in tallies:
            tally.pushes.append(len(found.advice.pushes))
        true = shop.push(chance, true, found.advice)
        readings = shop.read(chance, true, number + 1)
    right = bool((np.abs(shop.truth(true))[targets] <= limits[targets]).all())
    for tally in tallies:
        tally.builds += 1
        tally.trued += right
    _blunder(shop, first, chance, *tallies)


def _blunder(shop, readings, chance, *tallies) -> None:  # type: ignore[no-untyped-def]
    """One reading, with its repeats, half a millimetre out: only where that can be found at all."""
    machine, plan = shop.plan.machine, shop.plan
    good = report(machine, readings, plan.standing, advice=False)
    findable = [one for one in good.readings if one.checked is not None and one.checked.findable <= 0.5]
    if not findable or good.shape.snooped.blunders:
        return
    victim = findable[int(chance.integers(len(findable)))]
    sign = 0.5 if chance.random() < 0.5 else -0.5
    hit = {one.what for one in victim.readings}
    spoiled = tuple(
        replace(one, value=one.value + sign, written=f"{one.value + sign:.3f}") if one.what in hit else one
        for one in readings
    )
    found = report(machine, spoiled, plan.standing, advice=False)
    wrong = [one for one in found.readings if one.blunder is not None]
    observations = found.shape.model.observations
    named = any(one.readings[0].what in hit for one in wrong)
    beside = any(
        observations[other].first.what in hit for one in wrong if one.blunder for other in one.blunder.instead
    )
    for tally in tallies:
        tally.blunders += 1
        tally.named += named
        tally.found += named or beside


def _tell(what: str, one: Tally) -> None:
    heading(f"{one.builds} builds, {what}")
    row("  U covers the truth", "95 ± 1.5 %", f"{one.held / max(1, one.components):.1%} of {one.components}")
    row("  wrong “good”", "≤ 2.5 %", f"{one.wrong / max(1, one.good):.2%} of {one.good}")
    share = one.found / max(1, one.blunders)
    row("  a blunder of 0.5 mm found, where findable", "≥ 95 %", f"{share:.1%} of {one.blunders}")
    row("    and named alone, not as one of several", "", f"{one.named / max(1, one.blunders):.1%}")
    row("  good readings accused, builds", "", f"{one.accused / max(1, one.clean):.1%}")
    row("  true after ≤ 2 rounds of advice", "≥ 95 %", f"{one.trued / max(1, one.builds):.1%}")
    row("    pushes in a round, on the average", "", f"{statistics.mean(one.pushes or [0]):.1f}")


def main() -> None:
    """Prints one row for each figure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--builds", type=int, default=200, help="simulated builds of each sort of error")
    wanted = parser.parse_args()
    adjustment()
    draws()
    builds(wanted.builds)


if __name__ == "__main__":
    main()

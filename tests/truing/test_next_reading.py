"""Which reading to make next: the update without inversion against the adjustment itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from trysquare.machine.values import Machine
from trysquare.truing.candidates import candidates_for
from trysquare.truing.model import ModelBuilder, repeats
from trysquare.truing.network import adjust
from trysquare.truing.next_reading import candidate_rows, chance_of_deciding, variance_taken
from trysquare.truing.readings import Reading
from trysquare.truing.report import report

Readings = Callable[[str], tuple[Reading, ...]]

DIAGONALS = (
    "diagonal,left-base:a-y,right-base:b+y,537.5,pinch-rod,,base-true\n"
    "diagonal,left-base:b-y,right-base:a+y,537.2,pinch-rod,,base-true\n"
)


def test_the_variance_a_reading_takes_is_what_adjusting_with_it_takes(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, readings(DIAGONALS))
    shape = found.shape
    gauges = [gauge for name, gauge in shape.builder.gauges.items() if name in ("tape", "feeler")]
    offered = candidates_for(shape.assembly, shape.components.rows, gauges)
    single = [one for one in offered if len(one.readings) == 1][:12]
    rows, noise = candidate_rows(shape.builder, shape.model, shape.adjustment, single)
    taken = variance_taken(shape.adjustment.covariance, shape.rates, rows, noise)
    before = shape.adjustment.uncertainty(shape.rates) ** 2
    for index, candidate in enumerate(single):
        new = replace(candidate.readings[0], setting="")
        drawn = ModelBuilder(shape.assembly).done(repeats([new])).observations[0].drawn
        made = (*readings(DIAGONALS), replace(new, value=drawn))
        model = ModelBuilder(shape.assembly).done(repeats(made))
        width = shape.rates.shape[1]
        spread = adjust(model.equations, held=model.held).covariance[:width, :width]
        after = ((shape.rates @ spread) * shape.rates).sum(axis=1)
        assert before - taken[:, index] == pytest.approx(after, rel=2e-2, abs=1e-9)


def test_the_chance_of_deciding_is_that_of_draws() -> None:
    # Source: the same experiment drawn 200,000 times
    chance = np.random.default_rng(1)
    for value, variance, taken, limit in ((0.02, 0.03**2, 0.028**2, 0.05), (0.06, 0.04**2, 0.03**2, 0.05)):
        seen = chance.normal(value, np.sqrt(taken), 200_000)
        expanded = 2 * np.sqrt(variance - taken)
        decided = (np.abs(seen) <= limit - expanded) | (np.abs(seen) > limit + expanded)
        found = chance_of_deciding(np.array(value), np.array(variance), np.array(taken), np.array(limit))
        assert float(found) == pytest.approx(decided.mean(), abs=0.005)


def test_a_base_read_by_diagonals_is_next_asked_for_its_corners_or_its_rock(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, readings(DIAGONALS))
    decides = {one.candidate.gauge.kind.sort: one.decides for one in found.next.owned}
    assert max(decides, key=decides.__getitem__) in ("square", "feeler", "pinch-rod")
    assert max(decides.values()) > 0.3


def test_every_offered_reading_is_one_that_the_program_understands(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, readings(DIAGONALS))
    for one in found.next.owned:
        for reading in one.candidate.readings:
            assert found.shape.builder.understands(reading)
        assert one.says


def test_with_a_tape_alone_no_reading_decides_and_a_better_instrument_is_named(
    larch: Machine, readings: Readings
) -> None:
    only_tape = replace(
        larch, instruments=tuple(one for one in larch.instruments if one.sort in ("tape", "scale"))
    )
    rows = DIAGONALS.replace("pinch-rod", "tape").replace("537.5", "537.4").replace("537.2", "537.4")
    found = report(only_tape, readings(rows))
    assert all(one.decides < 0.05 for one in found.next.owned)
    assert {one.candidate.gauge.id for one in found.next.borrowed} & {"square", "pinch-rod", "feeler"}
    assert not any(one.candidate.gauge.owned for one in found.next.borrowed)


def test_nothing_open_asks_for_nothing(larch: Machine) -> None:
    none = replace(larch, characteristics=())
    assert report(none, ()).next.considered == 0

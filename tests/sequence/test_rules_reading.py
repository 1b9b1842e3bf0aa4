"""What a reading is made with must be fine enough for its limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Instrument, Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.instruments import guard_band

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
TAPE = Instrument(id="tape", sort="tape", half_width_mm=0.5, reach_mm=3000.0, source="")
ROD = Instrument(id="pinch-rod", sort="pinch-rod", half_width_mm=0.03, reach_mm=700.0, source="")

Owning = Callable[..., list[Finding]]


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


@pytest.fixture(scope="module")
def owning(larch: Machine) -> Owning:
    """What is found where the posts, to be parallel within 0.1 mm, are read twice in one step."""

    def owning(*owned: Instrument, using: str = "tape") -> list[Finding]:
        step = next(one for one in larch.steps if one.id == "posts-true")
        actions = tuple(
            replace(each, using=(using,)) if "posts-parallel" in each.reads else each for each in step.actions
        )
        read = next(each for each in actions if "posts-parallel" in each.reads)
        only = replace(step, actions=(*actions, read))
        found = check_order(replace(larch, instruments=owned, steps=(only,)))
        return [one for one in found if one.code == "instrument-too-coarse"]

    return owning


def test_a_limit_that_its_instrument_can_never_call_good_is_told_once_with_the_one_that_can(
    owning: Owning,
) -> None:
    (finding,) = owning(TAPE, ROD)
    assert (finding.step, finding.limit) == ("posts-true", 0.1)
    # Source: two readings of +- 0.5 mm differ by +- 0.5 times the root of 2 (root sum of squares).
    assert finding.value == pytest.approx(0.7071, abs=1e-4)
    assert "posts-parallel is to be within 0.1 mm, and tape tells it to" in finding.says
    assert finding.remedy == "Read it with pinch-rod, which calls it good up to 0.07 mm."


def test_where_none_is_owned_that_can_a_usual_sort_is_named(owning: Owning) -> None:
    (finding,) = owning(TAPE)
    assert finding.remedy == (
        "No instrument of machine.toml can; a 500 mm caliper, usually ± 0.05 mm, would do. Or ask whether "
        "the limit must be so narrow."
    )


def test_an_instrument_that_leaves_room_or_that_waits_for_its_check_is_not_told(owning: Owning) -> None:
    assert not owning(TAPE, ROD, using="pinch-rod")
    assert not owning(replace(TAPE, marked=False), ROD)


def test_a_value_is_good_or_bad_only_with_the_whole_error_limits_behind_it() -> None:
    band = guard_band(0.1, 0.03)
    assert (band.good_to, band.bad_above) == (0.07, 0.13)
    assert guard_band(0.1, 0.1).good_to is None

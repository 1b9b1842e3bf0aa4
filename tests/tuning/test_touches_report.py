"""What touches mean: the uncertainty of a deviation, offsets with drift, how many touches would tell."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.tuning.report import CANNOT_TELL
from trysquare.tuning.touches import look_at_touches
from trysquare.tuning.touches_report import (
    Series,
    TouchesCase,
    deviation_measured,
    parse_touches,
    touches_report,
)


@pytest.mark.outside
@pytest.mark.parametrize(("count", "percent"), [(10, 24), (20, 16), (30, 13), (50, 10)])
def test_a_deviation_is_as_unsure_as_the_guide_says(count: int, percent: int) -> None:
    # Source: JCGM 100:2008, table E.1, the standard deviation of a deviation by the number of observations,
    # from memory; printed in whole per cent.
    touches = look_at_touches(np.random.default_rng(1).standard_normal(count).tolist())
    assert not touches.astray
    measured = deviation_measured(touches)
    assert 100 * measured.standard_uncertainty / measured.value == pytest.approx(percent, abs=0.5)


def series(by: str, positions: np.ndarray) -> Series:
    return Series(
        axis="z", by=by, positions_mm=tuple(positions.tolist()), lines=tuple(range(2, 2 + len(positions)))
    )


def test_a_drift_makes_the_offset_less_sure() -> None:
    random = np.random.default_rng(3)
    tool = series("tool", 0.003 * random.standard_normal(20))
    still = 1.5 + 0.003 * random.standard_normal(20)
    creeping = still + np.linspace(0, 0.2, 20)
    offsets = [
        touches_report(TouchesCase(series=(series("probe", one), tool)))[0].parts[-1].main
        for one in (still, creeping)
    ]
    assert all(one is not None for one in offsets)
    assert offsets[1].expanded > 10 * offsets[0].expanded  # type: ignore[union-attr]  # asserted above


def test_an_offset_too_unsure_for_the_tolerance_is_not_judged() -> None:
    random = np.random.default_rng(4)
    probe, tool = (series(by, 0.05 * random.standard_normal(4)) for by in ("probe", "tool"))
    report, _ = touches_report(TouchesCase(series=(probe, tool), known_offset_mm=0.0))
    assert report.parts[-1].verdict == CANNOT_TELL


def test_series_are_told_apart_by_axis_and_by_what_touched() -> None:
    text = "axis;with;position_mm\n" + "".join(
        f"{axis};{by};{index},0{index}\n" for axis in "xz" for by in ("switch", "probe") for index in range(3)
    )
    found = parse_touches(text, "t.csv")
    assert [one.name for one in found] == ["x switch", "x probe", "z switch", "z probe"]
    assert found[1].positions_mm == (0.0, 1.01, 2.02)
    assert found[1].lines == (5, 6, 7)


def test_all_faults_are_told_at_once_with_their_lines() -> None:
    with pytest.raises(ReadingErrors) as caught:
        parse_touches("axis,position_mm\nq,1\nz,one\nz,1e9\n", "t.csv")
    assert [problem.where.line for problem in caught.value.problems] == [2, 3, 4]


@pytest.mark.slow
@pytest.mark.parametrize("count", [6, 10, 20, 50])
def test_of_clean_series_hardly_any_loses_a_touch(count: int) -> None:
    random = np.random.default_rng(6)
    lost = sum(bool(look_at_touches(one).astray) for one in random.standard_normal((400, count)))
    assert lost <= 8

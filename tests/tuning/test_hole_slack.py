"""How much printed parts may shrink before their screws no longer go through, and scaling done twice."""

from __future__ import annotations

import pytest

from trysquare.machine.load import load_machine
from trysquare.tuning.hole_slack import HoleSlack, hole_slacks, slack_part
from trysquare.tuning.skew_file import parse_typed
from trysquare.tuning.skew_report import SkewCase, read_case, skew_report
from trysquare.tuning.values import Measured

WIDE = HoleSlack(part_type="mount", joint="z/mounts", span_mm=76, slack_mm=0.5)
NARROW = HoleSlack(part_type="anchor", joint="x/anchor", span_mm=16, slack_mm=0.4)


def percent(value: float, standard_uncertainty: float = 0.01) -> Measured:
    return Measured(value=value, standard_uncertainty=standard_uncertainty, unit="%")


def case(*readings: str, travel: float | None = 1.0, slacks: tuple[HoleSlack, ...] = ()) -> SkewCase:
    own = {} if travel is None else {"x": Measured(value=travel, standard_uncertainty=1e-4, unit="")}
    return SkewCase(
        readings=parse_typed(readings, "--reading", 100.0), own_scale=own, slacks=slacks
    )  # fmt: skip


def test_the_slack_of_a_pattern_is_the_mean_of_its_two_clearances_over_their_distance() -> None:
    # by hand: Larch's mount is screwed by M5 in 5.5 mm holes 76 mm apart: each may stand 0.25 mm off
    slacks = hole_slacks(load_machine("demo/larch"))
    tightest = slacks[0]
    assert (tightest.part_type, tightest.joint) == ("z-motor-mount", "z-drive/mounts")
    assert tightest.span_mm == pytest.approx(76)
    assert tightest.slack_mm == pytest.approx(0.5)
    assert [one.allowed_percent for one in slacks] == sorted(one.allowed_percent for one in slacks)


@pytest.mark.parametrize(
    ("shrinks", "verdict"), [(0.35, "good"), (0.66, "cannot tell"), (0.91, "bad"), (-0.91, "bad")]
)
def test_shrinkage_is_judged_by_the_room_of_the_screws(shrinks: float, verdict: str) -> None:
    assert slack_part((WIDE, NARROW), percent(shrinks), apart=True).verdict == verdict


def test_a_part_that_shrinks_too_far_is_named_with_the_one_scale_that_mends_it() -> None:
    said = " ".join(slack_part((WIDE, NARROW), percent(0.91), apart=True).says)
    assert "mount: its holes of z/mounts are 76 mm apart with 0.50 mm of room; 0.91 % takes 0.69 mm" in said
    assert "Scale them once, by 100.92 %, in the slicing or in the file, never in both" in said
    assert "anchor" not in said


def test_what_may_be_the_axes_own_scale_is_not_called_bad() -> None:
    part = slack_part((WIDE,), percent(0.91), apart=False)
    assert part.verdict == "cannot tell"
    assert "--travel" in part.says[-1]


def test_a_piece_larger_than_its_axes_go_was_scaled_twice() -> None:
    asked = case("xy x outside 100.70", "xy y outside 100.70")
    report = skew_report(asked, read_case(asked))
    (scale,) = [part for part in report.parts if part.of == "scale"]
    assert scale.verdict == "bad"
    assert any("twice, in the file and again in the slicing" in says for says in scale.says)


def test_a_piece_that_shrinks_is_no_fault_of_the_axes() -> None:
    asked = case("xy x outside 99.60", "xy y outside 99.60", slacks=(WIDE,))
    report = skew_report(asked, read_case(asked))
    assert [part.verdict for part in report.parts if part.of == "scale"] == ["good"]
    assert [part.verdict for part in report.parts if part.of == "printed-holes"] == ["good"]

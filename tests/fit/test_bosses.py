"""Material round a heat-set insert."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import machine_of, only
from trysquare.fit.bosses import BOSS_SHARE, boss_findings
from trysquare.fit.check import check_fit

HOLDER = 'solid = [ { box_mm = [30, 30, 10] } ]\nhole = [ { name = "in", at_mm = [15, 15, 10]'


def narrow(across_mm: float) -> tuple[str, str]:
    """The holder as a bar so wide, its hole in the middle of it."""
    side = (30 - across_mm) / 2
    box = f"box_mm = [30, {across_mm}, 10], at_mm = [0, {side}, 0]"
    return HOLDER, HOLDER.replace("box_mm = [30, 30, 10]", box)


def test_an_insert_in_the_middle_of_its_part_is_good(tmp_path: Path) -> None:
    assert check_fit(machine_of(tmp_path)) == ()


@pytest.mark.parametrize("across_mm", [5.5, 6.5])
def test_an_insert_near_an_edge_says_how_much_there_is(across_mm: float, tmp_path: Path) -> None:
    found = only(tmp_path, narrow(across_mm))
    assert (found.code, found.parts, found.limit) == ("insert-near-edge", ("frame/holder",), 8.0)
    assert found.value == pytest.approx(across_mm, abs=0.2)
    assert found.at_mm == pytest.approx((165, 215, 10))


def test_a_boss_hardly_under_its_least_is_let_pass(tmp_path: Path) -> None:
    # Common practice, no source: the least boss is "about" twice the hole.
    assert not list(boss_findings(machine_of(tmp_path, narrow(8 * BOSS_SHARE + 0.2))))


def test_two_holes_near_each_other_are_one_finding(tmp_path: Path) -> None:
    edit = ("at_mm = [15, 15, 10], depth_mm = 9", "at_mm = [[15, 15, 10], [15, 20.2, 10]], depth_mm = 9")
    (found,) = boss_findings(machine_of(tmp_path, edit))
    assert "in.1, in.2" in found.says

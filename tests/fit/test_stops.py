"""Stops of one gantry's two rails, on Larch with one of them set elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.fit.axes import motions
from trysquare.fit.stops import stop_findings
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
PAPER = """
title = "Another stop"
kind = "modification"
edition = "1"
over = ["base-manual", "travel-upgrade", "bed-modification", "erratum-3a"]
reason = "A test."
[[replace]]
line = "unit.y-rails.place.right-stop-back"
with = {{ {keys} }}
"""


def found(folder: Path, keys: str) -> list[Finding]:
    paper = folder / "paper.toml"
    paper.write_text(PAPER.format(keys=keys), encoding="utf-8")
    machine = load_machine(LARCH, [paper])
    return list(stop_findings(machine, motions(machine)))


def test_stops_that_stand_level_are_no_finding() -> None:
    machine = load_machine(LARCH)
    assert list(stop_findings(machine, motions(machine))) == []


@pytest.mark.parametrize(("offset_mm", "first"), [(46, "left"), (49, "right")])
def test_the_stop_that_is_met_first_and_how_far_the_gantry_is_racked_are_said(
    tmp_path: Path, offset_mm: float, first: str
) -> None:
    (one,) = found(tmp_path, f"offset_mm = {offset_mm}")
    assert one.code == "stops-unequal"
    assert one.parts[0] == f"y-rails/{first}-stop-back"
    # by hand: the stop belongs 48 mm from the beam's end; the rails stand 400 mm apart
    assert one.value == pytest.approx(abs(48 - offset_mm))
    assert one.says.startswith("Towards the back axis y comes against")
    assert f"over 400 mm, {abs(48 - offset_mm) / 4:g} mm/100" in one.says


def test_less_than_a_pinch_rod_tells_is_no_finding(tmp_path: Path) -> None:
    assert found(tmp_path, "offset_mm = 47.95") == []

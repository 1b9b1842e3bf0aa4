"""The picture of heat: whole, with its key, for records of every sort."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from trysquare.publish.heat_plot import heat_plot
from trysquare.tuning.heat_file import parse_record
from trysquare.tuning.heat_report import answered

RECORDINGS = Path(__file__).resolve().parents[2] / "demo" / "larch" / "recordings"


@pytest.mark.slow
@pytest.mark.parametrize(("name", "target", "charts"), [
    ("bed-step.csv", 90, 2), ("hot-end-cycles.csv", 210, 2), ("bed-step.csv", 900, 1),
])  # fmt: skip
def test_a_heat_picture_is_svg_with_its_charts(name: str, target: float, charts: int) -> None:
    record = parse_record((RECORDINGS / name).read_text(encoding="utf-8"), name, None)
    plot = heat_plot(answered(record, target))
    assert plot is not None
    for drawn in (plot.wide, plot.narrow):
        ET.fromstring(drawn)
        assert drawn.count("<g ") == charts
        assert drawn.count(">heater on<") == 1
        assert "time constant" in drawn

"""The frame with its error enlarged."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from trysquare.machine.load import load_machine
from trysquare.publish.truing_plot import truing_plot
from trysquare.truing.reading_files import read_readings
from trysquare.truing.report import TruingReport, report

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def base() -> TruingReport:
    machine = load_machine(LARCH)
    return report(machine, read_readings(machine))


def test_every_member_is_drawn_as_drawn_as_built_and_after(base: TruingReport) -> None:
    root = ET.fromstring(truing_plot(base))
    kinds = [path.get("class") for path in root.iter(f"{SVG}path")]
    assert kinds.count("drawn") == kinds.count("after") == 4
    assert kinds.count("bad") == 4
    assert len(list(root.iter(f"{SVG}ellipse"))) == 8
    assert len(list(root.iter(f"{SVG}polygon"))) == len(base.advice.pushes)  # type: ignore[union-attr]


def test_the_factor_is_said_in_the_picture_and_for_who_cannot_see_it(base: TruingReport) -> None:
    document = truing_plot(base)
    root = ET.fromstring(document)
    (description,) = root.iter(f"{SVG}desc")
    assert "drawn 100 times" in (description.text or "")
    assert any("error drawn 100 times" in (word.text or "") for word in root.iter(f"{SVG}text"))


def test_the_whole_machine_is_drawn_from_the_side(base: TruingReport) -> None:
    machine = load_machine(LARCH)
    root = ET.fromstring(truing_plot(report(machine, ())))
    built = [path for path in root.iter(f"{SVG}path") if path.get("class") == "built"]
    assert len(built) > 20


def test_a_machine_without_members_says_so() -> None:
    machine = load_machine(LARCH.parent / "reed")
    assert "Nothing to draw yet." in truing_plot(report(machine, ()))


def test_the_same_readings_make_the_same_bytes(base: TruingReport) -> None:
    assert truing_plot(base) == truing_plot(base)

"""A belt's or wire's length is never lost: in the quantity, in the name, or in a column of its own."""

from __future__ import annotations

import pytest

from trysquare.intake.list_runs import run_mm

BELT = ("belt 2 mm pitch 6 mm wide",)


@pytest.mark.parametrize(
    ("text", "said_mm", "run"),
    [
        ("belt 2 mm pitch 6 mm wide", 2500.0, 2500.0),
        ("belt 2 mm pitch 6 mm wide 3 m", 0.0, 3000.0),
        ("toothed belt 2 mm x 6 mm, 1,5m", 0.0, 1500.0),
        ("belt 2 mm pitch 6 mm wide", 0.0, 0.0),
        ("belt 2 mm pitch 6 mm wide, 5 metres", 1200.0, 1200.0),
    ],
)
def test_a_length_is_found_where_it_is_said(text: str, said_mm: float, run: float) -> None:
    assert run_mm(BELT, text, said_mm) == run


def test_a_wire_s_area_is_no_length() -> None:
    assert run_mm(("wire 1 mm2",), "wire 1 mm2 red", 0.0) == 0.0
    assert run_mm(("wire AWG 22",), "wire AWG 22 red, 5 m", 0.0) == 5000.0


def test_what_is_not_sold_by_length_has_none() -> None:
    assert run_mm(("ISO 4762 M3x8",), "screw for the 3 m bench", 0.0) == 0.0

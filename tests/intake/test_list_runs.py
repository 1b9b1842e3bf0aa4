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


@pytest.mark.parametrize(
    ("text", "said_mm", "quantity", "run"),
    [
        ("braided sleeving 6 mm", 5000.0, "5 m", 5000.0),
        ("PTFE tubing 4x2 mm, 1.5 m", 0.0, "2", 1500.0),
        ("silicone hose 4x6, 30 cm", 0.0, "1", 300.0),
        ("cable chain 10x15 1000 mm", 0.0, "1", 1000.0),
        ("Kapton tape 10 mm", 33000.0, "2 rolls of 33 m", 33000.0),
        ("Silikonschlauch 4x6", 2000.0, "2", 2000.0),
        ("Kabelkette 10x15 1 m", 0.0, "1", 1000.0),
        ("gaine thermo 3 mm 2 m", 0.0, "1", 2000.0),
        ("a thing nobody knows", 700.0, "70 cm", 700.0),
        ("heat shrink 3 mm", 0.0, "4", 0.0),
        ("cable tie 200 mm", 0.0, "40", 0.0),
        ("cover plate 200 mm", 200.0, "1", 0.0),
    ],
)
def test_sleeving_tube_tape_cable_and_chain_keep_their_length(
    text: str, said_mm: float, quantity: str, run: float
) -> None:
    assert run_mm(("own-part",), text, said_mm, quantity, own=True) == run

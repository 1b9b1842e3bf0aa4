"""The cut list: what is drilled where, from which end, and from which bars."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from publish.paper import text_of
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish.cut_drawing import face_drawing, face_holes, hole_rows, scale_of, stated_ends
from trysquare.publish.cut_list import BarPlan, bar_plan, cut_list_pdf, cut_members, member_facts
from trysquare.publish.cut_list import _bars as bars_of
from trysquare.publish.drawing import Circle, Word

PARTS = """
[part.post]
kind = "member"
profile = "profile 20x40 slot 6"
length_mm = 300
tapped = ["a"]
cut_mm = 0.1
hole = [
  { name = "k", face = "+z", from = "b", at_mm = [10, 200], diameter_mm = 6, access = true },
  { name = "s", face = "+y", at_mm = 50, diameter_mm = 5.5, across_mm = 10, countersunk = true },
  { name = "t", face = "-y", at_mm = [70, 80], thread = "M5", depth_mm = 8 },
]
[part.twin]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 250
[part.twin-too]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 250
"""
UNIT = """
[place]
post = { part = "post", at_mm = [0, 0, 0] }
one = { part = "twin", at_mm = [0, 100, 0] }
two = { part = "twin", at_mm = [0, 200, 0] }
three = { part = "twin-too", at_mm = [0, 300, 0] }
"""


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    (tmp_path / "units").mkdir()
    (tmp_path / "machine.toml").write_text('format = 1\nname = "Rowan"\n', "utf-8")
    (tmp_path / "parts.toml").write_text(PARTS, "utf-8")
    (tmp_path / "units" / "frame.toml").write_text(UNIT, "utf-8")
    return load_machine(tmp_path, [])


def test_members_alike_in_all_that_is_cut_are_one_row(machine: Machine) -> None:
    rows = {one.ids: len(one.places) for one in cut_members(machine)}
    assert rows == {("twin", "twin-too"): 3, ("post",): 1}


def test_holes_count_from_the_end_that_is_stated(machine: Machine) -> None:
    post = machine.types["post"]
    holes = face_holes(post, stated_ends(machine, post))
    assert [(one.face, one.end, one.from_end_mm, one.x_mm) for one in holes] == [
        ("+z", "b", 10.0, 290.0), ("+z", "b", 200.0, 100.0), ("-y", "a", 70.0, 70.0), ("-y", "a", 80.0, 80.0),
        ("+y", "a", 50.0, 50.0),
    ]  # fmt: skip


def test_a_hole_is_said_with_thread_depth_and_countersink(machine: Machine) -> None:
    post = machine.types["post"]
    holes = face_holes(post, stated_ends(machine, post))
    said = [(row["at"], row["end"], row["what"]) for row in hole_rows(holes)]
    assert ("70, 80", "a", "2 × tap M5, 8 deep") in said
    assert ("10, 200", "b", "2 × Ø6 right through, for a key") in said
    # Source: 2.24 × 5 mm, the sharp-edged head of ISO 10642, from memory.
    assert any("countersunk 90° to Ø11.2" in what for _, _, what in said)


def test_a_face_is_drawn_to_the_scale_it_says(machine: Machine) -> None:
    post = machine.types["post"]
    holes = [one for one in face_holes(post, stated_ends(machine, post)) if one.face == "+z"]
    drawn = face_drawing(post, "+z", holes)
    scale = 1 / scale_of(300.0)
    circles = sorted(
        shape.centre[0] for shape in drawn.shapes if isinstance(shape, Circle) and shape.radius == 3.0 * scale
    )
    assert circles[-1] - circles[0] == pytest.approx(190 * scale)
    figures = {shape.text for shape in drawn.shapes if isinstance(shape, Word)}
    assert {"a", "b", "+z", "10", "200", "300"} <= figures


def test_the_pages_say_every_member_its_length_and_its_holes(machine: Machine) -> None:
    members = cut_members(machine)
    plans, too_long = bar_plan(members, 1000.0, 3.0)
    text = " ".join(text_of(cut_list_pdf(machine, members, plans, 1000.0, 3.0, "a4").pdf).split())
    assert too_long == []
    for said in (
        "twin, twin-too",
        "300 ± 0.1",
        "2 × tap M5, 8 deep",
        "3 × 250",
        "end a: each core tapped M5",
    ):
        assert said in text


def test_a_machine_without_members_is_a_page_that_says_so(tmp_path: Path) -> None:
    (tmp_path / "machine.toml").write_text('format = 1\nname = "Nothing"\n', "utf-8")
    pages = cut_list_pdf(load_machine(tmp_path, []), (), (), 0.0, 3.0, "letter")
    assert "no members" in text_of(pages.pdf)


def test_a_member_longer_than_a_bar_is_named(machine: Machine) -> None:
    plans, too_long = bar_plan(cut_members(machine), 280.0, 3.0)
    assert too_long == ["post"]
    assert sum(len(plan.cuts) for plan in plans) == 3


def test_the_last_piece_of_a_bar_that_is_used_up_needs_no_cut() -> None:
    # 2 × 498.5 + one cut of 3 mm is 1000 exactly.
    assert len(bars_of("p", [("a", 498.5)] * 2, 1000.0, 3.0)) == 1
    assert len(bars_of("p", [("a", 498.6)] * 2, 1000.0, 3.0)) == 2


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(10, 500), min_size=1, max_size=6),
    st.integers(500, 1000),
    st.integers(0, 5),
)
def test_no_bar_is_cut_beyond_its_length_and_no_fewer_bars_would_do(
    lengths: list[int], bar_mm: int, kerf_mm: int
) -> None:
    plans = bars_of(
        "p", [(str(number), float(length)) for number, length in enumerate(lengths)], bar_mm, kerf_mm
    )
    assert sorted(name for plan in plans for name, _ in plan.cuts) == sorted(map(str, range(len(lengths))))
    for plan in plans:
        assert fits(plan, bar_mm, kerf_mm)
    # Source: every way of sharing the pieces among fewer bars, tried one by one.
    fewer = len(plans) - 1
    assert not any(
        all(
            sum(length + kerf_mm for length, bar in zip(lengths, share, strict=True) if bar == number)
            <= bar_mm + kerf_mm
            for number in range(fewer)
        )
        for share in itertools.product(range(fewer), repeat=len(lengths))
    )


def fits(plan: BarPlan, bar_mm: float, kerf_mm: float) -> bool:
    cuts = [length for _, length in plan.cuts]
    return sum(cuts) + kerf_mm * (len(cuts) - 1) <= bar_mm + 1e-6


def test_facts_say_faces_and_tapped_ends(machine: Machine) -> None:
    facts = member_facts(machine, cut_members(machine)[-1])
    assert facts["parts"] == ["post"]
    assert facts["tapped_ends"] == ["a"]
    assert facts["holes"] == 5
    assert set(facts["faces"]) == {"+z", "-y", "+y"}

"""What holds: carriages on their rails, units on the table, everything joined at the end."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sequence.folders import STOPS, Bench, is_clean, only, order_of

RUN = replace(
    STOPS,
    steps="""
rail: place beam; insert rail stop-a stop-b; place rail; start rail; tighten rail
a: place stop-a; start stop-a; tighten stop-a
block: place block
b: place stop-b; start stop-b; tighten stop-b
end: note Done.
""",
)
"""A carriage on a rail between two stops; stop b comes a step after the carriage."""


def test_a_carriage_can_run_off_the_end_that_has_no_stop_yet(tmp_path: Path) -> None:
    finding = only(RUN, tmp_path)
    assert (finding.code, finding.step) == ("carriage-can-run-off", "block")
    assert finding.parts == ("w/block", "w/rail")
    assert finding.remedy == "Put a stop at end b of w/rail, or hold the carriage with tape."


def test_a_carriage_on_a_bare_rail_can_run_off_at_both_ends(tmp_path: Path) -> None:
    finding = only(RUN.ordered("rail", "block", "a", "b"), tmp_path)
    assert (finding.code, finding.step) == ("carriage-can-run-off", "block")
    assert "at end a and b of w/rail" in finding.remedy


def test_a_stop_set_in_the_same_step_keeps_the_carriage(tmp_path: Path) -> None:
    assert is_clean(
        RUN.but(
            ("place block", "place block; place stop-b; start stop-b; tighten stop-b"),
            ("b: place stop-b; start stop-b; tighten stop-b\n", ""),
        ),
        tmp_path,
    )


@pytest.mark.parametrize(("held", "means"), [("block", "tape"), ("block", "tie"), ("rail", "stop")])
def test_tape_on_the_carriage_or_a_stop_in_the_rail_keeps_it(held: str, means: str, tmp_path: Path) -> None:
    bench = RUN.but(
        ("place block", f"place block; hold {held} means={means}"),
        ("tighten stop-b", f"tighten stop-b; release {held}"),
    )
    assert is_clean(bench, tmp_path)


@pytest.mark.parametrize(("held", "means"), [("block", "tape"), ("rail", "stop")])
def test_a_stop_that_is_taken_away_too_early_lets_the_carriage_run_off(
    held: str, means: str, tmp_path: Path
) -> None:
    bench = RUN.but(("place block", f"place block; hold {held} means={means}"), ("note Done.", "note Done."))
    bench = bench.ordered("rail", "a", "block", "end", "b").but(("note Done.", f"release {held}"))
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step) == ("carriage-can-run-off", "end")
    assert f"after step end releases w/{held}" in finding.says
    assert finding.remedy == (
        "Put a stop at end b of w/rail before the release in step end, or release it later."
    )


def test_a_carriage_can_run_off_at_once_when_the_work_is_turned(tmp_path: Path) -> None:
    turned = RUN.but(
        ("place block", "place block; turn over toward=+x; place stop-b; start stop-b; tighten stop-b"),
        ("b: place stop-b; start stop-b; tighten stop-b\n", ""),
    )
    finding = only(turned, tmp_path / "turned")
    assert (finding.code, finding.step) == ("carriage-can-run-off", "block")
    assert "when the work is turned" in finding.says
    held = turned.but(("turn over", "hold block means=tape; turn over"))
    assert is_clean(held, tmp_path / "held")


# -- standing ---------------------------------------------------------------------------------------

CRANE = Bench(
    parts="""
[part.sole]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 60
hole = [{ name = "key", face = "-z", from = "a", at_mm = 30, diameter_mm = 5.5, access = true }]
[part.mast]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a"]
hole = [{ name = "key", face = "+z", from = "b", at_mm = 10, diameter_mm = 5.5, access = true }]
[part.arm]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a"]
""",
    place="""
sole = { part = "sole" }
mast = { part = "mast", at_mm = [30, 0, 10], along = "+z" }
arm = { part = "arm", at_mm = [40, 0, 200] }
""",
    joint="""
mast = { recipe = "blind-joint", ends = ["mast:a"], screw = "ISO 7380-1 M5" }
arm = { recipe = "blind-joint", ends = ["arm:a"], screw = "ISO 7380-1 M5" }
""",
    steps="""
mast: place sole mast; start mast; snug mast; tighten mast
arm: place arm; start arm; snug arm; tighten arm
end: note Done.
""",
)
"""A mast on a short sole with a long arm: it tips over towards the arm."""


def test_what_tips_over_at_the_end_of_a_step_cannot_stand(tmp_path: Path) -> None:
    finding = only(CRANE, tmp_path)
    assert (finding.code, finding.step) == ("cannot-stand", "arm")
    assert finding.parts == ("w/sole",)
    assert "Hold it" in finding.remedy


def test_a_prop_keeps_what_would_tip_over(tmp_path: Path) -> None:
    assert is_clean(CRANE.but(("place arm;", "place arm; hold arm means=prop;")), tmp_path)


def test_what_is_laid_down_stands(tmp_path: Path) -> None:
    assert is_clean(CRANE.but(("place arm;", "turn over toward=+y; place arm;")), tmp_path)


def test_a_mast_without_its_arm_stands(tmp_path: Path) -> None:
    found = order_of(CRANE.ordered("mast"), tmp_path)
    assert {one.code for one in found} == {"never-placed", "joint-never-made"}


# -- hanging free -----------------------------------------------------------------------------------


def test_a_part_that_nothing_joins_hangs_free_at_the_end(tmp_path: Path) -> None:
    bench = Bench(
        parts=CRANE.parts,
        place=CRANE.place + 'spare = { part = "arm", at_mm = [40, 100, 300] }\n',
        joint=CRANE.joint,
        steps=CRANE.steps.replace("place arm;", "place arm spare; hold arm means=prop;"),
    )
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step) == ("part-hangs-free", "arm")
    assert finding.parts == ("w/spare",)

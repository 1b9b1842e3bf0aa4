"""The list of the order: every part once, joints after their parts, holds released, no empty steps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sequence.folders import BEAM, PLATE, Bench, is_clean, only, order_of
from trysquare.machine.load import load_machine
from trysquare.sequence.check import check_order

PAIR = Bench(
    parts=BEAM
    + PLATE
    + """
[part.holder]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [40, 40, 12] }]
hole = [{ name = "in", at_mm = [20, 20, 12], depth_mm = 9, insert = "heat-set insert M5x9.5" }]
[part.flag]
kind = "plate"
size_mm = [20, 20, 3]
hole = [{ name = "f", at_mm = [10, 10], diameter_mm = 5.5 }]
""",
    place="""
beam = { part = "beam" }
plate = { part = "plate", on = "beam:+z", offset_mm = 80, across_mm = -10 }
""",
    joint="""
[joint.plate]
recipe = "plate-on-slots"
through = ["plate:m"]
screw = "ISO 7380-1 M5"
nut = "slide-in"
""",
    steps="""
beam: place beam; insert plate
plate: place plate; start plate; snug plate; tighten plate
end: note Done.
""",
)


def test_every_part_once_and_in_time_is_clean(tmp_path: Path) -> None:
    assert is_clean(PAIR, tmp_path)


@pytest.mark.parametrize("name", ["beam", "plate"])
def test_a_part_placed_twice_is_found_where_it_comes_again(name: str, tmp_path: Path) -> None:
    finding = only(PAIR.but(("note Done.", f"place {name}")), tmp_path)
    assert (finding.code, finding.step, finding.parts) == ("placed-twice", "end", (f"w/{name}",))
    assert f"in step {name} already" in finding.says


def test_a_part_named_twice_in_one_step_is_placed_twice(tmp_path: Path) -> None:
    finding = only(PAIR.but(("place plate; start", "place plate; place plate; start")), tmp_path)
    assert (finding.code, finding.step, finding.parts) == ("placed-twice", "plate", ("w/plate",))


def test_a_part_that_no_step_places_is_found(tmp_path: Path) -> None:
    bench = Bench(
        parts=PAIR.parts,
        place=PAIR.place + 'forgotten = { part = "flag", at_mm = [0, 100, 0] }\n',
        joint=PAIR.joint,
        steps=PAIR.steps,
    )
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step, finding.parts) == ("never-placed", "", ("w/forgotten",))
    assert finding.remedy == "Name it in a place action of the step where it comes."


def test_a_jig_need_not_be_placed(tmp_path: Path) -> None:
    bench = Bench(
        parts=PAIR.parts + '[part.gauge]\nkind = "jig"\nsize_mm = [10, 10, 50]\n',
        place=PAIR.place + 'gauge = { part = "gauge", at_mm = [0, 100, 0] }\n',
        joint=PAIR.joint,
        steps=PAIR.steps,
    )
    assert is_clean(bench, tmp_path)


@pytest.mark.parametrize("verb", ["start", "snug", "tighten"])
def test_a_joint_is_not_worked_on_before_its_parts_are_there(verb: str, tmp_path: Path) -> None:
    finding = only(PAIR.but(("insert plate", f"insert plate; {verb} plate")), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("joint-before-its-parts", "beam", "w/plate")
    assert finding.parts == ("w/plate",)
    assert finding.remedy == "Place w/plate first."


def test_a_joint_started_before_its_slot_is_there_gives_one_finding(tmp_path: Path) -> None:
    bench = PAIR.but(("place beam; insert plate", "start plate; place beam"))
    found = order_of(bench, tmp_path)
    assert [(one.code, one.step, one.parts) for one in found] == [
        ("joint-before-its-parts", "beam", ("w/beam", "w/plate"))
    ]


INSERTED = Bench(
    parts=PAIR.parts,
    place='holder = { part = "holder" }\nflag = { part = "flag", at_mm = [10, 10, 12] }\n',
    joint="""
[joint.flag]
recipe = "insert-and-screw"
through = ["flag:f"]
into = "holder:in"
screw = "ISO 4762 M5"
""",
    steps="""
press: place holder; press flag
flag: place flag; start flag; tighten flag
""",
)


def test_an_insert_is_not_pressed_before_its_part_is_there(tmp_path: Path) -> None:
    assert is_clean(INSERTED, tmp_path / "clean")
    finding = only(INSERTED.but(("place holder; press flag", "press flag; place holder")), tmp_path / "early")
    assert (finding.code, finding.step, finding.parts) == ("joint-before-its-parts", "press", ("w/holder",))


@pytest.mark.parametrize("part", ["beam", "plate"])
def test_what_is_released_must_have_been_held(part: str, tmp_path: Path) -> None:
    held = PAIR.but(("start plate; snug", f"hold {part} means=clamp; start plate; snug")).but(
        ("note Done.", f"release {part}")
    )
    assert is_clean(held, tmp_path / "held")
    finding = only(PAIR.but(("note Done.", f"release {part}")), tmp_path / "free")
    assert (finding.code, finding.step, finding.parts) == ("released-but-not-held", "end", (f"w/{part}",))


def test_what_is_released_twice_was_held_once(tmp_path: Path) -> None:
    bench = PAIR.but(("note Done.", "hold beam means=clamp; release beam; release beam"))
    assert only(bench, tmp_path).code == "released-but-not-held"


def test_a_step_that_does_nothing_is_empty(tmp_path: Path) -> None:
    # The reader takes no step without actions; an order made in memory may have one.
    machine = PAIR.machine(tmp_path)
    bare = replace(machine, steps=(*machine.steps[:-1], replace(machine.steps[-1], actions=())))
    (finding,) = check_order(bare)
    assert (finding.code, finding.step) == ("empty-step", "end")
    assert finding.remedy == "Give it actions, or remove it."


def test_a_machine_without_steps_has_no_findings(tmp_path: Path) -> None:
    assert check_order(replace(PAIR.machine(tmp_path), steps=())) == ()


GLUED = """
[[step]]
id = "glue"
title = "Glue"
unit = "w"
actions = [{ place = ["pad"], using = ["adhesive"] }, { wait = ["It cures."], minutes = MINUTES }]
[[step]]
id = "warm"
title = "Warm"
unit = "w"
actions = [{ wait = ["Soak."], minutes = 30, celsius = 60 }]
"""


@pytest.mark.parametrize(("minutes", "left"), [(60, 60.0), (0, 120.0), (120, None)])
def test_what_cures_is_not_warmed_before_its_time(tmp_path: Path, minutes: int, left: float | None) -> None:
    (tmp_path / "units").mkdir()
    (tmp_path / "machine.toml").write_text('format = 1\nname = "Pad"\n', encoding="utf-8")
    (tmp_path / "parts.toml").write_text(
        '[part.pad]\nkind = "bought"\nsize_mm = [20, 20, 2]\n'
        '[part.adhesive]\nkind = "consumable"\ncure_minutes = 120\n',
        encoding="utf-8",
    )
    (tmp_path / "units" / "w.toml").write_text('[place]\npad = { part = "pad" }\n', encoding="utf-8")
    (tmp_path / "steps.toml").write_text(GLUED.replace("MINUTES", str(minutes)), encoding="utf-8")
    found = [one for one in check_order(load_machine(tmp_path)) if one.code == "cures-still"]
    assert [(one.step, one.parts, one.value) for one in found] == (
        [] if left is None else [("warm", ("w/pad",), left)]
    )


SQUARED = PAIR.but(
    (
        "place plate; start plate; snug plate; tighten plate",
        "place plate; start plate; snug plate; READ; tighten plate",
    ),
    ("[joint.plate]\n", '[joint.plate]\nalign = "level"\n'),
)
SQUARED = replace(
    SQUARED,
    head="""
[instrument.caliper]
sort = "caliper"
half_width_mm = 0.03
[characteristic.level]
sort = "parallelism"
of = ["w/plate", "w/beam"]
limit = 0.1
unit = "mm"
""",
)


@pytest.mark.parametrize("read", ["read plate reads=level using=caliper", "read plate beam reads=level"])
def test_a_reading_on_the_parts_it_is_about_is_clean(read: str, tmp_path: Path) -> None:
    assert is_clean(SQUARED.but(("READ", read)), tmp_path)


def test_a_reading_on_another_part_is_told_with_what_it_is_about(tmp_path: Path) -> None:
    bench = SQUARED.but(
        ("READ", "read plate flag reads=level"),
        (
            'beam = { part = "beam" }',
            'beam = { part = "beam" }\nflag = { part = "flag", on = "plate", at_mm = [0, 0, 3] }',
        ),
    )
    found = [one for one in order_of(bench, tmp_path) if one.code == "read-on-other-parts"]
    assert [(one.step, one.parts) for one in found] == [("plate", ("w/flag",))]
    assert "level is to be read on w/flag, but is about w/plate, w/beam" in found[0].says


@pytest.mark.parametrize("verb", ["read plate reads=level", "read plate reads=level; align plate"])
def test_an_instrument_nobody_owns_is_told_with_the_nearest_that_is(verb: str, tmp_path: Path) -> None:
    finding = only(SQUARED.but(("READ", f"{verb} using=calliper")), tmp_path)
    assert (finding.code, finding.step) == ("instrument-not-owned", "plate")
    assert "calliper" in finding.says
    assert "caliper" in finding.remedy


def test_a_machine_that_lists_no_instruments_says_nothing_of_them(tmp_path: Path) -> None:
    bench = SQUARED.but(("READ", "read plate reads=level using=calliper"))
    bare = bench.but((bench.head[: bench.head.index("[characteristic")], "\n"))
    assert is_clean(bare, tmp_path)

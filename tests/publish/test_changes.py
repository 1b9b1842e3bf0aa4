"""Corrections: what a new version asks of whoever has begun with the old one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from small_frame import MACHINE, PARTS, STEPS, UNIT, UPGRADE, write_frame
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.publish.changes import Changes, Swap, changes

pytestmark = pytest.mark.slow

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
LONGER_ENDS = 'screw = "ISO 7380-1 M5x16" }\nrail  ='


def between(folder: Path, built: str = "", **files: str) -> Changes:
    """The changes from the small frame to the small frame with other files."""
    old = load_machine(write_frame(folder / "old"))
    return changes(old, load_machine(write_frame(folder / "new", **files)), built)


def done(found: Changes) -> dict[str, tuple[str, ...]]:
    return {one.step: one.does for one in found.do_now}


def undone(found: Changes) -> list[str]:
    return [one.says for one in found.undo]


def test_the_same_version_asks_for_nothing(tmp_path: Path) -> None:
    found = between(tmp_path, "plate")
    assert not found.matters
    assert found.comparison.changes == ()
    assert (found.undo, found.do_now, found.reread, found.swaps) == ((), (), (), ())
    assert found.unaffected == ("nuts", "frame", "rail", "plate")
    assert found.next_step == "drive"


def test_longer_screws_are_swapped_one_by_one_without_taking_anything_off(tmp_path: Path) -> None:
    found = between(tmp_path, "plate", papers__upgrade_toml=UPGRADE)
    assert found.swaps == (
        Swap(old="ISO 7380-1 M5x8", new="ISO 7380-1 M5x10", pieces=2, built=2, where=("frame/plate",)),
    )
    assert undone(found) == ["Loosen frame/plate (2 screws)."]
    assert done(found) == {"plate": ("tighten frame/plate",)}
    (why,) = found.do_now[0].because
    assert why == "“Quieter small frame”, edition 2, page 3: The plate of this kit is thicker."
    assert found.reread == ()
    assert found.unaffected == ("nuts", "frame", "rail")


def test_what_is_not_built_yet_is_not_undone(tmp_path: Path) -> None:
    found = between(tmp_path, "rail", papers__upgrade_toml=UPGRADE)
    assert found.matters
    assert (found.undo, found.do_now) == ((), ())
    assert found.swaps[0].built == 0


def test_with_nothing_built_there_is_only_the_comparison(tmp_path: Path) -> None:
    found = between(tmp_path, papers__upgrade_toml=UPGRADE)
    assert found.undo == found.do_now == found.reread == found.unaffected == ()
    assert found.next_step == "nuts"
    assert found.swaps[0].pieces == 2


def test_a_screw_whose_head_lies_in_a_slot_takes_its_member_along_and_the_reading_too(tmp_path: Path) -> None:
    unit = UNIT.replace('screw = "ISO 7380-1 M5" }\nrail  =', LONGER_ENDS)
    found = between(tmp_path, "plate", units__frame_toml=unit)
    assert "Take 2 screws of frame/ends out." in undone(found)
    assert "Loosen frame/ends" not in " ".join(undone(found))
    assert "start frame/ends" in done(found)["frame"]
    assert [one.characteristic for one in found.reread] == ["corner"]


def test_another_nut_is_reached_by_way_of_its_screw_and_what_lies_over_it(tmp_path: Path) -> None:
    unit = UNIT.replace('nut = "slide-in"', 'nut = "roll-in"')
    found = between(tmp_path, "plate", units__frame_toml=unit)
    says = undone(found)
    screws = says.index("Take 2 screws of frame/plate out.")
    assert screws < next(at for at, text in enumerate(says) if "nut" in text and "frame/plate" in text)
    assert "insert frame/plate" in done(found)["nuts"]
    assert done(found)["plate"][-1] == "tighten frame/plate"


def test_another_torque_only_tightens_anew(tmp_path: Path) -> None:
    unit = UNIT.replace(
        'lock = ["threadlocker medium"]', 'lock = ["threadlocker medium"]\ntorque_newton_metre = 3'
    )
    found = between(tmp_path, "plate", units__frame_toml=unit)
    assert found.undo == ()
    assert done(found) == {"plate": ("tighten frame/plate (no torque said → 3 N·m)",)}


def test_another_lock_loosens_and_tightens(tmp_path: Path) -> None:
    unit = UNIT.replace('lock = ["threadlocker medium"]', "")
    found = between(tmp_path, "plate", units__frame_toml=unit)
    assert undone(found) == ["Loosen frame/plate (2 screws)."]


def test_a_plate_that_sits_elsewhere_in_the_same_slot_is_loosened_and_shifted(tmp_path: Path) -> None:
    found = between(tmp_path, "plate", units__frame_toml=UNIT.replace("offset_mm = 50", "offset_mm = 60"))
    assert undone(found) == ["Loosen frame/plate (2 screws)."]
    assert found.swaps == ()


def test_a_whole_unit_drawn_elsewhere_is_no_change(tmp_path: Path) -> None:
    unit = UNIT.replace('title = "Frame"', 'title = "Frame"\nat_mm = [0, 0, 25]')
    found = between(tmp_path, "plate", units__frame_toml=unit)
    assert found.undo == ()
    assert not found.comparison.of("joint")


def test_a_carriage_drawn_elsewhere_on_its_rail_is_no_change(tmp_path: Path) -> None:
    found = between(
        tmp_path, "plate", units__frame_toml=UNIT.replace("at_mm = [100, 0, 0]", "at_mm = [80, 0, 0]")
    )
    assert not found.matters


def test_another_limit_is_read_again(tmp_path: Path) -> None:
    found = between(tmp_path, "frame", machine_toml=MACHINE.replace("limit = 0.05", "limit = 0.03"))
    (again,) = found.reread
    assert (again.characteristic, again.limit) == ("corner", 0.03)
    assert again.because == "limit 0.05 mm/100 → 0.03 mm/100"
    assert found.undo == ()


def test_a_limit_of_what_is_not_read_yet_is_for_later(tmp_path: Path) -> None:
    found = between(tmp_path, "nuts", machine_toml=MACHINE.replace("limit = 0.05", "limit = 0.03"))
    assert found.matters
    assert found.reread == ()


# --- steps: renamed, put elsewhere, new, gone


def test_a_step_with_another_id_that_does_the_same_is_the_same(tmp_path: Path) -> None:
    steps = STEPS.replace('id = "plate"', 'id = "cover-plate"')
    found = between(tmp_path, "plate", steps_toml=steps)
    assert not found.matters
    (change,) = found.comparison.of("step")
    assert (change.id, change.was, change.does) == ("cover-plate", "plate", "renamed")
    assert found.next_step == "drive"


def test_other_words_are_to_be_read_and_nothing_else(tmp_path: Path) -> None:
    steps = STEPS.replace('title = "Plate"', 'title = "<Plate>"\nwhy = "It stiffens."')
    found = between(tmp_path, "plate", steps_toml=steps)
    assert not found.matters
    assert found.words == ("plate",)


def test_a_new_step_before_the_last_one_done_is_done_now(tmp_path: Path) -> None:
    new = '[[step]]\nid = "wash"\ntitle = "Wash"\nunit = "frame"\nactions = [ { clean = ["beam"] } ]\n'
    steps = STEPS.replace('[[step]]\nid = "frame"', new + '[[step]]\nid = "frame"')
    found = between(tmp_path, "rail", steps_toml=steps)
    (now,) = found.do_now
    assert (now.step, now.whole, now.because[0]) == ("wash", True, "is new")
    assert found.next_step == "plate"


def test_a_new_step_that_is_to_come_is_only_told(tmp_path: Path) -> None:
    new = '[[step]]\nid = "wash"\ntitle = "Wash"\nunit = "frame"\nactions = [ { clean = ["beam"] } ]\n'
    found = between(tmp_path, "rail", steps_toml=STEPS + new)
    assert found.do_now == ()
    assert found.ahead == ("wash",)


def reordered() -> str:
    """The plate before the rail."""
    steps = STEPS.split("[[step]]")
    steps[3], steps[4] = steps[4], steps[3]
    return "[[step]]".join(steps)


def test_steps_in_another_order_that_are_both_done_ask_for_nothing(tmp_path: Path) -> None:
    found = between(tmp_path, "plate", steps_toml=reordered())
    assert (found.undo, found.do_now) == ((), ())
    assert found.next_step == "drive"


def test_a_step_that_comes_earlier_now_is_done_now(tmp_path: Path) -> None:
    found = between(tmp_path, "rail", steps_toml=reordered())
    assert [(one.step, one.whole, one.because) for one in found.do_now] == [
        ("plate", True, ("comes earlier now",))
    ]
    assert found.matters


def test_a_step_that_is_gone_with_its_part_takes_the_part_off(tmp_path: Path) -> None:
    head, _, rest = STEPS.partition('[[step]]\nid = "plate"')
    steps = head + "[[step]]" + rest.partition("[[step]]")[2]
    steps = steps.replace('["rail", "plate"]', '["rail"]')
    unit = UNIT.partition("[joint.plate]")[0].replace(
        'plate = { part = "plate", on = "beam:-y", offset_mm = 50, across_mm = -15 }\n', ""
    )
    found = between(tmp_path, "plate", steps_toml=steps, units__frame_toml=unit)
    assert "Take off frame/plate." in undone(found)
    assert ("plate", "gone") in {(one.id, one.does) for one in found.comparison.of("step")}
    gone = {one.old: one.pieces for one in found.swaps if not one.new}
    assert gone["plate"] == 1
    assert gone["ISO 7380-1 M5x8"] == 2


def test_work_that_a_new_step_takes_over_from_an_old_one_is_not_done_twice(tmp_path: Path) -> None:
    """The old step is split in two under new names."""
    head, _, tail = STEPS.partition('[[step]]\nid = "plate"')
    split = (
        '[[step]]\nid = "plate-on"\ntitle = "Plate on"\nunit = "frame"\n'
        'actions = [ { place = ["plate"] }, { start = ["plate"] } ]\n'
        '[[step]]\nid = "plate-final"\ntitle = "Plate final"\nunit = "frame"\n'
        'actions = [ { tighten = ["plate"] } ]\n'
    )
    steps = head + split + "[[step]]" + tail.partition("[[step]]")[2]
    found = between(tmp_path, "plate", steps_toml=steps)
    assert found.do_now == ()
    assert found.next_step == "drive"


def test_a_deed_added_to_a_step_that_is_done_is_done_now(tmp_path: Path) -> None:
    steps = STEPS.replace('{ place = ["rail"] }', '{ clean = ["rail"] },\n  { place = ["rail"] }')
    found = between(tmp_path, "rail", steps_toml=steps)
    assert done(found) == {"rail": ("clean frame/rail",)}


# --- names


def test_a_place_with_another_name_is_the_same_place(tmp_path: Path) -> None:
    unit = UNIT.replace("left  = {", "west  = {")
    found = between(
        tmp_path, "plate", units__frame_toml=unit,
        steps_toml=STEPS.replace('"left", "right"', '"west", "right"'),
        machine_toml=MACHINE.replace("frame/left", "frame/west"),
    )  # fmt: skip
    assert not found.matters
    assert found.undo == ()
    renamed = {(one.was, one.id) for one in found.comparison.of("place")}
    assert renamed == {("frame/left", "frame/west")}


def test_a_part_known_by_another_name_is_the_same_part(tmp_path: Path) -> None:
    parts = PARTS.replace("[part.post]", '[part.upright]\nalso_called = ["post"]')
    found = between(
        tmp_path, "plate", parts_toml=parts, units__frame_toml=UNIT.replace('"post"', '"upright"')
    )
    assert not found.matters
    assert found.swaps == ()


def test_a_longer_member_is_swapped_for_the_shorter_one(tmp_path: Path) -> None:
    parts = PARTS.replace("length_mm = 200", "length_mm = 220")
    found = between(tmp_path, "plate", parts_toml=parts)
    swap = next(one for one in found.swaps if one.old == "post")
    assert (swap.pieces, swap.built) == (2, 2)
    assert {"Take off frame/left.", "Take off frame/right."} <= set(undone(found))
    (change,) = found.comparison.of("part")
    assert change.says == ("length 200 → 220 mm",)


# --- papers


def test_another_edition_alone_does_not_matter(tmp_path: Path) -> None:
    found = between(
        tmp_path, "plate", papers__manual_toml='title = "Small frame, manual"\nkind = "base"\nedition = "2"\n'
    )
    assert not found.matters
    assert found.comparison.of("paper")[0].says == ("edition 1 → 2",)


def test_a_new_paper_is_named_with_its_reason(tmp_path: Path) -> None:
    paper = between(tmp_path, papers__upgrade_toml=UPGRADE).comparison.of("paper")[0]
    assert (paper.id, paper.does) == ("upgrade", "new")
    assert "Longer screws hold better." in paper.says[0]


def test_a_step_nobody_knows_is_told_with_the_nearest_one(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="Did you mean 'plate'"):
        between(tmp_path, "plates")


def test_a_step_of_the_new_version_is_told_as_such(tmp_path: Path) -> None:
    new = '[[step]]\nid = "wash"\ntitle = "Wash"\nunit = "frame"\nactions = [ { clean = ["beam"] } ]\n'
    with pytest.raises(ReadingError, match="this one is of the second"):
        between(tmp_path, "wash", steps_toml=STEPS + new)


def test_the_same_question_has_the_same_answer(tmp_path: Path) -> None:
    unit = UNIT.replace('screw = "ISO 7380-1 M5" }\nrail  =', LONGER_ENDS)
    one = between(tmp_path / "a", "plate", units__frame_toml=unit)
    other = between(tmp_path / "b", "plate", units__frame_toml=unit)
    assert (one.undo, one.do_now, one.reread, one.swaps) == (
        other.undo,
        other.do_now,
        other.reread,
        other.swaps,
    )


@pytest.fixture
def larch_before(tmp_path: Path) -> Path:
    """The demo machine before its travel upgrade."""
    before = tmp_path / "larch"
    shutil.copytree(LARCH, before)
    (before / "papers" / "travel-upgrade.toml").unlink()
    (before / "rulings.toml").unlink()
    return before


@pytest.mark.slow
def test_while_a_slot_is_open_its_nuts_alone_change(larch_before: Path) -> None:
    found = changes(load_machine(larch_before), load_machine(LARCH), "posts")
    assert {one.of for one in found.undo} == {"z-rails/left-rail"}
    assert set(done(found)) == {"posts"}
    assert {(one.old, one.new, one.built) for one in found.swaps} >= {("rail 9x200", "rail 9x240", 0)}


@pytest.mark.slow
def test_later_the_slot_s_end_must_open_and_what_hangs_on_the_rails_come_off(larch_before: Path) -> None:
    found = changes(load_machine(larch_before), load_machine(LARCH), "couplings")
    assert not found.stuck
    says = " ".join(undone(found))
    for words in ("bed/left-block", "z-rails/left-rail", "z-drive/screw-left", "out of posts/left-post"):
        assert words in says
    assert "z-rails-parallel" in {one.characteristic for one in found.reread}
    assert "x-beam" in found.unaffected
    assert found.next_step == "lead-nuts"

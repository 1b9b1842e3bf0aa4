from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.accessory import can_still_go_on

DEMO = Path(__file__).resolve().parents[2] / "demo"
LIGHT = """\
title = "A light on the front"
kind = "modification"
edition = "1"
over = ["manual"]

[[add]]
line = "part.light"
with = {{ name = "light", kind = "printed", material = "PETG", size_mm = [20, 30, 6], hole = [
  {{ name = "bolt", at_mm = [[10, 15]], diameter_mm = 3.4 }} ] }}

[[add]]
line = "unit.track.place.light"
with = {{ part = "light", on = "base:-y.2", from = "a", offset_mm = 150, across_mm = -15 }}

[[add]]
line = "unit.track.joint.light-screw"
with = {{ recipe = "plate-on-slots", through = ["light:bolt"], screw = "ISO 4762 M3x8", nut = "{nut}" }}
"""


@pytest.fixture(scope="module")
def reed() -> Machine:
    return load_machine(DEMO / "reed-joints")


def light(folder: Path, nut: str) -> Path:
    paper = folder / "light.toml"
    paper.write_text(LIGHT.format(nut=nut), encoding="utf-8")
    return paper


def test_an_insertable_nut_still_goes_into_a_slot_with_shut_ends(reed: Machine, tmp_path: Path) -> None:
    answer = can_still_go_on(reed, light(tmp_path, "roll-in"))
    assert answer.now
    assert answer.nuts[0].ways == ("through the mouth of slot -y.2 of track/base",)
    assert answer.order[-1] == "tighten track/light-screw"


def test_a_slide_in_nut_needs_one_end_plate_off_and_another_type_is_named(
    reed: Machine, tmp_path: Path
) -> None:
    answer = can_still_go_on(reed, light(tmp_path, "slide-in"))
    assert not answer.now
    assert answer.possible
    assert answer.nuts[0].ways == ()
    assert answer.nuts[0].instead.startswith("roll-in nut slot 6 M3")
    assert answer.steps == ("ends",)
    screws = [name for name in answer.take_back if "screws" in name]
    assert len(screws) == 2  # one end plate's screws, tightened and started; never both plates'


def test_a_paper_that_adds_nothing_goes_on(reed: Machine, tmp_path: Path) -> None:
    paper = tmp_path / "nothing.toml"
    paper.write_text('title = "Nothing"\nkind = "modification"\nedition = "1"\n', encoding="utf-8")
    assert can_still_go_on(reed, paper).now


def test_an_unreadable_paper_is_a_reading_error(reed: Machine, tmp_path: Path) -> None:
    paper = tmp_path / "broken.toml"
    paper.write_text("title = [", encoding="utf-8")
    with pytest.raises(ReadingErrors):
        can_still_go_on(reed, paper)

"""Every check can be ticked as seen; one that is a matter of safety or alignment must not be left without."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bench.asking import Browser, event, opened
from bench.conftest import computed, without_answers
from trysquare.bench.bench import Bench
from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine

DEMO = Path(__file__).parents[2] / "demo" / "reed-joints"
CHECK = '{ check = ["No nut lies in a slot without its screw."]'
ITEM = "ends: check No nut lies in a slot without its screw."


def marked(folder: Path, matters: str) -> Path:
    """Reed with the check of its end plates marked as a matter of something."""
    without_answers(DEMO, folder)
    steps = (folder / "steps.toml").read_text("utf-8")
    assert CHECK in steps
    (folder / "steps.toml").write_text(steps.replace(CHECK, f'{CHECK}, matters = "{matters}"'), "utf-8")
    return folder


@pytest.fixture
def aligned(tmp_path: Path) -> Iterator[tuple[Bench, Browser]]:
    bench, browser = opened(computed(marked(tmp_path / "reed", "alignment")))
    yield bench, browser
    if bench.truing is not None:
        bench.truing.close()
    bench.desk.close()


def test_a_check_without_a_caution_is_ticked_as_seen_and_stops_nobody(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    before = computer.get("/step/ends").text
    assert f'data-item="{ITEM}"' in before
    assert f'data-must="{ITEM}"' not in before
    page = bench.workshop.shown.page("ends")
    assert page is not None
    assert ITEM not in {one.item for one in page.must}
    computer.say(event("settled", "ends", item=ITEM, who="Ada"))
    after = computer.get("/step/ends").text
    tick = after[after.index(f'data-item="{ITEM}"') :].partition("</label>")[0]
    assert " checked" in tick
    assert "by Ada" in tick
    assert computer.say(event("done", "ends")).status_code == 200


@pytest.mark.slow
def test_a_check_marked_as_alignment_is_open_until_it_is_seen_or_left_with_a_reason(
    aligned: tuple[Bench, Browser],
) -> None:
    bench, computer = aligned
    page = bench.workshop.shown.page("ends")
    assert page is not None
    assert {one.item: one.sort for one in page.must}[ITEM] == "alignment"
    refused = computer.say(event("done", "ends"))
    assert refused.status_code == 409
    assert ITEM in {one["item"] for one in refused.json()["open"]}
    left = event("left-open", "ends", item=ITEM, sort="alignment", reason="no light")
    assert computer.say(left, event("done", "ends")).status_code == 200
    assert "no light" in computer.get("/open").text
    computer.say(event("settled", "ends", item=ITEM))
    assert "no light" not in computer.get("/open").text


def test_only_a_check_can_be_marked_and_only_as_safety_or_alignment(tmp_path: Path) -> None:
    with pytest.raises(ReadingErrors) as wrong:
        load_machine(marked(tmp_path / "one", "beauty"))
    assert "safety" in str(wrong.value)
    folder = marked(tmp_path / "two", "safety")
    machine = load_machine(folder)
    step = next(one for one in machine.steps if one.id == "ends")
    assert [action.matters for action in step.actions if action.verb == "check"] == ["safety"]
    text = (folder / "steps.toml").read_text("utf-8")
    start = '{ start = ["left-end-screws", "right-end-screws"]'
    (folder / "steps.toml").write_text(text.replace(start, f'{start}, matters = "safety"'), "utf-8")
    with pytest.raises(ReadingErrors) as elsewhere:
        load_machine(folder)
    assert "this key only with check" in str(elsewhere.value)

"""What the bench's child says of a unit: now, before, what to type next, what it does not understand."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from trysquare.cli.true_unit import characteristics_of, unit_facts
from trysquare.cli.true_work import Worker
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.truing.log_readings import SaidReading

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


def again(facts: dict[str, Any], *, value: float | None = None, index: int = 0) -> SaidReading:
    """One of the readings that the advice asks for, with the value that it expects, or another."""
    one = facts["again"][index]
    said = one["value"] if value is None else value
    return SaidReading(
        id=f"event-{index}", number=index + 1, of=one["of"], value=said, unit=one["unit"],
        instrument=one["instrument"], step=one["step"], row=one["row"],
    )  # fmt: skip


def test_a_unit_has_the_characteristics_of_its_parts_and_of_its_steps(larch: Machine) -> None:
    assert [one.id for one in characteristics_of(larch, "base")] == [
        "base-square", "base-twist", "uprights-square",
    ][: len(characteristics_of(larch, "base"))]  # fmt: skip
    assert len(characteristics_of(larch, "")) == len(larch.characteristics)
    read = {name for step in larch.steps if step.unit == "gantry" for a in step.actions for name in a.reads}
    assert read <= {one.id for one in characteristics_of(larch, "gantry")}


def test_the_base_is_bad_and_says_what_to_push_and_to_read_again(larch: Machine) -> None:
    facts = unit_facts(larch, "base", "", ())
    assert facts["step"] == "base-true"
    assert facts["characteristics"][0]["verdict"] == "bad"
    assert facts["advice"]["pushes"]
    assert {one["row"]["round"] for one in facts["again"]} == {"2"}
    assert facts["plot"]["svg"].startswith("<svg")
    assert facts["plot"]["factor"] == 100
    assert facts["earlier"] == []


def test_a_reading_made_again_begins_a_round_and_the_frame_before_it_stays(larch: Machine) -> None:
    first = unit_facts(larch, "base", "", ())
    second = unit_facts(larch, "base", "", [again(first)])
    assert second["round"] == 2
    assert [one["round"] for one in second["earlier"]] == [1]
    assert second["earlier"][0]["characteristics"][0]["verdict"] == "bad"
    assert second["earlier"][0]["plot"]["factor"] == second["plot"]["factor"]
    assert len(second["still"]) == len(first["again"]) - 1
    everything = [again(first, index=index) for index in range(len(first["again"]))]
    assert unit_facts(larch, "base", "", everything)["still"] == []


def test_what_is_not_understood_hinders_no_other_reading(larch: Machine) -> None:
    wrong = SaidReading(
        id="x", number=7, of="gap", value=0.1, row={"sort": "gap", "from": "nowhere:a", "to": "left-base:-y"}
    )
    facts = unit_facts(larch, "base", "", [wrong])
    assert {one["line"] for one in facts["problems"]} == {7}
    assert facts["characteristics"][0]["verdict"] == "bad"


@pytest.mark.slow
def test_the_child_answers_line_by_line_and_reads_an_edited_folder_again(tmp_path: Path) -> None:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes"))
    worker = Worker(str(folder), ())
    assert worker.answer(b'{"unit": "base"}')["verdict"] == "bad"
    (folder / "readings" / "base.csv").write_text("sort,from,value\nlength,left-bas,x\n", encoding="utf-8")
    answer = worker.answer(b'{"unit": "base"}')
    assert answer["characteristics"][0]["verdict"] == "not read"
    assert answer["problems"][0]["file"] == "readings/base.csv"
    (folder / "machine.toml").write_text("[", encoding="utf-8")
    assert worker.answer(b'{"unit": "base"}')["problems"]
    assert "could not be read" in worker.answer(b"nonsense")["says"]
    json.dumps(answer)


def test_a_fault_of_ours_ends_neither_the_child_nor_the_other_answers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def failing(*_: object) -> dict[str, Any]:
        raise KeyError("rails")

    worker = Worker(str(LARCH), ())
    said = {"id": "event", "number": 1, "of": "base-twist", "value": 0.3, "unit": "mm"}
    monkeypatch.setattr("trysquare.cli.true_work.unit_facts", failing)
    answer = worker.answer(json.dumps({"unit": "base", "readings": [said]}).encode())
    assert "KeyError" in answer["says"]
    assert "The newest is base-twist, 0.3 mm: undo it" in answer["says"]
    monkeypatch.undo()
    assert "characteristics" in worker.answer(json.dumps({"unit": "base"}).encode())

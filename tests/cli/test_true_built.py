"""What the book is filled with: files and log together, each characteristic as it was read last."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from log_entries import at
from trysquare.cli.true_built import built_of
from trysquare.cli.true_facts import has_readings, truing_report
from trysquare.machine.load import load_machine
from trysquare.record.events import Event
from trysquare.record.log import open_log

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "log*"))
    return folder


def test_the_files_fill_what_they_read_and_nothing_else(copied: Path) -> None:
    found = built_of(load_machine(copied))
    assert set(found) == {"base-square", "base-twist"}
    assert found["base-square"].verdict == "bad"
    assert found["base-square"].date == "2026-03-14"
    assert "square" in found["base-square"].instruments


def test_the_log_s_readings_and_results_count_too(copied: Path) -> None:
    machine = load_machine(copied)
    said = [
        ("reading", True, {"of": "bed-runs-free", "value": 2.0, "unit": "newton", "uncertainty": 0.3}),
        ("result", False, {"of": "belts-equal", "value": 0.4, "unit": "newton", "uncertainty": 0.2,
                          "verdict": "good"}),
    ]  # fmt: skip
    step = next(one.id for one in machine.steps for act in one.actions if "bed-runs-free" in act.reads)
    with open_log(copied, machine=machine.name) as log:
        log.append(
            [
                Event(
                    id=f"0000000{number}-0000-4000-8000-000000000000",
                    kind=kind,
                    step=step if at_step else None,
                    at=at(1),
                    device="phone",
                    data=data,
                )
                for number, (kind, at_step, data) in enumerate(said)
            ]
        )  # fmt: skip
    found = built_of(machine)
    assert (found["bed-runs-free"].value, found["bed-runs-free"].verdict) == (2.0, "good")
    assert found["belts-equal"].verdict == "good"
    assert found["base-square"].date == "2026-03-14"


def test_a_file_that_cannot_be_read_is_told_and_leaves_the_book(
    copied: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (copied / "readings" / "base.csv").write_text("sort,from,value\nlength,left-bas,x\n", encoding="utf-8")
    assert built_of(load_machine(copied)) == {}
    assert "does not count in the as-built sheet" in " ".join(capsys.readouterr().err.split())


def test_true_counts_what_was_read_at_the_bench(copied: Path) -> None:
    shutil.rmtree(copied / "readings")
    machine = load_machine(copied)
    assert not has_readings(machine, ())
    step = next(one.id for one in machine.steps for act in one.actions if "bed-runs-free" in act.reads)
    event = Event(
        id="00000001-0000-4000-8000-000000000000", kind="reading", step=step, at=at(1), device="phone",
        data={"of": "bed-runs-free", "value": 2.0, "unit": "newton", "uncertainty": 0.3},
    )  # fmt: skip
    with open_log(copied, machine=machine.name) as log:
        log.append([event])
    assert has_readings(machine, ())
    found = truing_report(machine, (), "")
    read = next(one for one in found.characteristics if one.characteristic.id == "bed-runs-free")
    assert read.verdict == "good"

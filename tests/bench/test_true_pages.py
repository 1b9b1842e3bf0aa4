"""The bench's pages of truing: the answer of a child process, and readings that begin a new one."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest

from bench.asking import Browser, event
from trysquare.bench.bench import Bench
from trysquare.bench.truing_child import TruingChild

ROOT = Path(__file__).parents[2]
OFFSET = {"sort": "offset", "from": "rail:-y", "to": "base:-y"}


@pytest.mark.slow
def test_the_machine_and_its_units_have_a_page_each_and_stand_in_the_menu(reader: Browser) -> None:
    page = reader.get("/true")
    assert page.status_code == 200
    assert 'href="/true/track"' in page.text
    assert 'href="/true"' in reader.get("/").text
    assert 'href="/true"' in reader.get("/readings").text
    unit = reader.get("/true/track").text
    assert "rail-parallel" in unit
    assert "Worth reading next" in unit


def test_a_unit_that_is_none_is_said_to_be_none(reader: Browser) -> None:
    assert reader.get("/true/nowhere").status_code == 404
    assert reader.get("/true-at?step=nowhere").status_code == 404


@pytest.mark.slow
def test_a_step_with_readings_asks_for_its_short_answer(reader: Browser) -> None:
    assert 'data-true-at="/true-at?step=rail-true"' in reader.get("/step/rail-true").text
    assert "data-true-at" not in reader.get("/step/feet").text
    piece = reader.get("/true-at?step=rail-true").text
    assert "data-true-now" in piece
    assert 'href="/true/track"' in piece


@pytest.mark.slow
def test_a_reading_between_features_is_judged_with_the_others(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    page = unescape(computer.get("/true/track").text)
    asked = re.search(r"data-of=\"([^\"]+)\" data-unit=\"mm\" data-row='([^']+)'", page)
    assert asked is not None
    instrument = re.search(r'data-true data-instrument="([^"]+)"', page)
    assert instrument is not None
    said = event(
        "reading", "rail-true", of=asked[1], value=0.1, unit="mm", instrument=instrument[1],
        row=json.loads(asked[2]),
    )  # fmt: skip
    assert computer.say(said).status_code == 200
    after = computer.get("/true/track").text
    assert f'data-true-aside="{said["id"]}"' in after
    computer.say(event("reading-set-aside", "rail-true", of=said["id"], why="a slip"))
    assert f'data-true-aside="{said["id"]}"' not in computer.get("/true/track").text


@pytest.mark.slow
def test_a_reading_that_is_not_understood_is_kept_and_can_be_set_aside(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    said = event("reading", "rail-true", of="gap", value=0.1, unit="mm", row={"sort": "gap", "from": "nix:a"})
    assert computer.say(said).status_code == 200
    page = computer.get("/true/track").text
    assert "not understood" in page
    assert f'data-true-aside="{said["id"]}"' in page
    assert bench.desk.state.readings
    computer.say(event("reading-set-aside", None, of=said["id"], why="a slip"))
    assert "not understood" not in computer.get("/true/track").text


def test_a_child_that_ends_without_a_word_leaves_a_page_that_says_so(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    bench.truing = TruingChild(lambda: [sys.executable, "-c", "pass"])
    page = computer.get("/true/track")
    assert page.status_code == 200
    assert "ended without an answer" in page.text


@pytest.mark.slow
def test_the_pages_of_truing_load_nothing_that_computes() -> None:
    asked = (
        "import sys, trysquare.bench.pages_true, trysquare.bench.show_true, trysquare.bench.truing_child;"
        "print([n for n in sys.modules if n == 'scipy' or n.startswith('trysquare.truing')])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True,
                          cwd=ROOT, env={"PYTHONPATH": str(ROOT / "src"), "PATH": ""})  # fmt: skip
    assert done.stdout.strip() == "[]"

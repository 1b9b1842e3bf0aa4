"""`trysquare tune belt`: what it says, in words and as facts, and how it takes what it cannot use."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from command_line import Run

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
A, B = (LARCH / "recordings" / f"belt-{name}.flac" for name in "ab")
SPAN = ("--length-mm", "335", "--mass", "8.4")


@pytest.fixture
def larch_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "*.sqlite"))
    return folder


def belt(facts: Any, index: int = 0) -> Any:
    return facts["parts"][index]


def test_a_recording_gives_the_tension_that_the_string_was_made_with(run: Run) -> None:
    # Source: taut string, m (2 L f)², any text on acoustics; the recording is stepped in time at 55.5 Hz.
    facts = run("tune", "belt", A, *SPAN, "--json").json
    assert belt(facts)["data"]["tone"]["value"] == pytest.approx(55.5, rel=0.002)
    value = belt(facts)["value"]
    assert value["value"] == pytest.approx(0.0084 * (2 * 0.335 * 55.5) ** 2, abs=value["expanded"])
    assert value["unit"] == "N"


def test_the_demo_s_pair_differs_and_the_slacker_belt_is_tightened(run: Run) -> None:
    answer = run("tune", "belt", A, B, "--machine", LARCH)
    assert answer.status == 1
    assert "belt-b is 13.8 ± 1.3 % tauter than belt-a" in answer.out
    assert "belt-a: tighten" in answer.out
    assert "Moving parts" in answer.out


def test_the_facts_name_span_plucks_and_target(run: Run) -> None:
    facts = run("tune", "belt", A, B, "--machine", LARCH, "--json").json
    assert [part["of"].rpartition("/")[2] for part in facts["parts"][:2]] == ["belt-a", "belt-b"]
    data = belt(facts)["data"]
    assert data["span"]["length"]["value"] == pytest.approx(335, abs=0.1)
    assert [pluck["used"] for pluck in data["recording"]["plucks"]] == [True] * 3
    assert data["recording"]["hum_hz"] == pytest.approx(50, abs=0.5)
    assert data["target"]["basis"]
    assert facts["parts"][2]["data"]["pair"] is True
    assert facts["verdict"] == facts["parts"][2]["verdict"] == "bad"


def test_a_good_belt_alone_ends_with_nothing_to_do(run: Run) -> None:
    answer = run("tune", "belt", A, *SPAN)
    assert answer.status == 0
    assert "as taut as it should be" in answer.out


def test_a_screw_s_pitch_turns_millimetres_into_turns(run: Run) -> None:
    answer = run("tune", "belt", "--tone", "30", "--machine", LARCH, "--belt", "belt-a", "--screw", "0.5")
    assert answer.status == 1
    assert "too slack" in answer.out
    assert "turns" in answer.out


def test_a_pressed_span_gives_a_tension_without_a_tone(run: Run) -> None:
    # Source: statics of a span pressed in its middle: F L / 4 d, any text on mechanics.
    facts = run("tune", "belt", "--press", "2", "--aside", "4", "--length-mm", "150", "--json").json
    value = belt(facts)["value"]
    assert value["value"] == pytest.approx(2 * 150 / (4 * 4), rel=0.02)
    assert "stretches the belt" in " ".join(belt(facts)["notes"])


def test_silence_is_never_good(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "silent.wav"
    soundfile.write(file, np.zeros(40_000), 8000)
    answer = run("tune", "belt", file, *SPAN)
    assert answer.status == 1
    assert "cannot tell" in answer.out
    assert "The recording is silent" in answer.out


def test_a_clipped_recording_is_told(run: Run, tmp_path: Path) -> None:
    sound, rate = soundfile.read(A)
    soundfile.write(tmp_path / "loud.wav", np.clip(20 * sound, -1, 0.99), rate)
    assert "at the recorder's limit" in run("tune", "belt", tmp_path / "loud.wav", *SPAN).out


def test_a_wrong_rate_is_set_right_with_an_option(run: Run, tmp_path: Path) -> None:
    sound, rate = soundfile.read(A)
    soundfile.write(tmp_path / "odd.wav", sound, 8000)
    answer = run("tune", "belt", tmp_path / "odd.wav", *SPAN, "--rate", rate)
    assert answer.status == 0
    assert f"at {rate:g} samples a second, the file says 8000" in answer.out


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "one of the three"),
        ((str(A), "--tone", "50"), "one of the three"),
        (("--press", "2", "--length-mm", "100"), "go together"),
        ((str(A),), "How long is the span?"),
        ((str(A), "--belt", "belt-a", "--length-mm", "100"), "give --machine"),
        ((str(A), "--length-mm", "100", "--weighed", "much"), "42:5000"),
        ((str(A), *SPAN, "--expect", "loud"), "60-200"),
        ((str(A), *SPAN, "--log"), "--machine"),
        ((str(A), *SPAN, "--before", str(B)), "go together"),
        ((str(A), "--machine", str(LARCH), "--belt", "belt-q"), "Did you mean"),
        ((str(A), "--machine", str(LARCH), "--span", "99"), "Its spans are"),
        ((str(A), "--machine", str(LARCH), "--at", "x=far"), "millimetres of travel"),
    ],
)
def test_what_does_not_go_together_is_said(run: Run, words: tuple[str, ...], said: str) -> None:
    answer = run("tune", "belt", *words)
    assert answer.status == 2
    # A terminal breaks lines where it likes.
    assert said in " ".join((answer.out + answer.err).split())
    assert "Traceback" not in answer.err


def test_what_is_no_recording_is_a_reading_error_in_json_too(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("not a sound\n")
    answer = run("tune", "belt", file, *SPAN, "--json")
    assert answer.status == 2
    assert "WAV, FLAC, OGG" in answer.out


def test_the_plot_is_drawn_and_never_over_another_file(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "belt.svg"
    assert run("tune", "belt", A, *SPAN, "--plot", out).status == 0
    assert out.read_text().startswith("<svg")
    other = tmp_path / "notes.svg"
    other.write_text("mine")
    assert run("tune", "belt", A, *SPAN, "--plot", other).status == 2
    assert other.read_text() == "mine"


@pytest.mark.slow
def test_a_ruled_target_is_kept_in_the_log_and_used_again(run: Run, larch_folder: Path) -> None:
    machine = ("--machine", larch_folder, "--belt", "belt-a")
    logged = run("tune", "belt", A, *machine, "--target", "40", "--log", "--json").json
    assert logged["logged"]["entries"]
    again = belt(run("tune", "belt", A, *machine, "--json").json)
    assert again["data"]["target"]["aim_newton"] == 40
    assert again["data"]["target"]["ruled"] is True
    assert again["verdict"] == "bad"


def test_a_tone_that_is_no_number_is_refused(run: Run) -> None:
    answer = run("tune", "belt", "--tone", "nan", *SPAN)
    assert answer.status == 2
    assert "--tone: read 'nan'; expected a number" in answer.err


def test_one_recording_given_twice_is_no_pair(run: Run, tmp_path: Path) -> None:
    copy = tmp_path / "second belt.flac"
    shutil.copy(A, copy)
    answer = run("tune", "belt", A, copy, "--machine", LARCH)
    assert answer.status == 2
    assert "one and the same" in answer.err


@pytest.mark.parametrize("typed", [("--mass", "8400"), ("--mass", "0.0084"), ("--weighed", "42:5")])
def test_a_mass_in_another_unit_is_refused(run: Run, typed: tuple[str, str]) -> None:
    answer = run("tune", "belt", "--tone", "112", "--length-mm", "150", *typed)
    assert answer.status == 2
    assert "g/m; a belt weighs" in answer.err


def test_a_weight_with_two_points_is_refused_in_words(run: Run) -> None:
    answer = run("tune", "belt", "--tone", "112", "--length-mm", "150", "--weighed", "4.2.2:5")
    assert answer.status == 2
    assert "expected grams and millimetres" in answer.err


def test_a_tension_that_no_belt_has_is_not_judged_and_nothing_is_turned(run: Run) -> None:
    answer = run("tune", "belt", "--tone", "250", *SPAN)
    assert "cannot be right" in answer.out
    assert "was it this very span" in answer.out
    assert "lacken" not in answer.out
    assert belt(run("tune", "belt", "--tone", "250", *SPAN, "--json").json)["verdict"] == "cannot tell"


@pytest.mark.parametrize(("tone", "hums"), [("60", True), ("50.3", True), ("100", True), ("66", False)])
def test_a_typed_tone_of_the_mains_is_asked_about(run: Run, tone: str, hums: bool) -> None:
    doubts = belt(run("tune", "belt", "--tone", tone, *SPAN, "--json").json)["doubts"]
    assert [doubt["code"] for doubt in doubts] == (["hum"] if hums else [])


def test_a_rough_pressing_is_not_blamed_on_the_belts_mass(run: Run) -> None:
    answer = run("tune", "belt", "--press", "1", "--aside", "0.6", "--length-mm", "150")
    assert "pressing is read too roughly" in answer.out
    assert "makes most of the uncertainty" not in answer.out

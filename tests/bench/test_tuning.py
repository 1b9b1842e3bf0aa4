"""The tuning pages: forms made of the commands, files sent before, answers that may be kept."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from bench.asking import Browser, event
from trysquare.bench.bench import Bench
from trysquare.bench.show_tune import called_here, report_view, with_minus
from trysquare.bench.tuning_tools import (
    CHOICE,
    FILE,
    NUMBER,
    TRUTH,
    WORDS,
    Answer,
    Asked,
    Form,
    NotSoError,
    Question,
    arguments,
    file_name,
)
from trysquare.cli.tune import WHAT
from trysquare.cli.tune_forms import forms

ROOT = Path(__file__).parents[2]
MAP = ROOT / "demo" / "larch" / "recordings" / "bed-map.csv"
FORM = Form(
    what="belt",
    title="Belts",
    learns="",
    sort="sound",
    draws=True,
    inputs=(),
    questions=(
        Question(option="", label="File", kind=FILE, several=True, main=True),
        Question(option="--mass", label="Mass", kind=NUMBER, unit="g/m"),
        Question(option="--tone", label="Tone", kind=NUMBER, several=True),
        Question(option="--at", label="Where", kind=WORDS),
        Question(option="--head", label="Head", kind=CHOICE, choices=("light", "cutting")),
        Question(option="--again", label="Again", kind=TRUTH),
        Question(option="--before", label="Before", kind=FILE),
    ),
)


@pytest.fixture(autouse=True)
def own_source(monkeypatch: pytest.MonkeyPatch) -> None:
    """The child that answers runs this very program."""
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")]))


def sent(computer: Browser, file: Path) -> dict[str, str]:
    answer = computer.post("/files", file.read_bytes(), x_trysquare_suffix=file.suffix)
    assert answer.status_code == 200
    return {"sha256": answer.json()["sha256"], "name": file.name}


def ask(computer: Browser, what: str, fields: dict[str, str], **files: list[dict[str, str]]) -> object:
    body = json.dumps({"fields": fields, "files": files}).encode()
    return computer.post(f"/tune/{what}", body, accept="text/html")


def test_every_tuning_command_has_a_form_with_all_its_questions() -> None:
    made = forms()
    assert [form.what for form in made] == [what for what, _, _ in WHAT]
    for form in made:
        names = [question.name for question in form.questions]
        assert len(names) == len(set(names))
        assert not {"plot", "log", "json", "machine", "paper"} & set(names)
        assert all(question.label and not question.label.endswith("]") for question in form.questions)


def test_a_form_becomes_the_arguments_of_its_command() -> None:
    asked = Asked(
        fields={"mass": "8,4", "tone": "112\n\n 113 ", "at": "-5,90", "head": "light", "again": "yes"}
    )
    said = arguments(FORM, asked, {"files": ["a.wav"], "before": ["b.wav"]})
    assert said == [
        "belt", "--mass=8.4", "--tone=112", "--tone=113", "--at=-5,90", "--head=light", "--again",
        "--before", "b.wav", "--", "a.wav",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "fields",
    [
        {"machine": "/etc"},
        {"plot": "x.svg"},
        {"log": "yes"},
        {"files": "/etc/passwd"},
        {"before": "/etc/passwd"},
    ],
)
def test_a_form_cannot_say_what_its_page_does_not_ask(fields: dict[str, str]) -> None:
    with pytest.raises(NotSoError, match="asks nothing called"):
        arguments(FORM, Asked(fields=fields), {})


def test_a_text_cannot_become_an_option_of_its_own() -> None:
    said = arguments(FORM, Asked(fields={"at": "--json", "mass": "1\n--log"}), {})
    assert said == ["belt", "--at=--json", "--mass=1\n--log", "--"]


def test_a_field_with_too_much_in_it_is_refused() -> None:
    with pytest.raises(NotSoError, match="too much"):
        arguments(FORM, Asked(fields={"at": "9" * 500}), {})
    with pytest.raises(NotSoError, match="too much"):
        arguments(FORM, Asked(fields={"tone": "1\n" * 50}), {})


@pytest.mark.parametrize(
    ("said", "laid"),
    [
        ("belt a.flac", "belt a.flac"),
        ("../../etc/passwd", "etc_passwd.flac"),
        ("--json.flac", "json.flac"),
        ("", "file-2.flac"),
        ("Größe<b>.flac", "Größe_b_.flac"),
    ],
)
def test_a_file_has_its_own_name_and_no_other_place(said: str, laid: str) -> None:
    assert file_name(said, 2, ".flac") == laid


@pytest.mark.slow
def test_a_table_that_was_sent_is_reckoned_with_and_its_answer_can_be_kept(
    reed: tuple[Bench, Browser],
) -> None:
    _, computer = reed
    assert "Bed surface" in computer.get("/tune").text
    assert 'data-ask="/tune/surface"' in computer.get("/tune/surface").text
    answer = ask(computer, "surface", {}, files=[sent(computer, MAP)])
    assert answer.status_code == 200
    text = answer.text
    assert "report-part" in text
    assert "<html" not in text
    assert "/drawn/" in text
    data = {"of": "bed", "verdict": "bad", "says": "turn", "value": 0.3, "unit": "mm", "uncertainty": 0.02,
            "values": {"what": "surface"}}  # fmt: skip
    assert computer.say(event("result", **data)).status_code == 200
    kept = computer.get("/tune/surface").text
    assert "0.300 ± 0.020 mm" in kept
    assert "not good" in kept
    assert "0.300 ± 0.020 mm" in computer.get("/tune").text


@pytest.mark.slow
def test_bad_input_is_told_where_and_how_to_mend_it(reed: tuple[Bench, Browser], tmp_path: Path) -> None:
    _, computer = reed
    bad = tmp_path / "map.csv"
    bad.write_text("x_mm,y_mm,z_mm\n0,0,zero\n", "utf-8")
    text = ask(computer, "surface", {}, files=[sent(computer, bad)]).text
    assert "That could not be read" in text
    assert "map.csv:2" in text
    assert "zero" in text
    assert "Traceback" not in text


def test_a_value_that_the_command_refuses_is_told_in_its_words(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    text = ask(computer, "belt", {"tone": "high", "length-mm": "300"}).text
    assert "read &#39;high&#39;; expected a number." in text
    assert "Usage" not in text


@pytest.mark.slow
def test_names_in_a_file_are_shown_and_never_obeyed(reed: tuple[Bench, Browser], tmp_path: Path) -> None:
    _, computer = reed
    bad = tmp_path / "<img src=x onerror=alert(1)>.csv"
    bad.write_text("x_mm,y_mm,z_mm\n0,0,<script>alert(1)</script>\n", "utf-8")
    text = ask(computer, "surface", {}, files=[sent(computer, bad)]).text
    assert "<script" not in text
    assert "<img src=x" not in text


def test_a_tool_or_file_that_is_not_there_is_told(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    assert computer.get("/tune/soup").status_code == 404
    assert ask(computer, "surface", {}, files=[{"sha256": "0" * 64, "name": "a.csv"}]).status_code == 404
    assert ask(computer, "surface", {}, files=[{"sha256": "../x", "name": "a.csv"}]).status_code == 404
    assert ask(computer, "surface", {"machine": "x"}).status_code == 400
    assert computer.post("/tune/surface", b"{").status_code == 400
    assert computer.post("/tune/surface", b"[" * 300_000).status_code in (400, 413)


def test_a_device_that_has_not_joined_gets_no_tuning(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    stranger = Browser(computer.app, base="https://192.168.7.20:8471", address="192.168.7.30")
    assert stranger.get("/tune").status_code == 401
    assert stranger.get("/tune/belt").status_code == 401
    assert stranger.post("/tune/belt", b"{}").status_code == 401


@pytest.mark.slow
def test_the_test_piece_is_taken_home_from_its_page(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    assert "piece-xz.stl" in computer.get("/tune/skew").text
    solid = computer.get("/tune/skew/made/piece-xz.stl")
    assert solid.status_code == 200
    assert len(solid.content) > 1000
    assert "attachment" in solid.headers["content-disposition"]
    assert computer.get("/tune/skew/made/piece-xz.svg").content.startswith(b"<svg")
    assert computer.get("/tune/skew/made/passwd").status_code == 404
    assert computer.get("/tune/belt/made/piece-xz.stl").status_code == 404


def test_sentences_name_options_as_the_page_does() -> None:
    form = next(form for form in forms() if form.what == "belt")
    said = report_view(form, Answer(says="weigh your own with --weighed, or --log it"), (), None).says
    assert "--" not in said
    assert "A length of belt as weighed" in said


@pytest.mark.slow
def test_a_heater_is_reckoned_from_its_label_alone_before_its_power_is_on(
    reed: tuple[Bench, Browser],
) -> None:
    _, computer = reed
    text = ask(computer, "heat", {"power": "160", "volt": "24", "ohm": "3.6", "ohm-within": "0.1"}).text
    assert "Its resistance is that of this heater." in text
    assert "A heater that nobody stops goes on heating." in text


@pytest.mark.slow
def test_a_wrong_figure_is_told_in_the_page_s_own_words(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    text = ask(computer, "heat", {"power": "nan"}).text
    assert "“Power of the heater”: read &#39;nan&#39;; expected a number." in text
    assert "--" not in text.partition("expected a number")[0].rpartition("“")[2]
    assert "--help" not in text


@pytest.mark.slow
def test_a_page_asks_for_the_file_that_its_command_needs(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    text = ask(computer, "surface", {}).text
    assert "A file is missing: choose it first." in text


def test_what_goes_in_is_said_in_the_page_s_own_words(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    text = computer.get("/tune/maintenance").text
    inputs = text.partition("What goes in")[2].partition("</details>")[0]
    assert "“What ran, as CSV”" in inputs
    assert "--hours" not in inputs


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("-0.3 mm", "−0.3 mm"),
        ("between -2 and -.5", "between −2 and −.5"),
        ("M3-8, 3-4 turns, --x -1", "M3-8, 3-4 turns, --x −1"),
        ("2026-03-31", "2026-03-31"),
        ("ISO 7380-1", "ISO 7380-1"),
        ("(-12 V)", "(−12 V)"),
    ],
)
def test_negative_numbers_have_a_sign_of_minus_and_names_keep_their_hyphens(text: str, shown: str) -> None:
    assert with_minus(text) == shown


def test_no_page_asks_for_or_names_an_option_of_the_command_line(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    for form in forms():
        text = re.sub(r"<!--.*?-->", "", computer.get(f"/tune/{form.what}").text)
        assert not re.findall(r"[^\w-]--[a-z][a-z-]+", text), form.what


def test_the_wiring_page_takes_the_readings_of_coil_pairs(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    assert 'data-file="coils"' in computer.get("/tune/wiring").text


def test_every_option_that_a_report_names_is_called_as_its_page_calls_it() -> None:
    """All sentences of the tuning core and commands that name an option, whichever case makes them."""
    by_what = {form.what: form for form in forms()}
    known = {
        "belt": ("belt",), "resonance": ("resonance", "shakes", "shaping"), "skew": ("skew", "hole_slack"),
        "surface": ("surface",), "drive": ("drive", "motor"), "heat": ("heat",),
        "wiring": ("wiring", "earth"),
        "homing": ("homing", "touches"), "maintenance": ("maintenance",),
    }  # fmt: skip
    seen = 0
    for what, stems in known.items():
        for stem in stems:
            for file in sorted((ROOT / "src" / "trysquare" / "tuning").glob(f"{stem}*.py")):
                for text in re.findall(r'"([^"\n]*[^\w-]--[a-z][^"\n]*)"', file.read_text("utf-8")):
                    seen += 1
                    said = re.sub(r"\{[^}]*\}", "xz", text)
                    assert "--" not in called_here(by_what[what], said), (file.name, text)
    assert seen > 15


def test_a_sentence_keeps_its_end_where_an_option_has_a_placeholder() -> None:
    form = next(one for one in forms() if one.what == "skew")
    for text, shown in (
        ("Give --limit MM.", "Give “Skew allowed, mm in 100”."),
        ("The piece: --piece OUT.stl --plane xz.", "The piece: “Test piece XZ”, above."),
        ("Is the probe good? See trysquare tune homing.", "Is the probe good? See “Homing”."),
        (
            "Give READINGS or --reading.",
            "Give the file or “A reading as typed”.",
        ),
    ):
        assert called_here(form, text) == shown


@pytest.mark.slow
def test_a_plot_comes_wide_and_as_narrow_as_a_phone(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    text = ask(computer, "surface", {}, files=[sent(computer, MAP)]).text
    narrow = re.search(
        r'<source media="\(max-width: 560px\)" srcset="([^"]+)" width="90" height="\d+">', text
    )
    wide = re.search(r'<img src="([^"]+)" width="180"', text)
    assert narrow
    assert wide
    assert narrow[1] != wide[1]
    assert 'viewBox="0 0 90 ' in computer.get(narrow[1]).text


@pytest.mark.slow
def test_maintenance_of_which_nothing_is_known_shows_no_picture_and_says_what_to_enter(
    reed: tuple[Bench, Browser],
) -> None:
    _, computer = reed
    text = ask(computer, "maintenance", {}).text
    assert "report-part" in text
    assert "<img" not in text
    assert "Nothing to draw yet. Enter “The machine&#39;s counter, all its hours”" in text
    assert "report-picture" in ask(computer, "maintenance", {"hours": "26"}).text


def test_a_folded_table_tells_its_most_telling_row_in_its_heading() -> None:
    form = next(one for one in forms() if one.what == "wiring")
    table = {
        "title": "51 runs",
        "columns": ["run"],
        "rows": [["Bed"]] * 51,
        "right": [],
        "gist": "worst: Bed, -1 V",
    }
    part = {"of": "runs", "title": "Runs", "verdict": "good", "says": [], "value": None, "lines": [],
            "tables": [table], "doubts": [], "notes": [], "data": {}}  # fmt: skip
    view = report_view(form, Answer(facts={"parts": [part]}), (), None).parts[0].tables[0]
    assert view.folded
    assert view.gist == "worst: Bed, \u22121 V"


def test_a_page_sends_nobody_to_the_command_line_to_true() -> None:
    form = next(one for one in forms() if one.what == "skew")
    for text, shown in (
        ("Look at base-square in: trysquare true /a place/larch", "Look at base-square in: “Truing”"),
        ("Read again what it holds true: trysquare true.", "Read again what it holds true: “Truing”."),
    ):
        assert called_here(form, text) == shown

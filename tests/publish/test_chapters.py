"""Chapter marks and subtitles, read back by readers that are not ours."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Sequence
from pathlib import Path

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from small_frame import write_frame
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.publish.chapters import (
    Mark,
    chapters_ffmetadata,
    chapters_plain,
    chapters_webvtt,
    clock_seconds,
    clocked_marks,
    marks_at,
    plain_title,
    planned_marks,
    subtitles_webvtt,
)
from trysquare.publish.durations import StepDuration, durations

ODD_TITLES = (
    "<b>Rails & belts</b>",
    "00:00:00.000 --> 00:00:09.000",
    "first\n\nsecond --> third\nNOTE",
    "סרגל אל המסילה",
    "\u202eturned",
    "a\u2028b\u2029c\x85d\x00e\x1bf",
    "title=x;#\\ [CHAPTER]",
    "-->",
    "",
    "WEBVTT",
    "half \ud800 a letter",
    "ends with \\",
)


def step(name: str, title: str, seconds: float) -> StepDuration:
    return StepDuration(
        step=name, title=title, unit="frame", seconds=seconds, basis="said", begin_seconds=1, actions=()
    )


def marks_of(titles: Sequence[str], seconds: float = 90.0) -> tuple[Mark, ...]:
    return planned_marks([step(f"s{number}", title, seconds) for number, title in enumerate(titles)])


def parsed(text: str) -> list[webvtt.Caption]:
    return list(webvtt.from_buffer(io.StringIO(text)))


def unescaped(text: str) -> str:
    return text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")


def metadata(text: str) -> list[dict[str, str]]:
    """An own reader of FFMETADATA by its description: sections, keys, signs after a backslash."""
    first, *lines = text.split("\n")
    assert first == ";FFMETADATA1"
    sections: list[dict[str, str]] = [{}]
    for line in lines:
        if line == "[CHAPTER]":
            sections.append({})
        elif line:
            key, value = re.fullmatch(r"((?:\\.|[^=\\])*)=((?:\\.|[^\\])*)", line, re.DOTALL).groups()  # type: ignore[union-attr]
            assert not value.endswith("\\")  # common readers would join the next line to it
            sections[-1][key] = re.sub(r"\\(.)", r"\1", value).rstrip(" ")
    return sections


@pytest.mark.outside
def test_another_reader_finds_every_chapter_with_its_times_and_title() -> None:
    cues = parsed(chapters_webvtt(marks_of(["Frame", "Rails"], 4000.5)))
    assert [(cue.start, cue.end, cue.text) for cue in cues] == [
        ("00:00:00.000", "01:06:40.500", "Frame"),
        ("01:06:40.500", "02:13:21.000", "Rails"),
    ]


@pytest.mark.outside
def test_another_reader_is_not_led_astray_by_what_a_title_holds() -> None:
    cues = parsed(chapters_webvtt(marks_of(ODD_TITLES)))
    assert [unescaped(cue.text) for cue in cues] == [
        plain_title(title) or f"s{number}" for number, title in enumerate(ODD_TITLES)
    ]


@pytest.mark.outside
@given(titles=st.lists(st.text(max_size=30), min_size=1, max_size=6))
def test_no_title_at_all_breaks_a_file(titles: list[str]) -> None:
    marks = marks_of(titles)
    assert [unescaped(cue.text) for cue in parsed(chapters_webvtt(marks))] == [
        plain_title(title) or f"s{number}" for number, title in enumerate(titles)
    ]
    sections = metadata(chapters_ffmetadata(marks, titles[0]))
    assert [section["title"] for section in sections[1:]] == [
        plain_title(title) or f"s{number}" for number, title in enumerate(titles)
    ]
    lines = chapters_plain(marks).splitlines()
    assert len(lines) == len(titles)
    assert all(re.match(r"\d\d:\d\d .", line) for line in lines)


def test_a_title_keeps_its_script_and_the_joiners_that_its_letters_need() -> None:
    assert plain_title("سوراخ\u200cها") == "سوراخ\u200cها"
    assert plain_title("\u202eabc\u202c") == "abc"


def test_metadata_counts_in_milliseconds_and_leaves_no_gap() -> None:
    head, first, second = metadata(chapters_ffmetadata(marks_of(["a=b", "c"], 1.0005), "M; #1"))
    assert head == {"title": "M; #1"}
    assert (first["TIMEBASE"], first["START"], first["title"]) == ("1/1000", "0", "a=b")
    assert first["END"] == second["START"]


def test_metadata_hold_what_a_title_holds() -> None:
    sections = metadata(chapters_ffmetadata(marks_of(ODD_TITLES), "Larch"))
    assert [section["title"] for section in sections[1:]] == [
        plain_title(title) or f"s{number}" for number, title in enumerate(ODD_TITLES)
    ]


def test_plain_lines_show_hours_when_the_film_has_them() -> None:
    assert chapters_plain(marks_of(["a", "b"], 59.9)) == "00:00 a\n00:59 b\n"
    assert chapters_plain(marks_of(["a", "b"], 3661)) == "0:00:00 a\n1:01:01 b\n"


def test_no_steps_give_files_without_chapters() -> None:
    assert parsed(chapters_webvtt(())) == []
    assert chapters_plain(()) == ""


# --- clock marks

PLANNED = (step("frame", "Frame", 60), step("rail", "Rail", 30), step("lid", "Lid", 20))


def clocked(text: str, ends: float | None = None) -> tuple[Mark, ...]:
    return clocked_marks(text, PLANNED, opening="Small frame", file="clock.csv", ends_seconds=ends)


def test_a_film_that_begins_before_its_first_step_gets_an_opening() -> None:
    marks = clocked("step,seconds\nframe,12\nrail,1:30\n")
    assert [(mark.title, mark.begins_seconds, mark.ends_seconds) for mark in marks] == [
        ("Small frame", 0, 12),
        ("Frame", 12, 90),
        ("Rail", 90, 120),
    ]


def test_the_film_may_show_steps_in_another_order_and_leave_some_out() -> None:
    assert [mark.step for mark in clocked("step,seconds\nlid,0\nframe,50\n")] == ["lid", "frame"]


def test_a_first_mark_within_a_second_is_the_beginning() -> None:
    assert clocked("step,seconds\nframe,0.4\n")[0].begins_seconds == 0


def test_the_last_chapter_ends_with_the_film() -> None:
    assert clocked("\ufeffstep,seconds\r\nframe,0\r\n", ends=500)[-1].ends_seconds == 500


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "step,seconds"),
        ("frame,3\n", "step,seconds"),
        ("step,seconds\n", "no rows"),
        ("step,seconds\nfrme,3\n", "Did you mean 'frame'"),
        ("step,seconds\nframe,3\nframe,9\n", "each step once"),
        ("step,seconds\nframe,-3\n", "seconds from the film's beginning"),
        ("step,seconds\nframe,nan\n", "seconds from the film's beginning"),
        ("step,seconds\nframe,1e5\n", "seconds from the film's beginning"),
        ("step,seconds\nframe,999999999\n", "seconds from the film's beginning"),
        ("step,seconds\nframe\n", "seconds from the film's beginning"),
        ("step,seconds\nframe,5\nrail,5.5\n", "a second at least"),
        ('step,seconds\n"frame,5\n', "two columns"),
    ],
)
def test_a_clock_that_cannot_be_used_says_where_and_what_to_do(text: str, said: str) -> None:
    with pytest.raises(ReadingErrors) as raised:
        clocked(text)
    assert said in str(raised.value)
    assert "clock.csv" in str(raised.value)


# --- marks of a build log


def logged(*begins: tuple[str, float], ends: float | None = None) -> tuple[Mark, ...]:
    return marks_at(begins, PLANNED, opening="Small frame", ends_seconds=ends)


def begun(marks: Sequence[Mark]) -> list[tuple[str, float, float]]:
    return [(mark.step, mark.begins_seconds, mark.ends_seconds) for mark in marks]


def test_marks_of_a_log_are_those_of_a_table_with_the_same_times() -> None:
    assert logged(("frame", 12.0), ("rail", 90.0), ("lid", 120.0)) == clocked(
        "step,seconds\nframe,12\nrail,90\nlid,120\n"
    )


def test_steps_that_the_log_did_not_mark_follow_as_they_are_planned() -> None:
    assert begun(logged(("frame", 0.0))) == [("frame", 0, 60), ("rail", 60, 90), ("lid", 90, 110)]


def test_steps_before_the_first_mark_end_at_it_and_the_opening_has_what_is_left() -> None:
    assert begun(logged(("lid", 100.0))) == [
        ("", 0, 10), ("frame", 10, 70), ("rail", 70, 100), ("lid", 100, 120),
    ]  # fmt: skip
    assert begun(logged(("lid", 45.0)))[:2] == [("frame", 0, 30), ("rail", 30, 45)]


def test_planned_steps_are_squeezed_between_marks_that_leave_them_less_time() -> None:
    assert begun(logged(("frame", 0.0), ("lid", 45.0))) == [
        ("frame", 0, 30),
        ("rail", 30, 45),
        ("lid", 45, 65),
    ]


def test_a_planned_step_for_which_the_film_has_no_second_is_left_out() -> None:
    assert [mark.step for mark in logged(("frame", 5.0), ("lid", 6.5))] == ["", "frame", "lid"]
    assert [mark.step for mark in logged(("lid", 0.0), ("frame", 50.0), ends=51.5)] == ["lid", "frame"]


@given(
    st.dictionaries(st.sampled_from([one.step for one in PLANNED]), st.integers(0, 4000), min_size=1),
    st.none() | st.integers(1, 5000),
)
def test_chapters_of_a_log_are_never_shorter_than_a_second(begins: dict[str, int], ends: int | None) -> None:
    try:
        marks = logged(*((name, at / 7) for name, at in begins.items()), ends=ends)
    except ReadingErrors:
        return  # the marks themselves are too near to each other, or end after the film
    assert set(begins) <= {mark.step for mark in marks}
    assert all(late.begins_seconds == early.ends_seconds for early, late in itertools.pairwise(marks))
    assert all(mark.ends_seconds - mark.begins_seconds > 0 for mark in marks)


def test_without_marks_the_chapters_are_as_planned() -> None:
    assert logged() == planned_marks(PLANNED)


@pytest.mark.parametrize(
    ("begins", "said"),
    [
        ((("frme", 3.0),), "Did you mean 'frame'"),
        ((("frame", 3.0), ("frame", 9.0)), "each step once"),
        ((("frame", -1.0),), "seconds from the film's beginning"),
        ((("frame", float("nan")),), "seconds from the film's beginning"),
        ((("frame", float("inf")),), "seconds from the film's beginning"),
        ((("frame", 5.0), ("rail", 5.5)), "a second at least"),
    ],
)
def test_marks_that_cannot_be_used_say_which_step_and_why(
    begins: tuple[tuple[str, float], ...], said: str
) -> None:
    with pytest.raises(ReadingErrors) as raised:
        logged(*begins)
    assert said in str(raised.value)
    assert "the build log" in str(raised.value)


def test_a_film_cannot_end_before_its_last_mark() -> None:
    with pytest.raises(ReadingErrors, match="after the last mark"):
        clocked("step,seconds\nframe,50\n", ends=50)


@pytest.mark.parametrize(
    ("said", "seconds"),
    [
        ("90", 90),
        ("1:30", 90),
        ("1:02:03.5", 3723.5),
        ("90:00", 5400),
        ("1:99", None),
        ("1:2:3:4", None),
        ("٣", None),
    ],
)
def test_times_are_read_as_people_write_them(said: str, seconds: float | None) -> None:
    assert clock_seconds(said) == seconds


def test_a_mark_ends_after_it_begins() -> None:
    with pytest.raises(ReadingError):
        Mark(step="a", title="a", begins_seconds=3, ends_seconds=3)


# --- subtitles


@pytest.mark.outside
def test_another_reader_finds_subtitles_in_order_that_never_overlap(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path))
    planned = durations(machine)
    cues = parsed(subtitles_webvtt(machine, planned_marks(planned), planned))
    times = [(cue.start_in_seconds, cue.end_in_seconds) for cue in cues]
    assert all(begin <= end for begin, end in times)
    assert all(one.end <= two.start for one, two in itertools.pairwise(cues))
    text = "\n".join(cue.text for cue in cues)
    assert all(step.title in text for step in machine.steps)
    assert "Tighten plate." in text
    assert all(len(line) <= 42 and len(cue.lines) <= 2 for cue in cues for line in cue.lines)


@pytest.mark.outside
def test_subtitles_are_squeezed_into_a_film_that_is_too_short_for_them(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path))
    planned = durations(machine)
    marks = clocked_marks(
        "step,seconds\nnuts,0\nframe,1\n", planned, opening="", file="clock.csv", ends_seconds=2
    )
    cues = parsed(subtitles_webvtt(machine, marks, planned))
    assert cues
    assert cues[-1].end <= "00:00:02.000"

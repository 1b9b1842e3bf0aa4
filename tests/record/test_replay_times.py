"""Times for plans and films, and the list of open points."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log_entries import logged, said
from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.publish.chapters import clocked_marks
from trysquare.publish.durations import MEASURED, Learned, durations
from trysquare.record.events import Event
from trysquare.record.replay import replay
from trysquare.record.replay_open import open_lines
from trysquare.record.replay_times import clock_table, film_stretches, measured_steps


def mark(step: str | None, clock: float | None = None, minutes: float = 0.0, device: str = "tablet") -> Event:
    data = {} if clock is None else {"clock": clock}
    return said("mark", step, minutes=minutes, device=device, id=f"m-{step}-{clock}-{minutes}", **data)


def film(*events: Event) -> list[tuple[str, float]]:
    return [(one.step, one.begins_seconds) for one in film_stretches(replay(logged(events)).marks)]


def test_only_steps_that_are_done_tell_how_long_they_take() -> None:
    events = [
        said("opened", "nuts", minutes=0),
        said("done", "nuts", minutes=5),
        said("opened", "frame", minutes=5),
        said("note", "frame", minutes=9, says="x"),
    ]
    assert measured_steps(replay(logged(events))) == {"nuts": 300.0}


def test_what_was_measured_is_what_the_plan_then_says(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path / "frame"))
    events = [said("opened", "nuts", minutes=0), said("done", "nuts", minutes=5)]
    planned = durations(machine, Learned(steps=measured_steps(replay(logged(events)))))
    assert [(one.step, one.seconds) for one in planned if one.basis == MEASURED] == [("nuts", 300.0)]


def test_marks_with_the_recordings_counter_are_where_it_says() -> None:
    assert film(mark("nuts", 12.0), mark("frame", 80.5), mark("rail", 200.0)) == [
        ("nuts", 12.0),
        ("frame", 80.5),
        ("rail", 200.0),
    ]


def test_marks_without_a_counter_follow_the_devices_clock() -> None:
    assert film(mark("nuts", minutes=1), mark("frame", minutes=3), mark("rail", minutes=4)) == [
        ("nuts", 0.0),
        ("frame", 120.0),
        ("rail", 180.0),
    ]
    assert film(mark("nuts", 30.0, minutes=1), mark("frame", minutes=3)) == [("nuts", 30.0), ("frame", 150.0)]


def test_a_step_looked_at_in_passing_is_no_chapter() -> None:
    marks = [mark("nuts", 0), mark("frame", 60), mark("nuts", 62), mark("frame", 120), mark("rail", 300)]
    assert film(*marks) == [("nuts", 0.0), ("frame", 120.0), ("rail", 300.0)]


def test_a_mark_without_a_step_ends_the_one_before() -> None:
    found = film_stretches(replay(logged([mark("nuts", 0), mark(None, 50), mark("frame", 80)])).marks)
    assert [(one.step, one.begins_seconds, one.ends_seconds) for one in found] == [
        ("nuts", 0.0, 50.0),
        ("frame", 80.0, 80.0),
    ]


def test_the_table_is_what_the_chapters_read(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path / "frame"))
    state = replay(logged([mark("frame", 30), mark("plate", 120)]))
    table = clock_table(film_stretches(state.marks))
    assert table == "step,seconds\nframe,30.000\nplate,120.000\n"
    marks = clocked_marks(table, durations(machine), opening=machine.name, file="log")
    assert [(one.step, one.begins_seconds) for one in marks] == [("", 0.0), ("frame", 30.0), ("plate", 120.0)]


@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(("nuts", "frame", "rail", None)), st.none() | st.floats(0, 200), st.integers(0, 9)
        ),
        max_size=12,
    )
)
def test_every_film_has_each_step_once_a_second_apart_at_least(
    rows: list[tuple[str | None, float | None, int]],
) -> None:
    events = [
        said("mark", step, id=str(number), minutes=minutes, **({} if clock is None else {"clock": clock}))
        for number, (step, clock, minutes) in enumerate(rows)
    ]
    found = film_stretches(replay(logged(events)).marks)
    assert len({one.step for one in found}) == len(found)
    assert {one.step for one in found} <= {step for step, *_ in rows if step}
    for early, late in itertools.pairwise(found):
        assert late.begins_seconds - early.begins_seconds >= 1.0


@pytest.mark.parametrize("step", ['a,b "c"', "two\nlines"])
def test_a_step_with_odd_signs_is_one_cell_of_the_table(step: str) -> None:
    import csv
    import io

    table = clock_table(film_stretches(replay(logged([mark(step, 30)])).marks))
    assert list(csv.reader(io.StringIO(table, newline="")))[1] == [step, "30.000"]


# --- open points


def test_everything_open_is_listed_in_the_order_in_which_it_was_logged() -> None:
    events = [
        said("left-open", "frame", item="corner", reason="no square", sort="alignment"),
        said("deviation", "frame", what="missing", part="M5x8", count=2),
        said("done", "frame", device="tablet", seen=2),
        said("reopened", "frame", device="phone", seen=2),
    ]
    found = open_lines(replay(logged(events)))
    assert [(one.sort, one.item) for one in found] == [
        ("left-open", "corner"),
        ("missing", "M5x8"),
        ("conflict", "step frame"),
        ("reopened", "frame"),
    ]
    assert found[1].says == "2 missing"
    assert found[2].says == "tablet: done; phone: reopened, which holds"


def test_what_is_settled_served_otherwise_or_done_again_is_not_open() -> None:
    events = [
        said("left-open", "frame", item="corner", reason="no square"),
        said("settled", item="corner"),
        said("deviation", "frame", what="missing", part="M5x8"),
        said("deviation", "frame", what="substitute", part="M5x8", by="M5x10"),
        said("done", "frame", minutes=1),
        said("reopened", "frame", minutes=2),
        said("done", "frame", minutes=3),
    ]
    assert open_lines(replay(logged(events))) == ()

"""Time spent, from clocks that cannot be trusted."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from log_entries import at, logged, said
from trysquare.record.events import Event
from trysquare.record.replay import replay
from trysquare.record.spent import Span, add_span, seconds_of


def minutes_of(*events: Event, received: dict[str, float] | None = None) -> dict[str, float]:
    """Minutes by step. received: the log's time of an event's id, in minutes; else what the device said."""
    times = received or {}
    entries = logged(events, received=lambda event: at(times[event.id]) if event.id in times else event.at)
    return {name: step.seconds / 60 for name, step in replay(entries).steps.items() if step.seconds}


def test_time_counts_from_opening_a_step_to_its_end() -> None:
    assert minutes_of(
        said("opened", "frame", minutes=0),
        said("laid-out", "frame", minutes=4, parts=["a"]),
        said("done", "frame", minutes=10),
        said("opened", "rail", minutes=13),
        said("done", "rail", minutes=20),
    ) == {"frame": 10, "rail": 7}


def test_steps_that_are_only_ticked_off_share_the_time_between() -> None:
    assert minutes_of(
        said("done", "frame", minutes=0), said("done", "rail", minutes=6), said("done", "plate", minutes=10)
    ) == {"rail": 6, "plate": 4}


def test_a_pause_does_not_count_on_any_device() -> None:
    assert minutes_of(
        said("opened", "frame", minutes=0),
        said("opened", "frame", minutes=0, device="phone"),
        said("pause", minutes=5),
        said("resume", minutes=25),
        said("note", minutes=27, device="phone", says="x"),
        said("done", "frame", minutes=30),
    ) == {"frame": 10}


def test_a_night_without_a_pause_counts_as_the_longest_work() -> None:
    assert minutes_of(said("opened", "frame", minutes=0), said("done", "frame", minutes=14 * 60)) == {
        "frame": 30
    }


def test_a_night_after_the_end_of_a_step_counts_for_nothing() -> None:
    assert (
        minutes_of(said("done", "frame", minutes=0), said("laid-out", "rail", minutes=14 * 60, parts=["a"]))
        == {}
    )


def test_a_clock_that_is_set_back_loses_no_time() -> None:
    assert minutes_of(
        said("opened", "frame", id="1", minutes=100),
        said("note", id="2", minutes=105, says="x"),
        said("note", id="3", minutes=48, says="y"),  # set back by an hour, three minutes later
        said("done", "frame", id="4", minutes=50),
        received={"1": 100, "2": 105, "3": 108, "4": 110},
    ) == {"frame": 10}


def test_a_clock_that_jumps_ahead_gains_no_time() -> None:
    assert minutes_of(
        said("opened", "frame", id="1", minutes=0),
        said("note", id="2", minutes=60 * 24 * 365, says="x"),  # a year ahead, three minutes later
        said("done", "frame", id="3", minutes=60 * 24 * 365 + 2),
        received={"1": 0, "2": 3, "3": 5},
    ) == {"frame": 5}


def test_what_waited_in_a_queue_counts_by_the_devices_own_clock() -> None:
    assert minutes_of(
        said("opened", "frame", id="1", minutes=0),
        said("note", id="2", minutes=12, says="x"),
        said("done", "frame", id="3", minutes=20),
        received={"1": 300, "2": 300, "3": 300},
    ) == {"frame": 20}


def test_two_devices_at_one_step_count_once() -> None:
    assert minutes_of(
        said("opened", "frame", minutes=0),
        said("opened", "frame", minutes=2, device="phone"),
        said("note", minutes=8, says="x"),
        said("note", minutes=10, device="phone", says="y"),
        said("done", "frame", minutes=12),
    ) == {"frame": 12}


def test_two_devices_at_two_steps_count_for_both() -> None:
    assert minutes_of(
        said("opened", "frame", minutes=0),
        said("opened", "rail", minutes=0, device="phone"),
        said("done", "frame", minutes=10),
        said("done", "rail", minutes=10, device="phone"),
    ) == {"frame": 10, "rail": 10}


def test_time_was_spent_even_if_what_was_done_is_undone() -> None:
    assert minutes_of(
        said("opened", "frame", minutes=0),
        said("done", "frame", id="d", minutes=10),
        said("undo", of="d", minutes=11),
    ) == {"frame": 10}


@given(
    jumps=st.lists(st.tuples(st.integers(-(10**6), 10**6), st.integers(0, 100)), max_size=30),
    devices=st.lists(st.sampled_from(("tablet", "phone")), min_size=30, max_size=30),
)
def test_no_clock_makes_more_time_than_the_longest_work_between_two_touches(
    jumps: list[tuple[int, int]], devices: list[str]
) -> None:
    events = [said("opened", "frame", id="0")]
    received = {"0": 0.0}
    clock = 0.0
    for number, (said_at, later) in enumerate(jumps, start=1):
        clock += later
        events.append(
            said("note", id=str(number), minutes=said_at / 10, device=devices[number - 1], says="x")
        )
        received[str(number)] = clock
    total = sum(minutes_of(*events, received=received).values())
    assert 0 <= total <= 30 * len(jumps)


SPANS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 20)).map(lambda one: (one[0], one[0] + one[1])))


@given(given_spans=SPANS)
def test_spans_cover_what_was_added_and_nothing_else(given_spans: list[Span]) -> None:
    spans: list[Span] = []
    for span in given_spans:
        add_span(spans, span)
    # An outside reckoning: the milliseconds one by one.
    covered = {moment for begin, end in given_spans for moment in range(begin, end)}
    assert seconds_of(spans) == len(covered) / 1000
    assert all(before[1] < after[0] for before, after in itertools.pairwise(spans))

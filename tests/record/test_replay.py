"""What entries mean together: each kind, undo, conflicts."""

from __future__ import annotations

from log_entries import SHA256_OF_NOTHING, logged, one_of_each, said
from trysquare.record.events import Event
from trysquare.record.replay import replay, replay_on
from trysquare.record.state import BuildState


def state_of(*events: Event) -> BuildState:
    return replay(logged(events))


def test_an_empty_log_says_nothing() -> None:
    assert replay([]) == BuildState()


def test_one_of_each_kind_is_read_out_as_it_was_said() -> None:
    state = replay(logged(one_of_each()))
    frame = state.steps["frame"]
    assert frame.opened is not None
    assert frame.opened.id == "e-01"
    assert frame.done is not None, "its reopening was undone"
    assert frame.done.id == "e-21"
    assert [mark.clock_seconds for mark in frame.marks] == [61.5]
    assert state.laid_out == {("frame", "frame/left")}
    assert state.counted["ISO 7380-1 M5x8"].pieces == 12
    kept, aside = state.readings["frame", "corner"]
    assert (kept.value_mm, kept.repeats, kept.uncertainty, kept.set_aside) == (0.04, (0.03, 0.05), 0.02, "")
    assert aside.set_aside == "a chip lay under the square"
    assert [(one.what, one.by, one.count) for one in state.deviations] == [
        ("substitute", "ISO 7380-1 M5x10", 2)
    ]
    assert list(state.open_points) == ["guard"]
    assert [one.sha256 for one in (*state.photos, *state.files)] == [SHA256_OF_NOTHING] * 2
    assert state.rulings["unit.frame.place.left"].paper == "manual"
    assert state.torqued["frame/plate"][0].newton_metre == 4.5
    assert state.results["corner"][0].values == {"n": [1, 2.5, None]}
    assert state.undone == {"e-22"}
    assert state.conflicts == ()
    assert (state.seq, state.unknown) == (23, 0)


def test_a_step_done_twice_and_taken_up_again_counts_its_reopenings() -> None:
    state = state_of(
        said("done", "frame", minutes=1),
        said("reopened", "frame", minutes=2),
        said("reopened", "frame", minutes=3),
        said("done", "frame", minutes=4),
        said("reopened", "frame", minutes=5),
    )
    assert (state.steps["frame"].reopened, state.steps["frame"].done) == (2, None)


def test_counts_add_up_over_boxes_and_the_last_of_a_box_holds() -> None:
    state = state_of(
        said("counted", sort="M5x8", count=10, box="A", minutes=1),
        said("counted", sort="M5x8", count=3, box="B", minutes=2),
        said("counted", sort="M5x8", count=8, box="A", minutes=3),
    )
    assert state.counted["M5x8"].boxes == {"A": 8, "B": 3}
    assert state.counted["M5x8"].pieces == 11


def test_undoing_an_undo_puts_the_entry_in_force_again_and_so_on() -> None:
    events = [said("done", "frame", id="d")]
    for number in range(1, 6):
        events.append(said("undo", id=f"u{number}", of=f"u{number - 1}" if number > 1 else "d"))
        done = state_of(*events).steps.get("frame")
        assert (done is not None) == (number % 2 == 0)


def test_two_undos_of_one_entry_must_both_be_undone() -> None:
    events = [said("done", "frame", id="d"), said("undo", id="u1", of="d"), said("undo", id="u2", of="d")]
    events.append(said("undo", id="v1", of="u1"))
    assert "frame" not in state_of(*events).steps
    events.append(said("undo", id="v2", of="u2"))
    assert state_of(*events).steps["frame"].done is not None


def test_an_undo_of_nothing_of_itself_or_of_what_comes_later_does_nothing() -> None:
    state = state_of(
        said("undo", id="u1", of="nobody"),
        said("undo", id="u2", of="u2"),
        said("undo", id="u3", of="d"),
        said("done", "frame", id="d"),
    )
    assert state.undone == frozenset()
    assert state.steps["frame"].done is not None


def test_an_undone_set_aside_lets_the_reading_count_again() -> None:
    events = [
        said("reading", "frame", id="r", of="corner", value=1.0, unit="mm"),
        said("reading-set-aside", id="s", of="r", why="chip"),
    ]
    assert state_of(*events).readings["frame", "corner"][0].set_aside == "chip"
    state = state_of(*events, said("undo", id="u", of="s"))
    assert state.readings["frame", "corner"][0].set_aside == ""


def test_a_length_is_told_in_millimetres_and_anything_else_is_not() -> None:
    state = state_of(
        said("reading", of="gap", value=2.0, unit="in", minutes=1),
        said("reading", of="gap", value=40.0, unit="µm", minutes=2),
        said("reading", of="gap", value=110.0, unit="Hz", minutes=3),
    )
    assert [one.value_mm for one in state.readings[None, "gap"]] == [50.8, 0.04, None]


def test_two_devices_that_count_one_piece_after_another_at_once_add_up_and_do_not_differ() -> None:
    one = said("counted-more", sort="M5x8", count=1, device="tablet", seen=0, id="t")
    other = said("counted-more", sort="M5x8", count=1, device="phone", seen=0, id="p")
    state = replay(logged([one, other]))
    assert state.counted["M5x8"].pieces == 2
    assert state.conflicts == ()
    whole = said("counted", sort="M5x8", count=9, device="tablet", seen=2, id="w")
    after = said("counted-more", sort="M5x8", count=2, device="phone", seen=3, id="a")
    state = replay(logged([one, other, whole, after]))
    assert state.counted["M5x8"].pieces == 11
    assert state.counted["M5x8"].said.id == "w"
    taken_back = replay(logged([one, other, said("undo", of="t", device="tablet", seen=2)]))
    assert taken_back.counted["M5x8"].pieces == 1
    blind = said("counted", sort="M5x8", count=9, device="laptop", seen=0, id="b")
    assert len(replay(logged([one, blind])).conflicts) == 1, "a count of all of them leaves the piece out"


def test_entries_of_a_kind_that_only_a_newer_version_knows_are_counted_and_passed_over() -> None:
    newer = Event(id="n", kind="weighed-again", at="2031-05-04T08:00:00.000Z", device="tablet", data={"x": 1})
    state = state_of(newer, said("undo", id="u", of="n"), said("note", says="x"))
    assert (state.unknown, state.seq, len(state.notes)) == (1, 3, 1)


def test_entries_with_fields_that_are_something_else_do_not_stop_the_replay() -> None:
    # Such entries cannot be appended; a log made by hand may hold them all the same.
    odd = [
        Event(
            id=f"odd-{number}",
            kind=event.kind,
            at=event.at,
            device="x",
            data={name: {"a": []} for name in event.data},
        )
        for number, event in enumerate(one_of_each())
    ]
    assert replay(logged(odd)).seq == len(odd)


def test_an_entry_that_the_state_holds_already_changes_nothing() -> None:
    entries = logged(one_of_each())
    state = replay(entries)
    assert replay_on(state, entries) == state


def test_the_state_before_stays_as_it_was() -> None:
    entries = logged(one_of_each())
    before = replay(entries[:10])
    copy = replay(entries[:10])
    replay_on(before, entries[10:])
    assert before == copy
    assert replay_on(before, entries[10:]) == replay(entries)


# --- two devices


def test_two_devices_that_could_not_know_of_each_other_are_both_kept_and_named() -> None:
    state = state_of(
        said("counted", sort="M5x8", count=10, device="tablet", seen=0, id="t"),
        said("counted", sort="M5x8", count=12, device="phone", seen=0, id="p"),
    )
    (conflict,) = state.conflicts
    assert (conflict.about, conflict.first.id, conflict.second.id) == ("count of M5x8", "t", "p")
    assert (conflict.first_says, conflict.second_says) == ("counted 10", "counted 12")
    assert state.counted["M5x8"].pieces == 12, "the later entry holds meanwhile"


def test_who_saw_the_others_word_and_says_another_contradicts_nobody() -> None:
    state = state_of(
        said("counted", sort="M5x8", count=10, device="tablet", seen=0),
        said("counted", sort="M5x8", count=12, device="phone", seen=1),
    )
    assert state.conflicts == ()


def test_a_device_that_spoke_twice_still_contradicts_what_another_said_before() -> None:
    state = state_of(
        said("counted", sort="M5x8", count=10, device="tablet", seen=0, id="t"),
        said("counted", sort="M5x8", count=10, device="phone", seen=0),
        said("counted", sort="M5x8", count=12, device="phone", seen=0, id="p"),
    )
    (conflict,) = state.conflicts
    assert (conflict.first.id, conflict.second.id) == ("t", "p")


def test_two_devices_that_say_the_same_agree() -> None:
    state = state_of(
        said("done", "frame", device="tablet", seen=0), said("done", "frame", device="phone", seen=0)
    )
    assert state.conflicts == ()


def test_a_word_of_somebody_who_knows_of_both_settles_it() -> None:
    events = [
        said("done", "frame", device="tablet", seen=0),
        said("done", "frame", device="phone", seen=1),
        said("reopened", "frame", device="tablet", seen=1, id="r"),
    ]
    assert len(state_of(*events).conflicts) == 1
    assert state_of(*events, said("done", "frame", device="phone", seen=3, minutes=9)).conflicts == ()
    assert state_of(*events, said("undo", device="phone", of="r", seen=3)).conflicts == ()


def test_without_a_word_on_what_it_had_seen_a_devices_time_decides() -> None:
    early = said("counted", sort="M5x8", count=10, device="tablet", minutes=0)
    queued = said("counted", sort="M5x8", count=12, device="phone", minutes=5)
    late = said("counted", sort="M5x8", count=12, device="phone", minutes=15)
    received = {early.id: said("note", says="x", minutes=10).at}
    for later, conflicts in ((queued, 1), (late, 0)):
        entries = logged([early, later], received=lambda event: received.get(event.id, event.at))
        assert len(replay(entries).conflicts) == conflicts


def test_counts_of_two_boxes_do_not_contradict_each_other() -> None:
    state = state_of(
        said("counted", sort="M5x8", count=10, box="A", device="tablet", seen=0),
        said("counted", sort="M5x8", count=12, box="B", device="phone", seen=0),
    )
    assert state.conflicts == ()


def test_opening_a_page_contradicts_nobody() -> None:
    state = state_of(
        said("done", "frame", device="tablet", seen=0), said("opened", "frame", device="phone", seen=0)
    )
    assert state.conflicts == ()

"""Laws that hold for every log: replaying in pieces, undoing, and that nothing is lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from log_entries import logged, said
from trysquare.record.events import Event
from trysquare.record.memory import Memory
from trysquare.record.replay import replay, replay_on
from trysquare.record.state import BuildState, Said

STEPS, NAMES, DEVICES = ("frame", "rail"), ("a", "b", "c"), ("tablet", "phone")
STEP, NAME = st.sampled_from(STEPS), st.sampled_from(NAMES)
NAMED = st.lists(NAME, min_size=1, max_size=3)

WORDS: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    **dict.fromkeys(("opened", "done", "reopened", "pause", "resume"), st.just({})),
    **dict.fromkeys(("laid-out", "taken-back"), st.builds(lambda parts: {"parts": parts}, NAMED)),
    "counted": st.builds(
        lambda sort, count, box: {"sort": sort, "count": count, **({"box": box} if box else {})},
        NAME, st.integers(0, 3), st.sampled_from(("", "A", "B")),
    ),
    "counted-more": st.builds(
        lambda sort, count, box: {"sort": sort, "count": count, **({"box": box} if box else {})},
        NAME, st.integers(0, 3), st.sampled_from(("", "A", "B")),
    ),
    "reading": st.builds(lambda of, value: {"of": of, "value": value, "unit": "mm"}, NAME, st.floats(-9, 9)),
    "deviation": st.builds(lambda part: {"what": "damaged", "part": part}, NAME),
    "left-open": st.builds(lambda item: {"item": item, "reason": "later"}, NAME),
    "settled": st.builds(lambda item: {"item": item}, NAME),
    "photo": st.just({"sha256": "0" * 64, "suffix": ".jpg"}),
    "file": st.just({"sha256": "1" * 64, "suffix": ".wav"}),
    "mark": st.builds(lambda label: {"label": label}, NAME),
    "note": st.builds(lambda says: {"says": says}, NAME),
    "ruling": st.builds(lambda line, paper: {"line": line, "paper": paper, "why": "so"}, NAME, NAME),
    "torqued": st.builds(lambda of: {"of": of, "state": "final"}, NAMED),
    "result": st.builds(lambda of: {"of": of, "verdict": "good"}, NAME),
}  # fmt: skip


@st.composite
def logs(draw: st.DrawFn, *, undos: bool = True, most: int = 25) -> list[Event]:
    """Events of two devices whose clocks jump, which set readings aside and undo each other's words."""
    events: list[Event] = []
    for number in range(draw(st.integers(0, most))):
        targets = st.sampled_from([*range(number), number + 1])  # also ids that come later, or never
        kind = draw(st.sampled_from([*WORDS, "reading-set-aside", *(["undo", "undo"] if undos else [])]))
        if kind in WORDS:
            data = draw(WORDS[kind])
        else:
            data = {"of": f"e{draw(targets)}"} | ({"why": "chip"} if kind == "reading-set-aside" else {})
        events.append(
            said(
                kind,
                draw(STEP),
                id=f"e{number}",
                minutes=draw(st.integers(-100, 100)) / 4 + number,
                device=draw(st.sampled_from(DEVICES)),
                seen=draw(st.none() | st.integers(0, number)),
                **data,
            )
        )
    return events


def content(state: BuildState) -> Any:
    """What a state says of the build, without numbers in the log, times spent and what was undone."""
    bare = replace(
        state,
        seq=0,
        hash="",
        undone=frozenset(),
        unknown=0,
        memory=Memory(),
        steps={
            name: plain
            for name, step in state.steps.items()
            if (plain := replace(step, seconds=0.0)) != type(step)(step=name)
        },
    )
    return _without_numbers(
        msgspec.to_builtins(bare, builtin_types=(frozenset,), str_keys=False, order="sorted")
    )


def _without_numbers(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_numbers(inner) for key, inner in value.items() if key not in ("seq", "memory")}
    return [_without_numbers(one) for one in value] if isinstance(value, list | tuple) else value


@pytest.mark.slow
@given(events=logs(), cuts=st.lists(st.integers(0, 25), max_size=3))
def test_replaying_in_pieces_is_replaying_at_once(events: list[Event], cuts: list[int]) -> None:
    entries = logged(events)
    state = BuildState()
    begin = 0
    for end in [*sorted(cuts), len(entries)]:
        state = replay_on(state, entries[begin:end])
        begin = max(begin, end)
    whole = replay(entries)
    assert state == whole
    assert state.memory == whole.memory


@pytest.mark.slow
@given(events=logs(), last=logs(undos=False, most=1))
def test_an_entry_and_its_undo_leave_the_content_as_it_was(events: list[Event], last: list[Event]) -> None:
    for event in last:
        fresh = msgspec.structs.replace(event, id="fresh", seen=len(events))
        # Whoever spoke before it cannot have meant it.
        before = [one for one in events if one.data.get("of") != "fresh"]
        undone = [*before, fresh, said("undo", id="undoes", of="fresh")]
        assert content(replay(logged(undone))) == content(replay(logged(before)))


@pytest.mark.slow
@given(events=logs(), which=st.integers(0, 24))
def test_undoing_is_as_if_it_had_never_been_said(events: list[Event], which: int) -> None:
    if which >= len(events):
        return
    gone = events[which].id
    # An undo or set-aside of what was never said does nothing, so it may stand in both.
    with_undo = replay(logged([*events, said("undo", id="last", of=gone)]))
    seen = [_as_if_missing(one, which) for one in events]
    without = replay(logged([one for one in seen if one.id != gone]))
    expected, found = content(without), content(with_undo)
    if gone not in replay(logged(events)).undone:
        found.pop("conflicts")
        expected.pop("conflicts")  # a device's "seen" counts entries; without one of them it means another
        assert found == expected


def _as_if_missing(event: Event, which: int) -> Event:
    if event.seen is None or event.seen <= which:
        return event
    return msgspec.structs.replace(event, seen=event.seen - 1)


@pytest.mark.slow
@given(events=logs())
def test_undoing_the_undo_gives_back_the_content(events: list[Event]) -> None:
    if not events:
        return
    undo, redo = said("undo", id="undoes", of=events[-1].id), said("undo", id="redoes", of="undoes")
    state = replay(logged([*events, undo, redo]))
    assert content(state) == content(replay(logged(events)))


@pytest.mark.slow
@given(events=logs(undos=False))
def test_nothing_that_was_said_is_lost(events: list[Event]) -> None:
    state = replay(logged(events))
    lists: Sequence[tuple[str, int]] = [
        ("deviation", len(state.deviations)),
        ("photo", len(state.photos)),
        ("file", len(state.files)),
        ("note", len(state.notes)),
        ("mark", len(state.marks)),
        ("reading", sum(len(found) for found in state.readings.values())),
        ("result", sum(len(found) for found in state.results.values())),
    ]
    for kind, number in lists:
        assert number == sum(event.kind == kind for event in events)


@pytest.mark.slow
@given(events=logs())
def test_every_value_says_who_said_it(events: list[Event]) -> None:
    state = replay(logged(events))
    by_id = {event.id: event for event in events}
    lists = (state.deviations, state.photos, state.files, state.notes, state.marks)
    found: list[Said] = [one.said for values in lists for one in values]
    found += [one.said for one in (*state.counted.values(), *state.open_points.values())]
    for one in found:
        assert (by_id[one.id].at, by_id[one.id].device) == (one.at, one.device)
        assert one.id not in state.undone

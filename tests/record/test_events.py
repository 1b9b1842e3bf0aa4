"""What an event may be, and what the log makes of it."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log_entries import logged, of_later_kinds, one_of_each, said
from trysquare.ground.errors import ReadingError
from trysquare.record.events import (
    FIRST_HASH,
    KINDS,
    Event,
    check_event,
    data_of,
    data_text,
    event_of,
    hash_after,
    line_bytes,
    line_from,
    line_of,
)
from trysquare.record.kinds import FIELD_SORTS, kinds


def test_the_table_of_kinds_is_whole() -> None:
    for kind in kinds().values():
        assert kind.means.endswith(".")
        assert {field.sort for field in kind.fields.values()} <= set(FIELD_SORTS)
    assert {event.kind for event in (*one_of_each(), *of_later_kinds())} == set(KINDS)


@pytest.mark.parametrize(
    "event", [*one_of_each(), *of_later_kinds()], ids=lambda event: f"{event.id}-{event.kind}"
)
def test_every_kind_that_the_tests_use_is_a_good_event(event: Event) -> None:
    check_event(event)


BAD: list[tuple[dict[str, Any], str, str]] = [
    ({"kind": "doen"}, "kind", "Did you mean 'done'?"),
    ({"step": None}, "step", "Name the step."),
    ({"step": ""}, "step", ""),
    ({"step": "a\nb"}, "step", ""),
    ({"step": "x" * 301}, "step", ""),
    ({"id": ""}, "id", "UUID"),
    ({"id": "a b"}, "id", "UUID"),
    ({"device": ""}, "device", ""),
    ({"device": "\ud800"}, "device", ""),
    ({"at": "2031-05-04 08:00"}, "at", "Write it so."),
    ({"at": "2031-13-04T08:00:00.000Z"}, "at", "Write it so."),
    ({"at": "2031-05-04T08:00:00.000+02:00"}, "at", "Write it so."),
    ({"seen": -1}, "seen", "Leave it out."),
    ({"data": {"nope": "1"}}, "data.nope", "Did you mean 'note'?"),
    ({"data": {"note": 1}}, "data.note", ""),
    ({"data": {"note": "\ud800"}}, "data.note", "half"),
]


@pytest.mark.parametrize(("change", "key", "remedy"), BAD)
def test_a_bad_event_is_refused_with_its_place_and_a_remedy(
    change: dict[str, Any], key: str, remedy: str
) -> None:
    good = {"id": "1", "kind": "done", "step": "frame", "at": "2031-05-04T08:00:00.000Z", "device": "tablet"}
    with pytest.raises(ReadingError) as caught:
        check_event(Event(**{**good, **change}))
    assert caught.value.where.key == key
    assert remedy in caught.value.remedy


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("counted", {"sort": "x"}),
        ("counted", {"sort": "x", "count": -1}),
        ("counted", {"sort": "x", "count": True}),
        ("counted", {"sort": "x", "count": 1.5}),
        ("reading", {"of": "x", "unit": "mm", "value": float("nan")}),
        ("reading", {"of": "x", "unit": "mm", "value": "1"}),
        ("laid-out", {"parts": []}),
        ("laid-out", {"parts": "frame/left"}),
        ("deviation", {"what": "other"}),
        ("torqued", {"of": ["j"], "state": "loose"}),
        ("photo", {"sha256": "E3", "suffix": ".jpg"}),
        ("result", {"of": "x", "values": 2**53 + 1}),
        ("result", {"of": "x", "values": {1: 2}}),
        ("result", {"of": "x", "values": ["x" * 300_000]}),
        ("mark", {"auto": 1}),
    ],
)
def test_a_field_that_is_no_such_thing_is_refused(kind: str, data: dict[str, Any]) -> None:
    with pytest.raises(ReadingError) as caught:
        check_event(said(kind, "frame", id="1", **data))
    assert caught.value.where.key.startswith("data")


def test_data_that_is_too_deep_is_refused() -> None:
    deep: Any = 1
    for _ in range(13):
        deep = [deep]
    with pytest.raises(ReadingError, match="at most 12 levels"):
        check_event(said("result", id="1", of="x", values=deep))


def test_a_hash_is_that_of_the_hash_before_and_the_line_with_its_own_left_empty() -> None:
    # An outside reckoning: the standard library's json and hashlib, as the docstring of Logged says it.
    before = FIRST_HASH
    for entry in logged(one_of_each()):
        event = entry.event
        line = {
            "at": event.at, "data": event.data, "device": event.device, "hash": "", "id": event.id,
            "kind": event.kind, "received": entry.received, "seen": event.seen, "seq": entry.seq,
            "step": event.step, "subject": event.subject,
        }  # fmt: skip
        text = json.dumps(line, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        before = hashlib.sha256((before + text).encode()).hexdigest()
        assert entry.hash == before


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(codec="utf-8"), max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(codec="utf-8")), inner),
    max_leaves=12,
)


@given(values=JSON, step=st.none() | st.just("frame"), seen=st.none() | st.integers(0, 2**53))
@pytest.mark.slow
def test_a_line_gives_back_the_event_and_then_the_same_bytes(
    values: Any, step: str | None, seen: int | None
) -> None:
    event = said("result", step, id="1", seen=seen, of="x", values=values)
    check_event(event)
    line = line_of(7, event.at, event, data_text(event.data), "f" * 64)
    again = line_from(line_bytes(line))
    assert event_of(again) == event
    assert line_bytes(again) == line_bytes(line)
    assert data_text(data_of(data_text(event.data))) == data_text(event.data)


def test_a_text_that_looks_like_an_empty_hash_changes_the_hash_all_the_same() -> None:
    plain, tricky = said("note", id="1", says="x"), said("note", id="1", says='"hash":"",')
    of = [hash_after(FIRST_HASH, line_of(1, one.at, one, data_text(one.data))) for one in (plain, tricky)]
    assert of[0] != of[1]

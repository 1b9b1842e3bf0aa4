"""Readings: what is to be read, what was read, and in or out against the limit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from trysquare.bench.now import Now
from trysquare.bench.verdicts import (
    BAD,
    CANNOT_TELL,
    GOOD,
    half_width_of,
    readings_at,
    standing,
    value_in,
    verdict,
)
from trysquare.bench.views import KeptView
from trysquare.bench.views_lists import ReadingsView
from trysquare.bench.views_step import ReadingView, ToReadView
from trysquare.record.state import KeptFile, Reading
from trysquare.sequence.instruments import is_far_beyond


def number(value: float) -> str:
    """A number as short as it can be said."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text.replace("-", "\u2212") if text not in ("-0", "0") else "0"


def reading_view(now: Now, one: Reading, what: ToReadView | None) -> ReadingView:
    """A reading with its verdict against what was to be read; None: nobody asked for it."""
    judged = "" if what is None else verdict(one, what)
    told = what.unit_told if what is not None and one.unit == what.unit else one.unit
    uncertainty = f"± {number(one.uncertainty)}" if one.uncertainty else ""
    files = {kept.sha256: kept for kept in (*now.state.photos, *now.state.files)}
    return ReadingView(
        value=f"{number(one.value)} {told}".strip(),
        number=one.value,
        instrument=one.instrument,
        uncertainty=uncertainty,
        verdict=judged,
        told=sentence(one, what, judged) if what is not None else "",
        note=one.note,
        set_aside=one.set_aside,
        said=now.said(one.said),
        step=now.shown.link(one.step),
        files=tuple(_files(now, one, files)),
    )


def _files(now: Now, one: Reading, files: dict[str, KeptFile]) -> Iterable[KeptView]:
    for sha256 in one.files:
        kept = files.get(sha256)
        if kept is not None:
            yield now.kept(kept)


def sentence(one: Reading, what: ToReadView, judged: str) -> str:
    """The verdict as a sentence, as the page's script says it."""
    value = value_in(one, what.unit)
    if value is None:
        return f"Read in {one.unit}; the limit is in {what.unit_told}."
    if what.limit is None:
        return f"Kept: {number(value)} {what.unit_told}."
    half = half_width_of(one, what)
    said, limit = f"{number(value)} {what.unit_told}", number(what.limit)
    room = f", even with ± {number(half)}" if half else ""
    return {
        GOOD: f"In: {said} stays within {limit}{room}.",
        BAD: f"Out: {said} is more than {limit}{room}.{_slipped(value, what)}",
        CANNOT_TELL: f"Cannot tell: {said} ± {number(half)} lies across the limit {limit}. "
        "A finer instrument tells.",
    }.get(judged, "")


def _slipped(value: float, what: ToReadView) -> str:
    far = what.unit.startswith("mm") and is_far_beyond(value, what.limit or 0.0)
    return " Did a point or a unit slip?" if far else ""


def to_read_at(now: Now, step: str, what: ToReadView) -> ToReadView:
    """What a step asks to read, with the readings made there."""
    return _with_readings(now, what, readings_at(now.state, step, what.of))


def _with_readings(now: Now, what: ToReadView, found: Sequence[Reading]) -> ToReadView:
    settled, stands = standing(found, what)
    return replace(
        what,
        settled=settled,
        stands=reading_view(now, stands, what) if stands is not None else None,
        stood=stood_words(stands, what) if stands is not None and settled == BAD else "",
        readings=tuple(reading_view(now, one, what) for one in found),
    )


def stood_words(one: Reading, what: ToReadView) -> str:
    """What a reading that is out said, for the list of what is open: value, limit, instrument."""
    value = value_in(one, what.unit)
    half = half_width_of(one, what)
    said = f"{number(one.value)} {one.unit}" if value is None else f"{number(value)} {what.unit_told}"
    limit = f", limit {what.limit_told}" if what.limit is not None else ""
    room = f", \u00b1 {number(half)} {what.unit_told}" if half else ""
    told = f"read with {one.instrument}{room}" if one.instrument else f"read{room}, instrument not said"
    return f"Out: {said}{limit}, {told}."


def _anywhere(now: Now, of: str) -> tuple[Reading, ...]:
    found = [one for (_, what), rows in now.state.readings.items() if what == of for one in rows]
    return tuple(sorted(found, key=lambda one: one.said.seq))


def to_read_anywhere(now: Now, what: ToReadView) -> ToReadView:
    """A characteristic with all readings, wherever they were made."""
    return _with_readings(now, what, _anywhere(now, what.of))


def readings_made(now: Now) -> int:
    """How many of the characteristics have a reading that counts."""
    order = now.shown.order
    read = {of for (_, of), rows in now.state.readings.items() if any(not one.set_aside for one in rows)}
    return sum(one.of in read for one in order.to_read) if order is not None else 0


def readings_view(now: Now) -> ReadingsView:
    """The page of all readings."""
    order = now.shown.order
    if order is None:
        return ReadingsView(to_read=(), others=(), instruments=())
    asked = {one.of for one in order.to_read}
    others: dict[str, list[Reading]] = {}
    for (_, of), rows in now.state.readings.items():
        if of not in asked:
            others.setdefault(of, []).extend(rows)
    return ReadingsView(
        to_read=tuple(to_read_anywhere(now, one) for one in order.to_read),
        others=tuple(
            (of, tuple(reading_view(now, one, None) for one in rows)) for of, rows in others.items()
        ),
        instruments=order.instruments,
    )

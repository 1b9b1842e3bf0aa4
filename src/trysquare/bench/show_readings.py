"""Readings: what is to be read, what was read, and in or out against the limit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from trysquare.bench.now import Now
from trysquare.bench.verdicts import BAD, CANNOT_TELL, GOOD, half_width_of, readings_at, value_in, verdict
from trysquare.bench.views import KeptView
from trysquare.bench.views_lists import ReadingsView
from trysquare.bench.views_step import ReadingView, ToReadView
from trysquare.record.state import KeptFile, Reading


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
        BAD: f"Out: {said} is more than {limit}{room}.",
        CANNOT_TELL: f"Cannot tell: {said} ± {number(half)} lies across the limit {limit}. "
        "A finer instrument tells.",
    }.get(judged, "")


def to_read_at(now: Now, step: str, what: ToReadView) -> ToReadView:
    """What a step asks to read, with the readings made there."""
    found = readings_at(now.state, step, what.of)
    counting = [one for one in found if not one.set_aside]
    return replace(
        what,
        settled=verdict(counting[-1], what) if counting else "",
        readings=tuple(reading_view(now, one, what) for one in found),
    )


def _anywhere(now: Now, of: str) -> tuple[Reading, ...]:
    found = [one for (_, what), rows in now.state.readings.items() if what == of for one in rows]
    return tuple(sorted(found, key=lambda one: one.said.seq))


def to_read_anywhere(now: Now, what: ToReadView) -> ToReadView:
    """A characteristic with all readings, wherever they were made."""
    found = _anywhere(now, what.of)
    counting = [one for one in found if not one.set_aside]
    return replace(
        what,
        settled=verdict(counting[-1], what) if counting else "",
        readings=tuple(reading_view(now, one, what) for one in found),
    )


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

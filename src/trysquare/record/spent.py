"""Time spent on each step, from times that cannot be trusted. Pure; whole milliseconds inside.

Time between two events of one device counts for the step that was open on it. A device's clock may jump:
a difference that runs backwards, or that is longer than a person works without touching anything and longer
than the log's own clock saw, is taken from the log's clock instead. Two devices at one step count once.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

import msgspec

from trysquare.record.events import Event, Logged

LONGEST_WORK_MS = 30 * 60 * 1000
"""Longest time between two touches that counts as work; common practice, no source."""
CLOCK_AHEAD_MS = 5 * 60 * 1000
"""A device's clock this far ahead of the log's is not believed; common practice, no source."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)
_NAMES_NO_WORK = frozenset({"reopened", "undo", "ruling"})  # said of a step, not at it
_BEGINS_NO_WORK = _NAMES_NO_WORK | {"opened"}  # what was done before a page was opened was something else

Span = tuple[int, int]
"""From, to: milliseconds since 1970 on the device's steady clock."""


class DeviceClock(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A device after one of its events. `at_ms` as it said, `received` as the log said, `steady_ms` a
    clock that never runs backwards; `step`: open on it; `rests`: work was paused since.

    A structure of msgspec for the reason that `Event` is one."""

    at_ms: int
    received: str
    steady_ms: int
    step: str | None
    rests: bool


def milliseconds_of(time: str) -> int:
    """An event's time as milliseconds since 1970."""
    return (datetime.fromisoformat(time) - _EPOCH) // _MILLISECOND


class Timekeeper:
    """Counts time while entries pass, in order."""

    def __init__(self, clocks: Mapping[str, DeviceClock], spans: Mapping[str, tuple[Span, ...]]) -> None:
        self._clocks = {device: _Clock(clock) for device, clock in clocks.items()}
        self._before = spans
        self._spans: dict[str, list[Span]] = {}  # of the steps that got some

    def count(self, entry: Logged) -> None:
        """Brings the clocks past an entry and adds its span."""
        event = entry.event
        at_ms = milliseconds_of(event.at)
        clock = self._clocks.get(event.device)
        if clock is None:
            received_ms = milliseconds_of(entry.received)
            believed_ms = received_ms if at_ms > received_ms + CLOCK_AHEAD_MS else at_ms
            clock = self._clocks[event.device] = _Clock(
                DeviceClock(
                    at_ms=at_ms, received=entry.received, steady_ms=believed_ms, step=None, rests=True
                )
            )
        passed_ms = at_ms - clock.at_ms
        if not 0 <= passed_ms <= LONGEST_WORK_MS:
            passed_ms = _believed_ms(passed_ms, clock.received, entry.received)
        if passed_ms and not clock.rests:
            step = clock.step or _step_begun(event, passed_ms)
            if step is not None:
                spans = self._spans.get(step)
                if spans is None:
                    spans = self._spans[step] = list(self._before.get(step, ()))
                begin_ms = clock.steady_ms
                add_span(spans, (begin_ms, begin_ms + min(passed_ms, LONGEST_WORK_MS)))
        clock.at_ms, clock.received, clock.rests = at_ms, entry.received, False
        clock.steady_ms += passed_ms
        kind = event.kind
        if kind == "opened":
            clock.step = event.step
        elif kind == "done":
            if event.step == clock.step:
                clock.step = None
        elif clock.step is None and kind not in _NAMES_NO_WORK:
            clock.step = event.step
        if kind == "pause":
            for other in self._clocks.values():
                other.rests = True

    @property
    def counted(self) -> frozenset[str]:
        """The steps that got some time."""
        return frozenset(self._spans)

    def clocks(self) -> Mapping[str, DeviceClock]:
        """The devices after the last entry."""
        return {device: clock.frozen() for device, clock in self._clocks.items()}

    def spans(self) -> Mapping[str, tuple[Span, ...]]:
        """All spans by step."""
        return {**self._before, **{step: tuple(spans) for step, spans in self._spans.items()}}


class _Clock:
    """A device's clock while entries pass."""

    __slots__ = ("at_ms", "received", "rests", "steady_ms", "step")

    def __init__(self, clock: DeviceClock) -> None:
        self.at_ms, self.received, self.steady_ms = clock.at_ms, clock.received, clock.steady_ms
        self.step, self.rests = clock.step, clock.rests

    def frozen(self) -> DeviceClock:
        return DeviceClock(
            at_ms=self.at_ms,
            received=self.received,
            steady_ms=self.steady_ms,
            step=self.step,
            rests=self.rests,
        )


def _step_begun(event: Event, passed_ms: int) -> str | None:
    """Nothing was open: what came before the first word on a step was work on it, if it was short."""
    short = passed_ms <= LONGEST_WORK_MS and event.kind not in _BEGINS_NO_WORK
    return event.step if short else None


def _believed_ms(said_ms: int, received_before: str, received: str) -> int:
    """How long it was when the device's own clock says something that needs a second opinion."""
    seen_ms = milliseconds_of(received) - milliseconds_of(received_before)
    return said_ms if 0 <= said_ms <= seen_ms + LONGEST_WORK_MS else max(seen_ms, 0)


def add_span(spans: list[Span], span: Span) -> None:
    """Adds to spans that stand in order and do not overlap; where it overlaps or touches, they become one."""
    begin, end = span
    if not spans or begin > spans[-1][1]:
        spans.append(span)
        return
    last_begin, last_end = spans[-1]
    if begin >= last_begin:
        if end > last_end:
            spans[-1] = (last_begin, end)
        return
    first = bisect.bisect_left(spans, begin, key=lambda one: one[1])
    after = bisect.bisect_right(spans, end, key=lambda one: one[0])
    if first < after:
        span = (min(begin, spans[first][0]), max(end, spans[after - 1][1]))
    spans[first:after] = [span]


def seconds_of(spans: Iterable[Span]) -> float:
    """The seconds that spans last together."""
    return sum(end - begin for begin, end in spans) / 1000

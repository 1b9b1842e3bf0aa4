"""The log at the bench: entries are added one post after another, and the state follows each."""

from __future__ import annotations

import asyncio
import contextlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path

from trysquare.bench.must import open_items, still_open
from trysquare.bench.now import Now, Shown
from trysquare.bench.show_open import with_readings
from trysquare.bench.verdicts import GOOD, verdict
from trysquare.bench.views import OpenView
from trysquare.bench.views_step import StepView
from trysquare.ground.errors import ReadingError
from trysquare.record.events import Event, Logged
from trysquare.record.faults import LogNotWritable
from trysquare.record.log import FILE_NAME, BuildLog, open_log
from trysquare.record.replay import BuildState, replay_on
from trysquare.record.state import Reading, Said

LOOK_SECONDS = 2.0  # another program may add to the log, too


class StillOpen(Exception):  # noqa: N818 - it says what is the matter
    """A step is said to be done while something that matters is open and nobody said why."""

    def __init__(self, step: str, items: tuple[OpenView, ...]) -> None:
        self.step, self.items = step, items
        super().__init__(f"{step}: {', '.join(one.item for one in items)}")


class Desk:
    """One log and its state. `why_read_only`: why it takes no entries; "" when it does.

    `begin`: makes the log when the first entry comes: whoever only looks leaves no file behind.
    """

    def __init__(
        self,
        log: BuildLog | None,
        state: BuildState,
        why_read_only: str,
        begin: Callable[[], BuildLog] | None = None,
    ) -> None:
        self.log, self.state, self.why_read_only = log, state, why_read_only
        self._begin = begin
        self._one_at_a_time = asyncio.Lock()

    async def append(self, events: Sequence[Event], shown: Shown) -> tuple[Logged, ...]:
        """Adds events as the log does, and brings the state after them.

        Raises StillOpen, ReadingError for an event that no log can hold, and LogNotWritable.
        """
        async with self._one_at_a_time:
            if self.log is None and self._begin is not None:
                self.log = await asyncio.to_thread(self._begin)
                await self._catch_up()
            if self.log is None:
                raise LogNotWritable(
                    where="the build log", read=self.why_read_only, expected="a log that can be written",
                    remedy="Keep what you have; it is sent again by itself.", passing=False,
                )  # fmt: skip
            await self._check_done(events, shown)
            logged = await asyncio.to_thread(self.log.append, events)
            await self._catch_up()
            return logged

    async def look(self) -> bool:
        """Takes in what other programs have added; whether there was something."""
        async with self._one_at_a_time:
            before = self.state.seq
            with contextlib.suppress(ReadingError):
                await self._catch_up()
            return self.state.seq != before

    async def _catch_up(self) -> None:
        log, state = self.log, self.state
        if log is None:
            return
        entries = await asyncio.to_thread(lambda: list(log.events(state.seq)))
        if entries:
            self.state = replay_on(state, entries)

    async def _check_done(self, events: Sequence[Event], shown: Shown) -> None:
        """Whether each step that is said to be done may be left; known entries are not asked again."""
        for number, event in enumerate(events):
            page = shown.page(event.step or "") if event.kind == "done" else None
            if page is None or not page.must or event.id in self.state.memory.cells_of:
                continue
            items = still_open(open_items(page, self.state), _answers(page, events[:number]))
            if items:
                raise StillOpen(page.id, with_readings(Now(shown=shown, state=self.state), page, items))

    def close(self) -> None:
        if self.log is not None:
            self.log.close()


def _answers(page: StepView, events: Sequence[Event]) -> list[dict[str, object]]:
    """What events said before the step was done, in the same post, answer of its items."""
    found: list[dict[str, object]] = [{"kind": one.kind, "item": one.data.get("item")} for one in events]
    for event in events:
        if event.kind != "reading" or event.step not in (page.id, None):
            continue
        for what in page.to_read:
            reading = _reading_of(event)
            if what.of == event.data.get("of") and reading is not None and verdict(reading, what) == GOOD:
                found.append({"kind": "settled", "item": what.must})
    return found


def _reading_of(event: Event) -> Reading | None:
    value, unit = event.data.get("value"), event.data.get("unit")
    if not isinstance(value, int | float) or isinstance(value, bool) or not isinstance(unit, str):
        return None
    half = event.data.get("uncertainty")
    return Reading(
        said=Said(id=event.id, seq=0, at=event.at, device=event.device),
        step=event.step,
        of=str(event.data.get("of")),
        value=float(value),
        unit=unit,
        instrument=str(event.data.get("instrument") or ""),
        uncertainty=float(half) if isinstance(half, int | float) and not isinstance(half, bool) else None,
    )


def open_desk(place: Path | str, machine: str) -> Desk:
    """Opens the log of a machine folder; one that cannot be written or read leaves a desk that says why."""

    def opened() -> BuildLog:
        return open_log(place, machine=machine)

    if isinstance(place, Path) and not (place / FILE_NAME).exists():
        why = "" if os.access(place, os.W_OK | os.X_OK) else "this folder cannot be written"
        return Desk(None, BuildState(), why, None if why else opened)
    try:
        log = opened()
        return Desk(log, log.state(), log.why_read_only)
    except ReadingError as error:
        return Desk(None, BuildState(), str(error))

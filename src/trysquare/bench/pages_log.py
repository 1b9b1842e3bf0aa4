"""What pages say to the log and hear of it: posts of events, and server-sent changes."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import Bench, bench_of
from trysquare.bench.bodies import whole_body
from trysquare.bench.changes import LOG, MOST_LISTENERS
from trysquare.bench.failures import SaidError
from trysquare.bench.file_kinds import kind_named
from trysquare.bench.now import Now
from trysquare.bench.open_count import open_count
from trysquare.bench.pages_files import PHOTO, SHA256, no_picture_words
from trysquare.bench.typed_number import NOT_A_NUMBER, typed_number
from trysquare.record.events import LARGEST_EXACT, Event
from trysquare.record.keeping import find

MOST_EVENTS = 200
MOST_BYTES = 2_000_000
LONGEST_TYPED = 100


class PostedEvent(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An event as a page posts it; its device is known from the visit."""

    id: str
    kind: str
    at: str
    step: str | None = None
    subject: str | None = None
    data: dict[str, Any] = {}
    seen: int | None = None


class Posted(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What comes in one post."""

    events: list[PostedEvent]


_POSTED = msgspec.json.Decoder(Posted)


async def log(request: Request) -> Response:
    """Adds events to the log: exactly once each, all of a post or none."""
    bench = bench_of(request)
    body = await whole_body(request, MOST_BYTES)
    try:
        posted = _POSTED.decode(body)
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise SaidError(400, f"The events could not be read: {str(error)[:200]}.") from error
    if len(posted.events) > MOST_EVENTS:
        raise SaidError(413, f"At most {MOST_EVENTS} events come in one post.")
    device = bench.device(request)
    events = [
        Event(id=one.id, kind=one.kind, step=one.step, subject=one.subject, at=one.at, device=device,
              data=_read_as_number(one), seen=one.seen)
        for one in posted.events
    ]  # fmt: skip
    for event in events:
        if event.kind == PHOTO:
            await asyncio.to_thread(_check_photo, bench, event)
    before = bench.desk.state.seq
    logged = await bench.desk.append(events, bench.workshop.shown) if events else ()
    if bench.desk.state.seq != before:
        bench.changes.tell(LOG, bench.desk.state.seq)
    return JSONResponse(
        {"logged": [{"id": one.event.id, "seq": one.seq} for one in logged], "state": _state(bench)}
    )


def _read_as_number(one: PostedEvent) -> dict[str, Any]:
    """The data of an event; a reading whose value came as it was typed, "0,05 mm", is read as by its field.

    Raises SaidError for a text that is no number in the reading's unit.
    """
    value, unit = one.data.get("value"), one.data.get("unit")
    if one.kind != "reading" or not isinstance(value, str) or not isinstance(unit, str):
        return one.data
    typed = typed_number(value[:LONGEST_TYPED], unit)
    if typed.value is None:
        raise SaidError(400, f"The reading could not be read. {typed.says or NOT_A_NUMBER}")
    note = {"note": f"written as {typed.converted}"} if typed.converted else {}
    return {**note, **one.data, "value": typed.value}


def _check_photo(bench: Bench, event: Event) -> None:
    """Raises SaidError for a photo whose file is, by its own first bytes, no picture."""
    sha256, suffix = event.data.get("sha256"), event.data.get("suffix")
    is_known = event.id in bench.desk.state.memory.cells_of
    if is_known or not isinstance(sha256, str) or not isinstance(suffix, str):
        return  # the log itself says what is wrong with it, or has it already
    place = find(bench.folder, sha256) if SHA256.fullmatch(sha256) else None
    kind = kind_named(place.suffix if place is not None else suffix)
    if not kind.is_picture:
        raise SaidError(400, no_picture_words(kind, suffix))


def _state(bench: Bench) -> dict[str, int]:
    """What a page may show at once, without asking again."""
    state, head = bench.desk.state, bench.workshop.shown.head
    now = Now(shown=bench.workshop.shown, state=state)
    done = sum(step.done is not None for name, step in state.steps.items() if name in head)
    return {
        "seq": state.seq, "steps_done": done, "steps_all": len(head), "open_points": open_count(now),
        "conflicts": len(state.conflicts),
    }  # fmt: skip


async def changes(request: Request) -> Response:
    """Tells a page of entries, edits and pictures as they come."""
    bench = bench_of(request)
    said = request.headers.get("last-event-id", "") or request.query_params.get("after", "")
    if said and not (said.isascii() and said.isdigit() and int(said[:20]) <= LARGEST_EXACT):
        raise SaidError(400, "'after' is the number of an entry.")
    if bench.changes.listeners >= MOST_LISTENERS:
        raise SaidError(429, "Too many pages are listening.")
    after = int(said[:20]) if said else bench.desk.state.seq

    async def told() -> AsyncIterator[str]:
        async for line in bench.changes.listen(after, bench.desk.state.seq):
            yield line

    return StreamingResponse(
        told(),
        media_type="text/event-stream",
        headers={"cache-control": "no-store", "x-accel-buffering": "no"},
    )


ROUTES: tuple[BaseRoute, ...] = (Route("/log", log, methods=["POST"]), Route("/changes", changes))

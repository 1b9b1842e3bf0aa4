"""Events and logs for the tests: small ones with times that stand still."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

from trysquare.record.events import FIRST_HASH, Event, Logged, chained, data_text, line_of, time_text

BEGIN = datetime(2031, 5, 4, 8, 0, 0, tzinfo=UTC)
SHA256_OF_NOTHING = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def at(minutes: float) -> str:
    """So many minutes after the tests' morning, as events carry it."""
    return time_text(BEGIN + timedelta(minutes=minutes))


def said(
    kind: str,
    step: str | None = None,
    *,
    id: str = "",  # noqa: A002 - as the event calls it
    minutes: float = 0.0,
    device: str = "tablet",
    seen: int | None = None,
    subject: str | None = None,
    **data: Any,
) -> Event:
    """An event; its id is made of what it says when none is given."""
    told = f"{kind}-{step}-{device}-{minutes:g}-{'-'.join(map(str, data.values()))}"
    made = "".join(char if char.isalnum() and char.isascii() else "_" for char in told)[:100]
    return Event(
        id=id or made,
        kind=kind,
        step=step,
        subject=subject,
        at=at(minutes),
        device=device,
        data=data,
        seen=seen,
    )


def logged(
    events: Iterable[Event], received: Callable[[Event], str] = lambda event: event.at
) -> list[Logged]:
    """Events as a log has them. `received`: the log's time for each; as the device said, if not given."""
    found: list[Logged] = []
    before = FIRST_HASH
    for seq, event in enumerate(events, start=1):
        line = chained(before, line_of(seq, received(event), event, data_text(event.data)))
        before = line.hash
        found.append(Logged(seq=seq, received=line.received, event=event, hash=line.hash))
    return found


def one_of_each() -> list[Event]:
    """A short build in which every kind of event comes once at least."""
    return [
        said("opened", "frame", id="e-01", minutes=0),
        said("laid-out", "frame", id="e-02", minutes=1, parts=["frame/left", "frame/right"]),
        said("taken-back", "frame", id="e-03", minutes=2, parts=["frame/right"]),
        said("counted", id="e-04", minutes=3, sort="ISO 7380-1 M5x8", count=12, box="B", how="by hand"),
        said(
            "reading", "frame", id="e-05", minutes=4,
            of="corner", value=0.04, unit="mm", instrument="square", repeats=[0.03, 0.05], uncertainty=0.02,
            note="second corner · 2. Ecke — 角", files=[SHA256_OF_NOTHING],
        ),
        said("reading", "frame", id="e-06", minutes=5, of="corner", value=4.0, unit="mm"),
        said(
            "reading-set-aside", "frame", id="e-07", minutes=6, of="e-06", why="a chip lay under the square"
        ),
        said(
            "deviation", "frame", id="e-08", minutes=7, device="phone",
            what="substitute", part="ISO 7380-1 M5x8", by="ISO 7380-1 M5x10", count=2, why="two were short",
        ),
        said("left-open", "frame", id="e-09", minutes=8, item="corner", reason="no square", sort="alignment"),
        said("settled", "frame", id="e-10", minutes=9, item="corner", how="read"),
        said("left-open", "frame", id="e-11", minutes=10, item="guard", reason="later", sort="safety"),
        said("photo", "frame", id="e-12", minutes=11, sha256=SHA256_OF_NOTHING, suffix=".jpg", says="corner"),
        said("file", id="e-13", minutes=12, sha256=SHA256_OF_NOTHING, suffix="", sort="table", bytes=0),
        said("mark", "frame", id="e-14", minutes=13, label="Frame", clock=61.5, auto=True),
        said("note", "frame", id="e-15", minutes=14, subject="frame/left", says="Its end is not square."),
        said("ruling", id="e-16", minutes=15, line="unit.frame.place.left", paper="manual", why="so"),
        said("torqued", "frame", id="e-17", minutes=16, of=["frame/plate"], state="final",
            newton_metre=4.5),
        said(
            "result", "frame", id="e-18", minutes=17,
            of="corner", verdict="good", value=0.04, unit="mm", uncertainty=0.02,
            values={"n": [1, 2.5, None]},
        ),
        said("pause", id="e-19", minutes=18, why="noon"),
        said("resume", id="e-20", minutes=60),
        said("done", "frame", id="e-21", minutes=61, note="stiff"),
        said("reopened", "frame", id="e-22", minutes=62, device="phone", seen=21, why="a nut is missing"),
        said("undo", "frame", id="e-23", minutes=63, of="e-22", seen=22),
    ]  # fmt: skip


def of_later_kinds() -> list[Event]:
    """One event of each kind that is younger than the old files kept with the tests."""
    return [said("counted-more", id="f-01", minutes=60, sort="ISO 7380-1 M5x12", count=1, box="B")]

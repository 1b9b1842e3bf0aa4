"""What the entries on one thing say together, as the values of the state. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from trysquare.record.blind import standing_conflict
from trysquare.record.events import Event, Logged
from trysquare.record.memory import Cell
from trysquare.record.state import (
    Conflict,
    Count,
    Deviation,
    KeptFile,
    Mark,
    Note,
    OpenPoint,
    Reading,
    Result,
    Ruled,
    Said,
    StepState,
    Torqued,
)


def said_by(entry: Logged) -> Said:
    """Who said an entry, and when."""
    event = entry.event
    return Said(id=event.id, seq=entry.seq, at=event.at, device=event.device)


def _texts(event: Event, name: str) -> Sequence[str]:
    """A list of texts; nothing where an entry from elsewhere holds something else."""
    value = event.data.get(name)
    return [one for one in value if isinstance(one, str)] if isinstance(value, list | tuple) else []


def _text(event: Event, name: str) -> str:
    value = event.data.get(name)
    return value if isinstance(value, str) else ""


def _row(event: Event, name: str) -> Mapping[str, str]:
    """Cells by their names; whatever else an entry from elsewhere holds there is left out."""
    value = event.data.get(name)
    if not isinstance(value, Mapping):
        return {}
    return {str(key): cell for key, cell in value.items() if isinstance(cell, str)}


def _number(event: Event, name: str) -> float | None:
    value = event.data.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _numbers(event: Event, name: str) -> tuple[float, ...]:
    value = event.data.get(name)
    found = value if isinstance(value, list | tuple) else []
    return tuple(float(one) for one in found if isinstance(one, int | float))


def _whole(event: Event, name: str, otherwise: int) -> int:
    value = event.data.get(name)
    return value if isinstance(value, int) and not isinstance(value, bool) else otherwise


def _one(*cell: str) -> Callable[[Event], tuple[Cell, ...]]:
    cells = (cell,)
    return lambda event: cells  # noqa: ARG005 - as the others are called


def _step_cells(event: Event) -> tuple[Cell, ...]:
    return (("step", event.step),) if event.step is not None else ()


def _part_cells(event: Event) -> tuple[Cell, ...]:
    step, parts = event.step, _texts(event, "parts")
    return tuple([("part", step, part) for part in dict.fromkeys(parts)]) if step is not None else ()


CELLS: Mapping[str, Callable[[Event], tuple[Cell, ...]]] = {
    **dict.fromkeys(("opened", "done", "reopened"), _step_cells),
    **dict.fromkeys(("laid-out", "taken-back"), _part_cells),
    **dict.fromkeys(("counted", "counted-more"), lambda event: (("count", _text(event, "sort")),)),
    "reading": lambda event: (("readings", event.step, _text(event, "of")),),
    "deviation": _one("deviations"),
    **dict.fromkeys(("left-open", "settled"), lambda event: (("point", _text(event, "item")),)),
    "photo": _one("photos"),
    "file": _one("files"),
    "note": _one("notes"),
    "mark": lambda event: (
        (("marks",), ("step marks", event.step)) if event.step is not None else (("marks",),)
    ),
    "ruling": lambda event: (("ruling", _text(event, "line")),),
    "torqued": lambda event: tuple(("torqued", one) for one in dict.fromkeys(_texts(event, "of"))),
    "result": lambda event: (("results", _text(event, "of")),),
}
"""The things that an event speaks of, by its kind. Set-asides and undos go where the event went that they
name."""


# --- things of which only the last word holds


def step_state(step: str, entries: Sequence[Logged]) -> StepState:
    """A step, from what was said of it; its time and marks are not among that."""
    opened: Said | None = None
    done: Said | None = None
    last_reopened: Said | None = None
    reopened = 0
    for entry in entries:
        kind = entry.event.kind
        if kind == "opened":
            opened = opened or said_by(entry)
        elif kind == "done":
            done = said_by(entry)
        elif kind == "reopened" and done is not None:
            reopened += 1
            last_reopened, done = said_by(entry), None
    return StepState(step=step, opened=opened, done=done, reopened=reopened, last_reopened=last_reopened)


def is_laid_out(entries: Sequence[Logged]) -> bool:
    """Whether a part lies ready."""
    return bool(entries) and entries[-1].event.kind == "laid-out"


def count_of(sort: str, entries: Sequence[Logged]) -> Count | None:
    """The count of a sort; None when nobody counted it (any more). It is said when all of it was counted
    last, else when the first piece was: what was used since then is in it."""
    if not entries:
        return None
    boxes: dict[str, int] = {}
    whole = entries[0]
    for entry in entries:
        box, pieces = _text(entry.event, "box"), _whole(entry.event, "count", 0)
        if entry.event.kind == "counted-more":
            boxes[box] = boxes.get(box, 0) + pieces
        else:
            boxes[box], whole = pieces, entry
    return Count(sort=sort, boxes=boxes, said=said_by(whole))


def open_point(entries: Sequence[Logged]) -> OpenPoint | None:
    """The item, if it is open."""
    if not entries or entries[-1].event.kind == "settled":
        return None
    event = entries[-1].event
    return OpenPoint(
        said=said_by(entries[-1]),
        step=event.step,
        item=_text(event, "item"),
        reason=_text(event, "reason"),
        sort=_text(event, "sort"),
        who=_text(event, "who"),
    )


def ruled(entries: Sequence[Logged]) -> Ruled | None:
    """The ruling on a line of the machine that holds."""
    if not entries:
        return None
    event = entries[-1].event
    return Ruled(
        said=said_by(entries[-1]),
        line=_text(event, "line"),
        paper=_text(event, "paper"),
        why=_text(event, "why"),
    )


# --- things of which every word is kept


def readings_of(entries: Sequence[Logged]) -> tuple[Reading, ...]:
    """All readings of one characteristic in one step; the last word on whether one counts holds."""
    aside = {
        _text(entry.event, "of"): _text(entry.event, "why") or "set aside"
        for entry in entries
        if entry.event.kind == "reading-set-aside"
    }
    return tuple(
        Reading(
            said=said_by(entry),
            step=entry.event.step,
            of=_text(entry.event, "of"),
            value=_number(entry.event, "value") or 0.0,
            unit=_text(entry.event, "unit"),
            instrument=_text(entry.event, "instrument"),
            repeats=_numbers(entry.event, "repeats"),
            uncertainty=_number(entry.event, "uncertainty"),
            note=_text(entry.event, "note"),
            files=tuple(_texts(entry.event, "files")),
            set_aside=aside.get(entry.event.id, ""),
            row=_row(entry.event, "row"),
        )
        for entry in entries
        if entry.event.kind == "reading"
    )


def deviation_of(entry: Logged) -> Deviation:
    """It was done differently."""
    event = entry.event
    return Deviation(
        said=said_by(entry),
        step=event.step,
        what=_text(event, "what"),
        part=_text(event, "part"),
        by=_text(event, "by"),
        count=_whole(event, "count", 1),
        why=_text(event, "why"),
        who=_text(event, "who"),
    )


def kept_file_of(entry: Logged) -> KeptFile:
    """A photo or file."""
    event = entry.event
    return KeptFile(
        said=said_by(entry),
        step=event.step,
        subject=event.subject,
        sha256=_text(event, "sha256"),
        suffix=_text(event, "suffix"),
        says=_text(event, "says"),
        name=_text(event, "name"),
        sort=_text(event, "sort"),
    )


def note_of(entry: Logged) -> Note:
    """Words for the record."""
    event = entry.event
    return Note(said=said_by(entry), step=event.step, subject=event.subject, says=_text(event, "says"))


def mark_of(entry: Logged) -> Mark:
    """A mark for the film."""
    event = entry.event
    return Mark(
        said=said_by(entry),
        step=event.step,
        label=_text(event, "label"),
        clock_seconds=_number(event, "clock"),
        auto=event.data.get("auto") is True,
    )


def torqued_of(of: str, entry: Logged) -> Torqued:
    """One joint or screw of those an entry says were turned."""
    event = entry.event
    return Torqued(
        said=said_by(entry),
        step=event.step,
        of=of,
        state=_text(event, "state"),
        newton_metre=_number(event, "newton_metre"),
        tool=_text(event, "tool"),
    )


def result_of(entry: Logged) -> Result:
    """What a page computed."""
    event = entry.event
    return Result(
        said=said_by(entry),
        step=event.step,
        of=_text(event, "of"),
        verdict=_text(event, "verdict"),
        value=_number(event, "value"),
        unit=_text(event, "unit"),
        uncertainty=_number(event, "uncertainty"),
        says=_text(event, "says"),
        values=event.data.get("values"),
        files=tuple(_texts(event, "files")),
    )


# --- where two devices contradict each other


def conflicts_of(cell: Cell, entries: Sequence[Logged]) -> tuple[Conflict, ...]:
    """The contradictions on one thing that nobody has settled. entries: all in force, in order."""
    topic = str(cell[0])
    if len({entry.event.device for entry in entries}) < 2:
        return ()
    if topic == "count":
        boxes: dict[str, list[Logged]] = {}
        for entry in entries:
            boxes.setdefault(_text(entry.event, "box"), []).append(entry)
        groups = [(f" in box {box}" if box else "", found) for box, found in boxes.items()]
    else:
        groups = [("", [entry for entry in entries if entry.event.kind != "opened"])]
    found: list[Conflict] = []
    for where, group in groups:
        pair = standing_conflict(group, _says)
        if pair is not None:
            about = f"{_ABOUT[topic]} {cell[-1]}{where}"
            found.append(_conflict(about, *pair))
    return tuple(found)


_ABOUT: Mapping[str, str] = {
    "step": "step",
    "part": "part",
    "count": "count of",
    "point": "open point",
    "ruling": "ruling on",
}


MAY_CONFLICT = frozenset(_ABOUT)
"""Topics of which only the last word holds."""


def _says(entry: Logged) -> str:
    """What an entry says of its thing, so that two that say the same compare equal."""
    event = entry.event
    told: Any = {"counted": "count", "ruling": "paper"}.get(event.kind)
    return event.kind if told is None else f"{event.kind} {event.data.get(told)}"


def _conflict(about: str, first: Logged, second: Logged) -> Conflict:
    return Conflict(
        about=about,
        step=second.event.step,
        first=said_by(first),
        first_says=_says(first),
        second=said_by(second),
        second_says=_says(second),
    )

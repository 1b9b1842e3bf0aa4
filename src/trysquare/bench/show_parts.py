"""All sorts with what was counted, the sorting key, and the page of one sort."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from trysquare.bench.facts import LineFacts, PartFacts
from trysquare.bench.now import Now
from trysquare.bench.views import Drawn
from trysquare.bench.views_lists import CountView, KindRows, PartsView, PartView, SortRow

_NOTHING = PartFacts(places=(), steps=(), minds=())
_NEED_CHANGES: Mapping[str, int] = {"substitute": -1, "skipped": -1, "extra": 1}
_LOST = frozenset({"damaged", "missing"})


def parts_view(now: Now) -> PartsView:
    """The page of all sorts."""
    order, steps = now.shown.order, now.shown.steps
    if order is None:
        return PartsView(
            kinds=(), sections=(), rolls=(), minutes=0, has_boxes=False, boxes=(), counted=0, sorts=0,
            short=0, ready=False,
        )  # fmt: skip
    rows = sort_rows(now)
    kinds = tuple(
        KindRows(heading=kind.heading, rows=tuple(rows[row.sort] for row in kind.rows))
        for kind in order.kinds
    )
    said = (box for count in now.state.counted.values() for box in count.boxes if box)
    return PartsView(
        kinds=kinds,
        sections=steps.sections if steps is not None else (),
        rolls=steps.rolls if steps is not None else (),
        minutes=steps.minutes if steps is not None else 0,
        has_boxes=bool(now.shown.stock.names),
        boxes=tuple(dict.fromkeys((*now.shown.stock.names, *said))),
        counted=sum(row.counted is not None for row in rows.values()),
        sorts=len(rows),
        short=sum(row.balance is not None and row.balance < 0 for row in rows.values()),
        ready=steps is not None,
    )


def sort_rows(now: Now) -> dict[str, SortRow]:
    """Every sort's row with counts and balance, by ref."""
    need = _need_changes(now)
    return {ref: _row(now, row, need.get(ref, 0)) for ref, row in now.shown.row.items()}


def _need_changes(now: Now) -> dict[str, int]:
    """By how many pieces the deviations change what the machine takes of each sort."""
    found: dict[str, int] = {}

    def add(ref: str, pieces: int) -> None:
        if ref:
            sort = now.shown.sort_of(ref)
            found[sort] = found.get(sort, 0) + pieces

    for one in now.state.deviations:
        if one.what == "extra":
            add(one.by or one.part, one.count)
        elif one.what in _NEED_CHANGES:
            add(one.part, _NEED_CHANGES[one.what] * one.count)
        if one.what == "substitute":
            add(one.by, one.count)
    return found


def _row(now: Now, row: SortRow, change: int) -> SortRow:
    stock, drawn, steps = now.shown.stock, now.shown.drawn, now.shown.steps
    counted = _counted(now, row.sort)
    listed = stock.listed.get(row.sort, 0) if stock.names and not row.length else None
    since = counted.said.seq if counted is not None else 0
    lost = sum(
        one.count
        for one in now.state.deviations
        if one.what in _LOST and one.said.seq > since and now.shown.sort_of(one.part) == row.sort
    )
    here = counted.pieces if counted is not None else listed
    balance = None if here is None or row.length else max(0, here - lost) - max(0, row.pieces + change)
    picture = drawn.parts.get(row.sort) if drawn is not None else None
    return replace(
        row,
        listed=listed,
        boxes=stock.boxes.get(row.sort, ""),
        counted=counted,
        balance=balance,
        told=_told(balance),
        weight="" if balance is None else "bad" if balance < 0 else "good",
        sketch=picture.drawn if picture is not None else None,
        alike=steps.alike.get(row.letter, ()) if steps is not None else (),
    )


def _counted(now: Now, sort: str) -> CountView | None:
    """What was counted of a sort, under whichever of its names."""
    found = [count for name, count in now.state.counted.items() if now.shown.sort_of(name) == sort]
    if not found:
        return None
    last = max(found, key=lambda count: count.said.seq)
    return CountView(pieces=last.pieces, boxes=tuple(last.boxes.items()), said=now.said(last.said))


def _told(balance: int | None) -> str:
    if balance is None:
        return ""
    if balance < 0:
        return f"{-balance} short"
    return f"{balance} to spare" if balance else "exactly"


def part_view(now: Now, ref: str, lines: LineFacts | None) -> PartView | None:
    """The page of a sort, or of a placed piece of it; None for what the machine does not have."""
    sort = now.shown.sort_of(ref)
    row = now.shown.row.get(sort)
    if row is None:
        return None
    steps, drawn = now.shown.steps, now.shown.drawn
    facts = steps.parts.get(sort, _NOTHING) if steps is not None else _NOTHING
    picture: Drawn | None = None
    if drawn is not None and sort in drawn.parts:
        picture = drawn.parts[sort].drawn
    named = {sort, ref, *(place.ref for place in facts.places)}
    line = lines.line_of.get(ref) or lines.line_of.get(sort) if lines is not None else None
    return PartView(
        ref=ref,
        row=sort_rows(now)[sort],
        places=facts.places,
        steps=facts.steps,
        picture=picture,
        minds=facts.minds,
        deviations=tuple(
            now.deviation(one) for one in now.state.deviations if now.shown.sort_of(one.part) == sort
        ),
        photos=tuple(
            now.kept(one) for one in (*now.state.photos, *now.state.files) if (one.subject or "") in named
        ),
        says=lines.words.get(line, ()) if lines is not None and line else (),
    )

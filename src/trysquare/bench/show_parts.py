"""All sorts with what was counted, the sorting key, and the page of one sort."""

from __future__ import annotations

from dataclasses import replace

from trysquare.bench.facts import LineFacts, PartFacts
from trysquare.bench.now import Now
from trysquare.bench.show_stock import holding_weight, holding_words, reach_words
from trysquare.bench.views import Drawn
from trysquare.bench.views_lists import CountView, KindRows, PartsView, PartView, SortRow

_NOTHING = PartFacts(places=(), steps=(), minds=())


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
        stock_says=reach_words(now),
        ready=steps is not None,
    )


def sort_rows(now: Now) -> dict[str, SortRow]:
    """Every sort's row with counts and balance, by ref."""
    return {ref: _row(now, row) for ref, row in now.shown.row.items()}


def _row(now: Now, row: SortRow) -> SortRow:
    stock, drawn, steps = now.shown.stock, now.shown.drawn, now.shown.steps
    held = now.stock.sorts.get(row.sort) if not row.length else None
    picture = drawn.parts.get(row.sort) if drawn is not None else None
    return replace(
        row,
        listed=held.here if held is not None and not held.counted else None,
        boxes=stock.boxes.get(row.sort, ""),
        counted=_counted(now, row.sort),
        balance=None if held is None else -held.short or held.spare,
        told=holding_words(now, held),
        weight=holding_weight(held),
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

"""What lies there, in words: of one sort, of one step, and how far all of it reaches."""

from __future__ import annotations

from collections.abc import Mapping

from trysquare.bench import links
from trysquare.bench.now import Now
from trysquare.bench.views_step import InsteadView
from trysquare.record.replay_stock import Holding


def holding_words(now: Now, held: Holding | None) -> str:
    """A sort's balance: "3 short", "exactly", "2 to spare", and what serves instead; "" when unknown."""
    if held is None:
        return ""
    found = []
    if held.short:
        found.append(f"{held.short} short")
    if held.others:
        served = sum(held.others.values())
        found.append(f"{_named(now, held.others)} {'serves' if served == 1 else 'serve'} instead")
    if not found:
        found.append(f"{held.spare} to spare" if held.spare else "exactly")
    if held.lent:
        lent = sum(held.lent.values())
        found.append(f"{lent} {'serves' if lent == 1 else 'serve'} for {_named(now, held.lent, count=False)}")
    if held.used:
        found.append(f"{held.used} used")
    if held.lost:
        found.append(f"{held.lost} lost")
    return ", ".join(found)


def holding_weight(held: Holding | None) -> str:
    """How grave it is: "bad" where something is short, "doubt" where another sort serves, "good"; else ""."""
    if held is None:
        return ""
    return "bad" if held.short else "doubt" if held.others else "good"


def _named(now: Now, sorts: Mapping[str, int], *, count: bool = True) -> str:
    names = []
    for sort, pieces in sorts.items():
        row = now.shown.row.get(sort)
        name = row.name if row is not None else sort
        names.append(f"{pieces} {name}" if count else name)
    return " and ".join(names)


def reach_words(now: Now) -> str:
    """How far the boxes reach; "" without packing lists, for then most of what lies there is unknown."""
    order = now.shown.order
    if order is None or not order.steps or not now.shown.stock.names:
        return ""
    stock = now.stock
    if stock.lacks:
        if stock.last + 1 >= len(order.steps):
            return "The boxes hold enough for every step, though not for all that is listed."
        short = order.steps[stock.last + 1]
        begin = (
            f"The boxes reach up to step {stock.last + 1}" if stock.last >= 0 else "The boxes do not reach"
        )
        return f"{begin}: step {short.number}, {short.title}, goes short."
    steps = links.counted(len(order.steps), "step")
    instead = [one for one in stock.sorts.values() if one.others]
    if not instead:
        return f"The boxes hold enough for all {steps}."
    sorts = "of one sort another serves" if len(instead) == 1 else f"of {len(instead)} sorts others serve"
    return f"The boxes hold enough for all {steps}; {sorts} instead."


def instead_of(now: Now, step: str) -> dict[str, tuple[InsteadView, ...]]:
    """By sort, the pieces of other sorts that a step takes for it."""
    order = now.shown.order
    found: dict[str, list[InsteadView]] = {}
    for one in now.stock.instead:
        if order is None or one.step >= len(order.steps) or order.steps[one.step].id != step:
            continue
        row = now.shown.row.get(one.by)
        found.setdefault(one.sort, []).append(
            InsteadView(
                sort=one.by, pieces=one.pieces, letter=row.letter if row is not None else "",
                name=row.name if row is not None else one.by, size=row.size if row is not None else "",
                box=one.box, href=links.part_href(one.by),
            )
        )  # fmt: skip
    return {sort: tuple(rows) for sort, rows in found.items()}


def lacks_of(now: Now, step: str) -> tuple[str, ...]:
    """What a step goes without, a sentence each."""
    order = now.shown.order
    found: dict[str, int] = {}
    for lack in now.stock.lacks:
        if order is not None and lack.step < len(order.steps) and order.steps[lack.step].id == step:
            row = now.shown.row.get(now.shown.sort_of(lack.part))
            name = row.name if row is not None else lack.part
            found[name] = found.get(name, 0) + lack.pieces
    return tuple(
        f"{links.counted(pieces, 'piece')} of {name} {'are' if pieces > 1 else 'is'} not there."
        if pieces
        else f"{name} is not there."
        for name, pieces in found.items()
    )

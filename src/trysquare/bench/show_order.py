"""The order page: units and steps with progress and times, figures, what is open."""

from __future__ import annotations

from trysquare.bench import links
from trysquare.bench.facts import OrderFacts, RunHead, StepHead
from trysquare.bench.now import Now
from trysquare.bench.open_count import open_count
from trysquare.bench.show_open import left_open, skipped_at
from trysquare.bench.show_readings import readings_made
from trysquare.bench.show_stock import reach_words
from trysquare.bench.views_step import Figure, OrderStep, OrderUnit, OrderView

_EMPTY = OrderView(
    summary="", first_visit=True, begin=None, units=(), figures=(), spent="", left="", cover=None,
    stock_says="", stops=0, doubts=0, notes=0, open_points=(), conflicts=(), deviations=0, readings_made=0,
    readings_all=0,
)  # fmt: skip


def order_view(now: Now, *, unsure: int = 0) -> OrderView:
    """The whole page; empty while the machine is being read. `unsure`: parts of an import that are asked."""
    order = now.shown.order
    if order is None:
        return _EMPTY
    findings = now.shown.findings.findings if now.shown.findings is not None else ()
    weights = [one.weight for one in findings]
    pictures = now.shown.pictures
    made = readings_made(now)
    spent = sum(state.seconds for state in now.state.steps.values())
    return OrderView(
        summary=order.summary,
        first_visit=now.state.seq == 0,
        begin=now.shown.link(now.begin),
        units=tuple(_unit(now, order, run) for run in order.runs),
        figures=_figures(now, order, weights, made) + _unsure(unsure),
        spent=links.duration(spent),
        left=links.duration(sum(_left(now, head) for head in order.steps)),
        cover=pictures.steps.get("") if pictures is not None else None,
        stock_says=reach_words(now),
        stops=weights.count("stop"),
        doubts=weights.count("doubt"),
        notes=weights.count("note"),
        open_points=left_open(now),
        conflicts=tuple(now.conflict(one) for one in now.state.conflicts),
        deviations=len(now.state.deviations),
        readings_made=made,
        readings_all=len(order.to_read),
        without=order.without,
        skipped=tuple(one for one in (skipped_at(now, head.id) for head in order.steps) if one is not None),
    )


def _left(now: Now, head: StepHead) -> float:
    """Planned time of a step that is still to come: what was spent on it already counts."""
    if now.is_done(head.id) or head.id in now.skipped:
        return 0.0
    known = now.state.steps.get(head.id)
    return max(0.0, head.seconds - (known.seconds if known is not None else 0.0))


def _unit(now: Now, order: OrderFacts, run: RunHead) -> OrderUnit:
    heads = order.steps[run.first - 1 : run.last]
    states = [now.state.steps.get(head.id) for head in heads]
    basis = "said" if all(head.basis == "said" for head in heads) else "estimated"
    return OrderUnit(
        number=run.number,
        name=run.unit,
        title=run.title,
        anchor=f"unit-{run.number}",
        done=sum(now.is_done(head.id) for head in heads),
        planned=links.planned(sum(head.seconds for head in heads), basis),
        spent=links.duration(sum(state.seconds for state in states if state is not None)),
        left=links.duration(sum(_left(now, head) for head in heads)),
        steps=tuple(_step(now, order, head) for head in heads),
    )


def _step(now: Now, order: OrderFacts, head: StepHead) -> OrderStep:
    return OrderStep(
        id=head.id,
        number=head.number,
        title=head.title,
        href=links.step_href(head.id),
        done=now.is_done(head.id),
        begun=head.id in now.begun,
        here=head.id == now.begin,
        open_points=now.open_by_step.get(head.id, 0),
        pieces=head.pieces,
        planned=links.planned(head.seconds, head.basis),
        spent=now.spent(head.id),
        reads=len(head.reads),
        cautions=tuple(order.cautions[name].title for name in head.cautions if name in order.cautions),
        paper=head.paper,
        conflict=head.id in now.conflict_steps,
        skipped=skipped_at(now, head.id),
    )


def _figures(now: Now, order: OrderFacts, weights: list[str], made: int) -> tuple[Figure, ...]:
    """Windows of a counter: only those that have something to count."""
    done = sum(now.is_done(head.id) for head in order.steps)
    found = [Figure(value=str(order.pieces), unit="pieces", says=f"of {order.sorts} sorts", href="/parts")]
    if order.steps:
        steps = len(order.steps)
        found.insert(0, Figure(value=str(done), unit=f"of {steps}", says="steps done"))
    if order.to_read:
        found.append(Figure(value=str(made), unit=f"of {len(order.to_read)}", says="read", href="/readings"))
    if now.shown.findings is not None:
        stops, doubts = weights.count("stop"), weights.count("doubt")
        weight = "stop" if stops else "doubt" if doubts else ""
        says = "findings that stop the build" if stops else "findings to look at" if doubts else "findings"
        value = stops or doubts or len(weights)
        found.append(Figure(value=str(value), unit="", says=says, href="/findings", weight=weight))
    points = open_count(now)
    weight = "doubt" if points else ""
    found.append(Figure(value=str(points), unit="", says="open points", href="/open", weight=weight))
    return tuple(found)


def _unsure(number: int) -> tuple[Figure, ...]:
    if not number:
        return ()
    says = "unsure part of the import" if number == 1 else "unsure parts of the import"
    return (Figure(value=str(number), unit="", says=says, href="/unsure", weight="doubt"),)

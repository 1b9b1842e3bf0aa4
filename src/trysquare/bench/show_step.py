"""A step's page: what was computed of it, with what the log says of it laid over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from trysquare.bench import links
from trysquare.bench.facts import StepHead
from trysquare.bench.must import settled_by
from trysquare.bench.now import Now
from trysquare.bench.show_open import left_open, open_at, skipped_at, unsafe_before
from trysquare.bench.show_readings import to_read_at
from trysquare.bench.show_stock import instead_of, lacks_of
from trysquare.bench.to_scale import to_scale
from trysquare.bench.views import StepLink
from trysquare.bench.views_step import ActionView, CardView, InsteadView, PickView, StepView
from trysquare.bench.words import bench_words


def step_view(now: Now, step: str) -> StepView | None:
    """The page of a step; None for one that the machine does not have."""
    head = now.shown.head.get(step)
    if head is None:
        return None
    page = now.shown.page(step)
    return _filled(now, page) if page is not None else _head_only(now, head)


def _filled(now: Now, page: StepView) -> StepView:
    shown, state = now.shown, now.state
    known = state.steps.get(page.id)
    drawn = shown.pictures.steps.get(page.id) if shown.pictures is not None else None
    words = bench_words()
    instead = instead_of(now, page.id) if known is None or known.done is None else {}
    return replace(
        page,
        spent=now.spent(page.id),
        done=now.said(known.done) if known is not None and known.done is not None else None,
        reopened=known.reopened if known is not None else 0,
        picture=drawn,
        picture_waits=drawn is None and shown.busy and not shown.ready.pictures,
        solid_href=shown.drawn.solids.get(page.id, "") if shown.drawn is not None else "",
        solid_looks=",".join(f"{one:.4f}" for one in shown.pictures.looks.get(page.id, ()))
        if shown.pictures is not None
        else "",
        picks=to_scale(tuple(_pick(now, page.id, one, instead) for one in page.picks), shown.drawn),
        tools=tuple(replace(one, term=one.term if one.term in words else "") for one in page.tools),
        actions=tuple(_action(now, page.id, one) for one in page.actions),
        to_read=tuple(
            replace(to_read_at(now, page.id, one), term=one.term if one.term in words else "")
            for one in page.to_read
        ),
        findings=tuple(
            one
            for one in (shown.findings.findings if shown.findings is not None else ())
            if one.step is not None and one.step.id == page.id
        ),
        open_now=open_at(now, page),
        skipped=skipped_at(now, page.id),
        left_open=left_open(now, page.id),
        unsafe=unsafe_before(now, page),
        deviations=tuple(now.deviation(one) for one in state.deviations if one.step == page.id),
        photos=tuple(now.kept(one) for one in (*state.photos, *state.files) if one.step == page.id),
        notes=tuple((one.says, now.said(one.said)) for one in state.notes if one.step == page.id),
        conflicts=now.conflicts_at(page.id),
        shortage=lacks_of(now, page.id),
        next_open=_next_open(now, page.number),
    )


def _head_only(now: Now, head: StepHead) -> StepView:
    """A step of which more is being computed."""
    order = now.shown.order
    assert order is not None
    at = head.number - 1
    beside = [links.step_link(one.id, one.number, one.title) for one in order.steps]
    known = now.state.steps.get(head.id)
    return StepView(
        id=head.id, number=head.number, of=len(order.steps), title=head.title, unit=head.unit,
        unit_title=next((run.title for run in order.runs if run.unit == head.unit), head.unit), why=head.why,
        planned=links.planned(head.seconds, head.basis),
        spent=now.spent(head.id),
        done=now.said(known.done) if known is not None and known.done is not None else None,
        reopened=0, paper=head.paper, line=None,
        cautions=tuple(order.cautions[name] for name in head.cautions if name in order.cautions),
        picture=None, picture_waits=True, solid_href="", card_href=f"{links.step_href(head.id)}/card",
        picks=(), tools=(), actions=(), to_read=(), nuts=(), leaves=(), minds=(), findings=(), must=(),
        open_now=(), left_open=(), deviations=(), photos=(), notes=(), conflicts=now.conflicts_at(head.id),
        shortage=(), before=beside[at - 1] if at else None,
        after=beside[at + 1] if at + 1 < len(beside) else None,
        next_open=_next_open(now, head.number), ready=False, skipped=skipped_at(now, head.id),
    )  # fmt: skip


def _next_open(now: Now, number: int) -> StepLink | None:
    """The first step after this one that is neither done nor skipped."""
    order = now.shown.order
    assert order is not None
    following = (
        head.id for head in order.steps[number:] if not now.is_done(head.id) and head.id not in now.skipped
    )
    return now.shown.link(next(following, None))


def _pick(now: Now, step: str, one: PickView, instead: Mapping[str, tuple[InsteadView, ...]]) -> PickView:
    laid = sum((step, ref) in now.state.laid_out for ref in one.refs)
    named = {one.part, *one.refs}
    return replace(
        one,
        laid=laid,
        instead=instead.get(now.shown.sort_of(one.part), ()),
        deviations=tuple(
            now.deviation(each) for each in now.state.deviations if each.step == step and each.part in named
        ),
    )


def _action(now: Now, step: str, one: ActionView) -> ActionView:
    term = one.term if one.term in bench_words() else ""
    event = settled_by(now.state, one.item) if one.item else ""
    said = None
    if event:
        entries = now.state.memory.cells.get(("point", one.item), ())
        entry = next(entry for entry in entries if entry.event.id == event)
        said = now.said_in(entry)
    torqued = bool(one.joints) and all(_is_turned(now, step, joint, one.state) for joint in one.joints)
    return replace(one, term=term, ticked=bool(event), said=said, torqued=torqued)


def _is_turned(now: Now, step: str, joint: str, state: str) -> bool:
    return any(
        entry.step == step and entry.state in (state, "final") for entry in now.state.torqued.get(joint, ())
    )


def card_view(page: StepView, *, tall: bool, title_only: bool) -> CardView:
    """A step's card for the film."""
    return CardView(
        number=page.number,
        of=page.of,
        title=page.title,
        unit=page.unit_title,
        picks=() if title_only else page.picks,
        tools=() if title_only else tuple(one.name for one in page.tools),
        cautions=tuple(one.title for one in page.cautions),
        tall=tall,
        title_only=title_only,
    )

"""Slots, findings, papers, open points, film and words: the further pages."""

from __future__ import annotations

from dataclasses import replace

from trysquare.bench.facts import LineFacts
from trysquare.bench.now import Now
from trysquare.bench.open_count import read_and_bad
from trysquare.bench.show_open import left_open, open_at
from trysquare.bench.views import OpenView, StepLink
from trysquare.bench.views_lists import (
    FilmView,
    FindingsView,
    HelpView,
    MarkView,
    OpenPointsView,
    PapersView,
    RulingView,
    SlotsView,
    SlotView,
)
from trysquare.bench.words import bench_words
from trysquare.record.sign_offs import sign_offs

_HEADINGS = (("stop", "Stops the build"), ("doubt", "To be looked at"), ("note", "Good to know"))


def slots_view(now: Now) -> SlotsView:
    """The slot ledger, with what has been shut out by how the build went."""
    steps = now.shown.steps
    if steps is None:
        return SlotsView(slots=(), empty=0, ready=False)
    return SlotsView(slots=tuple(_slot(now, one) for one in steps.slots), empty=steps.empty_slots)


def _slot(now: Now, slot: SlotView) -> SlotView:
    def is_late(step: StepLink | None, before: StepLink | None) -> bool:
        return (
            before is not None and now.is_done(before.id) and not (step is not None and now.is_done(step.id))
        )

    return replace(
        slot, pieces=tuple(replace(one, late=is_late(one.step, one.before)) for one in slot.pieces)
    )


def findings_view(now: Now) -> FindingsView:
    """Findings by weight."""
    facts = now.shown.findings
    if facts is None:
        return FindingsView(groups=(), not_checked=(), ready=False)
    groups = tuple(
        (weight, heading, tuple(one for one in facts.findings if one.weight == weight))
        for weight, heading in _HEADINGS
    )
    return FindingsView(groups=tuple(group for group in groups if group[2]), not_checked=facts.not_checked)


def papers_view(now: Now, lines: LineFacts | None, asked: str, paper: str) -> PapersView:
    """Papers and rulings. `asked`: an identity or a line; `paper`: all that one paper says."""
    order = now.shown.order
    if order is None:
        return PapersView(
            papers=(), rulings=(), asked=asked, line="", answers=(), said=(), contradictions=(), ready=False
        )
    titles = {one.id: one.title for one in order.papers}
    line = lines.line_of.get(asked, asked) if lines is not None else asked
    ruled = {one.line for one in now.state.rulings.values()}
    at_the_bench = tuple(
        RulingView(
            line=one.line, paper=titles.get(one.paper, one.paper), why=one.why, said=now.said(one.said)
        )
        for one in now.state.rulings.values()
    )
    differ = {one.line for one in order.said if one.does in ("replaces", "removes", "voids")}
    return PapersView(
        papers=order.papers,
        rulings=(*order.rulings, *at_the_bench),
        asked=asked,
        line=line if asked else "",
        answers=lines.words.get(line, ()) if lines is not None and asked else (),
        said=tuple(one for one in order.said if (one.paper == paper if paper else one.line in differ)),
        contradictions=tuple(one for one in order.contradictions if one[0] not in ruled),
        ready=lines is not None or not asked,
    )


def open_points_view(now: Now, *, unsure: int = 0) -> OpenPointsView:
    """Everything that is open. `unsure`: parts of an import that are asked."""
    begun = [name for name in now.shown.head if name in now.begun]
    pages = [page for page in map(now.shown.page, begun) if page is not None]
    findings = now.shown.findings.findings if now.shown.findings is not None else ()
    return OpenPointsView(
        left_open=left_open(now),
        coming=tuple(one for page in pages for one in open_at(now, page)),
        bad=read_and_bad(now),
        deviations=tuple(now.deviation(one) for one in now.state.deviations),
        conflicts=tuple(now.conflict(one) for one in now.state.conflicts),
        stops=tuple(one for one in findings if one.weight == "stop"),
        unsure=unsure,
        signed=tuple(
            OpenView(
                item=one.of, sort="sign-off", says=one.says[:1].upper() + one.says[1:],
                said=now.said(one.said, one.who), step=now.shown.link(one.step),
            )
            for one in sign_offs(now.state)
        ),
    )  # fmt: skip


EXPORTS = (
    ("Chapters, WebVTT", "chapters.vtt"),
    ("Chapters as text", "chapters.txt"),
    ("Chapters, FFMETADATA", "chapters.ffmetadata"),
    ("Subtitles to write over", "subtitles.vtt"),
    ("Parts, tools, used up", "lists.txt"),
)


def film_view(now: Now, chapters: tuple[tuple[str, str], ...], *, from_marks: bool, problem: str) -> FilmView:
    """Marks, chapters and cards."""
    order = now.shown.order
    texts = order.film.texts if order is not None else {}
    return FilmView(
        marks=tuple(
            MarkView(
                label=one.label, clock=clock(one.clock_seconds), seconds=one.clock_seconds, auto=one.auto,
                said=now.said(one.said), step=now.shown.link(one.step),
            )
            for one in now.state.marks
        ),
        chapters=chapters,
        from_marks=from_marks,
        exports=tuple((words, f"/film/{name}") for words, name in EXPORTS if name in texts),
        problem=problem,
        step=now.shown.link(now.begin),
        cards=tuple(
            replace(link, href=f"{link.href}/card")
            for link in map(now.shown.link, now.shown.head)
            if link is not None
        ),
    )  # fmt: skip


def clock(seconds: float | None) -> str:
    """On a recording's counter: "12:31" or "1:02:03"; "" for what is not known."""
    if seconds is None or not 0 <= seconds < 1e7:
        return ""
    whole = int(seconds)
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02d}:{whole % 60:02d}" if hours else f"{minutes}:{whole % 60:02d}"


def help_view(term: str) -> HelpView | None:
    """A word explained, or all of them for ""; None for one that nobody explains."""
    words = bench_words()
    if not term:
        every = tuple((one.term, one.word, one.says) for one in words.values())
        return HelpView(term="", word="Words", says="", why="", see=(), all=every)
    found = words.get(term)
    if found is None:
        return None
    see = tuple((words[name].word, f"/help/{name}") for name in found.see if name in words)
    return HelpView(term=term, word=found.word, says=found.says, why=found.why, see=see, all=())

"""The order of the build, its sorts, what is to be read and who says so: the first part of the facts."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from trysquare.bench import links
from trysquare.bench.facts import FilmFacts, OrderFacts, RunHead, StepHead
from trysquare.bench.tool_for import tool_for
from trysquare.bench.views import Caution, StepLink
from trysquare.bench.views_lists import KindRows, PaperView, RulingView, SayingView, SortRow
from trysquare.bench.views_step import InstrumentView, ToReadView
from trysquare.catalogue.designation import written
from trysquare.catalogue.instruments import kind_of
from trysquare.ground.errors import ReadingError
from trysquare.machine.values import Characteristic, Instrument, Kind, Machine, Saying
from trysquare.publish import chapters
from trysquare.publish.durations import StepDuration, durations
from trysquare.publish.lists import description_lists
from trysquare.publish.sorts import KIND_WORDS, Labelled, labelled_sorts, size_words
from trysquare.publish.tables import cautions
from trysquare.sequence.instruments import expanded_told, guard_band, limits_of, spans_of, told_by
from trysquare.stock.letters import KeptLetter
from trysquare.stock.need import Need

HEADINGS: Mapping[Kind, str] = {
    Kind.MEMBER: "Members", Kind.PLATE: "Plates", Kind.PRINTED: "Printed parts", Kind.BOUGHT: "Bought parts",
    Kind.FASTENER: "Fasteners", Kind.GUIDE: "Rails and carriages", Kind.DRIVE: "Belts, pulleys, lead screws",
    Kind.WIRE: "Wires", Kind.CONSUMABLE: "Used up", Kind.JIG: "Jigs",
}  # fmt: skip
READ_WORDS: Mapping[str, str] = {
    "squareness": "Squareness", "twist": "Twist", "parallelism": "Parallelism", "offset": "Offset",
    "flatness": "Straightness", "flush": "Flush", "height-difference": "Height difference",
    "centring": "Centring", "free-motion": "Drag", "resistance": "Resistance", "other": "Value",
}  # fmt: skip
_UNIT_WORDS: Mapping[str, str] = {"mm/100": "mm per 100 mm", "newton": "N", "ohm": "Ω"}
MOST_NAMES = 4


def order_facts(machine: Machine, whole: Need, kept: Iterable[KeptLetter]) -> OrderFacts:
    """The whole first part."""
    kept = tuple(kept)
    sorts = labelled_sorts(machine, kept, whole=whole)
    planned = durations(machine)
    papers = {paper.id: paper.title for paper in machine.papers}
    titles = unit_titles(machine)
    pick = {one.step: one for one in whole.picking.steps}
    of_step = {step.id: number for number, step in enumerate(machine.steps, start=1)}
    base = {paper.id for paper in machine.papers if str(paper.kind) == "base"}
    steps = tuple(
        StepHead(
            id=step.id,
            number=number,
            title=step.title,
            unit=step.unit,
            seconds=time.seconds,
            basis=time.basis,
            pieces=sum(len(line.pieces) for line in pick[step.id].lines),
            reads=tuple(dict.fromkeys(name for action in step.actions for name in action.reads)),
            cautions=step.caution,
            paper="" if step.paper in base else papers.get(step.paper, step.paper),
            why=step.why,
        )
        for number, (step, time) in enumerate(zip(machine.steps, planned, strict=True), start=1)
    )
    return OrderFacts(
        machine=machine.id,
        name=machine.name,
        summary=_summary(machine),
        steps=steps,
        runs=_runs(machine, titles),
        pieces=whole.pieces,
        sorts=len(sorts),
        joints=len(machine.joints),
        screws=len(machine.fastening),
        kinds=_kinds(machine, whole, sorts),
        sort_of={part: sort.part for sort in sorts for part in (sort.part, *sort.parts, *sort.also_called)},
        cautions={
            name: Caution(id=name, title=row["title"], short=row["short"], says=row["says"])
            for name, row in cautions().items()
        },
        to_read=tuple(to_read(machine, one, of_step) for one in machine.characteristics),
        instruments=tuple(instrument(one, None) for one in machine.instruments),
        papers=_papers(machine),
        rulings=tuple(
            RulingView(line=one.line, paper=papers.get(one.take, one.take), why=one.reason, said=None)
            for one in machine.rulings
        ),
        said=tuple(saying_view(one, papers) for one in machine.sayings),
        contradictions=_contradictions(machine, papers),
        without=_without(machine, whole),
        film=_film(machine, planned, kept),
    )


def unit_titles(machine: Machine) -> dict[str, str]:
    """What people call each unit; the machine's own name for what belongs to none."""
    found = {"": machine.name}
    for unit in machine.units:
        title = machine.tree.get(("unit", unit, "unit", "title")) if machine.tree is not None else None
        found.setdefault(unit, title if isinstance(title, str) and title else unit)
    return found


def _summary(machine: Machine) -> str:
    said = machine.tree.get(("machine", "summary")) if machine.tree is not None else None
    return said if isinstance(said, str) else ""


def _runs(machine: Machine, titles: Mapping[str, str]) -> tuple[RunHead, ...]:
    found: list[RunHead] = []
    rows = enumerate(machine.steps, start=1)
    for unit, steps in groupby(rows, key=lambda row: row[1].unit):
        numbers = [number for number, _ in steps]
        title = titles.get(unit, unit)
        found.append(
            RunHead(number=len(found) + 1, unit=unit, title=title, first=numbers[0], last=numbers[-1])
        )
    return tuple(found)


# --- sorts


def _kinds(machine: Machine, whole: Need, sorts: Sequence[Labelled]) -> tuple[KindRows, ...]:
    first: dict[str, StepLink] = {}
    for number, pick in enumerate(whole.picking.steps, start=1):
        for line in pick.lines:
            first.setdefault(line.part, links.step_link(pick.step, number, pick.title))
    rows: dict[Kind, list[SortRow]] = {}
    for sort in sorts:
        rows.setdefault(sort.kind, []).append(_sort_row(machine, sort, first))
    return tuple(KindRows(heading=HEADINGS.get(kind, str(kind)), rows=tuple(of)) for kind, of in rows.items())


def _sort_row(machine: Machine, sort: Labelled, first: Mapping[str, StepLink]) -> SortRow:
    size = size_words(sort, machine.folder)
    also = ", ".join((*sort.parts[1:], *sort.also_called))
    length = f"{written(round(sum(sort.cuts_mm) / 1000, 2))} m" if sort.cuts_mm else ""
    steps = [first[part] for part in dict.fromkeys((sort.part, *sort.parts)) if part in first]
    kind = KIND_WORDS.get(sort.kind, str(sort.kind))
    return SortRow(
        sort=sort.part,
        letter=sort.letter,
        name=sort.name,
        also=also,
        size="" if size in (kind, sort.name) else size,
        kind=kind,
        pieces=0 if sort.cuts_mm else sort.pieces,
        length=length,
        listed=None,
        boxes="",
        counted=None,
        balance=None,
        told="",
        weight="",
        href=links.part_href(sort.part),
        sketch=None,
        alike=(),
        words=f"{sort.letter} {sort.name} {sort.part} {also} {size}".casefold(),
        first_step=min(steps, key=lambda step: step.number, default=None),
    )


# --- what is to be read


def to_read(machine: Machine, one: Characteristic, of_step: Mapping[str, int]) -> ToReadView:
    """A characteristic with all instruments that are owned, and the steps that read it."""
    units = _UNIT_WORDS.get(one.unit, one.unit)
    steps = [step for step in machine.steps if any(one.id in action.reads for action in step.actions)]
    used = {name for step in steps for action in step.actions if one.id in action.reads
            for name in action.using}  # fmt: skip
    spans = spans_of(machine, one)
    limits = {each.id: limits_of(one, each, spans) for each in machine.instruments}
    instruments = [
        instrument(each, one, limits[each.id], chosen=each.id in used)
        for each in machine.instruments
        if each.id in used
        or (limits[each.id] is not None if told_by(one) else each.unit == one.unit.partition("/")[0])
    ]
    instruments.sort(key=lambda each: (not each.chosen, each.half_width is None))
    return ToReadView(
        of=one.id,
        what=READ_WORDS.get(one.sort, one.sort),
        on=_on(one, {step.unit for step in steps}),
        limit=one.limit,
        limit_told=f"{written(one.limit)} {units}",
        unit=one.unit,
        unit_told=units,
        reason=one.reason,
        times=sum(one.id in action.reads for step in steps for action in step.actions),
        guard=guard_words(one, instruments),
        instruments=tuple(instruments),
        settled="",
        is_alignment=True,
        must="",
        steps=tuple(links.step_link(step.id, of_step[step.id], step.title) for step in steps),
        term=one.sort,
        tool=tool_for(machine, one),
    )


def _on(one: Characteristic, units: set[str]) -> str:
    """What it is read on; names within their own unit are said without it."""
    within = next(iter(units)) if len(units) == 1 else ""
    names = [name.removeprefix(f"{within}/") if within else name for name in (*one.of, *one.against)]
    if len(names) > MOST_NAMES:
        return f"{', '.join(names[: MOST_NAMES - 1])} and {len(names) - MOST_NAMES + 1} more"
    return ", ".join(names)


def instrument(
    one: Instrument, what: Characteristic | None, limits: float | None = None, *, chosen: bool = False
) -> InstrumentView:
    """An instrument, with its error limits in the unit of what is read where they can be said in it.

    `limits`: what the instrument's own make of the characteristic; None where that is not known.
    """
    own = one.unit
    unit = what.unit if what is not None else own
    lengths = what is None or what.sort not in ("free-motion", "other")
    half = one.half_width_mm if own == unit and lengths else None
    if limits is not None:
        half = round(limits, 4)
    kind = kind_of(one.sort, one.reach_mm)
    scatter = kind.scatter_mm if kind is not None else 0.0
    told = f"{one.id}, ± {written(one.half_width_mm)} {_UNIT_WORDS.get(own, own)}"
    return InstrumentView(
        id=one.id, sort=one.sort, half_width=None if half is None else expanded_told(half, scatter),
        told=told, chosen=chosen, limits=half, scatter=scatter,
    )  # fmt: skip


def guard_words(one: Characteristic, instruments: Sequence[InstrumentView]) -> str:
    """Up to where the chosen instrument says good, and from where bad."""
    chosen = next((each for each in instruments if each.chosen and each.half_width is not None), None)
    if chosen is None or chosen.half_width is None:
        return ""
    half, unit = chosen.half_width, _UNIT_WORDS.get(one.unit, one.unit)
    band = guard_band(one.limit, half)
    bad = written(band.bad_above)
    if band.good_to is None:
        return f"Bad above {bad} {unit}; this instrument cannot say good."
    good = written(band.good_to)
    return f"Good up to {good} {unit}, bad above {bad}; between them this instrument cannot tell."


# --- papers


def saying_view(one: Saying, papers: Mapping[str, str]) -> SayingView:
    """One paper's word."""
    return SayingView(
        line=one.line,
        paper=one.paper,
        title=papers.get(one.paper, one.paper),
        does=one.does,
        read=one.read,
        reason=one.reason,
        page=one.page,
        stands=one.stands,
        where=f"{one.where.file}:{one.where.line}" if one.where is not None else "",
    )


def _papers(machine: Machine) -> tuple[PaperView, ...]:
    titles = {paper.id: paper.title for paper in machine.papers}
    return tuple(
        PaperView(
            id=paper.id,
            title=paper.title,
            kind=str(paper.kind),
            edition=paper.edition,
            over=tuple(titles.get(name, name) for name in paper.over),
            reason=paper.reason,
            lines=sum(saying.paper == paper.id for saying in machine.sayings),
            href=links.paper_href(paper.id),
        )
        for paper in machine.papers
    )


def _contradictions(
    machine: Machine, papers: Mapping[str, str]
) -> tuple[tuple[str, tuple[SayingView, ...]], ...]:
    """Lines on which two papers differ though neither is written over the other and nobody has ruled."""
    ruled = {ruling.line for ruling in machine.rulings}
    lines: dict[str, list[Saying]] = {}
    for saying in machine.sayings:
        lines.setdefault(saying.line, []).append(saying)
    named = " ".join(one.says for one in machine.findings if one.code == "papers-contradict")
    return tuple(
        (line, tuple(saying_view(one, papers) for one in words))
        for line, words in lines.items()
        if len(words) > 1 and line not in ruled and line in named
    )


def _without(machine: Machine, whole: Need) -> tuple[str, ...]:
    """What the folder does not say yet, and what is missing therefore."""
    found = []
    if not whole.lines:
        return ("There are no parts yet: write a list.csv, or place parts in units/.",)
    if not machine.placed:
        found.append("No part is placed yet: pictures, slots and findings come with places and joints.")
    elif not machine.joints:
        found.append("There are no joints yet: screws, nuts and torques come with them.")
    if not machine.steps:
        found.append("There are no steps yet: write steps.toml, or let `trysquare order` propose an order.")
    return tuple(found)


# --- film


def _film(machine: Machine, planned: Sequence[StepDuration], kept: Iterable[KeptLetter]) -> FilmFacts:
    texts: dict[str, str] = {}
    marks = chapters.planned_marks(planned)
    if marks:
        texts = {
            "chapters.vtt": chapters.chapters_webvtt(marks),
            "chapters.txt": chapters.chapters_plain(marks),
            "chapters.ffmetadata": chapters.chapters_ffmetadata(marks, machine.name),
            "subtitles.vtt": chapters.subtitles_webvtt(machine, marks, planned),
        }
    with contextlib.suppress(ReadingError):
        texts["lists.txt"] = description_lists(machine, kept)
    return FilmFacts(planned=tuple((one.step, one.title, one.film_seconds) for one in planned), texts=texts)

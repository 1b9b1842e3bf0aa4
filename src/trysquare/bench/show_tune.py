"""Tuning: the tools, a tool's form, what it said, and what was kept of it before."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from trysquare.bench.now import Now
from trysquare.bench.problems import problem_of
from trysquare.bench.show_readings import number
from trysquare.bench.tuning_tools import Answer, Form
from trysquare.bench.views import Caution, Drawn, Problem, SaidAt
from trysquare.tuning.values import value_words

WORDS_OF = {"good": "good", "bad": "not good", "cannot tell": "cannot tell", "told": ""}
_OPTION = re.compile(r"(?P<option>--[a-z][a-z0-9-]*)(?:[ =][A-Z][A-Z_:,.0-9]*)?")
_CALLED = {"--log": "Keep this", "--machine": "this machine"}
_TRUING = re.compile(r"trysquare true(?: [^.].*)?(?=\.?$)")  # its folder ends the sentence
_NEGATIVE = re.compile(r"(?<![\w.,+−–-])-(?=[.]?\d)")
MOST_ROWS = 8  # of a table that stands open: more is a screen of a phone
_CLASSES = {"good": "good", "bad": "bad", "cannot tell": "doubt"}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptResult:
    """A result in the log, the newest first."""

    of: str
    value: str
    verdict: str
    weight: str
    says: str
    said: SaidAt


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolRow:
    """A tool in the list. `last`: the newest result kept of it."""

    what: str
    title: str
    learns: str
    last: KeptResult | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolsView:
    """All tools."""

    tools: tuple[ToolRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolView:
    """A tool's page."""

    form: Form
    results: tuple[KeptResult, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineView:
    """A figure with its name, as it is read."""

    label: str
    value: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableView:
    """Rows of text; `right`: the columns of figures; `folded`: too long to stand open."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int]
    folded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SignView:
    """A check that somebody may sign now. `of`: its name in the log."""

    of: str
    check: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """One thing judged. `kept`: the data of the entry that keeps it."""

    title: str
    verdict: str
    weight: str
    says: tuple[str, ...]
    value: str
    lines: tuple[LineView, ...]
    tables: tuple[TableView, ...]
    doubts: tuple[str, ...]
    notes: tuple[str, ...]
    kept: Mapping[str, Any]
    sign: SignView | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportView:
    """What a tool said: its parts, or why there are none."""

    parts: tuple[PartView, ...] = ()
    cautions: tuple[Caution, ...] = ()
    problems: tuple[Problem, ...] = ()
    says: str = ""
    picture: Drawn | None = None


def tools_view(now: Now, forms: Sequence[Form]) -> ToolsView:
    """The tools with what was last kept of each."""
    rows = []
    for form in forms:
        results = results_of(now, form.what)
        rows.append(
            ToolRow(
                what=form.what, title=form.title, learns=form.learns, last=results[0] if results else None
            )
        )
    return ToolsView(tools=tuple(rows))


def tool_view(now: Now, form: Form) -> ToolView:
    """A tool's form, what goes in said in its own labels, and its results."""
    inputs = tuple((called_here(form, name), called_here(form, means)) for name, means in form.inputs)
    return ToolView(form=replace(form, inputs=inputs), results=results_of(now, form.what))


def results_of(now: Now, what: str) -> tuple[KeptResult, ...]:
    """What the log keeps of a tool, the newest first."""
    found = [
        result
        for results in now.state.results.values()
        for result in results
        if isinstance(result.values, dict) and result.values.get("what") == what
    ]
    found.sort(key=lambda result: -result.said.seq)
    return tuple(
        KeptResult(
            of=result.of,
            value=_value(result.value, result.uncertainty, result.unit),
            verdict=WORDS_OF.get(result.verdict, result.verdict),
            weight=_CLASSES.get(result.verdict, ""),
            says=result.says,
            said=now.said(result.said),
        )
        for result in found
    )


def report_view(form: Form, answer: Answer, files: Sequence[str], picture: Drawn | None) -> ReportView:
    """What a tool answered. `files`: hashes of what it was given."""
    if answer.facts is None:
        return ReportView(
            problems=tuple(map(problem_of, answer.problems)), says=called_here(form, answer.says)
        )
    return ReportView(
        parts=tuple(_part(form, part, files) for part in answer.facts["parts"]),
        cautions=tuple(Caution(**one) for one in answer.facts.get("cautions", ())),
        picture=picture,
    )


def called_here(form: Form, text: str) -> str:
    """A sentence with options and commands of the command line as the pages call them."""
    text = _TRUING.sub("“Truing”", text)
    labels = {question.option: question.label for question in form.questions if question.option}

    def called(found: re.Match[str]) -> str:
        label = labels.get(found["option"]) or _CALLED.get(found["option"])
        return f"“{label}”" if label else found[0]

    return _OPTION.sub(called, text)


def _part(form: Form, part: Mapping[str, Any], files: Sequence[str]) -> PartView:
    main = part.get("value")
    sign = part["data"].get("sign_next")
    kept = {
        "of": part["of"],
        "verdict": part["verdict"],
        "says": " ".join(part["says"]),
        "values": {"what": form.what, "lines": part["lines"], **part["data"]},
    }
    if main:
        kept |= {"value": main["value"], "unit": main["unit"], "uncertainty": main["expanded"]}
    if files:
        kept["files"] = list(files)
    return PartView(
        title=part["title"],
        verdict=WORDS_OF.get(part["verdict"], part["verdict"]),
        weight=_CLASSES.get(part["verdict"], ""),
        says=tuple(with_minus(called_here(form, each)) for each in part["says"]),
        value=_fact(main),
        lines=tuple(
            LineView(
                label=line["label"],
                value=_fact(line["value"]),
                says=with_minus(called_here(form, line["says"])),
            )
            for line in part["lines"]
        ),
        tables=tuple(
            TableView(
                title=table["title"],
                columns=tuple(table["columns"]),
                rows=tuple(tuple(map(with_minus, row)) for row in table["rows"]),
                right=frozenset(table["right"]),
                folded=len(table["rows"]) > MOST_ROWS,
            )
            for table in part["tables"]
        ),
        doubts=tuple(called_here(form, doubt["says"]) for doubt in part["doubts"]),
        notes=tuple(called_here(form, each) for each in part["notes"] if not (sign and "--sign" in each)),
        kept=kept,
        sign=SignView(of=sign["of"], check=sign["check"], words=sign["words"]) if sign else None,
    )


def _fact(fact: Mapping[str, Any] | None) -> str:
    return "" if fact is None else _value(fact["value"], fact["expanded"], fact["unit"])


def _value(value: float | None, half: float | None, unit: str | None) -> str:
    """A value as it is read: digits as far as its uncertainty lets them count."""
    if value is None:
        return ""
    if not half:
        return with_minus(f"{number(float(f'{value:.4g}'))} {unit or ''}".strip())
    return with_minus(f"{value_words(value, half)} {unit or ''}".strip())


def with_minus(text: str) -> str:
    """A text with the sign of minus before its negative numbers; ranges, names and options stay."""
    return _NEGATIVE.sub("\u2212", text)

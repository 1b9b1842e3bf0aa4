"""Tuning: the tools, a tool's form, what it said, and what was kept of it before."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from trysquare.bench.now import Now
from trysquare.bench.problems import problem_of
from trysquare.bench.show_readings import number
from trysquare.bench.tuning_tools import TOOL_TITLES, Answer, Form
from trysquare.bench.views import Caution, Drawn, Problem, SaidAt
from trysquare.tuning.values import value_words

WORDS_OF = {"good": "good", "bad": "not good", "cannot tell": "cannot tell", "told": ""}
_OPTION = re.compile(r"(?P<option>--[a-z][a-z0-9-]*)(?:[ =][A-Z](?:[A-Z_:,.0-9]*[A-Z0-9])?(?![a-z]))?")
_CALLED = {"--log": "Keep this", "--machine": "this machine", "--piece": "Test piece"}
_PIECE = re.compile(r"--piece \S+ --plane (?P<plane>xy|xz|yz)")
_TOOL = re.compile(rf"(?:trysquare )?\btune (?P<what>{'|'.join(TOOL_TITLES)})\b(?: --[a-z-]+(?: [A-Z]+)?)*")
_HELP = re.compile(r"[:;,]? see --help\b")
_FILE = re.compile(r"\b(?:(?:a file of|an?|the) )?(?:RECORDING|READINGS|RECORD|TOUCHES|SHAKE|MAP)\b")
_TRUING = re.compile(r"trysquare true(?: [^.].*)?(?=\.?$)")  # its folder ends the sentence
_NEGATIVE = re.compile(r"(?<![\w.,+−–-])-(?=[.]?\d)")
_INPUTS = {"the file": "The file", "FOLDER": "This machine"}
_FOLDER = re.compile(r"^the machine's folder, or “this machine”; ")
_DRAWN_FROM = {"maintenance": "Nothing to draw yet. Enter --hours, or give --jobs, and reckon again."}
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
    """Rows of text; `right`: columns of figures; `folded`: too long to stand open, so `gist` is told."""

    title: str
    gist: str
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
    """What a tool said: its parts, or why there are none. `narrow`: the picture as it is for a
    phone; `undrawn`: what would have to be entered for a picture."""

    parts: tuple[PartView, ...] = ()
    cautions: tuple[Caution, ...] = ()
    problems: tuple[Problem, ...] = ()
    says: str = ""
    picture: Drawn | None = None
    narrow: Drawn | None = None
    undrawn: str = ""


def tools_view(now: Now, forms: Sequence[Form]) -> ToolsView:
    """The tools with what was last kept of each."""
    rows = []
    for form in forms:
        results = results_of(now, form)
        rows.append(
            ToolRow(
                what=form.what, title=form.title, learns=form.learns, last=results[0] if results else None
            )
        )
    return ToolsView(tools=tuple(rows))


def tool_view(now: Now, form: Form) -> ToolView:
    """A tool's form, what goes in said in its own labels, and its results."""
    return ToolView(form=_form_here(form), results=results_of(now, form))


def results_of(now: Now, form: Form) -> tuple[KeptResult, ...]:
    """What the log keeps of a tool, the newest first."""
    found = [
        result
        for results in now.state.results.values()
        for result in results
        if isinstance(result.values, dict) and result.values.get("what") == form.what
    ]
    found.sort(key=lambda result: -result.said.seq)
    return tuple(
        KeptResult(
            of=result.of,
            value=_value(result.value, result.uncertainty, result.unit),
            verdict=WORDS_OF.get(result.verdict, result.verdict),
            weight=_CLASSES.get(result.verdict, ""),
            says=called_here(form, result.says),
            said=now.said(result.said),
        )
        for result in found
    )


def report_view(
    form: Form, answer: Answer, files: Sequence[str], picture: Drawn | None, narrow: Drawn | None = None
) -> ReportView:
    """What a tool answered. `files`: hashes of what it was given."""
    if answer.facts is None:
        return ReportView(
            problems=tuple(_problem(form, one) for one in answer.problems),
            says=called_here(form, answer.says),
        )
    return ReportView(
        parts=tuple(_part(form, part, files) for part in answer.facts["parts"]),
        cautions=tuple(Caution(**one) for one in answer.facts.get("cautions", ())),
        picture=picture,
        narrow=narrow,
        undrawn="" if picture else called_here(form, _DRAWN_FROM.get(form.what, "")),
    )


def called_here(form: Form, text: str) -> str:
    """A sentence with options and commands of the command line as the pages call them."""
    text = _TRUING.sub("“Truing”", _HELP.sub("", text))
    text = _TOOL.sub(lambda found: f"“{TOOL_TITLES[found['what']]}”", text)
    text = _PIECE.sub(lambda found: f"“Test piece {found['plane'].upper()}”, above", text)
    text = _FILE.sub("the file", text)
    labels = _labels(form)

    def called(found: re.Match[str]) -> str:
        label = _CALLED.get(found["option"]) or labels.get(found["option"])
        return f"“{label}”" if label else found[0]

    return _OPTION.sub(called, text)


def _labels(form: Form) -> dict[str, str]:
    """Label by option, without what is added behind a semicolon, or a colon where no other begins alike."""
    whole = {one.option: one.label.partition(";")[0] for one in form.questions if one.option}
    heads = [label.partition(": ")[0] for label in whole.values()]
    return {
        option: head if heads.count(head := label.partition(": ")[0]) == 1 else label
        for option, label in whole.items()
    }


def _form_here(form: Form) -> Form:
    """The form with its questions and what goes in said in the page's words."""
    inputs = tuple(
        (
            _INPUTS.get(called_here(form, name), called_here(form, name)),
            _FOLDER.sub("", called_here(form, means)),
        )
        for name, means in form.inputs
    )
    questions = tuple(
        replace(one, label=called_here(form, one.label), default=called_here(form, one.default))
        for one in form.questions
    )
    return replace(form, inputs=inputs, questions=questions)


def _problem(form: Form, said: Mapping[str, Any]) -> Problem:
    problem = problem_of(said)
    return replace(
        problem,
        expected=called_here(form, problem.expected),
        remedy=called_here(form, problem.remedy),
    )


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
                title=called_here(form, table["title"]),
                gist=with_minus(called_here(form, table.get("gist", ""))),
                columns=tuple(table["columns"]),
                rows=tuple(
                    tuple(with_minus(called_here(form, cell)) for cell in row) for row in table["rows"]
                ),
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

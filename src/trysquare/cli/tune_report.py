"""How every `trysquare tune` command ends: its report as text or JSON, the plot, the entry in the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trysquare.cli.answers import CLEAN, FOUND, print_json, talk
from trysquare.cli.facts import rounded
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.tune_shared import (
    MARKS,
    caution_facts,
    log_results,
    measured_fact,
    shown,
    tell_cautions,
    tell_log,
    write_plot,
)
from trysquare.tuning.report import GOOD, TOLD, Line, Part, Report

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.chart import Plot

_LABEL_WIDTH = 18


def finish(
    report: Report,
    *,
    machine: Machine | None,
    folder: str | None,
    as_json: bool,
    into_log: bool = False,
    files: Sequence[Path] = (),
    plot: str | None = None,
    drawing: Plot | None = None,
    inputs: Mapping[str, Any] | None = None,
) -> int:
    """Writes the plot and the log's entry, tells the report, and gives the exit status.

    `files` are kept beside the log; `drawing` is the plot, None where there is
    nothing to draw; `inputs` are facts of what was read.
    Raises ReadingError when a file or the log cannot be written.
    """
    facts = report_facts(report)
    facts |= {"machine": machine.name if machine else None, "folder": folder, "inputs": dict(inputs or {})}
    if plot is not None and drawing is not None:
        write_plot(plot, drawing)
        facts["plot"] = plot
    elif plot is not None:
        talk(f"Nothing to draw: {plot} was not written.")
    if into_log and machine is not None and folder is not None:
        facts["logged"] = log_results(folder, machine, [result_of(part) for part in report.parts], files)
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return CLEAN if report.verdict in (GOOD, TOLD) else FOUND


def report_facts(report: Report) -> dict[str, Any]:
    """The report as facts; the same for every tool."""
    return {
        "what": report.what,
        "title": report.title,
        "verdict": report.verdict,
        "parts": [_part_facts(part) for part in report.parts],
        "cautions": caution_facts(*report.cautions),
    }


def _part_facts(part: Part) -> dict[str, Any]:
    return {
        "of": part.of,
        "title": part.title,
        "verdict": part.verdict,
        "says": list(part.says),
        "value": measured_fact(part.main),
        "lines": [_line_facts(line) for line in part.lines],
        "tables": [
            {
                "title": table.title,
                "columns": list(table.columns),
                "rows": [list(row) for row in table.rows],
                "right": sorted(table.right),
                "gist": table.gist,
            }
            for table in part.tables
        ],
        "doubts": [{"code": code, "says": says} for code, says in part.doubts],
        "notes": list(part.notes),
        "data": dict(part.data),
    }


def _line_facts(line: Line) -> dict[str, Any]:
    return {"label": line.label, "value": measured_fact(line.value), "says": line.says}


def result_of(part: Part) -> dict[str, Any]:
    """Data of the event that the log keeps."""
    return {
        "of": part.of,
        "verdict": part.verdict,
        "value": part.main and rounded(part.main.value, 6),
        "unit": part.main and part.main.unit,
        "uncertainty": part.main and rounded(part.main.expanded, 6),
        "says": " ".join(part.says),
        "values": {
            "lines": [_line_facts(line) for line in part.lines],
            "doubts": [code for code, _ in part.doubts],
            **part.data,
        },
    }


def tell(facts: Mapping[str, Any]) -> None:
    """The report as a page of text."""
    page = Page()
    page.title(facts["machine"] or facts["title"], facts["folder"] or "")
    for part in facts["parts"]:
        _tell_part(page, part)
    tell_cautions(page, facts["cautions"])
    page.gap()
    tell_log(page, facts.get("logged"))
    if facts.get("plot"):
        page.line(f"Drawn in {facts['plot']}.", style=QUIET)
    page.print()


def _tell_part(page: Page, part: Mapping[str, Any]) -> None:
    told = part["verdict"] == TOLD
    page.heading(part["title"] if told else f"{part['title']}: {part['verdict']}", MARKS[part["verdict"]])
    for sentence in part["says"]:
        page.line(sentence, indent=2, style=STRONG)
    for doubt in part["doubts"]:
        page.line(doubt["says"], indent=2)
    page.pairs(((line["label"], _line(line)) for line in part["lines"]), indent=2, label_width=_LABEL_WIDTH)
    for table in part["tables"]:
        page.line(table["title"], indent=2, style=STRONG)
        page.table(table["columns"], table["rows"], right=frozenset(table["right"]))
    for note in part["notes"]:
        page.line(note, indent=2, style=QUIET)


def _line(line: Mapping[str, Any]) -> str:
    if line["value"] is None:
        return str(line["says"]) or "not known"
    said = shown(line["value"])
    return f"{said}; {line['says']}" if line["says"] else said

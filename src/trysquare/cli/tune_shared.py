"""What all of `trysquare tune` share: options, facts of a measured value, cautions, the entry in the log."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.bench.tuning_tools import NARROW_OPTION
from trysquare.cli import words
from trysquare.cli.answers import NotThere, unreadable
from trysquare.cli.teaching import paper_option

if TYPE_CHECKING:
    from trysquare.cli.page import Page
    from trysquare.machine.values import Machine
    from trysquare.publish.chart import Plot
    from trysquare.tuning.values import Measured

MARKS = {
    "good": "bold green",
    "bad": "bold red",
    "cannot tell": "bold yellow",
    "not read": "bold yellow",
    "told": "bold",
}
LARGEST_KEPT_BYTES = 50_000_000


def machine_options(function: Any) -> Any:
    """The machine whose own figures are used, and papers laid over it."""
    return click.option(
        "--machine", "folder", metavar="FOLDER", help="Use this machine's own figures.  [default: none]"
    )(paper_option(function))


def plot_option(function: Any) -> Any:
    """A picture of what was measured; for the bench's pages also one as narrow as a phone."""
    narrow = click.option(
        NARROW_OPTION,
        metavar="FILE",
        hidden=True,
        expose_value=False,
        callback=_keep_narrow,
        help="For phones.",
    )
    return click.option("--plot", metavar="FILE", help="Draw what was measured, as SVG.  [default: none]")(
        narrow(function)
    )


def _keep_narrow(context: click.Context, _option: click.Parameter, value: str | None) -> None:
    context.meta[NARROW_OPTION] = value


def log_option(function: Any) -> Any:
    """The result goes into the machine's build log."""
    return click.option(
        "--log",
        "into_log",
        is_flag=True,
        help="Record the result in the machine's build log, with the file.  [default: not recorded]",
    )(function)


def machine_or_none(folder: str | None, papers: Sequence[str], *, into_log: bool) -> Machine | None:
    """The machine of --machine; None without. Raises ReadingErrors, and UsageError for --log alone."""
    if folder is None:
        if into_log:
            raise click.UsageError("--log writes into a machine's build log: give --machine FOLDER too.")
        if papers:
            raise click.UsageError("--paper is laid over a machine: give --machine FOLDER too.")
        return None
    from trysquare.cli.facts import read_machine

    return read_machine(folder, papers)


def measured_fact(value: Measured | None) -> dict[str, Any] | None:
    """A value with its expanded uncertainty (k = 2), in its unit."""
    from trysquare.cli.facts import rounded

    if value is None:
        return None
    return {
        "value": rounded(value.value, 6),
        "expanded": rounded(value.expanded, 6),
        "unit": value.unit,
        "basis": value.basis,
    }


def shown(fact: Mapping[str, Any] | None, missing: str = "not known") -> str:
    """A measured fact as people read it: 12.3 ± 0.4 N."""
    if fact is None:
        return missing
    from trysquare.tuning.values import Measured

    value = Measured(value=fact["value"], standard_uncertainty=fact["expanded"] / 2, unit=fact["unit"])
    return str(value)


def caution_facts(*names: str) -> list[dict[str, str]]:
    """Cautions of our table by their ids; they are told with every result that makes a hand reach in."""
    from trysquare.publish.tables import cautions

    return [
        {"id": name, **{key: cautions()[name][key] for key in ("title", "short", "says")}} for name in names
    ]


def tell_cautions(page: Page, cautions: Sequence[Mapping[str, str]]) -> None:
    """The cautions at the end of a page."""
    for caution in cautions:
        page.heading(caution["title"], "bold yellow")
        page.line(caution["says"], indent=2)


def write_plot(file: str, drawing: Plot) -> None:
    """Writes an SVG whole, never over something else; a narrow one beside it where that was asked for."""
    from trysquare.cli.files_out import look_at, write

    context = click.get_current_context(silent=True)
    narrow = context.meta.get(NARROW_OPTION) if context is not None else None
    for place, svg in ((file, drawing.wide), (narrow, drawing.narrow)):
        if place is not None:
            look_at(Path(place), b"<svg", "SVG", ".svg")
            write(Path(place), svg.encode())


def limits(text: str | None, option: str, example: str, *, between: str = "-") -> tuple[float, float] | None:
    """Two numbers as "low-high"; raises UsageError for anything else."""
    if text is None:
        return None
    try:
        low, high = (float(part) for part in text.split(between))
    except ValueError:
        raise click.UsageError(
            f"{option} read '{words.one_line(text)}'; expected two numbers such as {example}."
        ) from None
    return low, high


def log_results(
    folder: str, machine: Machine, results: Sequence[Mapping[str, Any]], files: Sequence[Path] = ()
) -> dict[str, Any]:
    """Records results in the build log, with their files kept beside it under their hash.

    Each result is the data of an event of the kind "result"; see docs/log.md. Gives the entries' numbers.
    Raises ReadingError and LogNotWritable, which is one.
    """
    from trysquare.record.events import Event, time_text
    from trysquare.record.keeping import keep
    from trysquare.record.log import now_utc, open_log

    with open_log(Path(folder), machine=machine.name) as log:
        log.refuse_if_read_only()
        at = time_text(now_utc())
        seen = log.head().seq
        events, hashes, left = [], [], []
        for file in files:
            if file.stat().st_size > LARGEST_KEPT_BYTES:
                left.append(file.name)
                continue
            suffix = file.suffix.lower() if file.suffix[1:].isalnum() and len(file.suffix) <= 9 else ""
            kept = keep(Path(folder), file.read_bytes(), suffix)
            hashes.append(kept.sha256)
            data = {"sha256": kept.sha256, "suffix": kept.suffix, "bytes": kept.size_bytes, "name": file.name}
            events.append(_event(Event, "file", at, seen, {**data, "sort": "measurement"}))
        for result in results:
            data = {key: value for key, value in result.items() if value is not None}
            if hashes:
                data["files"] = hashes
            events.append(_event(Event, "result", at, seen, data))
        logged = log.append(events)
    return {"entries": [one.seq for one in logged if one.event.kind == "result"], "too_large_to_keep": left}


def _event(made: Any, kind: str, at: str, seen: int, data: Mapping[str, Any]) -> Any:
    return made(id=str(uuid.uuid4()), kind=kind, at=at, device="command line", data=dict(data), seen=seen)


def tell_log(page: Page, logged: Mapping[str, Any] | None) -> None:
    """Where the result went."""
    if logged is None:
        return
    entries = ", ".join(str(one) for one in logged["entries"])
    page.line(f"Recorded in the build log: entry {entries}.")
    for name in logged["too_large_to_keep"]:
        page.line(f"{words.one_line(name)} is too large to be kept beside the log.")


def logged_before(folder: str, machine: Machine, of: str) -> Any:
    """The last result in force of a thing in the machine's log, or None; nothing is made or changed."""
    from trysquare.record.log import FILE_NAME, open_log

    if not (Path(folder) / FILE_NAME).is_file():
        return None
    with open_log(Path(folder), machine=machine.name, read_only=True) as log:
        found = log.state().results.get(of, ())
    return found[-1] if found else None


def numbers(text: str, option: str, expected: str) -> list[float]:
    """Numbers with commas between; raises UsageError."""
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise click.UsageError(f"{option} read '{words.one_line(text)}'; expected {expected}.") from None


__all__ = [
    "MARKS", "NotThere", "caution_facts", "limits", "log_option", "log_results", "logged_before",
    "machine_options", "machine_or_none", "measured_fact", "numbers", "plot_option", "shown", "tell_cautions",
    "tell_log", "unreadable", "write_plot",
]  # fmt: skip

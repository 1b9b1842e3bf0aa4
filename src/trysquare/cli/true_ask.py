"""Readings typed at the terminal: the next one asked for, its answer judged at once, and kept in a file."""

from __future__ import annotations

import csv
import datetime as dt
import io
import sys
from collections.abc import Sequence
from pathlib import Path

from trysquare.cli.answers import talk
from trysquare.cli.true_facts import truing_report
from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.values import Machine
from trysquare.truing.next_reading import NextReading
from trysquare.truing.places import reading_words
from trysquare.truing.reading_files import FOLDER_NAME, RowReader
from trysquare.truing.readings import Reading
from trysquare.truing.report import TruingReport

FILE_NAME = "typed.csv"
HEADINGS = (
    "sort", "from", "to", "value_mm", "instrument", "at_mm", "setting", "turned", "round", "step", "date",
)  # fmt: skip
_STOP = ("", "stop", "q", "quit", "end")
_SKIP = ("skip", "s", "-")


def ask_on(machine: Machine, files: Sequence[str], step: str, found: TruingReport) -> TruingReport:
    """Asks for the best next reading until nothing is worth it, or the person stops. What is typed is kept
    in the folder's readings before it is judged. Answers go to the talk, so that the output stays whole."""
    kept = Path(machine.folder) / FOLDER_NAME / FILE_NAME
    passed: set[tuple[object, ...]] = set()
    typed: list[Reading] = []
    problems: list[ReadingError] = []
    reader = RowReader(machine, problems)
    number = max((one.round for result in found.readings for one in result.readings), default=1)
    while True:
        coming = next(
            (one for one in found.next.owned if not {each.same for each in one.candidate.readings} <= passed),
            None,
        )
        if coming is None:
            talk("Nothing more is worth reading with what you own.")
            return found
        passed |= {each.same for each in coming.candidate.readings}
        setting = f"typed {len(typed) + 1}" if coming.candidate.gauge.kind.free_zero else ""
        answers = _asked(found, coming)
        if answers is None:
            return found
        rows: list[tuple[Reading, dict[str, str]]] = []
        for reading, text in zip(coming.candidate.readings, answers, strict=False):
            cells = {
                "sort": reading.sort,
                "from": reading.first,
                "to": reading.second,
                "value": text,
                "instrument": reading.instrument,
                "setting": setting,
                "turned": "yes" if reading.turned else "",
                "round": str(number),
                "step": step or found.standing.step,
            }
            one = reader.read(cells, Where(file=f"{FOLDER_NAME}/{FILE_NAME}"))
            if one is None:
                talk(f"{problems[-1]} Nothing was kept of it.")
                passed -= {each.same for each in coming.candidate.readings}
                rows = []
                break
            rows.append((one, cells))
        if not rows:
            continue
        keep(kept, [cells for _, cells in rows])
        typed += [one for one, _ in rows]
        found = truing_report(machine, files, step, typed if files else ())
        _tell_short(found)


def _asked(found: TruingReport, coming: NextReading) -> list[str] | None:
    """What was typed for each reading of a candidate; empty when it is passed over, None to stop."""
    shape = found.shape
    chances = ", ".join(f"{name} {chance:.0%}" for name, chance in coming.chances if chance >= 0.05)
    talk(f"Next ({coming.candidate.gauge.words}{f'; settles {chances}' if chances else ''}):")
    answers: list[str] = []
    for reading in coming.candidate.readings:
        words = reading_words(shape.assembly, shape.builder.features, reading)
        print(f"  {words}, {reading.unit}: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        text = line.strip()
        if text.casefold() in _STOP or not line:
            return None
        if text.casefold() in _SKIP:
            return []
        answers.append(text)
    return answers


def keep(file: Path, rows: Sequence[dict[str, str]]) -> None:
    """Adds rows to the file of typed readings; what stands in it stays."""
    file.parent.mkdir(parents=True, exist_ok=True)
    begun = file.is_file() and file.stat().st_size > 0
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if not begun:
        writer.writerow(HEADINGS)
    today = dt.datetime.now(tz=dt.UTC).date().isoformat()
    for row in rows:
        cells = {**row, "value_mm": row["value"], "date": today}
        writer.writerow([cells.get(name, "") for name in HEADINGS])
    ends = begun and not file.read_bytes().endswith(b"\n")
    with file.open("a", encoding="utf-8", newline="") as stream:
        stream.write(("\n" if ends else "") + text.getvalue())


def _tell_short(found: TruingReport) -> None:
    """One line for each characteristic that is read."""
    for one in found.characteristics:
        worst = one.worst
        if worst is not None and one.verdict != "not read":
            judged = worst.judged
            unit, name = one.characteristic.unit, one.characteristic.id
            talk(
                f"  {one.verdict}: {name} {judged.value:+.3f} ± {judged.expanded:.3f} {unit}, "
                f"limit {judged.limit:g}"
            )
    last = found.readings[-1] if found.readings else None
    for result in found.readings:
        if result.blunder is not None or (result.doubt is not None and result is last):
            says = result.doubt.says if result.doubt else f"{result.readings[0].what} contradicts the others"
            talk(f"  To be asked about: {says}")
    if found.advice is not None:
        talk(f"  {found.advice.says}")

"""Readings written down: readings/*.csv, in any usual encoding and separator.

Columns, found by their headings: sort, from, to, value (value_mm), instrument; if wanted also half_width_mm,
at_mm, setting, turned, round, step, date, by, note, aside and reading (a name). Others are passed over, as
are lines that begin with #.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from trysquare.catalogue.instruments import InstrumentKind, kind_of
from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest
from trysquare.machine.toml_files import inside
from trysquare.machine.values import Machine
from trysquare.sequence.instruments import limits_of, spans_of
from trysquare.stock.tables import Table, read_tables
from trysquare.truing.features import Features, UnknownFeature
from trysquare.truing.readings import SORTS, Reading

FOLDER_NAME = "readings"
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "reading": ("reading", "id", "name"),
    "sort": ("sort", "kind"),
    "from": ("from", "first", "of"),
    "to": ("to", "second", "others"),
    "value": ("value_mm", "value", "read", "reads"),
    "instrument": ("instrument", "with"),
    "half_width_mm": ("half_width_mm", "uncertainty_mm"),
    "at_mm": ("at_mm", "at", "station_mm"),
    "setting": ("setting", "set"),
    "turned": ("turned", "reversed", "flipped"),
    "round": ("round",),
    "step": ("step",),
    "date": ("date",),
    "by": ("by",),
    "note": ("note", "remark"),
    "aside": ("aside", "set_aside"),
}
_YES = ("yes", "y", "true", "1", "x", "turned")
_NO = ("", "no", "n", "false", "0")
_LIGHT = {"no light": 0.0, "none": 0.0}
_NUMBER = re.compile(r"[+−-]?\d+(?:\.\d*)?|[+−-]?\.\d+")
_WITH_UNIT = re.compile(r"([+−-]?[\d.,]+)\s*(mm/m|mm|cm|m|in|inch|\"|°|deg)")


def reading_files(folder: Path) -> list[Path]:
    """The files with readings, by name."""
    place = folder / FOLDER_NAME
    return sorted(file for file in place.glob("*") if file.suffix.lower() in (".csv", ".tsv", ".xlsx"))


def read_readings(machine: Machine, files: Sequence[Path] | None = None) -> tuple[Reading, ...]:
    """All readings, in the files' order; `files` None: those of the machine's folder. Raises ReadingErrors
    with all problems: what names no feature, is no number, or has no uncertainty."""
    problems: list[ReadingError] = []
    folder = Path(machine.folder)
    found: list[Reading] = []
    reader = RowReader(machine, problems)
    for file in reading_files(folder) if files is None else files:
        if file.is_relative_to(folder) and not inside(file, folder.resolve()):
            continue
        for table in read_tables(folder, file, problems, remarks=True):
            found += _of_table(reader, table)
    if problems:
        raise ReadingErrors(problems)
    return tuple(found)


def _of_table(reader: RowReader, table: Table) -> list[Reading]:
    if not table.rows:
        return []
    heading = [" ".join(str(cell or "").split()).casefold().replace(" ", "_") for cell in table.rows[0].cells]
    places = {
        key: heading.index(word) for key, words in COLUMNS.items() for word in words[::-1] if word in heading
    }
    line = table.rows[0].line
    missing = [key for key in ("sort", "from", "value") if key not in places]
    if missing:
        reader.problem(
            Where(file=table.file, line=line),
            "",
            ", ".join(word for word in heading if word) or "nothing",
            f"a heading row with the columns sort, from, to, value_mm, instrument; {missing[0]} is missing",
            "Write the headings in the first row.",
        )
        return []
    found: list[Reading] = []
    for row in table.rows[1:]:
        cells = {
            key: " ".join(str(row.cells[at] if row.cells[at] is not None else "").split())
            for key, at in places.items()
            if at < len(row.cells)
        }
        if table.decimal_comma:
            cells["value"] = cells.get("value", "").replace(",", ".")
        reading = reader.read(cells, Where(file=table.file, line=row.line))
        if reading is not None:
            found.append(reading)
    return found


class RowReader:
    """Reads one reading after another against what the machine has; also those typed at the bench."""

    def __init__(self, machine: Machine, problems: list[ReadingError]) -> None:
        self.machine, self.problems = machine, problems
        self.features = Features(machine)
        self.instruments = {one.id: one for one in machine.instruments}
        self.characteristics = {one.id: one for one in machine.characteristics}
        self._count = 0

    def problem(self, where: Where, key: str, read: object, expected: str, remedy: str) -> None:
        spot = Where(file=where.file, line=where.line, key=key)
        self.problems.append(ReadingError(where=spot, read=read, expected=expected, remedy=remedy))

    def read(self, cells: Mapping[str, str], where: Where) -> Reading | None:
        """One row, its cells by the keys of `COLUMNS`; None after noting its problems."""
        before = len(self.problems)
        self._count += 1
        sort = cells.get("sort", "").casefold().replace("_", "-")
        if sort not in SORTS:
            self.problem(
                where, "sort", cells.get("sort", ""), f"one of {', '.join(SORTS)}", nearest(sort, SORTS)
            )
            return None
        first = self._features(where, "from", cells.get("from", ""), sort, most=1)
        second = self._features(where, "to", cells.get("to", ""), sort, most=3 if sort == "rock" else 1)
        if SORTS[sort].needs_second and not cells.get("to"):
            self.problem(
                where, "to", "", f"the second feature of a {sort}", f"It is read {SORTS[sort].says}."
            )
        if sort == "rock" and len(second.split()) != 3:
            self.problem(where, "to", cells.get("to", ""), "three corners with blanks between",
                         "Name the three corners that touch the plate.")  # fmt: skip
        if sort == "gap" and first and first.partition(":")[0] == second.partition(":")[0]:
            self.problem(
                where, "to", second, "a face of another part",
                "How square an end is cut is taken from its cut's tolerance: read the corner of two parts.",
            )  # fmt: skip
        value = self._value(where, cells.get("value", ""), sort)
        at_mm = self._number(where, "at_mm", cells.get("at_mm", ""))
        half_width = self._number(where, "half_width_mm", cells.get("half_width_mm", ""))
        if half_width is not None and half_width <= 0:
            self.problem(
                where, "half_width_mm", cells["half_width_mm"], "a number above 0", "No reading is exact."
            )
        if half_width is None and sort == "direct":
            half_width = self._limits(first, cells.get("instrument", ""))
        instrument = self._instrument(where, cells.get("instrument", ""), sort, half_width, first)
        turned = self._yes(where, "turned", cells.get("turned", ""))
        number = self._round(where, cells.get("round", ""))
        step = self._step(where, cells.get("step", ""))
        if len(self.problems) > before or value is None:
            return None
        return Reading(
            id=cells.get("reading", "") or f"{where.file}:{where.line}",
            sort=sort,
            first=first,
            second=second,
            value=value,
            written=cells.get("value", ""),
            instrument=instrument,
            half_width_mm=half_width or 0.0,
            at_mm=at_mm,
            setting=cells.get("setting", ""),
            turned=turned,
            round=number,
            step=step,
            date=cells.get("date", ""),
            by=cells.get("by", ""),
            note=cells.get("note", ""),
            set_aside=cells.get("aside", ""),
            where=where,
        )

    def _features(self, where: Where, key: str, text: str, sort: str, most: int) -> str:
        """The features of a cell by their whole names."""
        if sort == "direct":
            if key == "from" and text not in self.characteristics:
                self.problem(where, key, text, "a characteristic of machine.toml",
                             nearest(text, self.characteristics))  # fmt: skip
            return text
        if not text and key == "from":
            self.problem(where, key, "", "a feature, such as left-base:a", f"It is read {SORTS[sort].says}.")
        names: list[str] = []
        for word in text.split():
            try:
                names.append(self.features.find(word).name)
            except UnknownFeature as unknown:
                self.problem(where, key, word, unknown.expected, unknown.remedy)
        if len(names) > most:
            self.problem(where, key, text, "one feature", "Write each reading in a row of its own.")
        return " ".join(names)

    def _value(self, where: Where, text: str, sort: str) -> float | None:
        if sort == "gap" and text.casefold() in _LIGHT:
            return _LIGHT[text.casefold()]
        unit = SORTS[sort].unit or "its characteristic's unit"
        if _NUMBER.fullmatch(text):
            value = float(text.replace("−", "-"))
            if math.isfinite(value) and abs(value) < 1e5:
                return value
        found = _WITH_UNIT.fullmatch(text)
        remedy = f"Write the figures alone, in {unit}, with a point: 412.35."
        if found and found[2] != unit:
            remedy = f"Turn {found[2]} into {unit} and write the figures alone."
        self.problem(where, "value", text, f"a number, in {unit}", remedy)
        return None

    def _number(self, where: Where, key: str, text: str) -> float | None:
        if not text:
            return None
        if _NUMBER.fullmatch(text.replace(",", ".")):
            return float(text.replace(",", ".").replace("−", "-"))
        self.problem(where, key, text, "a number of millimetres", "Write, for example, 120.")
        return None

    def _direct_by(self, where: Where, text: str, kind: InstrumentKind | None, characteristic: str) -> str:
        """A characteristic read as it is, by an instrument that tells nothing of it: said by its name."""
        known = characteristic in self.characteristics  # else that is the problem, and told
        if known and kind is not None and "direct" not in kind.reads:
            reads = ", ".join(sorted(kind.reads))
            self.problem(where, "instrument", text, f"an instrument that tells {characteristic}",
                         f"{text} reads {reads}. Take another, or say half_width_mm.")  # fmt: skip
        return text

    def _instrument(
        self, where: Where, text: str, sort: str, half_width: float | None, characteristic: str = ""
    ) -> str:
        if not text:
            if half_width is None:
                self.problem(where, "instrument", "", "an instrument of machine.toml, or half_width_mm",
                             "Without an uncertainty it decides nothing: what was it read with?")  # fmt: skip
            return ""
        if text not in self.instruments:
            self.problem(where, "instrument", text, "an instrument of machine.toml",
                         nearest(text, self.instruments))  # fmt: skip
            return text
        kind = kind_of(self.instruments[text].sort, self.instruments[text].reach_mm)
        if sort == "direct" and half_width is None:
            return self._direct_by(where, text, kind, characteristic)
        if kind is not None and sort not in kind.reads and half_width is None:
            reads = ", ".join(sorted(kind.reads))
            self.problem(where, "instrument", text, f"an instrument that reads a {sort}",
                         f"{text} reads {reads}. Check the sort, or say half_width_mm.")  # fmt: skip
        return text

    def _limits(self, characteristic: str, name: str) -> float | None:
        """What an owned instrument's error limits make of a characteristic read with it; None: nothing."""
        one, owned = self.characteristics.get(characteristic), self.instruments.get(name)
        return limits_of(one, owned, spans_of(self.machine, one)) if one and owned else None

    def _yes(self, where: Where, key: str, text: str) -> bool:
        if text.casefold() in _YES:
            return True
        if text.casefold() not in _NO:
            self.problem(where, key, text, "yes or no", "Write yes when the square was turned over.")
        return False

    def _round(self, where: Where, text: str) -> int:
        if not text:
            return 1
        if text.isascii() and text.isdigit() and 1 <= int(text) <= 1000:
            return int(text)
        self.problem(where, "round", text, "a whole number from 1", "Readings after a correction: one more.")
        return 1

    def _step(self, where: Where, text: str) -> str:
        known = [step.id for step in self.machine.steps]
        if text and text not in known:
            self.problem(where, "step", text, "a step of the machine", nearest(text, known))
        return text

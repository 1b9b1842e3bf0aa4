"""The texts that a parts list leaves in the machine folder, and what a list issued again changes.

list.csv holds every row: the columns part and pieces as every list.csv, and beside them what the row said.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from trysquare.intake.list_decide import Decided, OwnPart, pieces_key
from trysquare.intake.list_runs import run_mm
from trysquare.stock.remembered import plain_name

LIST_FILE, PARTS_FILE, MACHINE_FILE = "list.csv", "parts.toml", "machine.toml"
COLUMNS = ("part", "pieces", "state", "name", "quantity", "note")
LENGTH = "length_mm"  # a further column, where what is sold by length says one
_BEGINS_FORMULA = ("=", "+", "-", "@")
_UNDECIDED = "# Not decided yet: trysquare import asks which part is meant."


@dataclass(frozen=True, slots=True, kw_only=True)
class ListLine:
    """One row of a list.csv. Those written by hand have `part` and `pieces` alone."""

    part: str
    pieces: int
    state: str = ""
    name: str = ""
    quantity: str = ""
    note: str = ""
    length_mm: str = ""  # of each piece of what is sold by length


@dataclass(frozen=True, slots=True, kw_only=True)
class ListChange:
    """What is otherwise in a list issued again: pieces `before` and `after`, None where it is not listed."""

    part: str
    before: int | None
    after: int | None
    names: tuple[str, ...] = ()


def list_lines(decided: Iterable[Decided]) -> tuple[ListLine, ...]:
    """The rows of list.csv; a row that means several parts stands once for each, one left out not at all."""
    return tuple(
        ListLine(
            part=part,
            pieces=one.pieces,
            state=one.state,
            name=one.row.text,
            quantity=one.row.quantity,
            note=one.row.note,
            length_mm=f"{run:.10g}" if (run := run_of(one)) else "",
        )
        for one in decided
        for part in one.parts
    )


def run_of(one: Decided) -> float:
    """The length of each of a row's pieces in mm, where it is sold by length; else 0."""
    own = not one.state.startswith("recognised")
    return run_mm(one.parts, one.row.text, one.row.length_mm, one.row.quantity, own=own)


def list_text(lines: Iterable[ListLine]) -> str:
    """list.csv."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    lines = list(lines)
    runs = any(line.length_mm for line in lines)
    writer.writerow((*COLUMNS, LENGTH) if runs else COLUMNS)
    for line in lines:
        said = (_no_formula(text) for text in (line.name, line.quantity, line.note))
        writer.writerow((line.part, line.pieces, line.state, *said, *([line.length_mm] if runs else [])))
    return out.getvalue()


def read_lines(text: str) -> tuple[ListLine, ...]:
    """The rows of a list.csv that the machine room has already read without a problem."""
    first = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count))
    heading = [name.strip().casefold() for name in next(reader, [])]
    found: list[ListLine] = []
    for cells in reader:
        row = dict(zip(heading, (cell.strip() for cell in cells), strict=False))
        pieces = row.get("pieces", "")
        if row.get("part") and pieces.isascii() and pieces.isdigit():
            more = {key: _as_said(row.get(key, "")) for key in (*COLUMNS[2:], LENGTH)}
            found.append(ListLine(part=row["part"], pieces=int(pieces), **more))
    return tuple(found)


def _no_formula(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would reckon with it."""
    return f"'{text}" if text.lstrip(" '").startswith(_BEGINS_FORMULA) else text


def _as_said(text: str) -> str:
    return text[1:] if text.startswith("'") and _no_formula(text[1:]) != text[1:] else text


def is_waiting(line: ListLine) -> bool:
    """Whether its part was asked and not decided."""
    return line.state.partition(",")[0] == "asked"


def waiting_names(lines: Iterable[ListLine]) -> frozenset[str]:
    """Plain names of rows whose part was asked and not decided."""
    return frozenset(plain_name(line.name) for line in lines if is_waiting(line) and line.name)


def decided_pieces(lines: Iterable[ListLine]) -> dict[tuple[str, str], int]:
    """Pieces that the builder decided, by `pieces_key`."""
    return {
        pieces_key(line.name, line.quantity): line.pieces
        for line in lines
        if line.state.endswith("pieces decided") and line.name
    }


def changes(before: Iterable[ListLine], after: Iterable[ListLine]) -> tuple[ListChange, ...]:
    """What is new, gone, or otherwise many, by part; in the order of the new list, what is gone last."""
    before, after = tuple(before), tuple(after)
    old, new = _sums(before), _sums(after)
    names: dict[str, list[str]] = {}
    for line in (*after, *before):
        if line.name and line.name not in names.setdefault(line.part, []):
            names[line.part].append(line.name)
    return tuple(
        ListChange(part=part, before=old.get(part), after=new.get(part), names=tuple(names.get(part, ())))
        for part in dict.fromkeys((*new, *old))
        if old.get(part) != new.get(part)
    )


def _sums(lines: Iterable[ListLine]) -> dict[str, int]:
    pieces: Counter[str] = Counter()
    for line in lines:
        pieces[line.part] += line.pieces
    return dict(pieces)


# --- own parts


def own_part_text(part: OwnPart) -> str:
    """The lines of parts.toml for one own part."""
    lines = [f"[part.{part.id}]", f"name = {_quoted(part.name)}", f"kind = {_quoted(part.kind)}"]
    if part.member is not None:
        if part.member.profile:
            lines.append(f"profile = {_quoted(part.member.profile)}")
            lines.append(f"length_mm = {part.member.length_mm:g}")
        else:
            lines[-1] = 'kind = "bought"  # a member: write its profile and length_mm'
    if part.undecided:
        lines.insert(0, _UNDECIDED)
    return "\n".join(lines) + "\n"


def with_own_parts(text: str, parts: Sequence[OwnPart], settled: Iterable[OwnPart] = ()) -> str:
    """parts.toml with these parts added. Those in `settled` are taken out before, where nobody has touched
    their lines since they were written. All else stays as it is, to the letter."""
    there = tomllib.loads(text).get("part", {})
    for part in settled:
        for undecided in (True, False):
            block = own_part_text(replace(part, undecided=undecided))
            at = f"\n{text}".find(f"\n{block}") if part.id in there else -1
            if at >= 0 and there[part.id] == tomllib.loads(block)["part"][part.id]:
                rest = text[at + len(block) :].lstrip("\n")
                text = "\n\n".join(one for one in (text[:at].rstrip("\n"), rest) if one)
                del there[part.id]
    new = [own_part_text(part) for part in parts if part.id not in there]
    text = "\n\n".join(one.rstrip("\n") for one in (text, *new) if one.strip())
    return f"{text}\n" if text else ""


def machine_text(name: str, source: str) -> str:
    """machine.toml of a folder that is a parts list alone."""
    summary = f"A parts list, from {source}: enough to count, to find shortages and to tell look-alikes."
    return f"format = 1\nname = {_quoted(name)}\nsummary = {_quoted(summary)}\n"


def _quoted(text: str) -> str:
    """A TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\U{ord(char):08X}" for char in escaped) + '"'

"""imports.toml: what a person said of shapes that could not be told for sure, kept for the next revision.

A ruling is bound to the shape itself, by its digest: it holds wherever the shape stands, and for a re-issued
file as long as the shape stays as it was.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.intake.bodies import Assembly, Recognition, Shape, Sort
from trysquare.intake.folder_text import value_text
from trysquare.intake.recognise import hinted, recognised
from trysquare.intake.recognise_others import own_part
from trysquare.machine.toml_files import toml_problem

FILE_NAME = "imports.toml"
OWN = "own part"
LARGEST_BYTES = 8_000_000
_KEYS = ("shape", "called", "is", "printed")
_LIKE_A_DESIGNATION = re.compile(
    r"(iso|din|profile|rail|block|pulley|idler|lead|heat|slide|roll|quarter|hex)\b.*[0-9]", re.IGNORECASE
)  # looking every name up takes longer than reading the file
_HEAD = """\
# What `trysquare import` remembers of this folder. A ruling says what a shape is, for the next revision as
# well: change or delete it, and import again.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruling:
    """A person's word on one shape. `says`: a designation, "own part", or "" when only `printed` is said.
    `called`: the shape's name when it was asked, for the reader of the file."""

    shape: str
    says: str = ""
    printed: bool | None = None
    called: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What is remembered of a folder's imports. `source`, `digest`: of the last file; `types`: id of the part
    type that each own shape got, by its digest."""

    source: str = ""
    digest: str = ""
    rulings: Mapping[str, Ruling] = field(default_factory=dict)
    types: Mapping[str, str] = field(default_factory=dict)

    def with_rulings(self, rulings: Iterable[Ruling]) -> Memory:
        """The memory with these rulings added or changed."""
        return replace(self, rulings={**self.rulings, **{one.shape: one for one in rulings}})


def read_memory(text: str) -> Memory:
    """Reads imports.toml. Raises ReadingError."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise toml_problem(FILE_NAME, text, str(error)) from error
    except RecursionError as error:
        raise _wrong(
            "brackets nested hundreds deep", "TOML", "Mend it, or delete the file: then it is asked anew."
        ) from error
    rulings: dict[str, Ruling] = {}
    rows = table.get("ruling", [])
    for number, row in enumerate(rows if isinstance(rows, list) else [rows], start=1):
        one = _ruling(row, number)
        rulings[one.shape] = one
    head = table.get("import", {})
    types = table.get("types", {})
    if not isinstance(head, dict) or not isinstance(types, dict):
        raise _wrong("import or types", "tables", "Write [import] and [types], or delete them.")
    return Memory(
        source=str(head.get("file", "")),
        digest=str(head.get("digest", "")),
        rulings=rulings,
        types={str(shape): str(name) for shape, name in types.items()},
    )


def memory_text(memory: Memory) -> str:
    """The text of imports.toml."""
    lines = [
        _HEAD,
        "[import]",
        f"file = {value_text(memory.source)}",
        f"digest = {value_text(memory.digest)}",
    ]
    for one in memory.rulings.values():
        lines += ["", "[[ruling]]", f"shape = {value_text(one.shape)}"]
        if one.called:
            lines.append(f"called = {value_text(one.called)}")
        if one.says:
            lines.append(f"is = {value_text(one.says)}")
        if one.printed is not None:
            lines.append(f"printed = {value_text(one.printed)}")
    if memory.types:
        lines += ["", "[types]  # the part type that each shape became"]
        lines += [f"{value_text(shape)} = {value_text(name)}" for shape, name in memory.types.items()]
    return "\n".join(lines) + "\n"


def seen_in(assembly: Assembly) -> dict[int, Recognition]:
    """What every shape is by its faces, with its names as a hint."""
    names: dict[int, list[str]] = {shape.number: [shape.name] for shape in assembly.shapes}
    for body in assembly.bodies:
        names[body.shape].append(body.name)
    found = {}
    for shape in assembly.shapes:
        words = dict.fromkeys(name for name in names[shape.number] if _LIKE_A_DESIGNATION.match(name))
        found[shape.number] = hinted(recognised(shape), list(words)[:8])
    return found


def as_ruled(assembly: Assembly, seen: Mapping[int, Recognition], memory: Memory) -> dict[int, Recognition]:
    """What every shape is, as a person has ruled where somebody has."""
    found = dict(seen)
    for shape in assembly.shapes:
        ruling = memory.rulings.get(shape.digest)
        if ruling and ruling.says:
            found[shape.number] = ruled(shape, found[shape.number], ruling)
    return found


def ruled(shape: Shape, found: Recognition, ruling: Ruling) -> Recognition:
    """The recognition as a person rules it."""
    said = (*found.evidence, f"you said: {ruling.says}")
    if ruling.says == OWN:
        return replace(own_part(shape), confidence=1.0, evidence=said)
    if ruling.says == found.designation or found.sort in (Sort.OWN, Sort.PLATE, Sort.MOTOR):
        if found.designation == ruling.says:
            return replace(found, confidence=1.0, evidence=said)
        return found  # a shape without the frame of such a part cannot become one
    sort = Sort.LEAD_SCREW if ruling.says.startswith("lead screw") else found.sort
    return replace(found, designation=ruling.says, sort=sort, confidence=1.0, evidence=said)


def _ruling(row: Any, number: int) -> Ruling:
    if not isinstance(row, dict) or not isinstance(row.get("shape"), str):
        raise _wrong(f"ruling {number}", "a table with shape, and is or printed", "Delete the ruling.")
    for key in row:
        if key not in _KEYS:
            raise _wrong(key, "one of " + ", ".join(_KEYS), nearest(key, _KEYS))
    says, printed = row.get("is", ""), row.get("printed")
    if not isinstance(says, str) or not (printed is None or isinstance(printed, bool)):
        raise _wrong(
            f"ruling {number}", "is as a text, printed as true or false", "Correct it, or delete the ruling."
        )
    return Ruling(shape=row["shape"], says=says, printed=printed, called=str(row.get("called", "")))


def _wrong(read: str, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=Where(file=FILE_NAME), read=read, expected=expected, remedy=remedy)

"""The tables of `docs/format.md`, written from the keys the reader itself uses."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from trysquare.machine.fields import (
    ACTION,
    AXIS,
    CHARACTERISTIC,
    HOLE,
    INSTRUMENT,
    MACHINE_FILE,
    PAPER_FILE,
    PART,
    PARTS_FILE,
    PLACE,
    PRIMITIVE,
    RECIPES,
    RULINGS_FILE,
    SHAFT,
    STEP,
    STEPS_FILE,
    UNIT,
    UNIT_FILE,
)
from trysquare.machine.schema import SORTS, Field, Fields

_UNITS: Mapping[str, str] = {
    "_newton_metre": "N·m",
    "_gram": "g",
    "_deg": "°",
    "_mm": "mm",
    "celsius": "°C",
    "minutes": "min",
    "ampere": "A",
    "volt": "V",
}
"""A key's unit by how the key ends."""

COMMON: Fields = {
    key: known
    for key, known in next(iter(RECIPES.values())).items()
    if all(fields.get(key) is known for fields in RECIPES.values())
}
"""The keys that every recipe has."""


def _inside(fields: Fields, key: str) -> Fields:
    return fields[key].inside or {}


SECTIONS: Mapping[str, Fields] = {
    "machine.toml": MACHINE_FILE,
    "axis": AXIS,
    "instrument": INSTRUMENT,
    "characteristic": CHARACTERISTIC,
    "parts.toml": PARTS_FILE,
    "part": PART,
    "hole": HOLE,
    "solid": PRIMITIVE,
    "shaft": SHAFT,
    "units/NAME.toml": UNIT_FILE,
    "unit": UNIT,
    "place": PLACE,
    "every recipe": COMMON,
    **{
        recipe: {key: known for key, known in fields.items() if key not in COMMON}
        for recipe, fields in RECIPES.items()
    },
    "corners": _inside(RECIPES["bracket"], "corners"),
    "over": _inside(RECIPES["belt-path"], "over"),
    "steps.toml": STEPS_FILE,
    "step": STEP,
    "action": ACTION,
    "papers/ID.toml": PAPER_FILE,
    **{key: _inside(PAPER_FILE, key) for key in ("add", "replace", "remove", "void", "rename")},
    "rulings.toml": RULINGS_FILE,
    "ruling": _inside(RULINGS_FILE, "ruling"),
}
"""Each table of the reference by the name between its marks, `<!-- keys: NAME -->` and `<!-- end -->`."""

_MARKED = re.compile(r"(<!-- keys: ([^>]+?) -->\n).*?(<!-- end -->)", re.DOTALL)


def unit_of(key: str) -> str:
    """The unit that a key's name says; "" when the value has none."""
    return next((unit for ending, unit in _UNITS.items() if key.endswith(ending)), "")


def table(fields: Fields) -> str:
    """The keys of one table as Markdown rows."""
    rows = ["| key | holds | unit | left out | meaning |", "|---|---|---|---|---|"]
    rows += [f"| {' | '.join(_cells(key, known))} |" for key, known in fields.items()]
    return "\n".join(rows) + "\n"


def _cells(key: str, known: Field) -> Iterator[str]:
    yield f"`{key}`"
    yield _holds(known)
    yield unit_of(key)
    yield "**must be there**" if known.required else known.default or "–"
    yield known.means.replace("|", "\\|")


def _holds(known: Field) -> str:
    """What a key takes; a list of fixed words says that it is a list and how it is written."""
    if not known.choices:
        return SORTS[known.sort]
    words = ", ".join(f"`{word}`" for word in known.choices)
    if known.sort != "texts":
        return f"one of {words}"
    every = "both" if len(known.choices) == 2 else "several"
    example = ", ".join(f'"{word}"' for word in known.choices[:2])
    return f"one of {words}, or a list of {every}: `[{example}]`"


def marked_sections(text: str) -> list[str]:
    """The names of all tables that a page marks."""
    return [found.group(2) for found in _MARKED.finditer(text)]


def with_tables(text: str) -> str:
    """The page with every marked table written anew. An unknown name raises KeyError."""
    return _MARKED.sub(lambda found: found.group(1) + table(SECTIONS[found.group(2)]) + found.group(3), text)

"""Reading the catalogue's tables: one CSV for each sort, each row with its source.

A table is read when it is first asked for, and once: one screw must not cost the whole catalogue.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

# A plain path: importlib.resources costs more start-up time than all tables of one screw.
_TABLES = Path(__file__).with_name("tables")


@cache
def rows(table: str) -> tuple[Mapping[str, str], ...]:
    """All rows of ``tables/<table>.csv`` in file order, each by column name. The rows are read-only."""
    with (_TABLES / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(MappingProxyType(row) for row in csv.DictReader(file))


def table_names() -> tuple[str, ...]:
    """The names of all tables, sorted."""
    return tuple(sorted(path.stem for path in _TABLES.glob("*.csv")))


def numbers(field: str) -> tuple[float, ...]:
    """A field of numbers with spaces between, in file order; an empty field gives none."""
    return tuple(float(word) for word in field.split())

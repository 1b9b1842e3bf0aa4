"""Our own tables for paper: cautions, care and first power. One CSV for each, each row with its source."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

_TABLES = Path(__file__).with_name("tables")


@cache
def table(name: str) -> tuple[Mapping[str, str], ...]:
    """All rows of ``tables/<name>.csv`` in file order, each by column name."""
    with (_TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def cautions() -> Mapping[str, Mapping[str, str]]:
    """Cautions by the ids that steps use."""
    return {row["id"]: row for row in table("cautions")}

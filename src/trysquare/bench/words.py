"""The bench's words explained, for a tap on any of them."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_TABLE = Path(__file__).with_name("words.csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchWord:
    """One row of `words.csv`: what it is, why it matters, which other words help."""

    term: str
    word: str
    says: str
    why: str
    see: tuple[str, ...]


@cache
def bench_words() -> Mapping[str, BenchWord]:
    """All words by term, in the order of the alphabet."""
    with _TABLE.open(encoding="utf-8", newline="") as file:
        rows = [
            BenchWord(
                term=row["term"], word=row["word"], says=row["says"], why=row["why"],
                see=tuple(row["see"].split()),
            )
            for row in csv.DictReader(file)
        ]  # fmt: skip
    return {row.term: row for row in sorted(rows, key=lambda row: row.word.casefold())}

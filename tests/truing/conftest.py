"""The demo machine, read once, and readings written as a file would have them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.truing.reading_files import read_readings
from trysquare.truing.readings import Reading

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
HEAD = "sort,from,to,value_mm,instrument,turned,step\n"
Readings = Callable[[str], tuple[Reading, ...]]


@pytest.fixture(scope="session")
def larch() -> Machine:
    return load_machine(LARCH)


@pytest.fixture
def readings(larch: Machine, tmp_path: Path) -> Readings:
    """Rows of the columns sort, from, to, value_mm, instrument, turned, step."""

    def read(rows: str) -> tuple[Reading, ...]:
        file = tmp_path / "rows.csv"
        file.write_text(HEAD + rows, encoding="utf-8")
        return read_readings(larch, [file])

    return read

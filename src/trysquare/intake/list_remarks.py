"""What a person should hear of a list's file beside its rows: formulas without a result, quotation marks that
are never closed."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable
from pathlib import Path as DiskPath

from trysquare.stock.tables import LARGEST_UNPACKED_BYTES, Table

_NO_RESULT = re.compile(rb"(?:</f>|<f\b[^>]*/>)\s*(?:<v\s*/>|<v>\s*</v>|</c>)")
_CUTS = (",", ";", "\t")


def remarks_on(file: DiskPath, tables: Iterable[Table]) -> tuple[str, ...]:
    """Sentences, each with the file's name; none for a file that cannot be looked into."""
    found = [*_of_workbook(file)]
    for table in tables:
        for row in table.rows:
            lines = max((_swallowed(cell) for cell in row.cells), default=0)
            if lines:
                found.append(
                    f"{table.file}:{row.line}: one cell holds {lines} lines of the list; is a quotation mark "
                    "never closed? Mend it: the rows in it are not counted."
                )
    return tuple(found)


def _swallowed(cell: object) -> int:
    """How many lines of a table stand in one cell; 0 for a cell as it should be."""
    lines = cell.strip().splitlines() if isinstance(cell, str) else []
    return len(lines) if len(lines) > 1 and any(all(cut in line for line in lines) for cut in _CUTS) else 0


def _of_workbook(file: DiskPath) -> Iterable[str]:
    try:
        with file.open("rb") as stream:
            if stream.read(2) != b"PK":
                return
        with zipfile.ZipFile(file) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > LARGEST_UNPACKED_BYTES:
                return
            names = packed.namelist()
            sheets = [name for name in names if re.fullmatch(r"xl/worksheets/[^/]+\.xml", name)]
            without = sum(len(_NO_RESULT.findall(packed.read(name))) for name in sheets)
    except (OSError, zipfile.BadZipFile, KeyError, NotImplementedError, RuntimeError, EOFError, ValueError):
        return  # told by whoever reads its tables
    if without:
        cells = "1 formula has" if without == 1 else f"{without} formulas have"
        yield f"{file.name}: {cells} no result in the file. Open and save it in a spreadsheet program."

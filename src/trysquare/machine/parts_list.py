"""`list.csv`: a bare parts list, as vendors send it: part, pieces and length_mm; others are passed over."""

from __future__ import annotations

import csv
import io
import math

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.schema import LONGEST_TEXT
from trysquare.machine.tree import ListRow, SourceFile

LARGEST_LIST_ROWS = 100_000
LONGEST_LENGTH_MM = 10_000_000.0
_HEADING = ("part", "pieces")
_LENGTH = "length_mm"


def read_list(source: SourceFile, problems: list[ReadingError]) -> list[ListRow]:
    """The rows of a parts list, separated by comma, semicolon or tab as its heading is.

    A part may stand on several rows (their pieces add up); rows without any text are passed over. A column
    length_mm says how long each piece of what is sold by length is; a cell that is no number of mm says
    nothing.
    """

    def problem(line: int, key: str, read: str, expected: str, remedy: str) -> None:
        where = Where(file=source.name, line=line, key=key)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

    text = source.text.replace("\r\n", "\n").replace("\r", "\n")
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    found: list[ListRow] = []
    try:
        heading = [name.strip().lower() for name in next(reader, [])]
        if any(heading.count(name) != 1 for name in _HEADING):
            expected = "a heading row with the columns part and pieces, once each"
            problem(1, "", first.strip(), expected, "Write part,pieces on the first line.")
            return []
        columns = [heading.index(name) for name in _HEADING]
        length_at = heading.index(_LENGTH) if heading.count(_LENGTH) == 1 else -1
        for count, row in enumerate(reader):
            if count >= LARGEST_LIST_ROWS:
                expected = f"at most {LARGEST_LIST_ROWS} rows"
                remedy = "Split the list; one machine does not have so many sorts."
                problem(reader.line_num, "", f"more than {LARGEST_LIST_ROWS} rows", expected, remedy)
                break
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if any(cells[len(heading) :]):
                expected = f"{len(heading)} columns as in the heading"
                remedy = "Put quotes round a cell that holds the separator; write 1000, not 1,000."
                problem(reader.line_num, "", delimiter.join(row), expected, remedy)
                continue
            part, pieces = (cells[column] if column < len(cells) else "" for column in columns)
            if not part or len(part) > LONGEST_TEXT:
                remedy = "Write, for example, ISO 7380-1 M3x8,24."
                problem(reader.line_num, "part", part, "a part's id or designation", remedy)
            elif not (pieces.isascii() and pieces.isdigit() and len(pieces) <= 9):
                remedy = (
                    "Write the number alone, such as 24: no sign, no fraction, no thousands mark, no unit."
                )
                problem(reader.line_num, "pieces", pieces, "a whole number of pieces", remedy)
            else:
                length_mm = _length_mm(cells[length_at] if 0 <= length_at < len(cells) else "")
                where = Where(file=source.name, line=reader.line_num, key="pieces")
                found.append(ListRow(part=part, pieces=int(pieces), where=where, length_mm=length_mm))
    except csv.Error as error:
        problem(reader.line_num, "", str(error), "comma-separated text", "Save the list as CSV again.")
    return found


def _length_mm(text: str) -> float:
    """The length that a cell says, 0 where it says none."""
    try:
        length_mm = float(text)
    except ValueError:
        return 0.0
    return length_mm if math.isfinite(length_mm) and 0 < length_mm <= LONGEST_LENGTH_MM else 0.0

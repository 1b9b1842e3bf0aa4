"""A page of text for people: never wider than the terminal, no colours when it goes into a file."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from trysquare.cli.words import one_line

if TYPE_CHECKING:
    from rich.table import Table

FILE_WIDTH = 100  # columns when the text goes into a file or another program
LEAST_WIDTH = 20  # below this no word fits
LABEL_WIDTH = 8

QUIET = "dim"
STRONG = "bold"


def page_width() -> int:
    """COLUMNS if it is a number, else the terminal's width, else the width for files."""
    said = os.environ.get("COLUMNS", "")
    if said.isascii() and said.isdigit() and int(said) > 0:
        return max(LEAST_WIDTH, min(int(said), 1000))
    if sys.stdout.isatty():
        return max(LEAST_WIDTH, shutil.get_terminal_size((FILE_WIDTH, 24)).columns)
    return FILE_WIDTH


def fitted_widths(
    columns: Sequence[str], cells: Sequence[int], right: frozenset[int], room: int
) -> list[int | None]:
    """Widths of a table's columns that are together wider than its `room`; None for each when all fit.

    `cells`: the widest cell of each. Figures stay whole and words keep a width to be read in; headings give
    way first. Where there is no room even for that every column shrinks, and no column vanishes.
    """
    natural = [max(widest, len(heading)) for heading, widest in zip(columns, cells, strict=True)]
    if sum(natural) <= room:
        return [None] * len(columns)
    for words, whole in ((24, True), (16, True), (10, True), (10, False), (6, False), (4, False)):
        widths = []
        for index, (heading, widest) in enumerate(zip(columns, cells, strict=True)):
            longest = max(map(len, heading.split()), default=0) if whole else 0
            widths.append(max(widest, longest) if index in right else min(natural[index], words))
        if sum(widths) <= room:
            while sum(widths) < room:
                missing = [full - width for full, width in zip(natural, widths, strict=True)]
                widths[missing.index(max(missing))] += 1
            return list(widths)
    return [max(1, room // len(columns))] * len(columns)


class Page:
    """Collects lines and prints them at once, to the output or as talk. All text is taken literally."""

    def __init__(self, *, talk: bool = False) -> None:
        from rich.console import Console

        self._stream = sys.stderr if talk else sys.stdout
        self._text = io.StringIO()
        self._colours = self._stream.isatty()
        self._console = Console(
            file=self._text,
            width=page_width(),
            height=50,  # said, so that rich does not read the surroundings for it and trip over them
            force_terminal=self._colours,
            markup=False,
            highlight=False,
            emoji=False,
        )

    def print(self) -> None:
        text = self._text.getvalue()
        if not self._colours:  # a table fills its cells with blanks; nobody wants them in a file
            text = "".join(f"{line.rstrip()}\n" for line in text.splitlines())
        self._stream.write(text)
        self._stream.flush()

    def gap(self) -> None:
        self._console.print()

    def line(self, text: str, indent: int = 0, style: str = "") -> None:
        """One paragraph; its further lines keep the indent."""
        from rich.padding import Padding
        from rich.text import Text

        body = Text(one_line(text), style=style, overflow="fold")
        self._console.print(Padding(body, (0, 0, 0, indent)) if indent else body)

    def as_it_is(self, text: str, indent: int = 0) -> None:
        """A line whose columns matter: cut at the page's edge, never broken; its blanks stay."""
        from rich.text import Text

        body = Text(" " * indent + one_line(text))
        self._console.print(body, no_wrap=True, overflow="crop", crop=True)

    def title(self, text: str, beside: str = "") -> None:
        """The page's first lines: what it is about, and where it came from."""
        self.line(text, style=STRONG)
        if beside:
            self.line(beside, style=QUIET)

    def heading(self, text: str, style: str = STRONG) -> None:
        self.gap()
        self.line(text, style=style)

    def pairs(self, rows: Iterable[tuple[str, str]], indent: int = 2, label_width: int = LABEL_WIDTH) -> None:
        """Labels and what they say; rows that say nothing are left out."""
        from rich.text import Text

        table = self._grid()
        table.add_column(width=label_width, no_wrap=True, style=QUIET)
        table.add_column(overflow="fold")
        said = [(label, text) for label, text in rows if text]
        for label, text in said:
            table.add_row(Text(label), Text(one_line(text), overflow="fold"))
        if said:
            self._indented(table, indent)

    def table(
        self,
        columns: Sequence[str],
        rows: Iterable[Sequence[str]],
        indent: int = 2,
        right: frozenset[int] = frozenset(),
        widest: int | None = None,
    ) -> None:
        """Columns without lines; empty headings give no heading row. `right`: columns of figures;
        `widest`: the column that takes the room that is left."""
        from rich.text import Text

        table = self._grid()
        filled = [[Text(one_line(cell), overflow="fold") for cell in row] for row in rows]
        cells = [
            max((row[index].cell_len for row in filled if index < len(row)), default=0)
            for index in range(len(columns))
        ]
        room = self._console.width - indent - 2 * (len(columns) - 1)
        widths = fitted_widths(columns, cells, right, room) if widest is None else [None] * len(columns)
        for index, heading in enumerate(columns):
            table.add_column(
                Text(heading),
                justify="right" if index in right else "left",
                overflow="fold",
                no_wrap=index in right and widths[index] is None,
                width=widths[index],
                ratio=1 if index == widest else None,
            )
        table.show_header = any(columns)
        table.header_style = QUIET
        table.expand = widest is not None
        for row in filled:
            table.add_row(*row)
        if filled:
            self._indented(table, indent)

    def _grid(self) -> Table:
        from rich.table import Table

        return Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))

    def _indented(self, table: Table, indent: int) -> None:
        from rich.padding import Padding

        self._console.print(Padding(table, (0, 0, 0, indent)))

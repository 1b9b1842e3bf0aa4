"""The machine as raw lines with their origin, before any meaning is read into them.

A line's path is a tuple: ``("unit", "frame", "place", "beam")``, ``("part", "beam-x")``,
``("step", "feet")``, ``("machine", "axis", "x")``. Each line remembers the file, the place in it and
the paper that said it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from trysquare.ground.errors import Where
from trysquare.machine.toml_lines import Path, line_of, toml_lines

Raw: TypeAlias = dict[str, Any]


@dataclass(slots=True)
class SourceFile:
    """A text file of the folder; its line index is made when first asked for."""

    name: str
    text: str
    _lines: Mapping[Path, int] | None = None

    def line(self, path: Path) -> int:
        if self._lines is None:
            self._lines = toml_lines(self.text)
        return line_of(self._lines, path)


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a line came from: the paper, the file and the path inside that file."""

    paper: str
    file: SourceFile
    path: Path


@dataclass(slots=True)
class Tree:
    """All raw lines. `origins` holds an entry for each line and for each key a paper changed."""

    lines: Raw = field(default_factory=lambda: {"machine": {}, "part": {}, "unit": {}, "step": {}})
    origins: dict[Path, Origin] = field(default_factory=dict)
    step_order: list[str] = field(default_factory=list)
    list_rows: list[ListRow] = field(default_factory=list)

    def origin(self, path: Path) -> Origin | None:
        """The origin of a path: its own, or its nearest ancestor's with the rest appended."""
        for end in range(len(path), 0, -1):
            found = self.origins.get(path[:end])
            if found is not None:
                return Origin(paper=found.paper, file=found.file, path=(*found.path, *path[end:]))
        return None

    def where(self, path: Path) -> Where:
        found = self.origin(path)
        key = ".".join(str(part) for part in path)
        if found is None:
            return Where(file="machine.toml", key=key)
        return Where(file=found.file.name, line=found.file.line(found.path), key=key)

    def paper(self, path: Path) -> str:
        found = self.origin(path)
        return found.paper if found else ""

    def get(self, path: Path) -> Any:
        """The raw value at a path, or None."""
        value: Any = self.lines
        for key in path:
            if isinstance(value, dict) and key in value:
                value = value[key]
            elif isinstance(value, list) and isinstance(key, int) and key < len(value):
                value = value[key]
            else:
                return None
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRow:
    """One row of `list.csv`: a part by id or designation and how many pieces."""

    part: str
    pieces: int
    where: Where

"""The machine as raw lines with their origin, before any meaning is read into them.

A line's path is a tuple: ``("unit", "frame", "place", "beam")``, ``("part", "beam-x")``,
``("step", "feet")``, ``("machine", "axis", "x")``. Each line remembers the file, the place in it and
the paper that said it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from trysquare.ground.errors import ReadingError, ReadingErrors, Where
from trysquare.machine.toml_lines import Path, line_of, toml_lines

Raw: TypeAlias = dict[str, Any]

MOST_PROBLEMS = 500
"""Reading stops after so many: nobody mends more at a time, and a file of another kind has no end of them."""
STOPPED = f"more than {MOST_PROBLEMS} problems"


class Problems(list[ReadingError]):
    """The problems found so far; the one too many raises them all."""

    def append(self, problem: ReadingError) -> None:
        """Keeps a problem. Raises ReadingErrors when there are too many to go on."""
        super().append(problem)
        if len(self) >= MOST_PROBLEMS:
            super().append(
                ReadingError(
                    where=problem.where,
                    read=STOPPED,
                    expected="a machine folder",
                    remedy="Mend these first; what comes after them was not read.",
                )
            )
            raise ReadingErrors(self)


def line_name(path: Path) -> str:
    """A path as people write it: ``unit.frame.place.beam``; rows of a list are counted from 1."""
    if path[:1] == ("unit",) and path[2:3] == ("unit",):
        path = (*path[:2], *path[3:])  # the head of a unit's file is the unit itself
    return ".".join(str(word + 1) if isinstance(word, int) else word for word in path)


def line_path(line: str) -> Path:
    """The path of a line as people write it; keys of a unit itself lie under its head."""
    words: Path = tuple(line.split("."))
    if words[0] == "unit" and len(words) > 2 and words[2] not in ("place", "joint"):
        return (*words[:2], "unit", *words[2:])
    return words


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

    def where(self, path: Path) -> Where:
        return Where(file=self.name, line=self.line(path), key=line_name(path))


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
                if end == len(path):
                    return found
                return Origin(paper=found.paper, file=found.file, path=(*found.path, *path[end:]))
        return None

    def where(self, path: Path) -> Where:
        """The place of a path in its file; `key` is the line's name as papers write it."""
        found = self.origin(path)
        if found is None:
            return Where(file="machine.toml", key=line_name(path))
        return Where(file=found.file.name, line=found.file.line(found.path), key=line_name(path))

    def paper(self, path: Path) -> str:
        """The paper that says a path; "" when its file names none."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.origins:
                return self.origins[path[:end]].paper
        return ""

    def get(self, path: Path) -> Any:
        """The raw value at a path, or None."""
        value: Any = self.lines
        for key in path:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                return None
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRow:
    """One row of `list.csv`: a part by id or designation and how many pieces, each `length_mm` long; 0: not
    said."""

    part: str
    pieces: int
    where: Where
    length_mm: float = 0.0

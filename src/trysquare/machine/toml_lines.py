"""Which line of a TOML file a key stands on, so that every message can point at it.

The standard reader gives values without places. This walks a text that the standard reader has
already accepted, so it need not check anything, only keep count.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import TypeAlias

Path: TypeAlias = tuple[str | int, ...]

# Possessive repeats (++, *+) never step back: a text of any size is walked in one go, with no memory kept.
_SKIP = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_BLANK = re.compile(r"[ \t]*+")
_BARE = re.compile(r"[A-Za-z0-9_-]++")
_SCALAR = re.compile(r"[^,\]}\n#]*+")
_STRING = re.compile(
    r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{3,5}|'
    r"'''(?:[^']++|'{1,2}(?!'))*+'{3,5}|"
    r'"(?:[^"\\\n]++|\\.)*+"|'
    r"'[^'\n]*+'",
    re.DOTALL,
)


def toml_lines(text: str) -> Mapping[Path, int]:
    """Line (from 1) of tables, keys and array elements, by path. The text must be valid TOML.

    What stands inside a value on the same line as the value itself has no entry of its own: ask
    `line_of`. A table's line is its header's; without a header, where it is first mentioned.
    """
    return _Walk(text).lines


def line_of(lines: Mapping[Path, int], path: Path) -> int:
    """The line of a path, or of its nearest ancestor that has one; 0 when none has."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return 0


class _Walk:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.counted = 0
        self.lines: dict[Path, int] = {}
        self.array_sizes: dict[Path, int] = {}
        self._document()

    def _line(self) -> int:
        self.line += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        return self.line

    def _skip(self, pattern: re.Pattern[str] = _SKIP) -> None:
        found = pattern.match(self.text, self.at)
        if found:
            self.at = found.end()

    def _note(self, above: Path, path: Path, line: int) -> None:
        """Notes a path, and what is first mentioned on the way to it from `above`, where that is new."""
        for end in range(len(above) + 1, len(path) + 1):
            self.lines.setdefault(path[:end], line)

    def _key(self) -> list[str]:
        names: list[str] = []
        while True:
            self._skip(_BLANK)
            quoted = _STRING.match(self.text, self.at) if self.text[self.at] in "\"'" else None
            found = quoted or _BARE.match(self.text, self.at)
            if found is None:
                return names
            word = found.group()
            names.append(_unquoted(word) if quoted else word)
            self.at = found.end()
            self._skip(_BLANK)
            if self.text[self.at : self.at + 1] != ".":
                return names
            self.at += 1

    def _inside(self, names: list[str]) -> Path:
        """The path of a header's names, with the index of the newest element of each array of tables."""
        path: Path = ()
        for name in names:
            path = (*path, name)
            if path in self.array_sizes:
                path = (*path, self.array_sizes[path] - 1)
        return path

    def _document(self) -> None:
        table: Path = ()
        while True:
            self._skip()
            if self.at >= len(self.text):
                return
            if self.text.startswith("[[", self.at):
                line = self._line()
                self.at += 2
                names = self._key()
                array = (*self._inside(names[:-1]), names[-1])
                self.array_sizes[array] = self.array_sizes.get(array, 0) + 1
                table = (*array, self.array_sizes[array] - 1)
                self._note((), table, line)
                self.at += 2
            elif self.text[self.at] == "[":
                line = self._line()
                self.at += 1
                table = self._inside(self._key())
                self._note((), table, line)
                self.lines[table] = line  # [a.b] may have mentioned [a] before
                self.at += 1
            else:
                self._pair(table, 0)

    def _pair(self, table: Path, table_line: int) -> None:
        """A key and its value. `table_line`: the line that the table answers with when asked for the key."""
        start = self.at
        line = self._line()
        path = (*table, *self._key())
        if line != table_line:
            self._note(table, path, line)
        self._skip(_BLANK)
        self.at += 1  # the equals sign
        self._skip(_BLANK)
        self._value(path, line)
        if self.at == start:  # cannot happen in valid TOML; never loop for ever
            self.at += 1

    def _value(self, path: Path, line: int) -> None:
        char = self.text[self.at : self.at + 1]
        if char == "[":
            self._array(path, line)
        elif char == "{":
            self._inline(path, line)
        else:
            found = _STRING.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            if found:
                self.at = found.end()

    def _array(self, path: Path, array_line: int) -> None:
        self.at += 1
        index = 0
        while self.at < len(self.text):
            self._skip()
            char = self.text[self.at : self.at + 1]
            if char == "]":
                self.at += 1
                return
            if char == ",":
                self.at += 1
                continue
            line = self._line()
            if line != array_line:
                self.lines[(*path, index)] = line
            self._value((*path, index), line)
            index += 1

    def _inline(self, path: Path, table_line: int) -> None:
        self.at += 1
        while self.at < len(self.text):
            self._skip()
            char = self.text[self.at : self.at + 1]
            if char == "}":
                self.at += 1
                return
            if char == ",":
                self.at += 1
                continue
            self._pair(path, table_line)


def _unquoted(word: str) -> str:
    return str(tomllib.loads(f"k = {word}")["k"])

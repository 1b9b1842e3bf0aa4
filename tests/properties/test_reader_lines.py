"""Laws of the line index: for any TOML document, every value is found on the line it stands on."""

from __future__ import annotations

import json
import string
import tomllib
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from machine.fuzzing import examples
from trysquare.machine.toml_lines import Path, line_of, toml_lines

BARE = st.text(string.ascii_letters + string.digits + "_-", min_size=1, max_size=4)
ODD = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=4)
KEYS = BARE | ODD
SCALARS = st.sampled_from(
    [
        "1", "-1.5e3", "true", "inf", "-nan", "0xff", "1_000", "1979-05-27T07:32:00Z", "07:32:00.5", "''",
        '""', "'a#b'", '"]},= #"', '"\\""', "'\\'", '"\\\\"', '"\\u00e9\\n"',
    ]
)  # fmt: skip
LONG = st.sampled_from(
    [
        '"""\none\ntwo = 2\n[three]"""', '"""a\\\n   b"""', '"""""quoted"" x"""', '"""x"""""',
        "'''\n'' # {\n'''",
        "'''x'''''", '""""""', "''''''", '"""\\"""\n"""', '"""\r\n\r\n"""',
    ]
)  # fmt: skip
GAPS = st.sampled_from(["", "", " ", "\t", "\n", "# a [comment] = 'x'\n", "\r\n", " \n\n  "])
BLANKS = st.sampled_from(["", " ", "\t "])
ENDS = st.sampled_from(["\n", "\r\n", ' # = [[x]] "\n', "\n\n", "\n# [no.table]\n"])


@dataclass
class Document:
    """A document being written: its text, and the line each path stands on."""

    pieces: list[str] = field(default_factory=list)
    line: int = 1
    lines: dict[Path, int] = field(default_factory=dict)

    def put(self, text: str) -> None:
        self.pieces.append(text)
        self.line += text.count("\n")

    def note(self, path: Path) -> None:
        for end in range(1, len(path) + 1):
            self.lines.setdefault(path[:end], self.line)


def quoted(draw: st.DrawFn, key: str) -> str:
    bare = bool(key) and all(char.isascii() and (char.isalnum() or char in "_-") for char in key)
    if bare and draw(st.booleans()):
        return key
    if "'" not in key and draw(st.booleans()):
        return f"'{key}'"
    # JSON writes what lies beyond 16 bits as two halves, which TOML does not know.
    escaped = all(ord(char) < 0x10000 for char in key) and draw(st.booleans())
    return json.dumps(key, ensure_ascii=escaped).replace("\x7f", "\\u007f")


def put_key(draw: st.DrawFn, document: Document, names: list[str]) -> None:
    for index, name in enumerate(names):
        if index:
            document.put(draw(BLANKS) + "." + draw(BLANKS))
        document.put(quoted(draw, name))


def put_value(draw: st.DrawFn, document: Document, path: Path, depth: int) -> None:
    sort = draw(st.sampled_from(["scalar", "scalar", "long", "array", "inline"][: 5 if depth < 3 else 3]))
    if sort == "array":
        document.put("[")
        count = draw(st.integers(0, 3))
        for index in range(count):
            document.put(draw(GAPS))
            document.note((*path, index))
            put_value(draw, document, (*path, index), depth + 1)
            document.put(draw(GAPS))
            if index < count - 1 or draw(st.booleans()):
                document.put(",")
        document.put(draw(GAPS) + "]")
    elif sort == "inline":
        document.put("{" + draw(BLANKS))
        for index, names in enumerate(draw(keys_of_one_table())):
            if index:
                document.put("," + draw(BLANKS))
            put_pair(draw, document, path, names, depth + 1)
        document.put(draw(BLANKS) + "}")
    else:
        document.put(draw(LONG if sort == "long" else SCALARS))


def put_pair(draw: st.DrawFn, document: Document, table: Path, names: list[str], depth: int) -> None:
    document.note((*table, *names))
    put_key(draw, document, names)
    document.put(draw(BLANKS) + "=" + draw(BLANKS))
    put_value(draw, document, (*table, *names), depth)


@st.composite
def keys_of_one_table(draw: st.DrawFn) -> list[list[str]]:
    """Keys, some dotted, whose first words differ: so no two of them meet."""
    firsts = draw(st.lists(KEYS, max_size=3, unique=True))
    return [[first, *draw(st.lists(KEYS, max_size=2))] for first in firsts]


def put_table(draw: st.DrawFn, document: Document, path: Path, names: list[str], depth: int) -> None:
    """The pairs of one table, then its sub-tables and arrays of tables, each by its header."""
    rows = draw(keys_of_one_table())
    pairs = rows[: draw(st.integers(0, len(rows)))]
    for pair in pairs:
        document.put(draw(BLANKS))
        put_pair(draw, document, path, pair, 0)
        document.put(draw(ENDS))
    if depth >= 2:
        return
    for row in rows[len(pairs) :]:
        below = [*names, *row]
        if draw(st.booleans()):
            put_header(draw, document, "[", below)
            document.lines[(*path, *row)] = document.line
            document.note((*path, *row))
            close_header(draw, document, "]")
            put_table(draw, document, (*path, *row), below, depth + 1)
        else:
            for index in range(draw(st.integers(1, 3))):
                put_header(draw, document, "[[", below)
                document.note((*path, *row, index))
                close_header(draw, document, "]]")
                put_table(draw, document, (*path, *row, index), below, depth + 1)


def put_header(draw: st.DrawFn, document: Document, bracket: str, names: list[str]) -> None:
    document.put(draw(BLANKS) + bracket + draw(BLANKS))
    put_key(draw, document, names)


def close_header(draw: st.DrawFn, document: Document, bracket: str) -> None:
    document.put(draw(BLANKS) + bracket + draw(ENDS))


@st.composite
def documents(draw: st.DrawFn) -> Document:
    document = Document()
    document.put(draw(st.sampled_from(["", "# head\n", "\n\r\n"])))
    put_table(draw, document, (), [], 0)
    return document


def paths(value: object, path: Path = ()) -> list[Path]:
    if isinstance(value, dict):
        rows = list(value.items())
    elif isinstance(value, list):
        rows = list(enumerate(value))
    else:
        return [path]
    below = [found for key, inner in rows for found in paths(inner, (*path, key))]
    return [path, *below] if path else below


@pytest.mark.slow
@examples(300)
@given(documents())
def test_every_path_of_a_document_is_on_the_line_where_it_was_written(document: Document) -> None:
    text = "".join(document.pieces)
    value = tomllib.loads(text)
    lines = toml_lines(text)
    for path in paths(value):
        assert line_of(lines, path) == document.lines[path], (path, text)


@pytest.mark.slow
@examples(150)
@given(documents())
def test_windows_line_ends_do_not_change_a_line(document: Document) -> None:
    text = "".join(document.pieces).replace("\r\n", "\n")
    assert toml_lines(text) == toml_lines(text.replace("\n", "\r\n"))

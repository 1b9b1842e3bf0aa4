"""Laws of the folder reader: whatever a folder holds, it is a machine or a list of problems in its files."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from machine.folders import GOOD, write
from machine.fuzzing import examples
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.fields import (
    ACTION,
    AXIS,
    CHARACTERISTIC,
    HOLE,
    INSTRUMENT,
    MACHINE_FILE,
    PAPER_FILE,
    PART,
    PLACE,
    PRIMITIVE,
    RECIPES,
    RULINGS_FILE,
    SHAFT,
    STEP,
    UNIT,
)
from trysquare.machine.load import load_machine
from trysquare.machine.schema import Fields

NASTY = (
    "nan", "-inf", "inf", "0", "-1", "-0.0", "1e308", "1e-300", "99999999999999999999", "0x" + "f" * 40,
    "1" * 400,
    '"30 cm"', '""', '" "', '"+z"', '"beam:a"', '"beam:+z"', '"frame/beam"',
    '"*"', '"[!"', '"\\u0000"', '"é\\u202e"',
    '"plate:m"', '"plate:m.1"', '"beam"', '"ISO 4762 M3x8"', '"rail 9x200"', '"a.b"', '"../x"',
    '"shapes/x.stl"',
    "true", "1979-05-27", "07:32:00", "[]", "[[]]", "[1]", "[1, 2]", "[1, 2, 3]", "[nan, 0, 1]", "[0, 0, 0]",
    "[[1, 2], [3, 4], [5, 6]]", '["a"]', '["a", 1]', "{}", "{ a = 1 }", "[{}]", '[{ name = "x" }]',
    "[[[[[1]]]]]",
    '{ x = [1, 2, 3] }', '{ part = "beam" }', '[{ end = "beam:a", toward = "+z" }]', '"x" * 3',
)  # fmt: skip
LINES = [(name, index) for name, text in GOOD.items() for index in range(text.count("\n"))]


@contextmanager
def folder_of(files: dict[str, bytes]) -> Iterator[Path]:
    path = Path(tempfile.mkdtemp())
    try:
        yield write(path, files)
    finally:
        shutil.rmtree(path)


def is_read_or_refused(files: dict[str, bytes]) -> None:
    """The only two outcomes: a machine, or problems each of which names a file that exists."""
    with folder_of(files) as folder:
        for problem in problems_or_none(folder):
            assert (folder / problem.where.file).exists(), problem
            assert problem.expected, problem
            assert problem.remedy, problem
            text = (folder / problem.where.file).read_bytes()
            rows = len(re.findall(rb"\r\n|\r|\n", text)) + 1
            assert 0 <= problem.where.line <= rows, problem


def problems_or_none(folder: Path) -> tuple[ReadingError, ...]:
    """The problems of a folder; anything raised but ReadingErrors is a fault of ours."""
    try:
        load_machine(folder)
    except ReadingErrors as errors:
        return errors.problems
    return ()


def good_bytes() -> dict[str, bytes]:
    return {name: text.encode() for name, text in GOOD.items()}


@st.composite
def mutations(draw: st.DrawFn) -> dict[str, bytes]:
    """The good folder after one to four small accidents."""
    files = good_bytes()
    for _ in range(draw(st.integers(1, 4))):
        name, at = draw(st.sampled_from(LINES))
        rows = files[name].split(b"\n")
        at = min(at, len(rows) - 1)
        row = rows[at]
        sort = draw(
            st.sampled_from(["flip", "cut", "double", "swap", "value", "value", "value", "key", "other"])
        )
        if sort == "flip" and row:
            spot = draw(st.integers(0, len(row) - 1))
            rows[at] = row[:spot] + bytes([draw(st.integers(0, 255))]) + row[spot + 1 :]
        elif sort == "cut":
            del rows[at]
        elif sort == "double":
            rows.insert(at, row)
        elif sort == "swap" and at + 1 < len(rows):
            rows[at], rows[at + 1] = rows[at + 1], row
        elif sort == "value" and b"=" in row:
            values = [spot for spot in range(len(row)) if row[spot : spot + 1] == b"="]
            spot = draw(st.sampled_from(values)) + 1
            end = row.find(b", ", spot) if draw(st.booleans()) else -1
            closing = b" }" if row.endswith(b"}") and end < 0 else b""
            rest = row[end:] if end >= 0 else closing
            rows[at] = row[:spot] + b" " + draw(st.sampled_from(NASTY)).encode() + rest
        elif sort == "key" and b"=" in row:
            value = row.partition(b"=")[2]
            new = draw(
                st.sampled_from(["part", "at_mm", "recipe", "through", "on", "id", "x", "kind", "from"])
            )
            rows[at] = new.encode() + b" =" + value
        elif sort == "other":
            other, spot = draw(st.sampled_from(LINES))
            rows.insert(at, files[other].split(b"\n")[min(spot, files[other].count(b"\n"))])
        files[name] = b"\n".join(rows)
    return files


@pytest.mark.slow
@examples(200)
@given(mutations())
def test_a_spoiled_folder_is_a_machine_or_problems_in_its_files(files: dict[str, bytes]) -> None:
    is_read_or_refused(files)


@pytest.mark.slow
@examples(60)
@given(st.sampled_from(sorted(GOOD)), st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_a_file_of_nonsense_is_a_machine_or_problems_in_its_files(name: str, nonsense: bytes) -> None:
    is_read_or_refused({**good_bytes(), name: nonsense})


def dotted(fields: Fields, count: int = 1) -> list[tuple[str, ...]]:
    """The keys of a table, with those inside its tables."""
    found: list[tuple[str, ...]] = []
    for key, known in fields.items():
        found.append((key,))
        if known.inside:
            found += [(key, *below) for below in dotted(known.inside, count + 1)]
    return found


PARTS = GOOD["parts.toml"]
BOUGHT = PARTS + '[part.q]\nkind = "bought"\n'
PAPER_ROWS = ("add", "replace", "remove", "void", "rename")
TABLES: dict[str, tuple[str, str, Fields]] = {
    "machine": ("machine.toml", "{key} = {value}\n" + GOOD["machine.toml"], MACHINE_FILE),
    "axis": ("machine.toml", GOOD["machine.toml"] + "[axis.q]\n{key} = {value}\n", AXIS),
    "instrument": ("machine.toml", GOOD["machine.toml"] + "[instrument.q]\n{key} = {value}\n", INSTRUMENT),
    "characteristic": (
        "machine.toml",
        GOOD["machine.toml"] + "[characteristic.q]\n{key} = {value}\n",
        CHARACTERISTIC,
    ),
    "part": ("parts.toml", GOOD["parts.toml"] + '[part.q]\nkind = "plate"\n{key} = {value}\n', PART),
    "hole": (
        "parts.toml",
        f'{PARTS}[part.q]\nkind = "plate"\nsize_mm = [9, 9, 9]\nhole = [{{{{ {{key}} = {{value}} }}}}]\n',
        HOLE,
    ),
    "hole of a member": (
        "parts.toml",
        PARTS.replace(
            'name = "key", face = "-z", from = "a", at_mm = 10, diameter_mm = 6', "{others}{key} = {value}"
        ),
        HOLE,
    ),
    "solid": ("parts.toml", BOUGHT + "solid = [{{ {key} = {value} }}]\n", PRIMITIVE),
    "shaft": ("parts.toml", BOUGHT + "shaft = [{{ {key} = {value} }}]\n", SHAFT),
    "place": ("units/q.toml", '[place]\nq = {{ part = "plate", {key} = {value} }}\n', PLACE),
    "unit": ("units/q.toml", "[unit]\n{key} = {value}\n", UNIT),
    "step": ("steps.toml", '[[step]]\nid = "q"\nunit = "frame"\n{key} = {value}\n', STEP),
    "action": (
        "steps.toml",
        '[[step]]\nid = "q"\ntitle = "Q"\nunit = "frame"\nactions = [{{ {key} = {value} }}]\n',
        ACTION,
    ),
    "paper": ("papers/q.toml", 'title = "Q"\n{key} = {value}\n', PAPER_FILE),
    "paper's rows": (
        "papers/q.toml",
        'title = "Q"\nkind = "upgrade"\nedition = "1"\n'
        + "".join(f"[[{row}]]\n{{key}} = {{value}}\n" for row in PAPER_ROWS),
        PAPER_FILE["add"].inside or {},
    ),
    "ruling": ("rulings.toml", "[[ruling]]\n{key} = {value}\n", RULINGS_FILE["ruling"].inside or {}),
    **{
        recipe: (
            "units/frame.toml",
            GOOD["units/frame.toml"] + f'[joint.q]\nrecipe = "{recipe}"\n' + "{filled}{key} = {value}\n",
            fields,
        )
        for recipe, fields in RECIPES.items()
    },
}  # fmt: skip

MEMBER_HOLE = {"name": '"key"', "face": '"-z"', "from": '"a"', "at_mm": "10", "diameter_mm": "6"}
FILL = {
    "ends": '["beam:a"]', "screw": '"ISO 4762 M5"', "through": '["plate:m"]', "rail": '"rail"',
    "into": '"beam:a"', "blocks": '["carriage/block"]', "shaft": '"beam:x"', "onto": '"plate"',
    "belt": '"belt 2 mm pitch 6 mm wide"', "over": '[{ pulley = "beam", turn = "clockwise" }]',
    "wire": '"wire AWG 20"', "cores": "2", "from": '"beam"', "to": '"plate"', "ampere": "1",
    "volt": "24", "label": '"W1"', "role": '"fan"',
}  # fmt: skip


@st.composite
def one_key(draw: st.DrawFn) -> dict[str, bytes]:
    """The good folder with one key of the reference set to any value."""
    sort = draw(st.sampled_from(sorted(TABLES)))
    name, text, fields = TABLES[sort]
    key = draw(st.sampled_from(sorted({".".join(path) for path in dotted(fields)})))
    value = draw(st.sampled_from(NASTY) | values())
    head = key.partition(".")[0]
    filled = "".join(
        f"{other} = {FILL[other]}\n"
        for other, known in fields.items()
        if (known.required or draw(st.booleans())) and other != head and other in FILL
    )
    if "{filled}" not in text:
        filled = ""
    others = "".join(f"{name} = {put}, " for name, put in MEMBER_HOLE.items() if name != head)
    # Only these words are filled in: the good files have braces of their own.
    fill = {"{filled}": filled, "{others}": others, "{key}": key, "{value}": value, "{{": "{", "}}": "}"}
    for word, put in fill.items():
        text = text.replace(word, put)
    return {**good_bytes(), name: text.encode("utf-8", errors="replace")}


def values(depth: int = 0) -> st.SearchStrategy[str]:
    """Any value, written as TOML."""
    scalars = st.one_of(
        st.floats().map(repr),
        st.integers(-(10**6), 10**6).map(str),
        st.booleans().map(lambda flag: "true" if flag else "false"),
        st.sampled_from(
            ["beam", "beam:a", "plate:m", "rail", "+x", "-z", "ends", "frame/beam", "M3", "manual"]
        ).map(lambda word: f'"{word}"'),
    )
    if depth >= 2:
        return scalars
    return scalars | st.lists(values(depth + 1), max_size=4).map(lambda rows: "[" + ", ".join(rows) + "]")


@pytest.mark.slow
@examples(400)
@given(one_key())
def test_any_value_of_any_key_is_a_machine_or_problems_in_its_files(files: dict[str, bytes]) -> None:
    is_read_or_refused(files)


@pytest.mark.slow
@examples(60)
@given(st.lists(st.text(max_size=12), max_size=6), st.sampled_from(",;\t"))
def test_any_parts_list_is_a_machine_or_problems_in_its_files(cells: list[str], delimiter: str) -> None:
    text = f"part{delimiter}pieces\n" + delimiter.join(cells) + "\n"
    is_read_or_refused({**good_bytes(), "list.csv": text.encode("utf-8", errors="replace")})

"""A text that is no TOML is refused in the words of the bench: where, what was expected, what to do."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from command_line import Run, caller
from machine.folders import GOOD, good, problem_of
from trysquare.ground.errors import ReadingError, marked
from trysquare.intake.rulings import read_memory
from trysquare.machine.toml_slips import Slip, slip_in
from trysquare.stock.letters import read_letters

ANY_VALUE = "a text in quotes, a number, true or false, [ or {"
CURLY = "straight quotes, \" or '; these are curly ones, as word processors make them"
BACKSLASH = "a text without a lone backslash; between double quotes \\ begins a special sign"


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Calls the program as a terminal would."""
    return caller(capsys)


def slip(text: str) -> Slip:
    with pytest.raises(tomllib.TOMLDecodeError) as raised:
        tomllib.loads(text)
    return slip_in(text, str(raised.value))


SLIPS = (
    # text, line, column, expected, remedy
    ('kind = "plate\nsize = 3\n', 1, 8, 'a closing " on the same line', 'Write " where the text ends.'),
    ('kind = plate"\n', 1, 8, 'an opening "', 'Write "plate".'),
    ("kind = plate\n", 1, 8, ANY_VALUE, 'Write "plate" in quotes.'),
    ('kind "plate"\n', 1, 6, "= between key and value", 'Write kind = "plate".'),
    ('kind: "plate"\n', 1, 5, "= between key and value", 'Write kind = "plate".'),
    ("kind == 3\n", 1, 7, "one = between key and value", "Delete this one."),
    ("length_mm = 20,5\n", 1, 15, "a decimal point, not a comma", "Write 20.5."),
    ("length_mm = 20,\n", 1, 15, "nothing after the value", "Delete this sign."),
    ("length_mm = 20;\n", 1, 15, "nothing after the value", "Delete this sign."),
    ("size_mm = [1, 2\nkind = 3\n", 1, 11, "a closing ] for the [ that is opened here",
     "Write ] after its last value."),
    ("size_mm = [\n1, 2\n\n[part.x]\nkind = 3\n", 1, 11, "a closing ] for the [ that is opened here",
     "Write ] after its last value."),
    ("size_mm = [1, 2", 1, 11, "a closing ]", "Write ] after its last value."),
    ("hole = { at_mm = 3\nkind = 3\n", 1, 8, "a closing } on the same line",
     "Write the whole table between { and } on one line."),
    ("hole = { at_mm = 3, }\n", 1, 19, "no comma before }", "Delete this comma."),
    ("hole = { a = 1 b = 2 }\n", 1, 16, "a comma between two values",
     "Write , between this one and the one before."),
    ("size_mm = [1 2]\n", 1, 14, "a comma between two values",
     "Write , between this one and the one before."),
    ("size_mm = [1,, 2]\n", 1, 14, "a value before this sign",
     "Write the value that is missing, or delete the comma."),
    ("size_mm = [1, 2]]\n", 1, 17, "no closing bracket here; nothing is open",
     "Delete it, or write the one that opens it."),
    ('names = ["x, "y"]\n', 1, 15, "an even number of quotes on this line",
     'Look where a " is missing before this place.'),
    ("[part.x]\na = 1\nb = 2\na = 3\n", 4, 1, "a key of its own; 'a' stands already at line 2",
     "Keep one of the two, delete the other."),
    ("hole = { a = 1, a = 2 }\n", 1, 17, "each key once between the braces; 'a' stands there twice",
     "Keep one of the two."),
    ("[part.x]\na = 1\n[part.y]\n[part.x]\n", 4, 1, "a table of its own; 'part.x' stands already at line 1",
     "Put what belongs together under one heading, or give one of the two another id."),
    ("a = \u00a03\n", 1, 5,
     "no odd character; here stands U+00A0 (no-break space), which cannot be seen",
     "Delete it and type the place anew; it often comes along when text is copied."),
    ("a = 3 \t\x07\n", 1, 8,
     "no odd character; here stands U+0007 (a control character), which cannot be seen",
     "Delete it and type the place anew; it often comes along when text is copied."),
    ("kind = “plate”\n", 1, 8, CURLY,
     'Write "plate" with the quotes of the keyboard, in a plain text editor.'),
    ('shape = "C:\\Users\\me\\x.stl"\n', 1, 12, BACKSLASH,
     "Write 'C:\\Users\\me\\x.stl' in single quotes, or \"C:/Users/me/x.stl\" with / for \\."),
    ("kind =\n", 1, 7, "a value after kind =",
     "Write it after =, for example kind = 20, or delete the line."),
    ("kind = # later\n", 1, 8, "a value after kind =",
     "Write it after =, for example kind = 20, or delete the line."),
    ("pieces = 05\n", 1, 11, "a number without zeros before it", 'Write 5, or "05" as a text.'),
    ("printed = True\n", 1, 11, "true or false, in small letters and without quotes", "Write true."),
    ("printed = no\n", 1, 11, "true or false, in small letters and without quotes", "Write false."),
    ("length_mm = .5\n", 1, 13, "a digit before the point", "Write 0.5."),
    ("length_mm = 1.\n", 1, 14, "a digit after the point", "Write 1.0."),
    ("length_mm = 20 mm\n", 1, 16, "a number alone; the key's name says its unit",
     'Write 20, or "20 mm" if the key takes a text.'),
    ("length_mm = 1/2\n", 1, 14, "a decimal number, not a fraction", "Work it out: 1/2 as a decimal."),
    ("length_mm = 10 000\n", 1, 16, "a number without blanks", "Write all its digits together."),
    ("a = 1 b = 2\n", 1, 7, "one key to a line", "Begin a new line before it."),
    ("größe = 3\n", 1, 3, "a key of the letters a to z, digits, - and _",
     'Put the key in quotes: "größe", or use plain letters.'),
    ("my part = 3\n", 1, 4, "a key without blanks", "Write my-part = 3, or put the key in quotes."),
    ("[part.my plate]\n", 1, 10, "a heading without blanks or odd signs", "Write [part.my-plate]."),
    ("[part.plate\nkind = 3\n", 1, 12, "a closing ]", "Write [part.plate]."),
    ("[[step]\n", 1, 7, "a closing ]]", "Write [[step]]."),
    ("plate\n", 1, 1, "= and a value after 'plate'",
     "Write plate = and its value, or delete the line; a remark begins with #."),
    ("// a remark\n", 1, 1, "a remark that begins with #", "Write # a remark"),
    ("title = \"The 3\" plate\"\n", 1, 17, 'nothing after the text that ends with "',
     "Is \" part of the text? Then put all of it between ' and '."),
    ("at = [150, 39, 20 }\n", 1, 19, "a closing ] before }", "Write ] after the last value here."),
    ("a = { b = [1, 2 }\n", 1, 17, "a closing ] before }", "Write ] after the last value here."),
    ("at = [150; 39; 20]\n", 1, 10, "a comma, not ;", "Write , in place of it."),
    ("at = [0, 10, 1O]\n", 1, 15, "a digit, not a letter", "Type 0 or 1 in place of the letter O."),
    ("a = { b = 030 }\n", 1, 11, "a number without zeros before it", 'Write 30, or "030" as a text.'),
    ("[[step]]\na = 1\n[step]\n", 3, 1, "[[step]], as the ones before it",
     "Write [[step]] in double brackets."),
    ('note = """\nabc\n', 1, 8, 'a closing """; the text that begins here never ends',
     'Write """ at its end.'),
)  # fmt: skip


@pytest.mark.parametrize(("text", "line", "column", "expected", "remedy"), SLIPS, ids=[s[0] for s in SLIPS])
def test_a_slip_of_the_pen_is_named_at_its_place_with_what_to_write(
    text: str, line: int, column: int, expected: str, remedy: str
) -> None:
    found = slip(text)
    assert (found.line, found.column, found.expected, found.remedy) == (line, column, expected, remedy)
    assert found.row == text.split("\n")[line - 1]


def test_windows_line_ends_do_not_move_the_place_of_a_slip() -> None:
    found = slip("a = 1\r\nkind = plate\r\n")
    assert (found.line, found.column, found.row) == (2, 8, "kind = plate")


@given(st.text(alphabet="ab=[]{}\",.\n\\ 01#'", max_size=60))
def test_whatever_is_refused_gets_a_place_inside_the_text_and_words_without_the_readers(text: str) -> None:
    message = ""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
    assume(message)
    found = slip_in(text, message)
    assert text.split("\n")[found.line - 1] == found.row
    assert 1 <= found.column <= len(found.row) + 1
    assert found.expected
    assert found.remedy
    assert message.partition(" (at")[0] not in found.expected


def test_the_command_line_shows_the_line_with_a_mark_under_the_place(run: Run, tmp_path: Path) -> None:
    text = GOOD["parts.toml"].replace('kind = "plate"', "\tkind = plate # bare")
    answer = run("check", good(tmp_path, {"parts.toml": text}))
    lines = answer.err.splitlines()
    at = next(index for index, line in enumerate(lines) if "# bare" in line)
    assert lines[at + 1].index("^") == lines[at].index("plate")
    assert lines[at - 1].startswith("parts.toml:")
    assert 'Write "plate" in quotes.' in answer.err


def test_the_column_stands_in_json(run: Run, tmp_path: Path) -> None:
    text = GOOD["parts.toml"].replace('kind = "plate"', "kind = plate")
    (problem,) = run("check", good(tmp_path, {"parts.toml": text}), "--json").json["problems"]
    assert (problem["column"], problem["read"]) == (8, "kind = plate")


def test_of_a_long_line_only_what_stands_around_the_mark_is_shown() -> None:
    row, mark = marked("x" * 300 + "!" + "y" * 300, 301, 40)
    assert row[mark.index("^")] == "!"
    assert len(row) <= 42


def test_a_good_folder_has_no_slip_and_a_problem_keeps_its_key(tmp_path: Path) -> None:
    text = GOOD["parts.toml"].replace('kind = "plate"', 'kind = "plate')
    problem = problem_of(good(tmp_path, {"parts.toml": text}))
    assert (problem.where.key, problem.where.column, problem.row) == ("kind", 8, 'kind = "plate')


@pytest.mark.parametrize("name", ["letters.toml", "imports.toml"])
def test_files_that_the_program_keeps_itself_are_refused_in_the_same_words(tmp_path: Path, name: str) -> None:
    text = "[letter.A\nparts = 3\n"
    problems: list[ReadingError] = []
    if name == "letters.toml":
        (tmp_path / name).write_text(text)
        read_letters(tmp_path, problems)
    else:
        with pytest.raises(ReadingError) as raised:
            read_memory(text)
        problems.append(raised.value)
    (problem,) = problems
    assert (problem.where.file, problem.where.line, problem.where.column) == (name, 1, 10)
    assert (problem.expected, problem.remedy) == ("a closing ]", "Write [letter.A].")

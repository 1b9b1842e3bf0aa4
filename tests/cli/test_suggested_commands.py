"""A command that a text suggests can be copied as it stands: what is put into it is quoted."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from trysquare.cli.main import trysquare

SOURCES = Path(__file__).resolve().parents[2] / "src" / "trysquare"
COMMANDS = "|".join(trysquare.list_commands(None))  # type: ignore[arg-type]
BEGINS = re.compile(rf"trysquare (?:{COMMANDS})\b(?P<rest>[^`]*)$")
ENDS = re.compile(r" (?:says|tells|remembers|has|compares|finds|writes)\b|[.;:)`] |\n")
QUOTING = ("quoted", "quote")
# What needs no quotes: the code of a finding, and a folder that its maker has quoted.
PLAIN = ("facts['findings'][0]['code']", "case.frame")


def unquoted_values() -> Iterator[str]:
    """Each value put into a suggested command without quotes: file, line and what it is."""
    for path in sorted(SOURCES.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        safe = names_of_quoted(tree)
        for text in ast.walk(tree):
            if isinstance(text, ast.JoinedStr):
                for value in values_in_commands(text):
                    if not is_quoted(value, safe):
                        where = path.relative_to(SOURCES).as_posix()
                        yield f"{where}:{value.lineno} {ast.unparse(value)}"


def values_in_commands(text: ast.JoinedStr) -> Iterator[ast.expr]:
    inside = False
    for piece in text.values:
        if isinstance(piece, ast.FormattedValue):
            if inside:
                yield piece.value
        elif isinstance(piece, ast.Constant):
            said = str(piece.value)
            begun = BEGINS.search(said)
            inside = ENDS.search(begun["rest"]) is None if begun else inside and ENDS.search(said) is None


def names_of_quoted(tree: ast.Module) -> set[str]:
    """Names that are set from what quotes, alone or side by side with others."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign):
            target, value = node.targets[0], node.value
            pairs = (
                zip(target.elts, value.elts, strict=False)  # one may be a star
                if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple)
                else [(target, value)]
            )
            names |= {ast.unparse(one) for one, other in pairs if calls_quoting(other)}
    return names


def calls_quoting(value: ast.expr) -> bool:
    return isinstance(value, ast.Call) and ast.unparse(value.func).rpartition(".")[2] in QUOTING


def is_quoted(value: ast.expr, safe: set[str]) -> bool:
    """Whether a value is quoted, is one of the module's own constants, or needs no quotes."""
    said = ast.unparse(value)
    return calls_quoting(value) or said in safe or said in PLAIN or (said.isupper() and said.startswith("_"))


def test_every_path_and_name_in_a_suggested_command_is_quoted() -> None:
    assert list(unquoted_values()) == []


def test_no_suggested_command_puts_quotes_of_its_own_round_a_value() -> None:
    found = [
        f"{path.relative_to(SOURCES).as_posix()}: {line.strip()}"
        for path in sorted(SOURCES.rglob("*.py"))
        for line in path.read_text("utf-8").splitlines()
        if re.search(rf"""trysquare (?:{COMMANDS})\b[^`]*["'][{{][^}}]+[}}]["'](?! for)""", line)
        and "…" not in line
    ]
    assert found == []


def test_every_path_in_a_suggested_command_of_a_page_is_quoted() -> None:
    found = [
        f"{path.name}: {value}"
        for path in sorted((SOURCES / "bench" / "templates").glob("*.html"))
        for command in re.findall(rf"<code>trysquare (?:{COMMANDS})\b(.*?)</code>", path.read_text("utf-8"))
        for value in re.findall(r"\{\{(.*?)\}\}", command)
        if "|quoted" not in value
    ]
    assert found == []


def test_the_guard_sees_a_bare_value_and_lets_a_quoted_one_pass() -> None:
    bare = ast.parse('f"Look: trysquare check {folder} --all"')
    text = next(node for node in ast.walk(bare) if isinstance(node, ast.JoinedStr))
    (value,) = values_in_commands(text)
    assert not is_quoted(value, set())
    assert is_quoted(value, {"folder"})

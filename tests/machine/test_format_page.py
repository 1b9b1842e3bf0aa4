"""docs/format.md is held to the reader: every key is in its table, every example is read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from machine.folders import read_well, write
from trysquare.machine import fields
from trysquare.machine.fields import RECIPES
from trysquare.machine.reference import COMMON, SECTIONS, marked_sections, with_tables
from trysquare.machine.schema import Field
from trysquare.machine.steps import JOINT_VERBS
from trysquare.machine.values import VERBS

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "format.md"
TEXT = PAGE.read_text(encoding="utf-8")
_PIECE = re.compile(r"<!-- machine: (\w+) -->|```(?:toml|csv) (\S+)\n(.*?)```", re.DOTALL)


def folders() -> dict[str, dict[str, str]]:
    """The machines that the page's examples make: name -> file -> text."""
    found: dict[str, dict[str, str]] = {}
    files: dict[str, str] = {}
    for piece in _PIECE.finditer(TEXT):
        if piece.group(1):
            files = found.setdefault(piece.group(1), {})
        else:
            assert piece.group(2) not in files, f"{piece.group(2)} twice"
            files[piece.group(2)] = piece.group(3)
    return found


def test_the_tables_of_the_page_are_current() -> None:
    assert with_tables(TEXT) == TEXT, "Run: python tools/format_tables.py"


def test_every_table_of_keys_stands_on_the_page_once() -> None:
    assert sorted(marked_sections(TEXT)) == sorted(SECTIONS)


def all_fields() -> list[tuple[str, Field]]:
    """Every key of fields.py, those inside others included."""
    tables = [value for value in vars(fields).values() if isinstance(value, dict)]
    found: list[tuple[str, Field]] = []
    while tables:
        for key, value in tables.pop().items():
            if isinstance(value, Field):
                found.append((key, value))
                tables += [dict(value.inside)] if value.inside else []
            elif isinstance(value, dict):
                tables.append(value)
    return found


def test_every_key_that_the_reader_knows_is_in_some_table() -> None:
    shown = {(key, id(known)) for table in SECTIONS.values() for key, known in table.items()}
    missing = [key for key, known in all_fields() if (key, id(known)) not in shown]
    assert missing == []


def test_the_keys_of_each_recipe_are_in_its_own_table_or_in_the_common_one() -> None:
    for recipe, known in RECIPES.items():
        assert set(known) == {*SECTIONS[recipe], *COMMON}
        assert f"#### {recipe}" in TEXT


def test_each_table_shows_each_of_its_keys() -> None:
    for name, table in SECTIONS.items():
        shown = TEXT.split(f"<!-- keys: {name} -->")[1].split("<!-- end -->")[0]
        assert re.findall(r"^\| `([^`]+)`", shown, re.MULTILINE) == list(table), name


def test_every_verb_is_explained() -> None:
    rows = [
        row
        for row in TEXT.split("## Actions and their verbs")[1].split("<!-- keys")[0].splitlines()
        if row.startswith("| `")
    ]
    shown = {
        word: cells
        for cells in (row.split("|") for row in rows)
        for word in re.findall(r"`([a-z-]+)`", cells[1])
    }
    explained = {verb for verb in VERBS if verb in shown}
    assert explained == set(VERBS)
    joint_verbs = {verb for verb, cells in shown.items() if verb in VERBS and cells[2].strip() == "joints"}
    assert joint_verbs == set(JOINT_VERBS)


def test_every_block_of_the_page_names_its_file() -> None:
    fences = re.findall(r"^```(\w+)(.*)$", TEXT, re.MULTILINE)
    assert not [kind for kind, name in fences if kind in ("toml", "csv") and not name.strip()]
    assert {kind for kind, _ in fences} == {"toml", "csv", "text"}


@pytest.mark.parametrize("name", sorted(folders()))
def test_the_examples_of_the_page_are_read_without_a_problem_and_without_a_finding(
    tmp_path: Path, name: str
) -> None:
    machine = read_well(write(tmp_path, folders()[name]))
    assert [finding.says for finding in machine.findings] == []


def test_the_frame_of_the_page_is_twelve_members_and_two_rails_on_sixty_lines(tmp_path: Path) -> None:
    files = folders()["frame"]
    machine = read_well(write(tmp_path, files))
    members = [part for part in machine.placed if part.type.profile is not None]
    rails = [part for part in machine.placed if part.type.id == "rail 9x200"]
    assert (len(members), len(rails), len(machine.fastening)) == (12, 2, 16 + 20)
    assert all(screw.access_hole_mm == 6 for screw in machine.fastening.values() if screw.needs_access_hole)
    assert sum(text.count("\n") for text in files.values()) <= 60


def test_every_recipe_has_an_example_on_the_page(tmp_path: Path) -> None:
    machine = read_well(write(tmp_path, folders()["keys"]))
    assert {joint.recipe for joint in machine.joints} == set(RECIPES)
    screwless = {joint.recipe for joint in machine.joints if not joint.fastenings}
    assert screwless == {"belt-path", "cable-run"}


def test_the_upgrade_of_the_page_does_what_the_page_says(tmp_path: Path) -> None:
    machine = read_well(write(tmp_path, folders()["keys"]))
    assert [step.id for step in machine.steps] == ["table", "damper"]
    assert machine.aliases["carrier plate"] == machine.aliases["plate A"] == "plate"
    assert {one.screw_type.length_mm for one in machine.joint["plated/plate"].fastenings} == {10}


def test_a_key_that_takes_several_of_its_words_is_shown_with_a_list() -> None:
    row = next(line for line in TEXT.splitlines() if line.startswith("| `tapped` |"))
    assert '`a`, `b`, or a list of both: `["a", "b"]`' in row
    row = next(line for line in TEXT.splitlines() if line.startswith("| `means` |"))
    assert "a list of" not in row

"""Readings as people write them down: what is understood, and what is asked back."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.tables import read_tables
from trysquare.truing.reading_files import COLUMNS, read_readings
from trysquare.truing.readings import SORTS, latest
from trysquare.truing.report import report

HEAD = "sort,from,to,value_mm,instrument,turned,step\n"


def problems(larch: Machine, tmp_path: Path, text: str) -> list[str]:
    file = tmp_path / "rows.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ReadingErrors) as errors:
        read_readings(larch, [file])
    return [str(problem) for problem in errors.value.problems]


def test_the_demo_s_readings_are_read_with_their_places(larch: Machine) -> None:
    found = read_readings(larch)
    assert len(found) == 11
    assert found[0].first == "base/left-base:a-y"
    assert (found[0].value, found[0].instrument, found[0].round) == (537.9, "pinch-rod", 1)
    assert str(found[0].where) == "readings/base.csv:2"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("diagonal,bak-base:a,left-base:b,500,tape,,", "Did you mean 'back-base'?"),
        ("gap,left-base:-y,left-base:a,0.1,square,,", "read the corner of two parts"),
        ("diagnal,back-base:a,left-base:b,500,tape,,", "Did you mean 'diagonal'?"),
        ("diagonal,back-base:a,,500,tape,,", "the second feature of a diagonal"),
        ("length,left-base,,38 cm,tape,,", "Turn cm into mm and write the figures alone."),
        ("length,left-base,,about 380,tape,,", "a number, in mm"),
        ("length,left-base,,,tape,,", "a number, in mm"),
        ("length,left-base,,1e999,tape,,", "a number, in mm"),
        ("length,left-base,,380,,,", "an instrument of machine.toml, or half_width_mm"),
        ("length,left-base,,380,tapes,,", "Did you mean 'tape'?"),
        ("gap,front-base:+y,left-base:-y,0.1,caliper,,", "an instrument that reads a gap"),
        ("gap,front-base:+y,left-base:-y,0.1,square,perhaps,", "yes or no"),
        ("length,left-base,,380,tape,,base-truth", "Did you mean 'base-true'?"),
        ("rock,front-base:a-z,front-base:b-z,0.1,feeler,,", "three corners with blanks between"),
        ("direct,base-squre,,0.1,,,", "Did you mean 'base-square'?"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_used_is_answered(larch: Machine, tmp_path: Path, row: str, words: str) -> None:
    found = problems(larch, tmp_path, f"{HEAD}{row}\n")
    assert found[0].startswith("rows.csv:2")
    assert any(words in one for one in found)


def test_all_problems_of_a_file_are_told_at_once(larch: Machine, tmp_path: Path) -> None:
    rows = "length,left-bas,,380,tape,,\nlength,left-base,,x,tape,,\n"
    assert len(problems(larch, tmp_path, HEAD + rows)) == 2


def test_a_file_without_its_headings_is_told(larch: Machine, tmp_path: Path) -> None:
    (found,) = problems(larch, tmp_path, "length,left-base,380\n")
    assert "sort is missing" in found


def test_semicolons_and_decimal_commas_are_understood(larch: Machine, tmp_path: Path) -> None:
    file = tmp_path / "rows.csv"
    file.write_text("sort;from;value;instrument\nlength;left-base;380,25;tape\n", encoding="cp1252")
    (reading,) = read_readings(larch, [file])
    assert reading.value == 380.25


def test_an_uncertainty_of_its_own_stands_for_an_instrument(larch: Machine, tmp_path: Path) -> None:
    file = tmp_path / "rows.csv"
    file.write_text("sort,from,value,half_width_mm\nlength,left-base,380.1,0.2\n", encoding="utf-8")
    (reading,) = read_readings(larch, [file])
    assert (reading.instrument, reading.half_width_mm) == ("", 0.2)


def test_no_light_under_a_square_is_a_gap_of_nothing(larch: Machine, tmp_path: Path) -> None:
    file = tmp_path / "rows.csv"
    row = "gap,front-base:+y,left-base:-y,no light,square,yes,base-true\n"
    file.write_text(HEAD + row, encoding="utf-8")
    (reading,) = read_readings(larch, [file])
    assert (reading.value, reading.turned, reading.step) == (0.0, True, "base-true")


def test_readings_before_a_correction_are_kept_and_lengths_stay_true(larch: Machine, tmp_path: Path) -> None:
    file = tmp_path / "rows.csv"
    file.write_text(
        "sort,from,to,value,instrument,round\n"
        "length,left-base,,380.1,tape,1\n"
        "diagonal,left-base:a-y,right-base:b+y,537.9,tape,1\n"
        "diagonal,left-base:a-y,right-base:b+y,537.4,tape,2\n",
        encoding="utf-8",
    )
    found = read_readings(larch, [file])
    assert len(found) == 3
    assert [(one.sort, one.value) for one in latest(found)] == [("length", 380.1), ("diagonal", 537.4)]


def test_the_format_page_s_example_is_read_and_its_square_s_error_told(tmp_path: Path) -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "format.md").read_text(encoding="utf-8")
    for name, text in re.findall(
        r"```(?:toml|csv) (\S+)\n(.*?)```", page.split("<!-- machine: keys -->")[1], re.DOTALL
    ):
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    machine = load_machine(tmp_path)
    found = report(machine, read_readings(machine))
    square = next(one for one in found.characteristics if one.characteristic.id == "upright-square")
    assert square.worst is not None
    assert square.worst.judged.value == pytest.approx(0.07 / 150 * 100, abs=0.01)
    assert found.own_errors["square"][0] > 0


def test_the_page_names_every_sort_and_column() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "format.md").read_text(encoding="utf-8")
    section = page.split("<!-- truing: begin -->")[1].split("<!-- truing: end -->")[0]
    assert re.findall(r"^\| `([a-z]+)`", section, re.MULTILINE) == list(SORTS)
    for names in COLUMNS.values():
        assert f"`{names[0]}`" in section


def test_lines_that_begin_with_a_hash_are_remarks_and_the_others_keep_their_numbers(
    larch: Machine, tmp_path: Path
) -> None:
    file = tmp_path / "rows.csv"
    row = "length,left-base,,380,tape,,\n"
    file.write_text(
        f"# read in the evening; warm, 24 C\n{HEAD}  # first corner\n{row}# again\n{row}", "utf-8"
    )
    assert [str(one.where) for one in read_readings(larch, [file])] == ["rows.csv:4", "rows.csv:6"]


def test_the_heading_of_a_packing_list_may_be_a_hash(tmp_path: Path) -> None:
    file = tmp_path / "box.csv"
    file.write_text("#,part,pieces\n1,foot,4\n", "utf-8")
    (table,) = read_tables(tmp_path, file, [])
    assert [row.cells for row in table.rows] == [("#", "part", "pieces"), ("1", "foot", "4")]

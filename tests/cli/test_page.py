"""Text for people: never wider than asked, never coloured in a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run
from small_frame import write_frame
from trysquare.cli.page import fitted_widths

WAYS: tuple[tuple[str, ...], ...] = (
    ("check", "FOLDER"),
    ("check", "FOLDER", "--all"),
    ("need", "FOLDER"),
    ("need", "FOLDER", "--steps"),
    ("need", "FOLDER", "--why", "ISO 4762 M3x6"),
    ("show", "FOLDER"),
    ("show", "FOLDER", "frame/rail"),
    ("show", "FOLDER", "frame/beam"),
    ("show", "FOLDER", "step.frame"),
    ("show", "FOLDER", "drive/belt"),
    ("show", "FOLDER", "drive/cable"),
    ("show", "FOLDER", "part.post"),
    ("show", "FOLDER", "manual"),
    ("why", "gap-in-stack"),
    ("--help",),
    ("check", "--help"),
    ("need", "--help"),
    ("show", "--help"),
    ("why", "--help"),
)


@pytest.fixture
def long_names(tmp_path: Path) -> Path:
    """A folder whose list is short of everything, under a path longer than any line."""
    return write_frame(tmp_path / ("long-" * 20) / "größe [3]", list_csv="part,pieces\npost,1\n")


@pytest.mark.slow
@pytest.mark.parametrize("way", WAYS, ids=" ".join)
@pytest.mark.parametrize("columns", [60, 80, 133])
def test_no_line_is_wider_than_asked(
    long_names: Path, run: Run, monkeypatch: pytest.MonkeyPatch, way: tuple[str, ...], columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    answer = run(*(str(long_names) if word == "FOLDER" else word for word in way))
    assert answer.out
    widest = max(answer.out.splitlines(), key=len)
    assert len(widest) <= columns, widest


@pytest.mark.parametrize("columns", [60, 80])
def test_problems_are_no_wider_than_asked_either(
    long_names: Path, run: Run, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    (long_names / "parts.toml").write_text('[part.a]\nkind = "none of these"\n', encoding="utf-8")
    for words in (
        ("check", long_names),
        ("check", "x" * 200),
        ("why", "y" * 200),
        ("z" * 200,),
        ("check", "--zz"),
    ):
        answer = run(*words)
        assert answer.status == 2
        assert max(len(line) for line in answer.err.splitlines()) <= columns


def test_into_a_file_lines_are_a_hundred_wide_without_colours(long_names: Path, run: Run) -> None:
    out = run("check", long_names, "--all").out
    assert 80 < max(len(line) for line in out.splitlines()) <= 100
    assert "\x1b" not in out
    assert all(line == line.rstrip() for line in out.splitlines())


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["", "0", "-5", "x", "3", "²", "99999999999"])
def test_a_nonsense_width_is_no_obstacle(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert run("need", folder).status == 0


@pytest.mark.slow
@pytest.mark.parametrize("way", [way for way in WAYS if "FOLDER" in way], ids=" ".join)
def test_wherever_there_is_text_there_is_json(long_names: Path, run: Run, way: tuple[str, ...]) -> None:
    answer = run(*(str(long_names) if word == "FOLDER" else word for word in way), "--json")
    assert isinstance(answer.json, dict)


def test_a_table_that_is_too_wide_keeps_its_figures_whole_and_every_column() -> None:
    columns, right = ("rule", "gain %/K", "over K, worse"), frozenset({1, 2})
    assert fitted_widths(columns, (24, 5, 4), right, room=60) == [None] * 3
    assert fitted_widths(columns, (24, 5, 4), right, room=27) == [17, 5, 5]
    assert fitted_widths(columns, (24, 5, 4), right, room=14) == [5, 5, 4]
    assert fitted_widths(columns, (24, 5, 4), right, room=6) == [2, 2, 2]

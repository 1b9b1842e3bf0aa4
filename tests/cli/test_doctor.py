"""`trysquare doctor`: what is there, what is missing, what to do about it."""

from __future__ import annotations

import importlib.metadata
import re
import sys
import webbrowser
from pathlib import Path
from typing import Any

import pytest

from command_line import DEMO, Run
from trysquare.cli import doctor
from trysquare.cli.doctor import missing_words

pytestmark = pytest.mark.slow


@pytest.mark.slow
def test_a_computer_that_runs_the_tests_lacks_nothing(folder: Path, run: Run) -> None:
    answer = run("doctor", folder)
    assert answer.status == 0, answer.out
    assert "Nothing is missing." in answer.out


@pytest.mark.slow
def test_every_package_of_the_program_is_looked_at(folder: Path, run: Run) -> None:
    looked_at = {row["what"] for row in run("doctor", folder, "--json").json["looked_at"]}
    assert {"numpy", "ortools", "typst", "starlette", "cadquery-ocp-novtk", "SQLite", "disk"} <= looked_at


@pytest.mark.slow
def test_a_missing_package_is_told_with_its_remedy(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = importlib.metadata.version

    def version(name: str) -> str:
        if name == "typst":
            raise importlib.metadata.PackageNotFoundError(name)
        return known(name)

    monkeypatch.setattr(importlib.metadata, "version", version)
    answer = run("doctor", folder)
    assert answer.status == 1
    assert "typst: not installed" in answer.out
    assert "pip install" in " ".join(answer.out.split())  # a long path breaks the line
    assert "PDF" in answer.out


def test_a_package_that_cannot_be_loaded_is_told(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = importlib.import_module

    def load(name: str, *more: Any) -> Any:
        if name == "soundfile":
            raise OSError("libsndfile is not there")
        return known(name, *more)

    monkeypatch.setattr("trysquare.cli.doctor.importlib.import_module", load)
    facts = run("doctor", folder, "--json")
    assert facts.status == 1
    row = next(row for row in facts.json["looked_at"] if row["what"] == "soundfile")
    assert row["weight"] == "doubt"
    assert "libsndfile is not there" in row["found"]


def test_every_package_of_the_program_says_what_it_is_for() -> None:
    names = {re.split(r"[^A-Za-z0-9._-]", need, maxsplit=1)[0] for need in doctor.needs()}
    assert names == set(doctor.SERVES)


def test_the_font_is_told_by_what_it_is_for_and_what_goes_without_it(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trysquare.cli.doctor.font_folder", lambda: None)
    told = " ".join(run("doctor", folder).out.split())
    assert "fontpkg-source-sans-3: installed, and its files are not there" in told
    assert "for the sans letters of our PDFs" in told
    assert "without books and labels are set in a serif" in told
    assert "pip install --force-reinstall fontpkg-source-sans-3" in told


def test_without_a_browser_it_says_where_the_bench_is_opened_and_calls_nothing_missing(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> object:
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr("trysquare.cli.doctor.webbrowser.get", none)
    answer = run("doctor", folder)
    assert answer.status == 0
    assert "open it from another device, with --lan" in " ".join(answer.out.split())


def test_a_folder_that_is_not_there_is_told(tmp_path: Path, run: Run) -> None:
    answer = run("doctor", tmp_path / "nowhere")
    assert answer.status == 1
    assert "is no folder" in " ".join(answer.out.split())


@pytest.mark.parametrize(
    ("module", "call", "says"),
    [
        ("segno", ("labels", "demo/reed", "--out", "labels.pdf"), "The package segno (QR codes on labels"),
        ("ortools", ("order", "demo/reed-joints"), "The package ortools (orders, substitutes, cuts)"),
        ("soundfile", ("tune", "belt", "x.wav", "--length-mm", "300", "--mass", "8"), "soundfile"),
    ],
)
def test_a_command_whose_package_is_missing_names_it_and_points_to_the_doctor(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, module: str, call: tuple[str, ...], says: str
) -> None:
    (tmp_path / "demo").symlink_to(DEMO)
    (tmp_path / "x.wav").write_bytes(b"RIFF")
    monkeypatch.chdir(tmp_path)
    for name in [name for name in sys.modules if name.partition(".")[0] == module]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, module, None)
    answer = run(*call)
    told = " ".join(answer.err.split())
    assert answer.status == 2
    assert says in told
    assert "trysquare doctor says what this computer lacks" in told
    assert "Traceback" not in told


def test_a_package_that_is_there_and_cannot_be_loaded_is_told_as_such() -> None:
    told = missing_words(ImportError("libGL.so.1: cannot open", name="OCP.gp"))
    assert told.startswith("The package cadquery-ocp-novtk (CAD files (STEP)) cannot be loaded.")
    assert missing_words(ImportError("odd")).startswith("A package cannot be loaded.")

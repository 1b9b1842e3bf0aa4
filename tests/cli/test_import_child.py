"""A CAD file is read by a child: what happens to the child is told, and the parent goes on."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import trimesh

from intake.plain_step import step_text
from trysquare.cli import import_child
from trysquare.cli.import_child import Limits, limits_for, read_in_child
from trysquare.cli.main import main
from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Placement
from trysquare.intake.limits import MEGABYTE
from trysquare.intake.step_scan import first_missing

SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
PLENTY = Limits(memory_mb=8000, seconds=120)


@pytest.fixture
def block(tmp_path: Path) -> Path:
    path = tmp_path / "block.stl"
    trimesh.creation.box([10, 20, 30]).export(path)
    return path


def with_child(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, program: str) -> None:
    """Puts another program in the child's place."""
    stand_in = tmp_path / "stand_in.py"
    stand_in.write_text(f"import os, sys, time, signal\n{program}\n")
    real = import_child.subprocess.Popen

    def begin(command: list[str], **named: object) -> object:
        return real([sys.executable, str(stand_in), *command[3:]], **named)  # type: ignore[call-overload]

    monkeypatch.setattr(import_child.subprocess, "Popen", begin)


def test_an_assembly_comes_back_whole_and_what_is_done_is_told(block: Path) -> None:
    said: list[str] = []
    assembly = read_in_child(block, PLENTY, said.append)
    assert assembly.shapes[0].volume_mm3 == pytest.approx(6000)
    assert assembly.shapes[0].size_mm == pytest.approx([10, 20, 30])
    assert said == ["reading", "handing over"]


def test_what_the_reader_says_of_a_bad_file_comes_through(tmp_path: Path) -> None:
    path = tmp_path / "short.step"
    path.write_text("ISO-10303-21;\nHEADER;\n" + " " * 100)
    with pytest.raises(ReadingError) as caught:
        read_in_child(path, PLENTY)
    assert caught.value.where.file == "short.step"
    assert "cut short" in caught.value.remedy


def test_a_crash_of_the_kernel_is_told(block: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with_child(monkeypatch, tmp_path, "os.kill(os.getpid(), signal.SIGSEGV)")
    with pytest.raises(ReadingError, match="SIGSEGV") as caught:
        read_in_child(block, PLENTY)
    assert "another CAD program" in caught.value.remedy


def test_a_line_that_is_missing_is_told_with_where_it_is_named(tmp_path: Path) -> None:
    path = tmp_path / "holed.step"
    lines = step_text([(SQUARE, [], 5.0, Placement())]).splitlines()
    gone = next(number for number, line in enumerate(lines) if "ADVANCED_BREP_SHAPE" in line)
    name = lines.pop(gone).split("=")[0]
    path.write_text("\n".join(lines))
    missing = first_missing(path)
    assert missing is not None
    assert f"#{missing.number}" == name
    assert name in lines[missing.line - 1]
    assert missing.count == 1


def test_names_in_quotes_are_no_references(tmp_path: Path) -> None:
    path = tmp_path / "quoted.step"
    path.write_text(step_text([(SQUARE, [], 5.0, Placement())]).replace("'x'", "'belt #999 of 3'"))
    assert first_missing(path) is None


def test_a_crash_on_a_file_with_a_missing_line_names_that_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "holed.step"
    text = step_text([(SQUARE, [], 5.0, Placement())])
    path.write_text("\n".join(line for line in text.splitlines() if "ADVANCED_BREP_SHAPE" not in line))
    with_child(monkeypatch, tmp_path, "os.kill(os.getpid(), signal.SIGSEGV)")
    with pytest.raises(ReadingError) as caught:
        read_in_child(path, PLENTY)
    assert caught.value.where.line > 10
    assert "which the file does not have" in str(caught.value.read)


def test_a_child_that_does_not_end_is_ended(
    block: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    with_child(monkeypatch, tmp_path, "time.sleep(600)")
    with pytest.raises(ReadingError, match="no end after"):
        read_in_child(block, Limits(memory_mb=8000, seconds=0.5))


def test_too_much_memory_is_told_with_the_limit(
    block: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    program = (
        "from pathlib import Path\nfrom trysquare.cli import import_child\n"
        "import trysquare.intake.cad_file as cad_file\n"
        "cad_file.read_cad = lambda *given: bytearray(4 * 10**9)\n"
        "import_child.main(sys.argv[1:])"
    )
    with_child(monkeypatch, tmp_path, program)
    with pytest.raises(ReadingError, match="2 GB of memory"):
        read_in_child(block, Limits(memory_mb=2000, seconds=60))


def test_a_file_that_is_no_cad_file_needs_no_child(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(import_child.subprocess, "Popen", lambda *_g, **_n: pytest.fail("a child began"))
    path = tmp_path / "notes.txt"
    path.write_text("M3x8: 40 pieces")
    with pytest.raises(ReadingError, match="M3x8"):
        read_in_child(path)


def test_limits_grow_with_the_file() -> None:
    small, large = limits_for(MEGABYTE), limits_for(100 * MEGABYTE)
    assert large.memory_mb - small.memory_mb == pytest.approx(99 * import_child.MEMORY_TIMES_FILE)
    assert large.seconds > small.seconds


def test_a_kernel_that_cannot_be_loaded_is_no_crash_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    fake = tmp_path / "fake" / "OCP"
    fake.mkdir(parents=True)
    (fake / "__init__.py").write_text('raise ImportError("no kernel here", name="OCP")\n')
    (tmp_path / "a.step").write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n")
    monkeypatch.syspath_prepend(str(fake.parent))
    assert main(["import", str(tmp_path / "a.step"), str(tmp_path / "machine")]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "The package cadquery-ocp-novtk (CAD files (STEP)) cannot be loaded." in told
    assert "trysquare doctor says" in told
    assert "crashed" not in told

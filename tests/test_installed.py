"""The built wheel in a bare environment: installed as `pipx` or `uv tool` do it, and used from elsewhere."""

from __future__ import annotations

import shutil
import site
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program in an environment of its own. What it needs is lent by the tests' environment: the network
    is asked for nothing; the wheel's own metadata still names all of it."""
    home = tmp_path_factory.mktemp("installed")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(home)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = home.glob("*.whl")
    place = home / "env"
    venv.create(place, with_pip=True)
    python = place / "bin" / "python"
    subprocess.run(
        [str(python), "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", str(wheel)],
        check=True,
        capture_output=True,
    )
    (own,) = (place / "lib").glob("python*/site-packages")
    lent = [each for each in site.getsitepackages() if Path(each).is_dir()]
    (own / "lent.pth").write_text("\n".join(lent) + "\n", "utf-8")
    return place / "bin" / "trysquare"


def run(program: Path, *arguments: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(program), *map(str, arguments)],
        cwd=cwd,
        env={"PATH": "/usr/bin:/bin", "HOME": str(cwd), "COLUMNS": "100"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_it_begins_checks_and_needs_from_any_folder(installed: Path, tmp_path: Path) -> None:
    begun = run(installed, "new", "mine", "--no-questions", cwd=tmp_path)
    assert begun.returncode == 0, begun.stderr
    assert run(installed, "check", "mine", cwd=tmp_path).returncode == 0
    need = run(installed, "need", "mine", cwd=tmp_path)
    assert "ISO 7380-1 M5x12" in need.stdout


def test_tables_templates_and_pages_came_along(installed: Path, tmp_path: Path) -> None:
    shutil.copytree(
        ROOT / "demo" / "reed-joints", tmp_path / "reed", ignore=shutil.ignore_patterns(".trysquare*")
    )
    labels = run(installed, "labels", "reed", "--out", "labels.pdf", cwd=tmp_path)
    assert labels.returncode == 0, labels.stderr
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF-")
    drawn = run(installed, "draw", "reed", "feet", "--out", "feet.svg", cwd=tmp_path)
    assert drawn.returncode == 0, drawn.stderr
    where = run(
        installed.parent / "python", "-c", "import trysquare; print(trysquare.__file__)", cwd=tmp_path
    )
    package = Path(where.stdout.strip()).parent
    assert ROOT not in package.parents
    assert (package / "bench" / "static" / "dist" / "bench.js").is_file()
    assert (package / "bench" / "templates" / "step.html").is_file()


def test_the_doctor_of_an_installed_program_reads_its_own_metadata(installed: Path, tmp_path: Path) -> None:
    answer = run(installed, "doctor", "--json", cwd=tmp_path)
    assert '"what": "ortools"' in answer.stdout


def test_the_shell_completes_commands(installed: Path, tmp_path: Path) -> None:
    answer = subprocess.run(
        [str(installed)],
        cwd=tmp_path,
        env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "_TRYSQUARE_COMPLETE": "bash_source"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "_trysquare_completion" in answer.stdout
    words = subprocess.run(
        [str(installed)],
        cwd=tmp_path,
        env={"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "_TRYSQUARE_COMPLETE": "bash_complete",
             "COMP_WORDS": "trysquare tu", "COMP_CWORD": "1"},
        capture_output=True,
        text=True,
        check=False,
    )  # fmt: skip
    assert "tune" in words.stdout

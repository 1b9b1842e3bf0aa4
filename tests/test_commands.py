"""The commands that a newcomer types: each one the papers name exists, and set-up keeps its promises."""

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAPERS = [path for path in (ROOT / "README.md", ROOT / "CONTRIBUTING.md") if path.is_file()]
LOCKS = sorted(ROOT.glob("requirements*.lock"))
SET_UP = ROOT / "tools" / "set_up.py"


def targets() -> set[str]:
    """The names that `make` knows."""
    return set(re.findall(r"^([a-z][a-z-]*):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))


def commands_in(text: str) -> set[str]:
    """The make targets named in code blocks and in `code spans` of a paper."""
    return set(re.findall(r"(?:^|[`$ ])make ([a-z][a-z-]*)(?=[`\s]|$)", code_of(text), re.MULTILINE))


def code_of(text: str) -> str:
    """Only the parts of a paper that are set as code: in prose a builder may "make sure" of something."""
    return "\n".join(re.findall(r"```.*?```|`[^`\n]+`", text, re.DOTALL))


@pytest.mark.parametrize("paper", PAPERS, ids=lambda path: path.name)
def test_every_make_command_in_the_papers_exists(paper: Path) -> None:
    assert commands_in(paper.read_text("utf-8")) <= targets()


def test_a_make_command_in_prose_is_not_taken_for_one() -> None:
    paper = "First make sure. Then `make check`.\n\n```sh\n$ make demo\n```\n"
    assert commands_in(paper) == {"check", "demo"}


def test_every_locked_package_has_a_version_and_a_hash() -> None:
    for lock in LOCKS:
        entries = re.split(r"\n(?=\S)", lock.read_text("utf-8").strip())
        assert all("==" in each and "--hash=sha256:" in each for each in entries), lock.name


def test_what_the_program_runs_with_is_what_the_tests_run_with() -> None:
    runtime, dev = (
        set(re.findall(r"^(\S+==\S+)", (ROOT / name).read_text("utf-8"), re.MULTILINE))
        for name in ("requirements.lock", "requirements-dev.lock")
    )
    assert runtime <= dev


@pytest.mark.slow
@pytest.mark.parametrize("target", sorted(targets() - {"lock"}))
def test_make_can_read_every_target(target: str) -> None:
    dry = subprocess.run(
        ["make", "--dry-run", target],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env=plain_environment(),
    )
    assert dry.returncode == 0, dry.stderr


@pytest.mark.slow
def test_the_wheel_carries_every_file_of_the_package(tmp_path: Path) -> None:
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    packed = set(zipfile.ZipFile(wheel).namelist())
    package = ROOT / "src" / "trysquare"
    files = {
        path.relative_to(package.parent).as_posix()
        for path in package.rglob("*")
        if path.is_file() and path.suffix != ".pyc"
    }
    assert files <= packed


@pytest.mark.slow
def test_a_fresh_environment_is_left_alone_without_the_network() -> None:
    stamp = ROOT / ".venv" / ".set-up-test"
    if not stamp.is_file():
        pytest.skip("this environment was not made by make")
    before = stamp.stat().st_mtime_ns
    again = subprocess.run(
        ["make", "setup"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        # A proxy on a closed port: whoever asks the network fails at once.
        env=plain_environment() | {"https_proxy": "http://127.0.0.1:9", "PIP_NO_INDEX": "1"},
    )
    assert (again.returncode, again.stdout, again.stderr) == (0, "", "")
    assert stamp.stat().st_mtime_ns == before


@pytest.mark.slow
@pytest.mark.skipif(not (ROOT / "src/trysquare/cli/main.py").is_file(), reason="no commands yet")
def test_the_commands_page_says_what_the_program_says() -> None:
    checked = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "docs.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stderr


def plain_environment() -> dict[str, str]:
    """This environment without what an outer make hands down to an inner one."""
    handed_down = {"MAKEFLAGS", "MFLAGS", "MAKELEVEL"}
    return {name: value for name, value in os.environ.items() if name not in handed_down}


@pytest.mark.slow
def test_the_readme_s_picture_is_what_the_command_prints() -> None:
    finished = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "picture.py"), "--check"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert finished.returncode == 0, finished.stdout

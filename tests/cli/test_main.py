"""However the program is called, it ends with a known status and never with a traceback."""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from command_line import Run
from small_frame import write_frame
from trysquare import __version__
from trysquare.cli import docs
from trysquare.cli import main as main_module
from trysquare.cli.main import main, trysquare
from trysquare.cli.teaching import Taught

ROOT = Path(__file__).resolve().parent.parent.parent
COMMANDS = {name: trysquare.get_command(click.Context(trysquare), name) for name in trysquare.table}
EXAMPLES = [
    example
    for name, command in COMMANDS.items()
    if isinstance(command, Taught) and name != "bench"  # it serves until it is stopped: tests/bench starts it
    for example in command.examples
]
FROM_OTHER_COMMANDS = {"build/reed.step": ("export", "demo/reed-joints", "--step", "build/reed.step")}
"""Files that an example reads and another command of the help makes."""


def test_the_version_is_the_packages(run: Run) -> None:
    assert run("--version").out == f"trysquare {__version__}\n"


def test_an_unknown_command_is_answered_with_the_nearest(run: Run) -> None:
    answer = run("chek", "x")
    assert answer.status == 2
    assert answer.err == "There is no command 'chek'. Did you mean 'check'? See: trysquare --help\n"


@pytest.mark.parametrize(
    "arguments", [(), ("check",), ("check", "a", "b"), ("need", "x", "--nope"), ("--nope",)]
)
def test_a_wrong_call_ends_with_two_and_says_where_to_read_more(run: Run, arguments: tuple[str, ...]) -> None:
    answer = run(*arguments)
    assert answer.status == 2
    assert "Traceback" not in answer.err
    assert "--help" in answer.err + answer.out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_teaches_what_goes_in_two_examples_and_how_it_ends(run: Run, name: str) -> None:
    command = COMMANDS[name]
    assert isinstance(command, Taught)
    answer = run(name, "--help")
    assert answer.status == 0
    assert len(command.examples) >= 2
    for word in ("Input:", "Examples:", "Options:", "Exit status:", *command.examples):
        assert word in answer.out
    for option in command.params:
        if isinstance(option, click.Option) and not option.is_eager:
            assert "[default:" in (option.help or ""), option.name


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_runs_as_it_stands(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, example: str
) -> None:
    program, *arguments = shlex.split(example)
    folders = [word for word in arguments if word.startswith("demo/")]
    missing = [place for place in folders if not (ROOT / place).exists()]
    if missing:
        pytest.skip(f"DEMO MISSING: {', '.join(missing)}; this example of the help was not run")
    # What makes a folder makes it in an empty place, where it has not been made before.
    monkeypatch.chdir(tmp_path if arguments[0] == "new" else ROOT)
    for file, command in FROM_OTHER_COMMANDS.items():
        if file in arguments:
            run(*command)
    answer = run(*arguments, *(["--no-cache"] if arguments[0] in ("check", "need") else []))
    assert program == "trysquare"
    assert answer.status in (0, 1), answer.err
    assert answer.out


def test_the_derived_pages_are_current(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, write in docs.PAGES.items():
        page = ROOT / name
        assert page.is_file(), "run: make docs"
        assert page.read_text(encoding="utf-8") == write(), f"{name} is out of date. Run: make docs"


def test_the_derived_pages_do_not_depend_on_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    before = docs.cli_page()
    monkeypatch.setenv("COLUMNS", "40")
    assert docs.cli_page() == before


def test_pages_are_written_where_asked_and_then_checked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert docs.main(["--check"], tmp_path) == 1
    assert docs.main([], tmp_path) == 0
    assert docs.main(["--check"], tmp_path) == 0
    assert (tmp_path / "docs" / "cli.md").is_file()


def test_a_fault_of_our_own_is_one_sentence(run: Run, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    def fault(*_: object, **__: object) -> None:
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr("trysquare.cli.check.cache.answer", fault)
    answer = run("check", folder)
    assert answer.status == 2
    assert answer.err.count(".") <= 3
    assert "ZeroDivisionError: by nothing" in answer.err
    assert "TRYSQUARE_DEBUG=1" in answer.err
    monkeypatch.setenv("TRYSQUARE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("check", folder)


def test_stopping_by_hand_ends_with_130(run: Run, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("trysquare.cli.check.cache.answer", stopped)
    assert run("check", folder).status == 130


def test_a_file_that_may_not_be_read_is_one_sentence(
    run: Run, monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", "machine.toml")

    monkeypatch.setattr("trysquare.cli.check.cache.answer", denied)
    answer = run("check", folder)
    assert (answer.status, answer.err) == (
        2,
        "machine.toml: Permission denied. Check the path and its rights.\n",
    )


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="pipes close in another way there")
def test_a_reader_that_has_seen_enough_gets_no_complaint(folder: Path) -> None:
    script = (
        "import sys\n"
        f"sys.path.insert(0, {str(ROOT / 'src')!r})\n"
        "from trysquare.cli.main import main\n"
        f"sys.exit(main(['need', {str(folder)!r}, '--json']))"
    )
    writer = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert writer.stdout is not None
    assert writer.stderr is not None
    writer.stdout.close()
    err = writer.stderr.read()
    writer.stderr.close()
    assert writer.wait() == 141
    assert err == b""


WORDS = st.one_of(
    st.sampled_from(
        [
            "check", "need", "show", "why", "--json", "--all", "--paper", "--no-cache", "--step", "--steps",
            "--why", "--help", "--version", "-h", "--", "-", "", ".", "FOLDER", "frame",
            "frame/rail", "beam", "nuts",
            "gap-in-stack", "ISO 4762 M3x6", "unit.frame.place.left", "part.",
            "unit..", "x" * 5000, "a/" * 300,
        ]
    ),
    st.text(max_size=12),
)  # fmt: skip


CALLS = st.one_of(
    st.lists(WORDS, max_size=6),
    # Calls that come further: a command, the folder, and whatever follows.
    st.builds(
        lambda command, words: [command, "FOLDER", *words],
        st.sampled_from(["check", "need", "show"]),
        st.lists(WORDS, max_size=3),
    ),
)


@pytest.fixture(scope="module")
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_frame(tmp_path_factory.mktemp("fuzz"))


@pytest.mark.slow
@settings(max_examples=200)
@given(arguments=CALLS)
def test_no_call_whatever_ends_with_a_traceback(shared_folder: Path, arguments: list[str]) -> None:
    words = [str(shared_folder) if word == "FOLDER" else word for word in arguments]
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(words)
    assert status in {0, 1, 2}
    assert "Traceback" not in err.getvalue()
    assert "failed inside itself" not in err.getvalue()
    assert (status == 2) <= bool(err.getvalue() or out.getvalue())


def test_main_is_where_the_installed_command_begins() -> None:
    assert 'trysquare = "trysquare.cli.main:main"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert callable(main_module.main)

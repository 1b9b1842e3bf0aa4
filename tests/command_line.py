"""What a command leaves behind, as the tests of the command line look at it."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from trysquare.cli.main import main

DEMO = Path(__file__).resolve().parents[1] / "demo"


@dataclass(frozen=True)
class Answer:
    """What a command left behind."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Answer]
"""Calls the program with these words."""


def caller(capsys: pytest.CaptureFixture[str]) -> Run:
    """Calls the program in this process, as a terminal would."""

    def call(*arguments: object) -> Answer:
        capsys.readouterr()
        status = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Answer(status, captured.out, captured.err)

    return call


def example_answer(run: Run, monkeypatch: pytest.MonkeyPatch, folder: Path, example: str) -> Answer:
    """What an example of the help gives, from a folder that has the demo and may be written in."""
    (folder / "demo").symlink_to(DEMO)
    monkeypatch.chdir(folder)
    return run(*shlex.split(example)[1:])

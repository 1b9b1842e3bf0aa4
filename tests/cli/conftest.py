"""How the tests call the program: in this process, as a terminal would, with folders of their own."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run, caller
from small_frame import UPGRADE, write_frame
from trysquare.cli import cache

STAMP = f"the tests of {cache.source_stamp()}"  # once a run: an answer kept by an older program is none


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """No terminal's width, no debugging, a user cache that is not the user's, sources that stand still."""
    for name in ("COLUMNS", "TRYSQUARE_DEBUG", "FORCE_COLOR", "NO_COLOR", "_TRYSQUARE_COMPLETE"):
        monkeypatch.delenv(name, raising=False)
    # Whoever edits the program while its tests run asks every question anew; the tests of the cache cannot.
    monkeypatch.setattr("trysquare.cli.cache.source_stamp", lambda: STAMP)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    return caller(capsys)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_frame(tmp_path / "frame", papers__upgrade_toml=UPGRADE)

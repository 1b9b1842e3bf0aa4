"""A program whose streams were closed before it began: it does its work and says nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="a shell's redirections")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-"])
@pytest.mark.parametrize(("folder", "status"), [("demo/reed", 0), ("nowhere", 2)])
def test_a_closed_stream_changes_no_status_and_shows_no_traceback(
    closed: str, folder: str, status: int
) -> None:
    done = subprocess.run(
        ["sh", "-c", f'"$0" -m trysquare.cli.main check {folder} {closed}', sys.executable],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    assert "failed inside" not in done.stderr

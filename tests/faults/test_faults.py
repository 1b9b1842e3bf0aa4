"""A short part of `make faults`: no traceback, no wrong status, nothing lost."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="forks, and limits of the system")
def test_some_faults_of_each_sort_are_survived_and_nothing_is_lost() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "faults.py"), "--seconds", "15", "--seed", "4"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr + done.stdout
    assert "| **all** |" in done.stdout

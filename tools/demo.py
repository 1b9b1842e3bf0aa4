"""Run the main job on the demo machine, showing each command before its result.

A long answer is cut after a screenful, and the line below it says how to see all of it.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COMMAND = ".venv/bin/trysquare"
MACHINE = "demo/larch"
# Each command and how many lines of it a first look wants; None shows all.
SHOWN: list[tuple[list[str], int | None]] = [
    (["check", MACHINE], None),
    (["need", MACHINE], 30),
]


def show(arguments: list[str], line_limit: int | None) -> int:
    """Print one command and its output; return its exit status."""
    print(f"$ {COMMAND} {' '.join(arguments)}", flush=True)
    width = shutil.get_terminal_size(fallback=(100, 24)).columns
    finished = subprocess.run(
        [str(ROOT / COMMAND), *arguments],
        cwd=ROOT,
        env=dict(os.environ, COLUMNS=str(width)),
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    lines = finished.stdout.splitlines()
    kept = lines if line_limit is None or len(lines) <= line_limit + 3 else lines[:line_limit]
    print("\n".join(kept))
    if len(kept) < len(lines):
        print(f"… {len(lines) - len(kept)} more lines. All of it: {COMMAND} {' '.join(arguments)}")
    print(flush=True)
    return finished.returncode


def main() -> int:
    """Show all commands. Findings (exit status 1) are a result; anything above is a failure."""
    for arguments, line_limit in SHOWN:
        status = show(arguments, line_limit)
        if status not in {0, 1}:
            print(f"{COMMAND} {' '.join(arguments)} ended with status {status}", file=sys.stderr)
            return status
    return bench()


def bench() -> int:
    """Open the bench when somebody sits at the terminal; else say how to."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("CI"):
        print(f"The pages beside the work, in a browser: {COMMAND} bench {MACHINE}")
        return 0
    print(f"$ {COMMAND} bench {MACHINE}      (Ctrl-C ends it)", flush=True)
    try:
        return subprocess.run([str(ROOT / COMMAND), "bench", MACHINE], cwd=ROOT, check=False).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())

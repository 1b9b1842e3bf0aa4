"""Opens logs in folders that this program may not write to. Run by root, it gives its rights away first.

python no_rights.py     prints one JSON object
"""

import json
import os
import shutil
import signal
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from log_entries import one_of_each, said
from trysquare.record import lines, readout  # noqa: F401 - loaded while this program may still read itself
from trysquare.record.faults import LogNotWritable
from trysquare.record.keeping import keep
from trysquare.record.log import open_log

NOBODY = 65534


def refusal(action: Any) -> str:
    """The name of the error that an action ends with."""
    try:
        action()
    except LogNotWritable as error:
        return type(error).__name__
    return "done"


def look(folder: Path, *, read_only: bool = False) -> list[Any]:
    """How many entries there are, why none can be added, and what a check finds."""
    with open_log(folder, machine="Small frame", read_only=read_only) as log:
        faults = [fault.says for fault in log.verify()]
        return [log.state().seq, log.why_read_only, refusal(lambda: log.append([said("done", "x")])), faults]


def make(base: Path) -> tuple[Path, Path, Path]:
    """A folder without a log, one whose log was closed, and one whose writer was killed."""
    bare, closed, killed = (base / name for name in ("bare", "closed", "killed"))
    for folder in (bare, closed, killed):
        folder.mkdir()
    with open_log(closed, machine="Small frame") as log:
        log.append(one_of_each())
    shutil.copy(closed / "log.sqlite", killed / "log.sqlite")
    if os.fork() == 0:
        open_log(killed, machine="Small frame").append([said("done", "rail")])
        os.kill(os.getpid(), signal.SIGKILL)
    os.wait()
    (killed / "log.sqlite-shm").unlink()
    return bare, closed, killed


def main() -> dict[str, Any]:
    """Makes the folders, gives the rights away, and looks."""
    if not hasattr(os, "fork"):
        return {"skipped": "no fork here"}
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        base.chmod(0o755)
        folders = make(base)
        for folder in folders:
            for path in folder.iterdir():
                path.chmod(0o444)
            folder.chmod(0o555)
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                if os.getuid() == 0:
                    os.setgroups([])
                    os.setgid(NOBODY)
                    os.setuid(NOBODY)
                told = found(*folders)
            except BaseException as error:  # noqa: BLE001 - it is told to the parent
                told = {"failed": repr(error)}
            os.write(writing, json.dumps(told).encode())
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading, "rb") as stream:
            told = json.loads(stream.read())
        os.waitpid(child, 0)
        for folder in folders:
            folder.chmod(0o755)
        return told


def found(bare: Path, closed: Path, killed: Path) -> dict[str, Any]:
    """What whoever may not write gets."""
    if os.access(bare, os.W_OK):
        return {"skipped": "this user may write everywhere"}
    return {
        "without a log": refusal(lambda: open_log(bare, machine="Small frame")),
        "closed": look(closed),
        "killed": look(killed),
        "only read": look(killed, read_only=True),
        "photo": refusal(lambda: keep(closed, b"x", ".jpg")),
        "left in the folder": {
            folder.name: sorted(path.name for path in folder.iterdir()) for folder in (closed, killed)
        },
    }


if __name__ == "__main__":
    print(json.dumps(main()))

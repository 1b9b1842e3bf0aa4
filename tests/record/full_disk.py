"""Appends to a log until the system lets its files grow no more, as on a full disk; then once more with room.

python full_disk.py FOLDER     prints one JSON object
"""

import json
import resource
import signal
import sys
from pathlib import Path
from typing import Any

from trysquare.record.events import Event
from trysquare.record.faults import LogNotWritable
from trysquare.record.keeping import keep
from trysquare.record.log import open_log

AT = "2031-05-04T08:00:00.000Z"
MOST_BYTES = 300_000


def event(number: int) -> Event:
    """A large note."""
    return Event(id=str(number), kind="note", at=AT, device="x", data={"says": "x" * 9000})


def main(folder: Path) -> dict[str, Any]:
    """Fills, looks, goes on."""
    told: dict[str, Any] = {}
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the write fails then, instead of the program
    resource.setrlimit(resource.RLIMIT_FSIZE, (MOST_BYTES, resource.RLIM_INFINITY))
    with open_log(folder, machine="Small frame") as log:
        number = 0
        try:
            while number < 10_000:
                log.append([event(number)])
                number += 1
        except LogNotWritable as error:
            told |= {"refused": "LogNotWritable", "passing": error.passing, "remedy": error.remedy}
        told["acknowledged"] = number
        try:
            keep(folder, b"x" * (MOST_BYTES + 1), ".jpg")
        except LogNotWritable:
            told["file"] = "LogNotWritable"
        told["left_behind"] = [path.name for path in (folder / "log-files").rglob("*") if path.is_file()]
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        log.append([event(number)])
        told["faults"] = [fault.says for fault in log.verify()]
        told["after"] = log.head().seq
    return told


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]))))

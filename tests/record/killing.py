"""Kills a program that writes to a log, again and again, and looks at what is left.

python killing.py FOLDER KILLS [SEED]     prints one JSON object: what was found

A child of this process opens the log, appends from two threads without a rest, and says over a pipe what was
acknowledged. At a random moment it is killed as `kill -9` does. Then the log is opened again: all that was
acknowledged must be there, each batch whole or not at all, and the chain of hashes unbroken. This program
has no threads of its own, so that its children begin clean; it loads everything first, so that they begin
at once.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import select
import signal
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from trysquare.record.events import Event
from trysquare.record.log import open_log

BATCH = 3
FILES = 10  # how many logs are begun anew, so that some kills meet one that is being made
LONGEST_OPENING_SECONDS, LONGEST_WORK_SECONDS = 0.03, 0.05
AT = "2031-05-04T08:00:00.000Z"


def batch(name: str, number: int) -> list[Event]:
    """Three events that must come together, and say which they are."""
    return [
        Event(id=f"{name}.{number}.{each}", kind="note", at=AT, device=name, data={"says": "x" * 200})
        for each in range(BATCH)
    ]


def write_for_ever(folder: Path, life: int, pipe: int) -> NoReturn:
    """The child: two threads append; every batch that was acknowledged goes into the pipe."""

    def append(name: str) -> None:
        for number in range(1_000_000):
            log.append(batch(name, number))
            os.write(pipe, f"{name}.{number}\n".encode())

    log = open_log(folder, machine="Small frame")
    for thread in range(2):
        threading.Thread(target=append, args=(f"life{life}-{thread}",)).start()
    signal.pause()
    raise AssertionError


def acknowledged(pipe: int) -> list[str]:
    """Everything that the dead child had said, up to its last whole line."""
    with os.fdopen(pipe, "rb") as stream:
        content = stream.read()
    return content.decode().split("\n")[:-1]


def faults_after(folder: Path, before: set[str], said: Sequence[str], *, thorough: bool) -> list[str]:
    """What is wrong with the log; `before` are batches acknowledged in earlier lives."""
    found: list[str] = []
    with open_log(folder, machine="Small frame") as log:
        if thorough:
            found += [f"{fault.code} {fault.seq}: {fault.says}" for fault in log.verify()]
        there: dict[str, int] = {}
        for seq, entry in enumerate(log.events(), start=1):
            name = entry.event.id.rpartition(".")[0]
            there[name] = there.get(name, 0) + 1
            if entry.seq != seq:
                found.append(f"entry {entry.seq} stands where {seq} is due")
    found += [f"{name} was acknowledged and is not there" for name in {*before, *said} - there.keys()]
    found += [f"{name}: {number} of {BATCH}" for name, number in there.items() if number != BATCH]
    return found


def main(folder: Path, kills: int, seed: int) -> dict[str, object]:
    """Kills so many children, and gives what was found."""
    chance = random.Random(seed)
    found: list[str] = []
    written = 0
    for file in range(FILES):
        home = folder / f"log-{file}"
        home.mkdir()
        known: set[str] = set()
        lives = kills // FILES
        for life in range(lives):
            reading, writing = os.pipe()
            child = os.fork()
            if child == 0:
                os.close(reading)
                with contextlib.suppress(BaseException):
                    write_for_ever(home, life, writing)
                os._exit(3)  # it never ends by itself
            os.close(writing)
            if life % 4:  # most are killed at work, some while they open the log
                select.select([reading], [], [], 10)
                time.sleep(chance.uniform(0, LONGEST_WORK_SECONDS))
            else:
                time.sleep(chance.uniform(0, LONGEST_OPENING_SECONDS))
            os.kill(child, signal.SIGKILL)
            _, status = os.waitpid(child, 0)
            if not os.WIFSIGNALED(status):
                found.append(f"life {life} of log {file} ended by itself")
            said = acknowledged(reading)
            found += faults_after(home, known, said, thorough=life % 4 == 0 or life == lives - 1)
            known.update(said)
        written += len(known)
    return {"kills": FILES * lives, "batches": written, "faults": found}


if __name__ == "__main__":
    given = sys.argv[3:] or ["1"]
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]), int(given[0]))))

"""Writes the log that this version keeps for ever; run it once when the log's tables or lines change.

PYTHONPATH=src:tests python tests/files/make_log.py NUMBER     writes log-NUMBER.sqlite and log-NUMBER.jsonl

A file that is there is never written again: what an older version wrote must open as it was written.
"""

import sys
from datetime import timedelta
from pathlib import Path

from log_entries import BEGIN, one_of_each
from trysquare.record.log import open_log

HERE = Path(__file__).parent


def main(number: int) -> None:
    """Writes both files."""
    file = HERE / f"log-{number}.sqlite"
    if file.exists():
        raise SystemExit(f"{file} is there already, and stays as it is.")
    times = (BEGIN + timedelta(minutes=minute, seconds=1) for minute in range(10_000))
    with open_log(file, machine="Small frame", now=lambda: next(times)) as log:
        for event in one_of_each():
            log.append([event])
        log.export(file.with_suffix(".jsonl"))


if __name__ == "__main__":
    main(int(sys.argv[1]))

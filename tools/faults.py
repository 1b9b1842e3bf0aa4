"""Faults on purpose, for a stated time: how many were tried, how many survived, and that nothing was lost.

    python tools/faults.py                           ten minutes, a table at the end
    python tools/faults.py --seconds 60 --seed 7     shorter, others
    python tools/faults.py --keep                    writes the table to docs/faults.md, too
    python tools/faults.py --only "CLI arguments" --first 118 --count 1      one fault once more

A fault is survived when the program ends by itself within a minute, with a right exit status and words of
ours: no traceback, no failure inside. Lost is an entry of the log that was acknowledged, or a builder's file
that is not what it was. The faults of a seed are the same everywhere; how many of them fit into the time is
not. Ends with 1 when a fault was not survived or anything was lost.
"""

from __future__ import annotations

import argparse
import logging
import os
import platform
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from faulting import arguments, contents, disks, endpoints, racing
from faulting.family import Family, Workplace
from faulting.folders import ROOT, load_everything, make_templates

TOLD = logging.getLogger("faults")
PAGE = ROOT / "docs" / "faults.md"
FAMILIES = (
    Family("CLI arguments", "every command and option, with values nobody means", 3, arguments.fault),
    Family(
        "lines spoiled",
        "machine files, lists, recordings: lines and words changed",
        3,
        contents.spoiled_lines,
    ),
    Family("bits spoiled", "any file: bits turned, ends cut off, stretches torn", 2, contents.spoiled_bits),
    Family("log spoiled", "the build log: bits, ends, stretches", 1, contents.spoiled_log),
    Family("caches, pictures", "caches beside the folder, kept pictures", 1, contents.spoiled_picture),
    Family("STEP spoiled", "a part's STEP file on its way in", 1, contents.spoiled_step),
    Family("old files", "logs of every released version, whole and spoiled", 1, contents.old_files),
    Family("full disk", "a command that writes, where files cannot grow", 2, disks.full_disk),
    Family("no screen", "what a command says goes nowhere: closed, full, no reader", 1, disks.no_screen),
    Family("no rights", "a folder that cannot be written, a file that cannot be read", 2, disks.no_rights),
    Family("killed", "a command killed while it writes, then called again", 2, disks.killed),
    Family("at once", "several commands on one folder at the same time", 2, racing.at_once),
    Family("bench killed", "the bench killed while three pages post", 2, racing.bench_killed),
    Family("bench full", "the bench with no room for what pages post", 1, racing.bench_full),
    Family("two benches", "two benches on one folder, both posted to, both killed", 1, racing.two_benches),
    Family("endpoints", "every route: addresses, headers, bodies", 2, endpoints.fault),
)


@dataclass(slots=True)
class Row:
    """What came of one family so far."""

    family: Family
    number: int = 0
    tried: int = 0
    survived: int = 0
    seconds: float = 0.0
    wrong: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)


def arguments_of(words: Sequence[str] | None) -> argparse.Namespace:
    """What the call asks for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--seconds", type=float, default=600.0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", choices=[each.name for each in FAMILIES])
    asked.add_argument("--first", type=int, default=0, help="the number of the first fault of each family")
    asked.add_argument("--count", type=int, help="so many faults of each family, however long they take")
    asked.add_argument("--keep", action="store_true", help=f"write {PAGE.relative_to(ROOT)}")
    asked.add_argument(
        "--tell", action="store_true", help="tell every call, how it ended, and what took long"
    )
    return asked.parse_args(words)


def run(asked: argparse.Namespace, home: Path) -> list[Row]:
    """Tries faults until the time is over; the family that has had least of its share comes next."""
    for name in ("COLUMNS", "TRYSQUARE_DEBUG", "FORCE_COLOR", "NO_COLOR", "_TRYSQUARE_COMPLETE"):
        os.environ.pop(name, None)
    for name in ("HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "TMPDIR"):
        (home / name).mkdir()
        (home / name).chmod(0o777)
        os.environ[name] = str(home / name)
    tempfile.tempdir = None
    load_everything()
    workplace = Workplace(home, make_templates(home / "templates"))
    rows = [Row(each, number=asked.first) for each in FAMILIES if asked.only in {None, each.name}]
    begun = time.monotonic()
    while left := [row for row in rows if asked.count is None or row.number < asked.first + asked.count]:
        if asked.count is None and time.monotonic() - begun > asked.seconds:
            break
        row = min(left, key=lambda row: row.seconds / row.family.share)
        _one(row, workplace, asked.seed)
    return rows


def _one(row: Row, workplace: Workplace, seed: int) -> None:
    begun = time.monotonic()
    name = f"{row.family.name} {row.number}"
    verdict = row.family.fault(workplace, Random(f"{seed}/{row.family.name}/{row.number}"))
    row.number += 1
    row.seconds += max(time.monotonic() - begun, 0.01)
    TOLD.debug("   %s: %.1f s", name, time.monotonic() - begun)
    row.tried += verdict.tried
    row.survived += verdict.survived
    row.wrong += [f"{name}: {each}" for each in verdict.wrong]
    row.lost += [f"{name}: {each}" for each in verdict.lost]
    for each in (*verdict.wrong, *(f"LOST: {each}" for each in verdict.lost)):
        print(f"{name}: {each}", file=sys.stderr, flush=True)


def table(rows: Sequence[Row]) -> str:
    """The figures, one line a family, and their sums."""
    lines = ["| faults | what is done | tried | survived | lost |", "|---|---|---:|---:|---:|"]
    lines += [
        f"| {row.family.name} | {row.family.what} | {row.tried} | {row.survived} | {len(row.lost)} |"
        for row in rows
        if row.tried
    ]
    tried, survived = sum(row.tried for row in rows), sum(row.survived for row in rows)
    lines.append(f"| **all** | | **{tried}** | **{survived}** | **{sum(len(row.lost) for row in rows)}** |")
    return "\n".join(lines) + "\n"


def page(rows: Sequence[Row], asked: argparse.Namespace) -> str:
    """The page of the run."""
    wrong = [each for row in rows for each in (*row.wrong, *row.lost)]
    return (
        "# Faults on purpose\n\n"
        "Written by `make faults` (`tools/faults.py --keep`). A fault is survived when the program ends by\n"
        "itself within a minute, with a right exit status and words of ours: no traceback, no failure\n"
        "inside. Lost would be an acknowledged entry of the build log, or a builder's file that is not what\n"
        "it was.\n\n"
        f"This run: {asked.seconds:g} s, seed {asked.seed}, Python {platform.python_version()} on "
        f"{platform.system()}.\n\n{table(rows)}"
        + ("\nNot survived:\n\n" + "".join(f"- `{each}`\n" for each in wrong) if wrong else "")
    )


def main(words: Sequence[str] | None = None) -> int:
    """The run; 1 when something was not survived or lost."""
    asked = arguments_of(words)
    if asked.tell:
        logging.basicConfig(level=logging.WARNING, format="%(message)s")
        TOLD.setLevel(logging.DEBUG)
    with tempfile.TemporaryDirectory(prefix="faults-") as name:
        home = Path(name)
        home.chmod(0o755)
        rows = run(asked, home)
        if (home / "evidence").is_dir():
            kept = ROOT / "build" / "faults"
            kept.mkdir(parents=True, exist_ok=True)
            for file in (home / "evidence").iterdir():
                (kept / file.name).write_bytes(file.read_bytes())
    print(table(rows))
    if asked.keep:
        PAGE.write_text(page(rows, asked), encoding="utf-8")
    return 1 if any(row.wrong or row.lost for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())

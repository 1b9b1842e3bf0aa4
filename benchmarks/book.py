"""Measures the build book: one step's picture, the whole book cold, and again when one step has changed.

python -m benchmarks.book

The commands are run as a user runs them, their start included, on a copy of the demo machine without any
kept answers.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.figures import row

ROOT = Path(__file__).resolve().parent.parent
LARCH = ROOT / "demo" / "larch"
CHANGED = ("steps/01-frame.toml", 'title = "Feet"', 'title = "Feet, and a cloth under them"')


def command(*arguments: object) -> float:
    """Seconds of a command, its start included."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "trysquare.cli.main", *map(str, arguments)],
        env=dict(os.environ, PYTHONPATH=str(ROOT / "src")),
        stdout=subprocess.DEVNULL,
        check=False,
    )
    if done.returncode:
        raise SystemExit(f"trysquare {' '.join(map(str, arguments))} ended with {done.returncode}")
    return time.perf_counter() - start


def pictures() -> None:
    """One step's picture in a program that has the machine at hand: median, slowest, largest."""
    from trysquare.machine.load import load_machine
    from trysquare.publish.known import known_of
    from trysquare.publish.step_picture import step_picture
    from trysquare.publish.step_scene import StepScenes
    from trysquare.solid.drawing import ISOMETRIC

    known = known_of(load_machine(LARCH, []))
    scenes = [(step, scene) for step, scene in StepScenes(known) if not scene.is_empty]
    seconds, sizes = [], []
    for step, scene in scenes:
        start = time.perf_counter()
        picture = step_picture(known, step, scene, ISOMETRIC)
        seconds.append(time.perf_counter() - start)
        if picture is not None:
            sizes.append(len(picture.svg.encode()) / 1000)
    row(
        f"picture of a step of Larch, median of {len(seconds)}",
        "≤ 0.5 s",
        f"{statistics.median(seconds):.2f} s",
    )
    row("the slowest of them", "", f"{max(seconds):.2f} s")
    row("the largest of them", "≤ 150 kB", f"{max(sizes):.0f} kB")


def book() -> None:
    """The whole book cold, unchanged, and with one step changed."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "larch"
        shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache"))
        out = Path(place) / "book.pdf"
        row("book of Larch, cold", "≤ 30 s", f"{command('book', folder, '--out', out):.1f} s")
        first = out.read_bytes()
        row("the same again", "", f"{command('book', folder, '--out', out):.1f} s")
        if out.read_bytes() != first:
            raise SystemExit("The same machine gave other bytes.")
        name, before, after = CHANGED
        file = folder / name
        text = file.read_text("utf-8")
        if before not in text:
            raise SystemExit(f"{name} has no longer a line {before}.")
        file.write_text(text.replace(before, after), encoding="utf-8")
        row("book of Larch, one step changed", "≤ 5 s", f"{command('book', folder, '--out', out):.1f} s")
        row("its size", "", f"{out.stat().st_size / 1e6:.1f} MB")


def main() -> None:
    """All rows."""
    pictures()
    book()


if __name__ == "__main__":
    main()

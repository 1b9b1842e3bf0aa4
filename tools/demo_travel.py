"""Make the demo machine's readings of a test piece and of its axes, with the errors that this file names.

python tools/demo_travel.py    writes demo/larch/recordings/

The same on every run: the scatter comes from a seeded generator.
"""

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "src")]

from trysquare.tuning.skew_piece import SIDES, piece_lengths  # noqa: E402  # after the path

PLACE = ROOT / "demo" / "larch" / "recordings"
# x and y each move a little too far; planes skew by 0.14, 0.01 and 0.09 mm in 100; 0.35 % shrinkage.
MACHINE = np.array([[1.0008, 0.0014, 0.0001], [0, 1.0006, -0.0009], [0, 0, 1.0002]])
SHRINK, WIDE_MM = -0.0035, 0.05


def piece(random: np.random.Generator) -> list[str]:
    """Every length of the three pieces, read twice with a caliper of 0.01 mm steps."""
    rows = ["# three test pieces of 100 mm, read cold, twice", "plane;along;how;measured_mm"]
    words = {"first": 0, "second": 1}
    for plane in ("xy", "xz", "yz"):
        for one in piece_lengths(plane):
            run = np.array(one.run_mm)
            level = np.hypot(*run[:2]) / np.linalg.norm(run)
            true = np.linalg.norm(MACHINE @ run) * (1 + SHRINK) + WIDE_MM * level * SIDES[one.how].width_sign
            along = plane[words[one.along]] if one.along in words else one.along
            for _ in range(2):
                read = true + 0.01 * random.standard_normal()
                rows.append(f"{plane};{along};{one.how};{read:.2f}".replace(".", ","))
    return rows


def travel(random: np.random.Generator) -> list[str]:
    """Commanded and measured travels of x from both sides: 0.08 % too far, 0.06 mm lost on turning back."""
    rows = [
        "# x axis, steel rule with a vernier and a stop; from: the way it came",
        "commanded_mm,measured_mm,from",
    ]
    for _ in range(2):
        for target in (20, 50, 80, 110, 140, 170):
            for way, shift in (("below", 0.0), ("above", 0.06)):
                read = 1.0008 * target + shift + 0.01 * random.standard_normal()
                rows.append(f"{target},{read:.2f},{way}")
    return rows


def positions(random: np.random.Generator) -> list[str]:
    """Five targets of x, five times from each side, by dial indicator."""
    rows = ["# x axis, dial indicator of 0.001 mm steps", "target_mm,position_mm,from"]
    for cycle in range(5):
        for way, shift in (("below", -0.018), ("above", 0.018)):
            targets = (20, 55, 90, 125, 160)
            for target in targets if way == "below" else reversed(targets):
                wave = 0.006 * np.sin(2 * np.pi * target / 40)
                read = target + 0.0001 * target + wave + shift + 0.002 * cycle / 5
                rows.append(f"{target},{read + 0.003 * random.standard_normal():.3f},{way}")
    return rows


if __name__ == "__main__":
    PLACE.mkdir(exist_ok=True)
    random = np.random.default_rng(11)
    for name, rows in (
        ("skew-piece", piece(random)),
        ("x-travel", travel(random)),
        ("x-positions", positions(random)),
    ):
        (PLACE / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        print(f"{name}.csv: {len(rows)} lines")

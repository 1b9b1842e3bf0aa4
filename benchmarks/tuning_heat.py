"""Measures the fit and the simulations of `trysquare tune heat` on the demo's records.

python -m benchmarks.tuning_heat
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

from benchmarks.figures import median_own_seconds, row
from trysquare.tuning.heat_file import parse_record
from trysquare.tuning.heat_report import answered
from trysquare.tuning.heat_step import fit_heat

RECORDINGS = Path(__file__).resolve().parent.parent / "demo" / "larch" / "recordings"


def main() -> None:
    """Prints the figures."""
    for name, target in (("bed-step.csv", 90.0), ("hot-end-cycles.csv", 210.0)):
        text = (RECORDINGS / name).read_text(encoding="utf-8")
        record = parse_record(text, name, None)
        for what, action in (
            ("read", partial(parse_record, text, name, None)),
            ("fit", partial(fit_heat, record)),
            ("all", partial(answered, record, target)),
        ):
            row(f"{name}: {what}", "", f"{median_own_seconds(action, 15):.4f} s")


if __name__ == "__main__":
    main()

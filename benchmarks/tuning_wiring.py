"""Measures the wiring of the demo machine: reckoning alone, and with reading the folder.

python -m benchmarks.tuning_wiring
"""

from __future__ import annotations

from pathlib import Path

from benchmarks.figures import median_own_seconds, row
from trysquare.machine.load import load_machine
from trysquare.publish.first_power import first_power
from trysquare.tuning.wiring_report import WiringAsked, wiring_report

LARCH = Path(__file__).resolve().parent.parent / "demo" / "larch"


def main() -> None:
    """Prints the figures."""
    machine = load_machine(LARCH, [])
    for what, action in (
        ("wiring of Larch, 51 runs", lambda: wiring_report(machine, WiringAsked())),
        ("its first power", lambda: first_power(machine)),
        ("both, the folder read too", _whole),
    ):
        row(what, "≤ 0.2 s", f"{median_own_seconds(action, 15):.4f} s")


def _whole() -> None:
    machine = load_machine(LARCH, [])
    wiring_report(machine, WiringAsked())
    first_power(machine)


if __name__ == "__main__":
    main()

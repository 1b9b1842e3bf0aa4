"""Accuracy and repeatability of an axis as a part of a report."""

from __future__ import annotations

import math

import numpy as np

from trysquare.tuning.drive_file import Targets
from trysquare.tuning.positioning import Positioning, positioning
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Table
from trysquare.tuning.values import Measured


def targets_part(read: Targets, limit_mm: float | None, within_mm: float) -> tuple[Part, Positioning]:
    """Accuracy and repeatability as ISO 230-2 names them."""
    found = positioning(read.targets_mm, read.up_mm, read.down_mm)
    runs = read.up_mm.shape[1]
    worst = float(max(found.deviation_up_mm.max(), found.deviation_down_mm.max()))
    # Two limits, each a mean and twice a deviation of n readings: s²/n and 4 s²/(2 (n − 1)) each.
    spread = math.sqrt(2 * worst**2 * (1 / runs + 2 / (runs - 1)) + 2 * (within_mm**2 / 3))
    accuracy = Measured(
        value=found.accuracy_mm, standard_uncertainty=spread, unit="mm", basis=f"{runs} runs each way"
    )
    verdict, says = TOLD, [
        f"It stops within a band of {1000 * found.accuracy_mm:.0f} µm.",
        f"It finds the same place again within {1000 * found.repeatability_mm:.0f} µm.",
    ]  # fmt: skip
    if limit_mm is not None:
        verdict = _one_sided(accuracy, limit_mm)
        says.append(
            {
                GOOD: f"That is within the {limit_mm:g} mm that you allow.",
                BAD: f"You allow {limit_mm:g} mm.",
                CANNOT_TELL: f"Whether that is within {limit_mm:g} mm cannot be told: make more runs.",
            }[verdict]
        )
    says.append(_largest_share(found))
    rows = [
        (f"{target:g}", f"{1000 * up:+.1f}", f"{1000 * s_up:.1f}", f"{1000 * down:+.1f}",
         f"{1000 * s_down:.1f}", f"{1000 * (up - down):+.1f}")
        for target, up, s_up, down, s_down in zip(
            found.targets_mm.tolist(), found.mean_up_mm.tolist(), found.deviation_up_mm.tolist(),
            found.mean_down_mm.tolist(), found.deviation_down_mm.tolist(), strict=True,
        )
    ]  # fmt: skip
    most = max(rows, key=lambda row: abs(float(row[5])))
    figures = {
        "accuracy A": found.accuracy_mm,
        "repeatability R": found.repeatability_mm,
        "reversal B": found.reversal_mm,
        "systematic E": found.systematic_mm,
        "mean systematic M": found.mean_systematic_mm,
    }
    notes = []
    if read.left_out:
        notes.append(f"{read.left_out} readings beyond {runs} runs of every target were left out.")
    if len(read.targets_mm) < 5 or runs < 5:
        notes.append("ISO 230-2 wants five targets or more and five runs each way.")
    return Part(
        of="positioning",
        title="Accuracy and repeatability",
        verdict=verdict,
        says=tuple(says),
        main=accuracy,
        lines=(
            Line(label="accuracy A", value=accuracy, says="ISO 230-2, both ways"),
            *(
                Line(label=name, says=f"{1000 * value:.1f} µm")
                for name, value in figures.items()
                if name != "accuracy A"
            ),
        ),
        tables=(
            Table(
                title="Deviations in µm",
                columns=("target, mm", "from below", "s", "from above", "s ", "reversal"),
                rows=tuple(rows),
                right=frozenset(range(6)),
                gist=f"largest reversal: {most[5]} µm at {most[0]} mm",
            ),
        ),
        notes=tuple(notes),
        data={
            name.split()[-1]: round(value, 7) for name, value in figures.items()
        } | {"runs": runs, "targets": len(read.targets_mm), "limit_mm": limit_mm},
    ), found  # fmt: skip


def _one_sided(value: Measured, limit: float) -> str:
    if value.value + value.expanded <= limit:
        return GOOD
    return BAD if value.value - value.expanded > limit else CANNOT_TELL


def _largest_share(found: Positioning) -> str:
    """What makes most of the accuracy, and so what to look at."""
    slope = float(np.polyfit(found.targets_mm, (found.mean_up_mm + found.mean_down_mm) / 2, 1)[0])
    span = float(np.ptp(found.targets_mm))
    shares = {
        f"Most of it is lost motion, {1000 * found.reversal_mm:.0f} µm: set screws, tension, nut.":
            found.reversal_mm,
        f"Most of it is scale, {1000 * slope * span:+.0f} µm over {span:g} mm: correct the steps.":
            abs(slope) * span,
        "Most of it is scatter: look for drag, a loose carriage or a loose instrument.":
            float(4 * max(found.deviation_up_mm.max(), found.deviation_down_mm.max())),
    }  # fmt: skip
    return max(shares, key=lambda name: shares[name])

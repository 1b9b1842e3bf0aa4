"""A better rail goes to the axis that gains most: how a box calls a make, and what a rail's error does."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.machine.values import Machine
from trysquare.stock.substitutes import Compromise

# Vendors' words for a make, best first; common practice, no source. What is not said is the middle one.
_RANKS: tuple[tuple[str, ...], ...] = (
    ("precision", "high precision", "super precision", "p", "ground", "best", "a", "first"),
    ("", "normal", "standard", "h", "high", "n", "b"),
    ("economy", "budget", "commercial", "c", "second", "seconds", "scratched", "used"),
)
_MIDDLE = 1
MOST_GAIN = 10.0  # a longer lever than that is a fault of the description


def rank(grade: str) -> int:
    """0 for the best make, then 1, then 2; a word nobody knows counts as the usual make."""
    said = " ".join(grade.casefold().split())
    return next((at for at, words in enumerate(_RANKS) if said in words), _MIDDLE)


def gains(machine: Machine) -> Mapping[str, float]:
    """For each placed rail, how many times its own error arrives at the far end of what it carries.

    Equation: 1 + arm / base, with base the distance between the outermost blocks on the rail (the length
    of the block when it is alone) and arm the distance from them to the farthest part that moves with
    them. A straightness error over the base turns what is carried, and the arm enlarges it.
    Source: the lever of Abbe's error; ours as a measure of which rail matters.
    """
    found: dict[str, float] = {}
    on_rail: dict[str, list[str]] = {}
    for joint in machine.joints:
        for block, rail in joint.slides_on.items():
            on_rail.setdefault(rail, []).append(block)
    for part in machine.placed:
        if not isinstance(part.type.standard, RailSize):
            continue
        blocks = [machine.part[name] for name in on_rail.get(part.id, ()) if name in machine.part]
        names = {block.id for block in blocks}
        carried = {name for axis in machine.axes if names & set(axis.moves) for name in axis.moves} - names
        far = [machine.part[name].placement.origin_mm for name in sorted(carried) if name in machine.part]
        if not blocks or not far:
            found[part.id] = 1.0
            continue
        at = np.array([block.placement.origin_mm for block in blocks])
        lengths = [b.type.standard.length_mm for b in blocks if isinstance(b.type.standard, BlockSize)]
        base = max([float(np.linalg.norm(one - other)) for one in at for other in at] + lengths)
        arm = max(float(np.linalg.norm(point - at.mean(axis=0))) for point in far)
        found[part.id] = min(MOST_GAIN, 1.0 + arm / base) if base > 0 else 1.0
    return found


def grade_compromise(grade: str, best_grade: str, gain: float) -> Compromise | None:
    """What it costs to take this make where a better one is in some box; None when it is as good."""
    worse = rank(grade) - rank(best_grade)
    if worse <= 0:
        return None
    return Compromise(
        points=max(1, round(2 * gain)) * worse,
        sort="grade",
        says=f"The plainer make ({grade or 'nothing said'}): its error arrives {gain:.1f}-fold at the far "
        "end of what this rail carries; the better rails went where that is more.",
    )

"""Why no screw on sale fits, and what would make one fit, in words."""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.machine.stack import NextLength, Stack


def no_length_words(word: str, stack: Stack, beside: Sequence[NextLength]) -> tuple[str, str]:
    """What is said of a stack between two lengths, and what to do. `beside`: those next to it."""
    need = stack.thread_from_mm + stack.least_mm
    misses = [
        f"{one.length_mm:g} mm is {-one.by_mm:.1f} mm too short"
        if one.by_mm < 0
        else f"{one.length_mm:g} mm, as it may be delivered, {one.by_mm:.1f} mm too long"
        for one in beside
    ]
    bites = f"{stack.least_mm:.1f} mm of thread from {stack.thread_from_mm:.1f} mm on"
    says = (
        f"{word}: no length on sale fits. {bites} needs {need:.1f} mm, and there is room for "
        f"{stack.room_mm:.1f} mm: {', and '.join(misses)}."
    )
    ways = [_way(one) for one in beside if one.most_mm >= one.least_mm]
    remedy = "; or ".join([*ways, "take another nut"])
    return says, f"{remedy[:1].upper()}{remedy[1:]}."


def _way(one: NextLength) -> str:
    how = "less" if one.by_mm < 0 else "more (a washer)"
    return f"clamp {one.least_mm:.1f} to {one.most_mm:.1f} mm {how} for {one.length_mm:g} mm"

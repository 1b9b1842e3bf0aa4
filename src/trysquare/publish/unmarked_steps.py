"""Where in a film the steps begin that nobody marked: in their order, as long as they are planned."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from trysquare.publish.durations import StepDuration

LEAST_MARK_SECONDS = 1.0  # plain lines show whole seconds: two marks must not read the same
_LEAST_SECONDS = LEAST_MARK_SECONDS + 0.002  # the same, before it is rounded to thousandths


def unmarked(
    marked: Sequence[tuple[str, float]], planned: Sequence[StepDuration], ends_seconds: float | None
) -> list[tuple[str, float]]:
    """(step, seconds) of all steps without a mark. `marked`: at least one; `ends_seconds`: the film's length.

    Each follows the step before it. Where the next mark comes too early for all of them they are squeezed;
    where there is less than a second for each they are left out. Those before the first marked step of the
    order end at its mark.
    """
    at_mark = dict(marked)
    runs: dict[str, list[StepDuration]] = {"": []}  # what follows each marked step; "" the film's beginning
    last = ""
    for step in planned:
        last = step.step if step.step in at_mark else last
        runs.setdefault(last, []).append(step)
    in_film = sorted(marked, key=lambda row: row[1])
    begins = {"": 0.0, **at_mark}
    until = {"": in_film[0][1], **{early[0]: late[1] for early, late in itertools.pairwise(in_film)}}
    if ends_seconds is not None and ends_seconds > in_film[-1][1]:
        until[in_film[-1][0]] = ends_seconds
    found: list[tuple[str, float]] = []
    for name, run in runs.items():
        lengths = _lengths(run, until.get(name, math.inf) - begins[name])
        # what comes before the first mark stands right before it: the opening has what is left
        at = begins[name] if name else until[""] - sum(lengths)
        for step, length in zip(run, lengths, strict=False):  # no lengths: no room
            if step.step not in at_mark:
                found.append((step.step, round(max(at, 0.0), 3)))
            at += length
    return found


def _lengths(run: Sequence[StepDuration], room: float) -> list[float]:
    """How long each is shown within `room` seconds; none when there is not a second for each."""
    wished = [max(step.film_seconds, _LEAST_SECONDS) for step in run]
    squeeze = min(1.0, room / (sum(wished) or 1.0))
    if not run or min(wished) * squeeze >= _LEAST_SECONDS:
        return [length * squeeze for length in wished]
    alike = room / len(run)  # short and long ones alike
    return [alike] * len(run) if alike >= _LEAST_SECONDS else []

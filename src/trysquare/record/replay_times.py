"""What a log says of times: how long each step took, and where in the film each one begins. Pure.

`publish` makes chapter marks and plans of them; this room only tells what was logged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.record.spent import milliseconds_of
from trysquare.record.state import BuildState, Mark

LEAST_STRETCH_SECONDS = 1.0  # chapter marks nearer to each other read the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of the film that shows one step, in seconds from its beginning."""

    step: str
    begins_seconds: float
    ends_seconds: float

    @property
    def seconds(self) -> float:
        return self.ends_seconds - self.begins_seconds


def measured_steps(state: BuildState) -> dict[str, float]:
    """Seconds of every step that is done and took any time: what `publish.durations` may learn from."""
    return {
        name: step.seconds for name, step in state.steps.items() if step.done is not None and step.seconds > 0
    }


def film_stretches(marks: Sequence[Mark]) -> tuple[Stretch, ...]:
    """Where in the film each step is, each once, in the film's order; the last stretch has no length.

    marks: as they stand in a state. Those without a step only end the stretch before. A mark without the
    recording's counter is placed by the device's time since the last mark with one; if none has one, the
    film begins at the first mark. A step looked at in passing is no chapter: of a step's several stretches
    the longest one stays, and what lay between counts to the step before it.
    """
    placed = sorted(_placed(marks), key=lambda one: one[0])
    found = (
        [
            Stretch(step=mark.step or "", begins_seconds=at, ends_seconds=end)
            for (at, mark), end in zip(placed, [*(at for at, _ in placed[1:]), placed[-1][0]], strict=True)
        ]
        if placed
        else []
    )
    found = _joined(found)
    while (shortest := _shortest_again(found)) is not None:
        found = _joined(_without(found, shortest))
    return tuple(one for one in found if one.step)


def clock_table(stretches: Sequence[Stretch]) -> str:
    """The table `step,seconds` that `trysquare film --clock` and `publish.chapters.clocked_marks` read."""
    rows = [f"{_cell(one.step)},{one.begins_seconds:.3f}" for one in stretches]
    return "\n".join(["step,seconds", *rows]) + "\n"


def _cell(step: str) -> str:
    if any(sign in step for sign in ',"\n\r'):
        doubled = step.replace('"', '""')
        return f'"{doubled}"'
    return step


def _placed(marks: Sequence[Mark]) -> list[tuple[float, Mark]]:
    """Each mark with its second in the film, not before its beginning."""
    known: dict[str, tuple[float, int]] = {}  # by device: the counter and the device's time at its last mark
    start: tuple[float, int] | None = None
    found: list[tuple[float, Mark]] = []
    for mark in marks:
        at_ms = milliseconds_of(mark.said.at)
        if mark.clock_seconds is not None:
            second = mark.clock_seconds
            start = known[mark.said.device] = (second, at_ms)
        else:
            start = start or (0.0, at_ms)
            begun, since_ms = known.get(mark.said.device, start)
            second = begun + (at_ms - since_ms) / 1000
        found.append((max(0.0, second), mark))
    return found


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Neighbours that show the same step as one; those too short to be a chapter go to the one before."""
    found: list[Stretch] = []
    for index, one in enumerate(stretches):
        is_last = index == len(stretches) - 1
        if found and (found[-1].step == one.step or (one.seconds < LEAST_STRETCH_SECONDS and not is_last)):
            found[-1] = _until(found[-1], one.ends_seconds)
        elif found and is_last and one.begins_seconds - found[-1].begins_seconds < LEAST_STRETCH_SECONDS:
            found[-1] = Stretch(
                step=one.step, begins_seconds=found[-1].begins_seconds, ends_seconds=one.ends_seconds
            )
        elif not found and one.seconds < LEAST_STRETCH_SECONDS and not is_last:
            continue
        else:
            found.append(one)
    return found


def _shortest_again(stretches: Sequence[Stretch]) -> int | None:
    """The shortest stretch of a step that has several; the last one of all has no end, and stays."""
    longest: dict[str, int] = {}
    again: list[int] = []
    last = len(stretches) - 1
    for index, one in enumerate(stretches):
        if not one.step:
            continue
        other = longest.get(one.step)
        if other is None:
            longest[one.step] = index
        elif index == last or one.seconds > stretches[other].seconds:
            again.append(other)
            longest[one.step] = index
        else:
            again.append(index)
    return min(again, key=lambda index: stretches[index].seconds, default=None)


def _without(stretches: Sequence[Stretch], index: int) -> list[Stretch]:
    """Its time goes to the stretch before it; the first one's is nobody's."""
    found = list(stretches)
    gone = found.pop(index)
    if index:
        found[index - 1] = _until(found[index - 1], gone.ends_seconds)
    return found


def _until(stretch: Stretch, ends_seconds: float) -> Stretch:
    return Stretch(step=stretch.step, begins_seconds=stretch.begins_seconds, ends_seconds=ends_seconds)

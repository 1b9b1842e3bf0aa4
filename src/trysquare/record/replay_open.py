"""What still stands open in a build: items left open, contradictions, steps taken up again. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.record.state import BuildState, Said


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenLine:
    """One line of the list of open points.

    `sort`: "left-open" (see `item` and why), "conflict" (two devices said different things), "reopened" (a
    step was done and is not any more), "missing" (a part was missing or damaged). `of`: what somebody said it
    is a matter of ("safety", "alignment"), for what was left open.
    """

    sort: str
    step: str | None
    item: str
    says: str
    of: str
    said: Said


def open_lines(state: BuildState) -> tuple[OpenLine, ...]:
    """Everything open, in the order in which it was logged."""
    found = [
        OpenLine(sort="left-open", step=one.step, item=one.item, says=one.reason, of=one.sort, said=one.said)
        for one in state.open_points.values()
    ]
    found += [
        OpenLine(
            sort="conflict",
            step=one.step,
            item=one.about,
            says=f"{one.first.device}: {one.first_says}; {one.second.device}: {one.second_says}, which holds",
            of="",
            said=one.second,
        )
        for one in state.conflicts
    ]
    found += [
        OpenLine(
            sort="reopened", step=name, item=name, says="It was done, and is not any more.", of="", said=said
        )
        for name, step in state.steps.items()
        if step.done is None and step.reopened and (said := step.last_reopened) is not None
    ]
    settled = {one.part for one in state.deviations if one.what == "substitute"}
    found += [
        OpenLine(
            sort="missing",
            step=one.step,
            item=one.part,
            says=one.why or f"{one.count} {one.what}",
            of="",
            said=one.said,
        )
        for one in state.deviations
        if one.what in ("missing", "damaged") and one.part not in settled
    ]
    return tuple(sorted(found, key=lambda line: line.said.seq))

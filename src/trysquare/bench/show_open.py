"""What is open, with what was read of it where that is out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from trysquare.bench.must import open_items
from trysquare.bench.now import Now
from trysquare.bench.show_readings import to_read_at
from trysquare.bench.views import DeviationView, OpenView
from trysquare.bench.views_step import StepView


def left_open(now: Now, step: str = "") -> tuple[OpenView, ...]:
    """The points that were left open with a reason, at this step or ("") anywhere."""
    points = [one for one in now.state.open_points.values() if not step or one.step == step]
    return tuple(_with_reading(now, now.open_point(one), one.step or "") for one in points)


def unsafe_before(now: Now, page: StepView) -> tuple[OpenView, ...]:
    """Points of safety, and sign-offs, that earlier steps were left with, for a step that has a caution."""
    if not page.cautions:
        return ()
    points = [one for one in left_open(now) if one.sort in ("safety", "sign-off") and one.step is not None]
    return tuple(one for one in points if one.step is not None and one.step.number < page.number)


def open_at(now: Now, page: StepView) -> tuple[OpenView, ...]:
    """What of a step nobody has settled, read good, or left open with a reason."""
    return with_readings(now, page, open_items(page, now.state))


def with_readings(now: Now, page: StepView, items: Iterable[OpenView]) -> tuple[OpenView, ...]:
    """Items of a step, those that were read and are out with what was read."""
    return tuple(_with_reading(now, one, page.id) for one in items)


def _with_reading(now: Now, one: OpenView, step: str) -> OpenView:
    page = now.shown.page(step)
    what = next((each for each in page.to_read if each.must == one.item), None) if page else None
    return replace(one, read=to_read_at(now, step, what).stood) if what is not None else one


def skipped_at(now: Now, step: str) -> DeviationView | None:
    """That a step was left out as a whole, with why and by whom; None while it was not."""
    one = now.skipped.get(step)
    return now.deviation(one) if one is not None else None

"""Pictures of parts at true relative size, as far as a screen can show it. Pure.

A member of 400 mm and a nut of 5 mm cannot stand to one scale: the nut would be a speck. So parts are parted
into groups of like size, and each group has a scale of its own with a measure beside it. Screws, nuts and
washers are held against each other and have groups of their own, in which all is true to scale; what else
would still be too small to know is shown larger, and said to be not to scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trysquare.bench.facts import DrawnFacts, PartDrawn
from trysquare.bench.views import ToScale
from trysquare.bench.views_step import PickView

WIDEST_PX = 210.0
HIGHEST_PX = 110.0
LARGEST_SCALE_PX = 7.0  # px for a millimetre
RATIO = 7.0  # the largest in a group may be so many times as long as the smallest
MARKS_MM = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
LEAST_MARK_PX = 18.0
LEAST_PX = 44.0  # the longer side of a picture; below it a part is a blot


def to_scale(picks: Sequence[PickView], drawn: DrawnFacts | None) -> tuple[PickView, ...]:
    """The rows with pictures; those without one stay as they are."""
    if drawn is None:
        return tuple(picks)
    sized = {one.part: drawn.parts[one.part] for one in picks if one.part in drawn.parts}
    found: dict[str, ToScale] = {}
    true = {part: one for part, one in sized.items() if one.width_mm > 0}
    fasteners = {one.part for one in picks if one.is_fastener}
    apart = (
        {name: one for name, one in true.items() if (name in fasteners) == each} for each in (False, True)
    )
    for number, group in enumerate((group for some in apart for group in _groups(some)), start=1):
        wide, high = (max(getattr(true[part], side) for part in group) for side in ("width_mm", "height_mm"))
        px = min(LARGEST_SCALE_PX, WIDEST_PX / wide, HIGHEST_PX / high)
        mark = next((each for each in MARKS_MM if each * px >= LEAST_MARK_PX), MARKS_MM[-1])
        for part in group:
            one = true[part]
            if part not in fasteners and _size(one) * px < LEAST_PX:
                found[part] = _not_to_scale(one)
                continue
            found[part] = ToScale(
                href=one.drawn.href, width_px=max(1, round(one.width_mm * px)),
                height_px=max(1, round(one.height_mm * px)), says=one.drawn.says, scale=number, mark_mm=mark,
                mark_px=round(mark * px, 1),
            )  # fmt: skip
    return tuple(replace(one, picture=found.get(one.part)) for one in picks)


def _not_to_scale(one: PartDrawn) -> ToScale:
    """A part too small for its group's scale, as large as it has to be to be known."""
    px = LEAST_PX / _size(one)
    return ToScale(
        href=one.drawn.href, width_px=max(1, round(one.width_mm * px)),
        height_px=max(1, round(one.height_mm * px)), says=one.drawn.says, scale=0, mark_mm=0.0, mark_px=0.0,
    )  # fmt: skip


def _groups(sized: dict[str, PartDrawn]) -> list[list[str]]:
    """Parts of like size together, the largest first."""
    rows = sorted(sized, key=lambda part: -_size(sized[part]))
    groups: list[list[str]] = []
    for part in rows:
        if groups and _size(sized[groups[-1][0]]) <= RATIO * _size(sized[part]):
            groups[-1].append(part)
        else:
            groups.append([part])
    return groups


def _size(one: PartDrawn) -> float:
    return max(one.width_mm, one.height_mm)

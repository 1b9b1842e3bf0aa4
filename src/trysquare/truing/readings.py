"""A reading as somebody made it: which features, with what, and what it said. Nothing is ever thrown away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trysquare.ground.errors import Where


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSort:
    """One sort of reading. `unit` of its value; `needs_second`: whether it is between two features; `says`:
    what it is, in words for a person who is about to make it."""

    id: str
    unit: str
    needs_second: bool
    says: str


SORTS: Mapping[str, ReadingSort] = {
    one.id: one
    for one in (
        ReadingSort(id="length", unit="mm", needs_second=False, says="a part from end to end"),
        ReadingSort(id="offset", unit="mm", needs_second=True, says="square to a face, to another feature"),
        ReadingSort(id="diagonal", unit="mm", needs_second=True, says="from point to point"),
        ReadingSort(
            id="gap", unit="mm", needs_second=True,
            says="stock of the square on one face, gap at its tip to the other; negative: light at the heel",
        ),
        ReadingSort(id="height", unit="mm", needs_second=False, says="above the flat plate it stands on"),
        ReadingSort(
            id="sweep", unit="mm", needs_second=True,
            says="a dial carried along the first, on the second, one row a station; more: nearer the dial",
        ),
        ReadingSort(
            id="level", unit="mm/m", needs_second=False, says="rise towards its end b, in mm per metre"
        ),
        ReadingSort(
            id="rock", unit="mm", needs_second=True,
            says="gap under one corner while the three others, named in the second column, touch the plate",
        ),
        ReadingSort(id="direct", unit="", needs_second=False, says="the characteristic itself"),
    )
}  # fmt: skip
"""All sorts by their names in the files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading. `first`, `second`: features as written, `second` also several with spaces between.

    `value` is in the unit of its sort; `written` the figures as they were typed. `at_mm`: station along the
    first part, or the blade's length used for a gap. `setting`: readings of one setting of a comparator
    share its zero. `turned`: the square or level was turned over. `round`: readings before a correction
    have a lower number than those after it. `half_width_mm`: instead of an instrument's.
    `set_aside`: why it shall not count; it is kept all the same.
    """

    id: str
    sort: str
    first: str
    second: str = ""
    value: float
    written: str = ""
    instrument: str = ""
    half_width_mm: float = 0.0
    at_mm: float | None = None
    setting: str = ""
    turned: bool = False
    round: int = 1
    step: str = ""
    date: str = ""
    by: str = ""
    note: str = ""
    set_aside: str = ""
    where: Where | None = None

    @property
    def unit(self) -> str:
        return SORTS[self.sort].unit

    @property
    def what(self) -> str:
        """Short words: "diagonal base/left-base:a-y to base/right-base:b+y"."""
        parts = [self.sort, self.first, *(["to", self.second] if self.second else [])]
        if self.at_mm is not None:
            parts.append(f"at {self.at_mm:g}")
        if self.turned:
            parts.append("turned over")
        return " ".join(parts)

    @property
    def same(self) -> tuple[object, ...]:
        """Equal for repeats of one and the same reading."""
        return (
            self.sort, self.first, self.second, self.instrument, self.half_width_mm, self.at_mm,
            self.setting, self.turned, self.round,
        )  # fmt: skip


def latest(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The readings that speak of the machine as it is now: of each step those of the last round, and every
    length of a single part, which no correction changes."""
    last: dict[str, int] = {}
    for reading in readings:
        last[reading.step] = max(last.get(reading.step, 0), reading.round)
    return tuple(
        reading for reading in readings if reading.round == last[reading.step] or reading.sort == "length"
    )

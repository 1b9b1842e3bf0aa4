"""The state of a build, as values: what the log's entries mean together. Pure.

What there may be a hundred thousand of is a structure of msgspec, for the reason that `Event` is one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import msgspec

from trysquare.record.memory import Memory


class Said(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Who said it, and when: the event's id, its number in the log, the device and its time."""

    id: str
    seq: int
    at: str
    device: str


class Mark(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A mark for the film. `clock_seconds`: on the recording's own counter; None when it is not known."""

    said: Said
    step: str | None
    label: str
    clock_seconds: float | None
    auto: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StepState:
    """One step as the log has it. `done`: who said last that it is done; None when it is not (any more).

    `reopened`: how often it was, `last_reopened` by whom last. `seconds`: time spent on it (see `spent`).
    """

    step: str
    opened: Said | None = None
    done: Said | None = None
    reopened: int = 0
    last_reopened: Said | None = None
    seconds: float = 0.0
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many pieces of a sort were counted, over all boxes. `boxes`: the last count in each ("": none)."""

    sort: str
    boxes: Mapping[str, int]
    said: Said

    @property
    def pieces(self) -> int:
        return sum(self.boxes.values())


class Reading(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One reading. `set_aside`: why it does not count; "" when it does. `row`: of a reading between features,
    its cells as readings/*.csv has them; empty for a characteristic."""

    said: Said
    step: str | None
    of: str
    value: float
    unit: str
    instrument: str = ""
    repeats: tuple[float, ...] = ()
    uncertainty: float | None = None
    note: str = ""
    files: tuple[str, ...] = ()
    set_aside: str = ""
    row: Mapping[str, str] = {}

    @property
    def value_mm(self) -> float | None:
        """The value in millimetres; None when it is no length."""
        scale = LENGTH_UNITS_MM.get(self.unit)
        return None if scale is None else self.value * scale


LENGTH_UNITS_MM: Mapping[str, float] = {
    "mm": 1.0, "µm": 0.001, "um": 0.001, "cm": 10.0, "m": 1000.0, "in": 25.4,
}  # fmt: skip
"""Lengths by unit. An inch is 25.4 mm: international yard and pound agreement of 1959, from memory."""


class Deviation(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """It was done differently. `count`: pieces, 1 when nobody said; `who`: the name of who said so, ""
    where only the device is known."""

    said: Said
    step: str | None
    what: str
    part: str
    by: str
    count: int
    why: str
    who: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPoint:
    """An item that was left open, with the reason. `sort`: "safety", "alignment" …, as it was said; `who`:
    as of a deviation."""

    said: Said
    step: str | None
    item: str
    reason: str
    sort: str
    who: str = ""


class KeptFile(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A photo or another file beside the log."""

    said: Said
    step: str | None
    subject: str | None
    sha256: str
    suffix: str
    says: str
    name: str
    sort: str


class Note(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Words for the record."""

    said: Said
    step: str | None
    subject: str | None
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruled:
    """Which paper is right for a line of the machine."""

    said: Said
    line: str
    paper: str
    why: str


class Torqued(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A joint or screw that was turned. `state`: "started", "snug", "final", or "" when nobody said."""

    said: Said
    step: str | None
    of: str
    state: str
    newton_metre: float | None
    tool: str


class Result(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What a page computed and kept."""

    said: Said
    step: str | None
    of: str
    verdict: str
    value: float | None
    unit: str
    uncertainty: float | None
    says: str
    values: Any
    files: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two devices said different things of one thing, and the later one could not know of the earlier.

    Both stay in the log; the later entry holds until somebody who knows of both says otherwise.
    `about`: the thing in words ("step square-the-frame", "count of … in box 2").
    """

    about: str
    step: str | None
    first: Said
    first_says: str
    second: Said
    second_says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildState:
    """The build after an entry of the log. All mappings are to be read only.

    `seq`: the last entry replayed; `hash`: its hash. `laid_out`: (step, part ref). `readings` by (step,
    characteristic), oldest first, those set aside included. `undone`: ids that do not count. `unknown`:
    entries of a kind this version does not know. `memory`: what replaying further entries needs.
    """

    seq: int = 0
    hash: str = ""
    steps: Mapping[str, StepState] = field(default_factory=dict)
    laid_out: frozenset[tuple[str, str]] = frozenset()
    counted: Mapping[str, Count] = field(default_factory=dict)
    readings: Mapping[tuple[str | None, str], tuple[Reading, ...]] = field(default_factory=dict)
    deviations: tuple[Deviation, ...] = ()
    open_points: Mapping[str, OpenPoint] = field(default_factory=dict)
    photos: tuple[KeptFile, ...] = ()
    files: tuple[KeptFile, ...] = ()
    notes: tuple[Note, ...] = ()
    marks: tuple[Mark, ...] = ()
    rulings: Mapping[str, Ruled] = field(default_factory=dict)
    torqued: Mapping[str, tuple[Torqued, ...]] = field(default_factory=dict)
    results: Mapping[str, tuple[Result, ...]] = field(default_factory=dict)
    undone: frozenset[str] = frozenset()
    conflicts: tuple[Conflict, ...] = ()
    unknown: int = 0
    memory: Memory = field(default_factory=Memory, repr=False, compare=False)

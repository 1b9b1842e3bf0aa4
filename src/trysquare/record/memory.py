"""What a replay remembers beside the state it shows, so that further entries cost only what they change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from trysquare.record.events import Logged
from trysquare.record.spent import DeviceClock, Span

if TYPE_CHECKING:
    from trysquare.record.state import Conflict

Cell = tuple[str | None, ...]
"""One thing that entries speak of: ("step", id), ("part", step, ref), ("count", sort), ("notes",) …"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """`cells`: all entries on each thing, in order, undone ones included. `cells_of`: the things that an
    event (its id) speaks of. `undos`: ids of the undo events that name an event; `undoes`: the reverse.
    `clocks` by device, `spans` by step: see `spent`. `conflicts`: the standing ones on each thing."""

    cells: Mapping[Cell, tuple[Logged, ...]] = field(default_factory=dict)
    cells_of: Mapping[str, tuple[Cell, ...]] = field(default_factory=dict)
    undos: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    undoes: Mapping[str, str] = field(default_factory=dict)
    clocks: Mapping[str, DeviceClock] = field(default_factory=dict)
    spans: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    conflicts: Mapping[Cell, tuple[Conflict, ...]] = field(default_factory=dict)

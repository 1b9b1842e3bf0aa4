"""What is computed of a machine for its pages: values that a child process makes and the server reads.

They hold nothing of the build log. Views that a page shows lie in them already filled as far as the machine
alone fills them; the server lays the log's state over them. Each part is a file of its own, so that the order
is shown while the rest is still being computed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trysquare.bench.views import Caution, Drawn, StepLink
from trysquare.bench.views_lists import (
    KeySection,
    KindRows,
    PaperView,
    PlaceRow,
    RulingView,
    SayingView,
    SlotView,
)
from trysquare.bench.views_step import FindingView, InstrumentView, MindView, StepView, ToReadView
from trysquare.stock.holdings import Asked


@dataclass(frozen=True, slots=True, kw_only=True)
class StepHead:
    """A step as the order shows it. `seconds`: planned; `basis`: "said", "measured" or "estimated"."""

    id: str
    number: int
    title: str
    unit: str
    seconds: float
    basis: str
    pieces: int
    reads: tuple[str, ...]
    cautions: tuple[str, ...]
    paper: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunHead:
    """Steps of one unit that follow each other, by their numbers from `first` to `last`."""

    number: int
    unit: str
    title: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """Part 1: who the machine is, its order, its sorts, what is to be read, its papers.

    `kinds`: sorts without counts. `sort_of`: part id or other name -> its sort's ref. `to_read`: without
    readings. `planned_mark`: seconds in a film for each step, in order. `without`: what the folder does not
    say, in words.
    """

    machine: str
    name: str
    summary: str
    steps: tuple[StepHead, ...]
    runs: tuple[RunHead, ...]
    pieces: int
    sorts: int
    joints: int
    screws: int
    kinds: tuple[KindRows, ...]
    sort_of: Mapping[str, str]
    cautions: Mapping[str, Caution]
    to_read: tuple[ToReadView, ...]
    instruments: tuple[InstrumentView, ...]
    papers: tuple[PaperView, ...]
    rulings: tuple[RulingView, ...]
    said: tuple[SayingView, ...]
    contradictions: tuple[tuple[str, tuple[SayingView, ...]], ...]
    without: tuple[str, ...]
    film: FilmFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmFacts:
    """What chapters are made of: the planned seconds of each step in a film, as (step, title, seconds), and
    the texts of the planned exports by name."""

    planned: tuple[tuple[str, str, float], ...]
    texts: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFacts:
    """What the page of a sort says beside its row."""

    places: tuple[PlaceRow, ...]
    steps: tuple[tuple[StepLink, int], ...]
    minds: tuple[MindView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepsFacts:
    """Part 2: the pages of steps, slots, the sorting key, parts. `placed`: placed piece -> its sort."""

    steps: Mapping[str, StepView]
    slots: tuple[SlotView, ...]
    empty_slots: int
    sections: tuple[KeySection, ...]
    rolls: tuple[str, ...]
    minutes: int
    alike: Mapping[str, tuple[str, ...]]
    parts: Mapping[str, PartFacts]
    placed: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockFacts:
    """What the packing lists say, and what is asked of them. `names`: boxes; `boxes`: sort -> "4 in box 2";
    `asked`: the question that the server answers anew after each entry of the log."""

    names: tuple[str, ...] = ()
    boxes: Mapping[str, str] = field(default_factory=dict)
    asked: Asked | None = None
    waiting: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingsFacts:
    """Part 3: findings, heaviest first, what could not be checked, and the stock."""

    findings: tuple[FindingView, ...]
    not_checked: tuple[str, ...]
    stock: StockFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDrawn:
    """A sort's picture. `width_mm`, `height_mm`: how large it is in truth as it is seen there."""

    drawn: Drawn
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFacts:
    """Part 4: pictures of sorts, by ref, and the address of what each step's 3D view shows."""

    parts: Mapping[str, PartDrawn]
    solids: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFacts:
    """Part 5, said again and again while it grows: pictures of steps by id, "" for the whole machine.
    `all`: how many there will be at most; `looks`: the way the eye looks in each, in the frame of the work as
    it lies."""

    steps: Mapping[str, Drawn]
    all: int
    looks: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFacts:
    """Who says so: identities (placed parts, joints, steps, types, units) with their line, and every word
    on each line."""

    line_of: Mapping[str, str]
    words: Mapping[str, tuple[SayingView, ...]]


PARTS: Mapping[str, type] = {
    "order": OrderFacts,
    "steps": StepsFacts,
    "findings": FindingsFacts,
    "lines": LineFacts,
    "drawn": DrawnFacts,
    "pictures": PictureFacts,
}
"""The parts by the name of their file, in the order in which they are made."""

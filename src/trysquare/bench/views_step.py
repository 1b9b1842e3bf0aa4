"""What the pages of the order, its steps and their cards show, as values: see `views`."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.bench.views import (
    Caution,
    ConflictView,
    DeviationView,
    Drawn,
    KeptView,
    LineLink,
    OpenView,
    SaidAt,
    StepLink,
    ToScale,
)

# --- the order


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """A step on the order page. `pieces`: how many it takes; `planned`: "12 min" ("about" where estimated);
    `spent`: "9 min", "" when none; `reads`: how many characteristics; `cautions`: titles; `paper`: title
    when it is not from the base; `skipped`: it was left out as a whole, and why."""

    id: str
    number: int
    title: str
    href: str
    done: bool
    begun: bool
    here: bool
    open_points: int
    pieces: int
    planned: str
    spent: str
    reads: int
    cautions: tuple[str, ...]
    paper: str
    conflict: bool = False
    skipped: DeviationView | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderUnit:
    """A run of steps of one unit, as `UnitRun`. `picture`: of its last step, where it is drawn."""

    number: int
    name: str
    title: str
    anchor: str  # "unit-2"
    done: int
    planned: str
    spent: str
    left: str
    steps: tuple[OrderStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number of the overview: "879", "pieces", where it is explained. `weight`: "", "doubt" or "stop"."""

    value: str
    unit: str
    says: str
    href: str = ""
    weight: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderView:
    """`/`: the order of the build, with progress, times, stock balance, findings, open points.

    `first_visit`: nothing has been said in this log yet; then the page teaches in ten seconds. `begin`: the
    step to go on with; None when all is done or there are no steps. `summary`: the machine in a sentence.
    `without`: what the machine folder does not say yet and what is missing therefore, in words.
    """

    summary: str
    first_visit: bool
    begin: StepLink | None
    units: tuple[OrderUnit, ...]
    figures: tuple[Figure, ...]
    spent: str
    left: str
    cover: Drawn | None
    stock_says: str  # "The boxes hold enough for all 68 steps." / "… up to step 12: …"; "" without boxes
    stops: int
    doubts: int
    notes: int
    open_points: tuple[OpenView, ...]
    conflicts: tuple[ConflictView, ...]
    deviations: int
    readings_made: int
    readings_all: int
    without: tuple[str, ...] = ()
    skipped: tuple[DeviationView, ...] = ()


# --- a step


@dataclass(frozen=True, slots=True, kw_only=True)
class InsteadView:
    """Pieces of another sort to pick, as too few of the right one are there. `sort`: to post as `by`."""

    sort: str
    pieces: int
    letter: str
    name: str
    size: str
    box: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PickView:
    """Pieces of one sort to lay out.

    `refs`: piece ids, to post in `laid-out` and `taken-back` ({"parts": refs}); `laid`: how many of them
    lie ready. `part`: the sort's ref (its page: `href`), for deviations. `letter`: as on labels and in the
    book, "" for what is cut from a roll. `where`: where the pieces go; `boxes`: "4 in box 2"; `alike`:
    how to tell it from what looks alike, in words, each one pair. `deviations`: what was said of it here;
    `instead`: of `pieces`, those for which another sort is there.
    """

    part: str
    refs: tuple[str, ...]
    laid: int
    pieces: int
    count: str  # "4 ×", or "1.2 m" for what is cut
    letter: str
    name: str
    size: str
    where: str
    boxes: str
    href: str
    alike: tuple[str, ...] = ()
    picture: ToScale | None = None
    deviations: tuple[DeviationView, ...] = ()
    instead: tuple[InsteadView, ...] = ()
    is_fastener: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolView:
    """A tool or something used up. `term`: a word of the glossary, "" when none explains it."""

    name: str
    term: str = ""
    used_up: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewView:
    """Screws of one sort that an action turns. `key`: "key 2.5"; `torque`: "at most 1.1 N·m (…)"."""

    letter: str
    count: str
    name: str
    key: str
    torque: str
    joints: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionView:
    """One thing to do. `verb`, `to`, `says`, `how` are words; `term`: the verb's word of the glossary.

    `joints`: names for a `torqued` event, where the action tightens; `state`: "snug" or "final" then.
    `item`: of a sign-off or check, the name to post when it is seen to; `must`: the same where the step must
    not be left without it, else "". `ticked`: seen to; `said`: who said so, whose event can be taken back
    with `undo`.
    """

    verb: str
    term: str
    to: str
    says: str
    how: str
    order: str
    screws: tuple[ScrewView, ...] = ()
    joints: tuple[str, ...] = ()
    state: str = ""
    torqued: bool = False
    item: str = ""
    must: str = ""
    must_sort: str = ""
    ticked: bool = False
    said: SaidAt | None = None
    line: LineLink | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentView:
    """An instrument the builder owns. `half_width`: U of one reading, in the characteristic's own unit; None
    where it cannot be said in that unit. `limits`: its error limits there, `scatter`: of repeats. `told`:
    "caliper, ± 0.03 mm"; `chosen`: the step names it."""

    id: str
    sort: str
    half_width: float | None
    told: str
    chosen: bool = False
    limits: float | None = None
    scatter: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingView:
    """A reading that was made. `verdict`: "good", "bad", "cannot-tell", or "" without a limit; `told`: the
    verdict as a sentence. `set_aside`: why it does not count, "" when it does."""

    value: str  # "0.12 mm"
    number: float
    instrument: str
    uncertainty: str
    verdict: str
    told: str
    note: str
    set_aside: str
    said: SaidAt
    step: StepLink | None = None
    files: tuple[KeptView, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ToReadView:
    """A characteristic to read. Post `reading` with of=`of`, unit=`unit`.

    `limit`: a number in `unit` ("mm", "mm/100", "newton", "ohm"; `unit_told` as it is shown); None: no limit.
    `settled`: verdict of the reading that `stands` at this step ("good", "bad", "cannot-tell", "" for none):
    of the last that counts, but what was out stays so until one says in. `stood`: its value, limit and
    instrument in words while it is out. `is_alignment`: the step must not be left while it is not good:
    `must` is the item to post in `left-open`, "" otherwise. `times`: how often this step reads it. `guard`:
    up to where it says good and from where bad, in words. `tool`: title and address of a tuning tool that
    measures it, "" for none.
    """

    of: str
    what: str
    on: str
    limit: float | None
    limit_told: str
    unit: str
    unit_told: str
    reason: str
    times: int
    guard: str
    instruments: tuple[InstrumentView, ...]
    settled: str
    is_alignment: bool
    must: str
    readings: tuple[ReadingView, ...] = ()
    stands: ReadingView | None = None
    stood: str = ""
    steps: tuple[StepLink, ...] = ()
    term: str = ""
    tool: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class NutsView:
    """Nuts that go into one slot now. `at`: "12, 62, 112" mm from end a; `end`: the nearer end."""

    member: str
    slot: str
    letter: str
    nut: str
    pieces: int
    at: str
    end: str
    joints: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeavesView:
    """How tight the step leaves joints: "final", "snug", "started", "partly there". `until`: the step that
    goes on with them."""

    state: str
    joints: str
    until: StepLink | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MindView:
    """A mistake to watch for: how a part also goes in, what then, where to look."""

    part: str
    how: str
    instead: str
    then: str
    look: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingView:
    """A finding. `weight`: "stop", "doubt", "note"; `code` opens `/findings#code`. `follows`: what it follows
    from, in words; "" from nothing."""

    code: str
    weight: str
    says: str
    remedy: str
    meaning: str
    consequence: str
    where: str
    step: StepLink | None = None
    parts: tuple[tuple[str, str], ...] = ()  # (name, href)
    follows: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """`/step/<id>`.

    `picture`: the step's drawing, None while it is not there: then `picture_waits` says whether it is
    being drawn (True) or there is none to draw. `solid_href`: the meshes for the 3D view, "" when no part has
    a solid. `must`: all that the step must not be left without, open or not; the page offers Done only
    with a reason while something of it is open (`open_now`). `skipped`: it was left out as a whole.
    `before`, `after`: neighbour steps. `shortage`: what the counts say is missing for this step, in
    sentences. `seconds`: spent so far. `unsafe`: points of safety that earlier steps were left with.
    """

    id: str
    number: int
    of: int
    title: str
    unit: str
    unit_title: str
    why: str
    planned: str
    spent: str
    done: SaidAt | None
    reopened: int
    paper: str
    line: LineLink | None
    cautions: tuple[Caution, ...]
    picture: Drawn | None
    picture_waits: bool
    solid_href: str
    solid_looks: str = ""
    card_href: str
    picks: tuple[PickView, ...]
    tools: tuple[ToolView, ...]
    actions: tuple[ActionView, ...]
    to_read: tuple[ToReadView, ...]
    nuts: tuple[NutsView, ...]
    leaves: tuple[LeavesView, ...]
    minds: tuple[MindView, ...]
    findings: tuple[FindingView, ...]
    must: tuple[OpenView, ...]
    open_now: tuple[OpenView, ...]
    left_open: tuple[OpenView, ...]
    deviations: tuple[DeviationView, ...]
    photos: tuple[KeptView, ...]
    notes: tuple[tuple[str, SaidAt], ...]
    conflicts: tuple[ConflictView, ...]
    shortage: tuple[str, ...]
    before: StepLink | None
    after: StepLink | None
    next_open: StepLink | None  # the first step after this one that is not done; None: none
    ready: bool = True  # False: what it takes is being computed
    skipped: DeviationView | None = None
    unsafe: tuple[OpenView, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CardView:
    """`/step/<id>/card`: the lower third for a film, on a clear ground; `template` is `card.html`, which
    has no frame. `tall`: for upright film (`?shape=tall`)."""

    number: int
    of: int
    title: str
    unit: str
    picks: tuple[PickView, ...]
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    tall: bool
    title_only: bool

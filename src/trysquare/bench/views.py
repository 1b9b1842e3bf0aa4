"""What each page shows, as values: the templates get one of these as `page`, and `frame` for all around it.

`views_step` has the pages of the order and its steps, `views_lists` all others.

All texts are plain words, to be escaped where they are shown; drawings come by address. Numbers that are
only read are texts already, with their unit; those that a script computes with are numbers, unit in the name.
The templates: order, step, card (no frame), parts, part, slots, findings, papers, readings, open, film, join,
help, failed (`.html`). Every template gets: `frame: Frame`, `page: …View`, and the functions `asset(name)`
(address of a static file with its version) and `clock(text)` (a time of the log as "14:05", with its day when
it is not today).
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Graduation:
    """One step on the rule. `number` counts from 1 through the whole machine; `open_points`: left open here;
    `here`: the step of the page shown, else the next one to do; `conflict`: two devices differ on it."""

    id: str
    number: int
    title: str
    href: str
    done: bool = False
    begun: bool = False
    open_points: int = 0
    here: bool = False
    conflict: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRun:
    """Steps of one unit that follow each other: a numbered centimetre of the rule. A unit whose steps are
    interrupted by another's has several runs. `name` is "" for the machine itself: then show `title`."""

    number: int
    name: str
    title: str
    graduations: tuple[Graduation, ...]
    href: str  # to its place on the order page, "/#unit-2"

    @property
    def done(self) -> int:
        return sum(one.done for one in self.graduations)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Why the machine folder (or a post) cannot be read as it stands."""

    where: str  # "steps.toml:41, step.rail.actions"
    read: str
    expected: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """What has been computed so far. Pages of what is not ready show that it is on its way.

    `order`: parts, joints, steps (all else needs it); `steps`: what each step takes, slots, wrong ways;
    `findings`; `pictures`: all drawn, `pictures_done` of `pictures_all`. `busy`: something is being computed.
    """

    order: bool = False
    steps: bool = False
    findings: bool = False
    pictures: bool = False
    pictures_done: int = 0
    pictures_all: int = 0
    busy: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """All around a page.

    Facts for scripts, as `<meta name="trysquare-…">`: `machine` (id; the browser's queue is kept by it),
    `token` (for posts), `seq` (last entry of the log this page knows), `version` (of the machine; changes
    with an edit), `device` (this device's name). `writable`: whether the log takes entries; else
    `why_read_only` says why not. `problems`: the folder was edited and cannot be read; what is shown is
    the last state that could be. `no_machine`: no state could be read yet. `secure`: over https or on this
    computer, so that wake lock, microphone and offline reload are allowed. `here`: which page, for the menu:
    "order", "step", "parts", "slots", "findings", "papers", "readings", "open", "film", "join", "help".
    `further`: pages that other rooms add, as (title, href).
    """

    machine: str
    machine_name: str
    folder: str
    token: str
    seq: int
    version: str
    device: str
    here: str
    title: str
    rule: tuple[UnitRun, ...] = ()
    steps_done: int = 0
    steps_all: int = 0
    open_points: int = 0
    conflicts: int = 0
    ready: Ready = field(default_factory=Ready)
    writable: bool = True
    why_read_only: str = ""
    problems: tuple[Problem, ...] = ()
    no_machine: bool = False
    secure: bool = True
    is_local: bool = True
    further: tuple[tuple[str, str], ...] = ()


# --- what several pages show


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A drawing by its address (SVG). `width`, `height`: its own size in mm or px, for the room it takes.
    `says`: it in words, for `alt`."""

    href: str
    width: float
    height: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToScale:
    """A part's picture at true relative size: pictures with the same `scale` number in one step are drawn to
    one scale. `width_px`, `height_px`: how large to show it; `mark_mm` is `mark_px` long there, for a small
    measure beside the first picture of each scale. A `scale` of 0 is none: shown larger than it is."""

    href: str
    width_px: int
    height_px: int
    says: str
    scale: int
    mark_mm: float
    mark_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLink:
    """A step named elsewhere. `number` 0: there is no such step (any more)."""

    id: str
    number: int
    title: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLink:
    """Where it is said: the line of the machine, to be opened on the papers page ("who says so")."""

    line: str
    paper: str  # title of the paper that holds; "" for the base
    where: str  # "steps.toml:41"
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A usual caution; defers to local codes and licensed practice. `short` on the step, `says` on tap."""

    id: str
    title: str
    short: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidAt:
    """Who said it and when. `event`: id, to take it back with `undo`; `at`: UTC, for `clock`; `mine`: this
    device said it; `who`: by name, "" where only the device is known."""

    event: str
    seq: int
    at: str
    device: str
    mine: bool = False
    who: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptView:
    """A photo or file kept beside the log. `is_picture`: can be shown as an image; `href` gives the bytes."""

    href: str
    name: str
    says: str
    is_picture: bool
    said: SaidAt
    step: StepLink | None = None
    subject: str = ""
    sort: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviationView:
    """It was done differently. `what`: "substitute", "extra", "skipped", "damaged", "missing"; `says`: in
    one sentence. `part`: ref or sort, "" for the step as a whole."""

    what: str
    part: str
    name: str
    letter: str
    by: str
    count: int
    why: str
    says: str
    said: SaidAt
    step: StepLink | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenView:
    """An item that is open. Left open: with `reason` and `said`. `sort`: "safety", "alignment", "sign-off",
    or "" for others. `item`: the name to post in `left-open` and `settled`; `says`: it in words. `read`: of
    what was read and is out, the value, limit and instrument."""

    item: str
    sort: str
    says: str
    reason: str = ""
    said: SaidAt | None = None
    step: StepLink | None = None
    read: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictView:
    """Two devices said different things and neither knew of the other. The second holds until somebody says
    otherwise; both are kept."""

    about: str
    first: SaidAt
    first_says: str
    second: SaidAt
    second_says: str
    step: StepLink | None = None

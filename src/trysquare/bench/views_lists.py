"""What the pages of lists, film, joining, words and failures show, as values: see `views`."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.bench.views import (
    ConflictView,
    DeviationView,
    Drawn,
    KeptView,
    LineLink,
    OpenView,
    Problem,
    SaidAt,
    StepLink,
)
from trysquare.bench.views_step import FindingView, InstrumentView, MindView, ReadingView, ToReadView

# --- parts


@dataclass(frozen=True, slots=True, kw_only=True)
class CountView:
    """What was counted of a sort. `boxes`: (box, pieces), box "" when nobody said."""

    pieces: int
    boxes: tuple[tuple[str, int], ...]
    said: SaidAt


@dataclass(frozen=True, slots=True, kw_only=True)
class SortRow:
    """One sort. `sort`: its ref, to post in `counted`. `listed`: what the packing lists say came, None
    without boxes. `balance`: what is left over once everything is served, below 0 what nothing serves; None
    when nothing is known. `told`: "3 short", "exactly", "2 to spare", what serves instead; "" when nothing
    is known."""

    sort: str
    letter: str
    name: str
    also: str
    size: str
    kind: str
    pieces: int
    length: str
    listed: int | None
    boxes: str
    counted: CountView | None
    balance: int | None
    told: str
    weight: str  # "", "good", "doubt", "bad"
    href: str
    sketch: Drawn | None
    alike: tuple[str, ...]
    words: str  # for searching
    first_step: StepLink | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KindRows:
    """Sorts of one kind under its heading."""

    heading: str
    rows: tuple[SortRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyRow:
    """One line of the sorting key. `row`: "question" (`ask`, `how`), "answer" (`answer`, leads on) or "end"
    (`answer`, the pile `pile` with its `letters`). `depth` indents."""

    row: str
    depth: int
    answer: str = ""
    ask: str = ""
    how: str = ""
    pile: str = ""
    letters: tuple[tuple[str, str, str], ...] = ()  # (letter, name, href)
    pieces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class KeySection:
    """The key of one form of part. `alike`: pairs that look alike, in words; `wrong`: "about 1 piece in 300"
    ends in a wrong pile unnoticed; `missing`: what a wrong count most likely means, (pile, words)."""

    form: str
    anchor: str
    sorts: int
    pieces: int
    rows: tuple[KeyRow, ...]
    alike: tuple[str, ...]
    wrong: str
    missing: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsView:
    """`/parts`: all sorts with counting, and the sorting key."""

    kinds: tuple[KindRows, ...]
    sections: tuple[KeySection, ...]
    rolls: tuple[str, ...]
    minutes: int
    has_boxes: bool
    boxes: tuple[str, ...]  # names of boxes, to offer when counting
    counted: int  # sorts
    sorts: int
    short: int
    stock_says: str = ""  # how far what is there reaches, as on the order's page
    ready: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRow:
    """Where a piece of a part goes: its id, and the step that takes it."""

    ref: str
    step: StepLink | None
    line: LineLink | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """`/part/<ref>`: one sort, or one placed piece of it (`ref`); what the codes on labels open."""

    ref: str
    row: SortRow
    places: tuple[PlaceRow, ...]
    steps: tuple[tuple[StepLink, int], ...]  # with pieces taken there
    picture: Drawn | None
    minds: tuple[MindView, ...]
    deviations: tuple[DeviationView, ...]
    photos: tuple[KeptView, ...]
    says: tuple[SayingView, ...]


# --- slots, findings, papers, readings, open points


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotPieceView:
    """Pieces of one sort for one joint in a slot. `before`: the step that shuts them out."""

    letter: str
    sort: str
    joint: str
    pieces: int
    at: str
    step: StepLink | None
    before: StepLink | None
    late: bool  # the step that shuts them out is done, the one that brings them is not


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotView:
    """One slot with something in it. `ends`: (name, where it looks, step that closes it or None, by what)."""

    member: str
    slot: str
    looks: str
    sketch: Drawn
    ends: tuple[tuple[str, str, StepLink | None, str], ...]
    pieces: tuple[SlotPieceView, ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotsView:
    """`/slots`: the slot ledger by member."""

    slots: tuple[SlotView, ...]
    empty: int
    ready: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingsView:
    """`/findings` by weight, the heaviest first. `not_checked`: what could not be checked, in words."""

    groups: tuple[tuple[str, str, tuple[FindingView, ...]], ...]  # (weight, heading, rows)
    not_checked: tuple[str, ...]
    ready: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SayingView:
    """One paper's word on a line. `stands`: it holds; `does`: "says", "adds", "replaces", "removes"."""

    line: str
    paper: str
    title: str
    does: str
    read: str
    reason: str
    page: str
    stands: bool
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperView:
    """A paper. `over`: titles of the papers it lies over."""

    id: str
    title: str
    kind: str
    edition: str
    over: tuple[str, ...]
    reason: str
    lines: int
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RulingView:
    """A decision between papers: from the folder, or said at the bench (then `said`)."""

    line: str
    paper: str
    why: str
    said: SaidAt | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PapersView:
    """`/papers`, and with `?of=` an identity or line: who says so. `asked`: what was asked for, `answers`
    every word on it; `contradictions`: lines on which papers differ and nobody has ruled: (line, words)."""

    papers: tuple[PaperView, ...]
    rulings: tuple[RulingView, ...]
    asked: str
    line: str
    answers: tuple[SayingView, ...]
    said: tuple[SayingView, ...]  # of the paper asked for with ?paper=, else every line papers differ on
    contradictions: tuple[tuple[str, tuple[SayingView, ...]], ...]
    ready: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsView:
    """`/readings`: every characteristic with its readings, and what else was read."""

    to_read: tuple[ToReadView, ...]
    others: tuple[tuple[str, tuple[ReadingView, ...]], ...]
    instruments: tuple[InstrumentView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPointsView:
    """`/open`. `left_open`: with reasons; `coming`: items of steps that are begun and not done; `deviations`,
    `conflicts`, `stops` (findings that stop the build), `bad`: readings out of their limit; `unsure`: how
    many parts of an import are asked; `signed`: sign-offs that stand, which are closed."""

    left_open: tuple[OpenView, ...]
    coming: tuple[OpenView, ...]
    bad: tuple[ToReadView, ...]
    deviations: tuple[DeviationView, ...]
    conflicts: tuple[ConflictView, ...]
    stops: tuple[FindingView, ...]
    unsure: int = 0
    signed: tuple[OpenView, ...] = ()


# --- film, join, help, errors


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkView:
    """A clock mark. `clock`: "0:12:31" on the recording's own counter, "" when it is not known."""

    label: str
    clock: str
    seconds: float | None
    auto: bool
    said: SaidAt
    step: StepLink | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmView:
    """`/film`. `chapters`: (title, "12:34") as the marks give them, else as planned; `exports`: (words, href)
    of `/film/chapters.vtt`, `.txt`, `.ffmetadata`, `/film/subtitles.vtt`, `/film/lists.txt`;
    `problem`: why no chapters can be made of the marks, in words."""

    marks: tuple[MarkView, ...]
    chapters: tuple[tuple[str, str], ...]
    from_marks: bool
    exports: tuple[tuple[str, str], ...]
    problem: str
    step: StepLink | None
    cards: tuple[StepLink, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceView:
    """A device that has joined. `id` to revoke it: POST `/join/revoke` with `device`."""

    id: str
    name: str
    since: str
    seen: str
    is_this: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BrowserSteps:
    """What one browser needs before it trusts the bench's certificate: steps in words."""

    browser: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinView:
    """`/join` on this computer (`may_invite`): a code and QR for the next device, the devices that have
    joined, how to trust the certificate. On a device that has not joined: a form for the code (POST `/join`
    with `code` and `name`, form-encoded, hidden field `join_token`), `wrong` says what was wrong with it."""

    may_invite: bool
    is_open: bool  # to the LAN at all; else `how_to_open` says how
    how_to_open: str
    joined: bool
    code: str
    code_minutes: int
    qr_href: str  # SVG of the address with the code
    addresses: tuple[str, ...]
    devices: tuple[DeviceView, ...]
    https: bool
    certificate_href: str
    fingerprint: str
    browsers: tuple[BrowserSteps, ...]
    allows: tuple[tuple[str, bool], ...]  # what this address allows: ("Wake lock", True) …
    given_code: str = ""  # from the QR code's address, to fill in
    join_token: str = ""
    wrong: str = ""
    suggested_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpView:
    """`/help/<term>`: a word explained; with `term` "" all of them. The answer stands in `data-answer`."""

    term: str
    word: str
    says: str
    why: str  # why it matters at the bench
    see: tuple[tuple[str, str], ...]  # (word, href)
    all: tuple[tuple[str, str, str], ...]  # (term, word, says); empty for one term


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedView:
    """Any error page. `status`: HTTP; `title`, `says`, `remedy` in words; `problems` when a file is behind
    it; `links`: where to go from here."""

    status: int
    title: str
    says: str
    remedy: str
    problems: tuple[Problem, ...] = ()
    links: tuple[tuple[str, str], ...] = ()
    again: bool = False  # it asks for itself anew: nothing has failed, it only waits

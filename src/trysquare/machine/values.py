"""The machine as values: part types, placed parts, joints with every fastener, steps, papers.

Everything is in the machine frame unless a docstring says "own coordinates": +x right, +y back,
+z up, millimetres. Ids of placed things are paths: ``frame/front-bottom``; fasteners made by a
joint are ``frame/corners/screw.3``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from trysquare.catalogue.instruments import kind_of, unmarked_half_width_mm
from trysquare.catalogue.values import (
    BlockSize,
    Insert,
    Profile,
    RailSize,
    Screw,
    StandardPart,
    Thread,
)
from trysquare.ground.errors import Where
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Placement, Triple
from trysquare.machine.tree import Tree


class Kind(StrEnum):
    """What a part is to the builder; decides where it is listed."""

    MEMBER = "member"
    PLATE = "plate"
    PRINTED = "printed"
    BOUGHT = "bought"
    FASTENER = "fastener"
    GUIDE = "guide"  # rails and blocks
    DRIVE = "drive"  # belts, pulleys, lead screws
    WIRE = "wire"
    CONSUMABLE = "consumable"  # grease, threadlocker, tape
    JIG = "jig"  # a reusable tool that is not part of the machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A round hole of a part, own coordinates.

    `at_mm` is the centre where it opens on the side a screw's head would be; `direction` points
    out of the material there. `depth_mm` runs from `at_mm` against `direction`; with `through` it
    opens again on the far side. A tapped hole has `thread` ("M5"), a hole for a heat-set insert
    has `insert` (its designation). `counterbore_depth_mm` is how far under the surface a
    cylinder head sits; `countersunk` holes take a countersunk head flush.
    `access` marks a hole that only lets a key through.
    """

    name: str  # "motor.2"; the group is the part before the last dot
    at_mm: Triple
    direction: Triple
    diameter_mm: float
    depth_mm: float
    through: bool
    thread: str = ""
    insert: str = ""
    counterbore_mm: float = 0.0
    counterbore_depth_mm: float = 0.0
    countersunk: bool = False
    access: bool = False

    @property
    def group(self) -> str:
        return self.name.rpartition(".")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Primitive:
    """One body of a part made from simple solids, own coordinates.

    ``box``: `size_mm` from the lowest corner at `at_mm`. ``cylinder``: diameter and length, from the
    centre of its first face at `at_mm` along `along`. ``cut`` takes material away.
    """

    shape: str  # "box" or "cylinder"
    size_mm: tuple[float, ...]
    at_mm: Triple
    along: Triple
    cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """A round shaft or spindle of a part on which something else is fixed, own coordinates."""

    name: str
    at_mm: Triple  # where the free shaft begins
    direction: Triple  # towards its free end
    diameter_mm: float
    length_mm: float
    flat: bool
    flat_toward: Triple | None = None  # out of the flat; None: nobody says


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartType:
    """A sort of part. Its solid follows from exactly one of: `standard`, `profile` (a member),
    `outline_mm` with `thickness_mm` (a plate, z from 0 to thickness), `primitives`, `shape_file`.
    None of them: no solid, and checks say so.
    """

    id: str  # own id, or the canonical designation of a standard part
    name: str
    kind: Kind
    standard: StandardPart | None = None
    profile: Profile | None = None
    length_mm: float = 0.0
    tapped_ends: tuple[str, ...] = ()  # of a member: "a", "b"
    tapped_depth_mm: float = 0.0
    cut_mm: float = 0.0  # of a member: its length is true to ± this; 0: not said
    end_mm: float = 0.0  # of a member: an end is out of square by ± this across its section; 0: not said
    outline_mm: tuple[tuple[float, float], ...] = ()
    thickness_mm: float = 0.0
    primitives: tuple[Primitive, ...] = ()
    shape_file: str = ""  # relative to the machine folder
    shape_digest: str = ""  # of the file's bytes
    holes: tuple[Hole, ...] = ()
    shafts: tuple[Shaft, ...] = ()
    points: Mapping[str, Triple] = field(default_factory=dict)  # named points: terminals, belt clamps
    pins: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # by point, left to right
    pins_seen: str = "mating side"  # or "back": where one looks from at `pins`
    material: str = ""
    mass_gram: float = 0.0  # 0: not said
    hand: str = ""  # "left", "right" or ""
    revision: str = ""
    mates_with: Mapping[str, str] = field(default_factory=dict)  # part id -> revision it needs
    aliases: tuple[str, ...] = ()
    opens_celsius: float = 0.0  # of a thermal cut-off; 0 when not said
    bears_celsius: float = 0.0  # hottest it bears, the adhesive under it included; 0 when not said
    cure_minutes: float = 0.0  # of a consumable: before anything pulls on what it holds, or warms it
    holds_nuts: bool = False  # a printed carrier that keeps nuts from sliding
    cutter: bool = True  # own holes are cut from the solid (False when the shape already has them)
    where: Where | None = None
    paper: str = ""

    @property
    def has_solid(self) -> bool:
        return bool(
            (self.standard is not None and self.kind not in (Kind.WIRE, Kind.CONSUMABLE))
            or self.profile
            or self.outline_mm
            or self.primitives
            or self.shape_file
        )

    def holes_of(self, group: str) -> tuple[Hole, ...]:
        """Holes of a group ("motor") or the single hole of that name ("motor.2")."""
        return tuple(hole for hole in self.holes if group in (hole.group, hole.name))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedPart:
    """One piece in its place in the finished machine. `joint` is the joint that brought it, or ""."""

    id: str
    type: PartType
    placement: Placement
    unit: str
    joint: str = ""
    where: Where | None = None
    paper: str = ""


class Host(StrEnum):
    """What a screw's thread bites into."""

    SLOT_NUT = "slot nut"
    NUT = "nut"
    INSERT = "insert"
    TAPPED = "tapped hole"
    BAR = "threaded bar"
    NONE = "none"  # a set screw's tip presses, or nothing was found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grip:
    """One clamped layer under the head, in order from the head."""

    part: str  # placed id
    from_mm: float  # distance below the head's bearing face where the layer begins
    to_mm: float
    hole_mm: float  # diameter of the hole the shank passes; 0 when no hole was found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fastening:
    """One screw with all it passes and bites. Distances are measured from the head's bearing face
    into the work (for a set screw: from its socket end).

    `axis`: unit vector out of the head towards the key, machine frame.
    `thread_from_mm`..`thread_to_mm`: where the host's usable thread lies.
    `room_mm`: distance at which the tip would meet something solid (slot floor, blind end); inf if free.
    """

    id: str  # "frame/corners.3"
    joint: str
    screw: str  # placed id
    screw_type: Screw
    head_mm: Triple
    axis: Triple
    grips: tuple[Grip, ...]
    host: Host
    host_part: str  # placed id of the nut, insert or tapped part; "" if none
    host_thread: str  # "M3"
    host_material: str  # "steel", "brass", "aluminium", a plastic …
    thread_from_mm: float
    thread_to_mm: float
    room_mm: float
    room_part: str = ""
    slot_member: str = ""  # placed id of the member in whose slot the nut or the head lies
    slot_face: str = ""  # slot name, "+y" or "+y.2"
    slot_at_mm: float = 0.0  # along the member from end a
    head_in_slot: bool = False  # a blind joint: the head, not the nut, lies in the slot
    washers: tuple[str, ...] = ()
    carrier: str = ""
    access: tuple[Triple, Triple] | None = None  # (socket, direction outwards), same as head and axis
    access_hole_mm: float = 0.0  # diameter of the hole in a member the key must pass; 0: open air
    needs_access_hole: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltSpan:
    """One straight piece of belt between two tangent points, machine frame."""

    begins: str  # placed id of pulley or clamp
    ends: str
    length_mm: float
    from_mm: Triple
    to_mm: Triple


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltRun:
    """A belt on its path."""

    joint: str
    belt: str  # designation
    placed: str  # placed id of the belt
    length_mm: float  # along the pitch line
    teeth: float  # length / pitch
    closed: bool
    spans: tuple[BeltSpan, ...]
    teeth_in_mesh: Mapping[str, float]  # by toothed pulley id
    equal_to: str  # joint id of the belt that must be as long, or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CableRun:
    """A cable on its way. Cables have no solid."""

    joint: str
    wire: str  # designation
    cores: int
    label: str
    from_terminal: str
    to_terminal: str
    ampere: float
    volt: float
    length_mm: float  # path plus slack
    points_mm: tuple[Triple, ...]
    through: tuple[str, ...]  # placed ids of glands, chains, plates it passes
    openings_mm: tuple[float, ...]  # diameter of the hole named in each of them; 0 where none is named
    plug_mm: float  # the largest fitted connector across; 0: fitted after routing
    role: str  # "heater", "motor", "signal", "mains", "supply", "earth"
    fuse_ampere: float = 0.0  # of the fuse that protects it; 0: not said
    contact_ampere: float = 0.0  # what the weakest contact of it bears; 0: not said
    pins: tuple[str, ...] = ()  # its cores at the `from` end, left to right
    pins_seen: str = ""  # "wire side", "mating side": where one looks from at the pins
    to_pins: tuple[str, ...] = ()  # its cores at the `to` end, left to right
    to_pins_seen: str = "wire side"
    from_part: str = ""  # placed id of the part that it begins at
    to_part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """What holds parts together, with everything its recipe expanded to.

    `parts` are the placed structural parts it joins; `brings` the placed fasteners, nuts, washers,
    inserts, carriers, belts it adds, in picking order.
    """

    id: str
    recipe: str
    unit: str
    parts: tuple[str, ...]
    brings: tuple[PlacedPart, ...] = ()
    fastenings: tuple[Fastening, ...] = ()
    belt: BeltRun | None = None
    cable: CableRun | None = None
    slides_on: Mapping[str, str] = field(default_factory=dict)  # block id -> rail id
    locks: tuple[str, ...] = ()  # chemicals: "threadlocker medium"
    torque_newton_metre: float = 0.0  # as a paper states it; 0: not said
    friction: float = 0.0  # coefficient stated; 0: default of the surface
    from_centre: bool = False  # screws go from the middle outwards
    align: str = ""  # characteristic that must be read between snug and final
    play_mm: float = 0.0  # how far it can be shifted while snug, ± this; 0: not said
    note: str = ""
    where: Where | None = None
    paper: str = ""


VERBS: tuple[str, ...] = (
    "place", "insert", "start", "snug", "align", "read", "look", "tighten", "hold", "release",
    "clean", "deburr", "grease", "press", "crimp", "route", "wait", "check", "sign-off", "note", "turn",
)  # fmt: skip
"""What an action does. ``press`` presses heat-set inserts in; ``turn`` turns the work over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do in a step. It names joints and parts, never counts."""

    verb: str
    parts: tuple[str, ...] = ()  # placed ids, resolved
    joints: tuple[str, ...] = ()  # joint ids, resolved
    fastenings: tuple[str, ...] = ()  # single screws when a joint is named with ".3"
    says: str = ""  # words for a person
    reads: tuple[str, ...] = ()  # characteristics
    using: tuple[str, ...] = ()  # jigs, instruments, consumables: part ids, instrument ids or words
    gap_mm: float | None = None  # start: head gap to leave
    minutes: float = 0.0  # wait
    celsius: float = 0.0
    toward: str = ""  # turn: direction that ends up on top; place: direction it comes from
    means: str = ""  # hold: "tape", "tie", "stop", "prop"
    matters: str = ""  # check: "safety" or "alignment", as somebody marked it
    order: tuple[str, ...] = ()  # tighten: an order stated by the paper (fastening ids)
    where: Where | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the order."""

    id: str
    title: str
    unit: str
    actions: tuple[Action, ...]
    why: str = ""
    caution: tuple[str, ...] = ()  # ids of cautions: "mains", "heat", "motion", "fumes" …
    minutes: float = 0.0  # planned duration; 0: from the action-time table
    where: Where | None = None
    paper: str = ""


class PaperKind(StrEnum):
    """What a paper is; later ones in this list take precedence of base papers."""

    BASE = "base"
    UPGRADE = "upgrade"
    MODIFICATION = "modification"
    ERRATUM = "erratum"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A document that says something of the machine."""

    id: str
    title: str
    kind: PaperKind
    edition: str
    over: tuple[str, ...]
    reason: str = ""
    where: Where | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Saying:
    """Who says so: one paper's word on one line of the effective machine."""

    line: str  # "unit.frame.place.front-bottom.part"
    paper: str
    does: str  # "says", "adds", "replaces", "removes", "renames", "voids"
    reason: str
    read: str  # the value, printed short
    stands: bool  # False: another paper (or a ruling) overrides it
    page: str = ""  # of the paper
    where: Where | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruling:
    """The builder's decision between papers that contradict each other."""

    line: str
    take: str  # paper id
    reason: str
    where: Where | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A declared travel: what moves, which way, how far, and where in it the machine is drawn."""

    id: str
    travel_mm: float
    direction: Triple
    moves: tuple[str, ...]  # placed ids or unit patterns that move with it, resolved to placed ids
    at_mm: float  # where in its travel the machine is drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """A measuring instrument the builder owns. `half_width_mm`: error limits ±. `marked`: somebody vouches
    for them."""

    id: str
    sort: str
    half_width_mm: float
    reach_mm: float
    source: str
    marked: bool = True

    @property
    def unit(self) -> str:
        """What its error limits are in, as a characteristic says it: "mm", "g", "ohm" or "newton"; also
        "mm/m" and "hertz". A scale that reaches some way is a rule, else it weighs."""
        kind = kind_of(self.sort, self.reach_mm)
        return "mm" if kind is None else kind.unit

    @property
    def trusted_half_width_mm(self) -> float:
        """The error limits ± that count: those written, but wide enough where nobody vouches for them."""
        kind = kind_of(self.sort, self.reach_mm)
        if kind is None or self.marked:
            return self.half_width_mm
        return max(self.half_width_mm, unmarked_half_width_mm(kind, self.reach_mm or kind.reach_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Characteristic:
    """What "true" means here: a named property with a limit."""

    id: str
    sort: str  # "squareness", "twist", "parallelism", "offset", "flatness", "flush", "height-difference"
    of: tuple[str, ...]  # placed ids
    limit: float
    unit: str  # "mm" or "mm/100"
    reason: str = ""
    against: tuple[str, ...] = ()  # placed ids it is held against; empty: each other


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class Machine:
    """The effective machine: papers merged, recipes expanded, everything in its place.

    `findings` are those of reading and merging (contradictions, holes over no slot …).
    """

    id: str
    name: str
    folder: str
    types: Mapping[str, PartType]
    placed: tuple[PlacedPart, ...]  # everything: structural parts first, then what joints bring
    joints: tuple[Joint, ...]
    units: tuple[str, ...]  # in building order, "" is the machine itself
    steps: tuple[Step, ...]
    papers: tuple[Paper, ...]
    sayings: tuple[Saying, ...]
    rulings: tuple[Ruling, ...]
    aliases: Mapping[str, str]  # another paper's name -> part id
    axes: tuple[Axis, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    characteristics: tuple[Characteristic, ...] = ()
    listed: Mapping[str, int] = field(default_factory=dict)  # list depth: part id -> pieces, no placement
    listed_mm: Mapping[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)  # pieces, mm each
    findings: tuple[Finding, ...] = ()
    digest: str = ""
    tree: Tree | None = field(default=None, repr=False)  # the raw lines with their origins, for `says_so`

    @cached_property
    def part(self) -> Mapping[str, PlacedPart]:
        """Placed parts by id."""
        return {placed.id: placed for placed in self.placed}

    @cached_property
    def joint(self) -> Mapping[str, Joint]:
        return {joint.id: joint for joint in self.joints}

    @cached_property
    def fastening(self) -> Mapping[str, Fastening]:
        return {one.id: one for joint in self.joints for one in joint.fastenings}


__all__ = [
    "VERBS", "Action", "Axis", "BeltRun", "BeltSpan", "BlockSize", "CableRun", "Characteristic",
    "Fastening", "Grip", "Hole", "Host", "Insert", "Instrument", "Joint", "Kind", "Machine", "Paper",
    "PaperKind", "PartType", "PlacedPart", "Placement", "Primitive", "Profile", "RailSize", "Ruling",
    "Saying", "Screw", "Shaft", "Step", "Thread",
]  # fmt: skip

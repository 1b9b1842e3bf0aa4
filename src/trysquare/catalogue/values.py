"""What the catalogue knows of a standard part: frozen values, one class for each sort.

Each carries `designation` (canonical, as printed on lists) and `source` (of its table row).
Lengths are millimetres. Each sort's own coordinates are said in its docstring; every solid,
recipe and drawing uses them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from trysquare.ground.tolerances import SAME_ROW_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A metric coarse thread. Source: ISO 68-1, ISO 261, ISO 724 (basic sizes), ISO 898-1 (stress area)."""

    name: str  # "M3"
    diameter_mm: float
    pitch_mm: float
    pitch_diameter_mm: float  # d2 = D2
    minor_diameter_mm: float  # D1, of the nut thread
    root_diameter_mm: float  # d3, of the screw
    stress_area_mm2: float
    tap_drill_mm: float
    source: str


class Head(StrEnum):
    """The form of a screw's head."""

    CYLINDER = "cylinder"  # ISO 4762
    BUTTON = "button"  # ISO 7380-1
    COUNTERSUNK = "countersunk"  # ISO 10642
    NONE = "none"  # set screws ISO 4026, ISO 4029


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw:
    """A socket screw. Own coordinates: z along the axis, +z out of the head towards the key.

    z = 0 is the bearing face under the head; the shank runs to z = -length_mm. A countersunk
    head's z = 0 is its flat top, the length counts from there (ISO 10642). A set screw's z = 0
    is its socket end, the body runs to z = -length_mm.
    """

    designation: str  # "ISO 7380-1 M3x8" or with class "ISO 7380-1 M3x8 A2-70"
    standard: str
    thread: Thread
    length_mm: float
    head: Head
    head_diameter_mm: float  # the largest the standard allows; 0 for set screws
    head_height_mm: float
    key_mm: float  # across flats of the socket
    key_depth_mm: float  # the least socket depth
    length_plus_mm: float  # delivered length may be longer by this
    length_minus_mm: float  # and shorter by this (positive number)
    strength: str  # property class "8.8", "10.9", "12.9", "A2-70", "45H" …; "" when not said
    point: str  # "flat" (ISO 4026), "cup" (ISO 4029), "" for headed screws
    source: str


class NutShape(StrEnum):
    """The form of a nut."""

    HEX = "hex"  # ISO 4032
    SQUARE = "square"  # DIN 557
    SQUARE_THIN = "thin square"  # DIN 562


@dataclass(frozen=True, slots=True, kw_only=True)
class Nut:
    """A hexagon or square nut. Own coordinates: z along the thread, z = 0 the bearing face that
    touches the clamped part, body from z = 0 to z = -height_mm; flats face ±y."""

    designation: str  # "ISO 4032 M3", "DIN 562 M3", "DIN 557 M5"
    standard: str
    thread: Thread
    shape: NutShape
    across_flats_mm: float
    height_mm: float
    strength: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Washer:
    """A plain washer ISO 7089, or ISO 7090 with a chamfer, which is not drawn. Own coordinates: z = 0 the
    lower face, body to z = +thickness_mm."""

    designation: str  # "ISO 7089 M3"
    standard: str
    thread: Thread
    inner_mm: float
    outer_mm: float
    thickness_mm: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Insert:
    """A heat-set insert (generic). Own coordinates: z = 0 its open face, body to z = -length_mm."""

    designation: str  # "heat-set insert M3x5.7"
    thread: Thread
    length_mm: float
    outer_mm: float
    hole_mm: float  # hole to print or drill
    boss_mm: float  # least boss diameter
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A T-slot profile. A member's own coordinates: x along its length from end a (x = 0) to end b
    (x = length); the section's centre is y = z = 0; faces +y, -y, +z, -z.

    `cells_y` × `cells_z` equal cells of `cell_mm` make the section (1×1, 1×2 …), one slot a cell
    on every outer face, one core hole a cell.
    Slot: a mouth `mouth_mm` wide through a lip `lip_mm` thick, then the inside, `inside_mm` wide at
    the lip's underside, narrowing at 45° to `floor_mm` wide at `depth_mm` below the face;
    it keeps the full inside width down to `shoulder_mm` below the face.
    """

    designation: str  # "profile 20x20 slot 6", "profile 20x40 slot 6" (y × z)
    cell_mm: float
    cells_y: int
    cells_z: int
    slot_mm: float  # nominal 5, 6, 8
    mouth_mm: float
    lip_mm: float
    inside_mm: float
    shoulder_mm: float
    floor_mm: float
    depth_mm: float
    core_mm: float
    core_thread: str  # what the core takes when tapped, "M5"
    source: str

    @property
    def size_y_mm(self) -> float:
        return self.cell_mm * self.cells_y

    @property
    def size_z_mm(self) -> float:
        return self.cell_mm * self.cells_z


class SlotNutShape(StrEnum):
    """How a slot nut comes into its slot."""

    SLIDE_IN = "slide-in"  # enters only from an open slot end
    HEX_IN_SLOT = "hex-in-slot"  # an ordinary hexagon nut kept from turning by the slot
    ROLL_IN = "roll-in"  # enters anywhere through the mouth
    QUARTER_TURN = "quarter-turn"  # enters anywhere, turns with the screw


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotNut:
    """A nut for a T-slot. Own coordinates: x along the slot, z out of the slot towards the screw;
    z = 0 its bearing shoulder (touching the lip's underside). The neck reaches up to
    z = +neck_mm (within the mouth), the body down to z = -(height_mm - neck_mm). The thread runs
    the whole height.
    """

    designation: str  # "slide-in nut slot 6 M5"
    shape: SlotNutShape
    slot_mm: float
    thread: Thread
    length_mm: float  # along the slot, when seated
    width_mm: float  # across the slot under the lip, when seated
    shoulder_mm: float  # the body keeps its full width down to here below the shoulder, then 45°
    neck_width_mm: float
    neck_mm: float
    height_mm: float
    pull_newton: float  # load that pulls it out of the slot; 0 when not known
    insertable: bool  # enters through the mouth anywhere
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RailSize:
    """A miniature profile rail. Own coordinates: x along the rail from end a, y across, z up;
    origin at end a, middle of the bottom face. Screw heads bear on the counterbore's floor."""

    designation: str  # "rail 9x200" (width x length), "rail 9x280 ends 5/15" with unequal ends
    width_mm: float
    length_mm: float
    height_mm: float
    hole_pitch_mm: float
    first_hole_mm: float  # from end a; of a rail ordered by length alone (L - T(z-1))/2
    last_hole_mm: float  # from end b to the hole next to it
    hole_mm: float
    counterbore_mm: float
    counterbore_depth_mm: float
    thread: str  # screw it takes, "M3"
    source: str

    @property
    def hole_count(self) -> int:
        return 1 + round((self.length_mm - self.first_hole_mm - self.last_hole_mm) / self.hole_pitch_mm)

    @property
    def ends_differ(self) -> bool:
        """Whether the two ends have their first holes at different distances."""
        return abs(self.last_hole_mm - self.first_hole_mm) > SAME_ROW_MM

    @property
    def turned_off_mm(self) -> float:
        """How far its row of holes stands off when it lies end for end: at most half a pitch; 0 when a turned
        rail meets the same row, as it does with equal ends and with ends that differ by whole pitches."""
        beyond = (self.last_hole_mm - self.first_hole_mm) % self.hole_pitch_mm
        off = min(beyond, self.hole_pitch_mm - beyond)
        return off if off > SAME_ROW_MM else 0.0

    @property
    def holes_mm(self) -> tuple[float, ...]:
        """Distances of all holes from end a."""
        return tuple(self.first_hole_mm + i * self.hole_pitch_mm for i in range(self.hole_count))


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSize:
    """A carriage for a miniature rail. Own coordinates: x along the rail, centred; z = 0 the plane
    on which the RAIL is mounted, so the block's top is z = height_mm."""

    designation: str  # "block 9 standard", "block 9 long"
    rail_width_mm: float
    long: bool
    height_mm: float  # H, mounting plane to block top
    width_mm: float
    length_mm: float
    gap_mm: float  # underside of the block above the rail's mounting plane
    pattern_across_mm: float
    pattern_along_mm: float  # 0: a single row across
    thread: str
    thread_depth_mm: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltSize:
    """A toothed belt by the metre. `thickness_mm` is whole, back to tooth tip."""

    designation: str  # "belt 2 mm pitch 6 mm wide"
    pitch_mm: float
    width_mm: float
    thickness_mm: float
    tooth_height_mm: float
    pitch_line_mm: float  # pitch line above the tooth root (pulley outer surface)
    mass_gram_per_metre: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulley:
    """A toothed pulley or idler. Own coordinates: z the shaft axis, z = 0 one end; the belt runs
    centred at z = belt_centre_mm. `teeth` 0: a smooth idler of `running_mm` diameter."""

    designation: str  # "pulley 2 mm pitch 20 teeth bore 5", "idler 2 mm …", "idler smooth 12 bore 5"
    driven: bool  # True: an idler on bearings; False: a pulley with set screws on the shaft
    pitch_mm: float
    teeth: int
    bore_mm: float
    running_mm: float  # outer diameter the belt lies on
    pitch_diameter_mm: float  # of the belt's pitch line (0 for smooth)
    flange_mm: float
    length_mm: float
    belt_centre_mm: float
    belt_width_mm: float
    set_screw: str  # "ISO 4026 M3x3" twice at 90°, or ""
    hub_mm: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadScrew:
    """A trapezoidal lead screw. Own coordinates: z along the axis from z = 0 to z = length_mm."""

    designation: str  # "lead screw 8x2 starts 4 length 250" (diameter × pitch)
    diameter_mm: float
    pitch_mm: float
    starts: int
    length_mm: float
    source: str

    @property
    def lead_mm(self) -> float:
        return self.pitch_mm * self.starts


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A stranded copper wire. Resistance at 20 °C. `design_ampere`: bundled in a warm box."""

    designation: str  # "wire AWG 20", "wire 0.5 mm2"
    area_mm2: float
    resistance_ohm_per_km: float
    design_ampere: float
    insulation_mm: float  # outer diameter
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Grease:
    """A grease grade. Source: NLGI consistency numbers by ASTM D217 worked penetration."""

    designation: str  # "grease NLGI 2"
    nlgi: str
    penetration_low: int  # tenths of a millimetre
    penetration_high: int
    source: str


StandardPart: TypeAlias = (
    Screw
    | Nut
    | Washer
    | Insert
    | Profile
    | SlotNut
    | RailSize
    | BlockSize
    | BeltSize
    | Pulley
    | LeadScrew
    | Wire
    | Grease
)

"""The machine folder's keys, file by file. `docs/format.md` is held to these tables by a test."""

from __future__ import annotations

from trysquare.machine.schema import Field, Fields
from trysquare.machine.values import VERBS, Kind, PaperKind

_PAPER = Field(sort="text", means="id of the paper that says the lines of this file")

HOLE: Fields = {
    "name": Field(sort="text", required=True, means="name of the hole or group of holes"),
    "at_mm": Field(
        sort="anything",
        required=True,
        means="where: [x, y], [x, y, z] or a list of such; on a member distances from an end",
    ),
    "face": Field(
        sort="text", choices=("+y", "-y", "+z", "-z"), means="member only: the face on which the hole opens"
    ),
    "from": Field(
        sort="text", choices=("a", "b"), default="`a`", means="member only: the end from which at_mm counts"
    ),
    "across_mm": Field(sort="number", default="0", means="member only: beside the middle of the face"),
    "direction": Field(
        sort="direction", default="`+z`", means="out of the material where the hole opens; not on members"
    ),
    "diameter_mm": Field(sort="size", means="diameter; a tapped or insert hole takes it from the thread"),
    "depth_mm": Field(sort="size", default="through", means="depth of a blind hole"),
    "thickness_mm": Field(
        sort="size",
        default="as thick as the plate or member",
        means="length of a through hole where the solid does not say it",
    ),
    "thread": Field(sort="text", means="tapped with this thread, for example M5"),
    "insert": Field(sort="text", means="takes this heat-set insert (designation)"),
    "counterbore_mm": Field(sort="sizes", means="diameter and depth of a counterbore"),
    "countersunk": Field(sort="flag", default="`false`", means="takes a countersunk head flush"),
    "access": Field(sort="flag", default="`false`", means="only lets a key through; no screw passes"),
}

PRIMITIVE: Fields = {
    "box_mm": Field(sort="sizes", means="a box: its size along x, y, z"),
    "cylinder_mm": Field(sort="sizes", means="a cylinder: diameter and length"),
    "at_mm": Field(
        sort="point",
        default="`[0, 0, 0]`",
        means="lowest corner of the box, or centre of the cylinder's first face",
    ),
    "along": Field(sort="direction", default="`+z`", means="the cylinder's axis"),
    "cut": Field(sort="flag", default="`false`", means="take this body away"),
}

SHAFT: Fields = {
    "name": Field(sort="text", required=True, means="name of the shaft"),
    "at_mm": Field(sort="point", required=True, means="where the free shaft begins"),
    "direction": Field(sort="direction", required=True, means="towards its free end"),
    "diameter_mm": Field(sort="size", required=True, means="diameter"),
    "length_mm": Field(sort="size", required=True, means="free length"),
    "flat": Field(sort="flag", default="`false`", means="has a flat for a set screw"),
    "flat_toward": Field(
        sort="direction", default="not known", means="way out of the shaft's flat, as drawn"
    ),
}

PART: Fields = {
    "name": Field(sort="text", default="the id", means="what people call it"),
    "kind": Field(
        sort="text",
        required=True,
        choices=tuple(str(kind) for kind in Kind),
        means="what it is to the builder",
    ),
    "standard": Field(sort="text", means="designation in the catalogue whose solid and holes it has"),
    "first_hole_mm": Field(
        sort="sizes",
        default="holes centred",
        means="rail: from end a to its first hole, and from end b to its own",
    ),
    "profile": Field(sort="text", means="member: designation of its T-slot profile"),
    "length_mm": Field(sort="size", means="member: cut length"),
    "tapped": Field(sort="texts", choices=("a", "b"), means="member: ends whose cores are tapped"),
    "tapped_depth_mm": Field(sort="size", default="15", means="member: depth of the tapped cores"),
    "cut_mm": Field(sort="size", default="0.2", means="member: its cut length is true to ± this"),
    "end_mm": Field(
        sort="size", default="0.05", means="member: a cut end is out of square by ± this across its section"
    ),
    "size_mm": Field(sort="sizes", means="plate: x, y and thickness, lowest corner at the origin"),
    "outline_mm": Field(sort="flat points", means="plate: corners of its outline, anticlockwise from above"),
    "thickness_mm": Field(sort="size", means="plate with an outline: its thickness"),
    "solid": Field(sort="tables", inside=PRIMITIVE, means="boxes and cylinders that make its solid"),
    "shape": Field(sort="text", means="STL file under shapes/ with its solid, in millimetres"),
    "hole": Field(sort="tables", inside=HOLE, means="its holes"),
    "shaft": Field(sort="tables", inside=SHAFT, means="its shafts"),
    "points": Field(sort="named points", means="named points: terminals, belt clamps"),
    "pins": Field(
        sort="named lists",
        means="pins of the connector at each named point, left to right, as the maker draws them: `A1`, `+`, "
        "`24 V`, `0 V`, `signal`, with the lead's colour behind",
    ),
    "pins_seen": Field(
        sort="text",
        default="mating side",
        choices=("mating side", "back"),
        means="from where `pins` are drawn: where the plug comes from, or the part's other side",
    ),
    "material": Field(
        sort="text",
        default="aluminium for a profile",
        means="material: aluminium, steel, brass, PETG …; left out: printed plastic, else metal",
    ),
    "mass_gram": Field(sort="size", means="mass of one piece"),
    "opens_celsius": Field(sort="size", means="thermal cut-off: temperature at which it opens"),
    "bears_celsius": Field(sort="size", means="hottest it bears: a heater's adhesive, a glue, a plastic"),
    "cure_minutes": Field(sort="length", means="consumable: how long it cures, cold and unloaded"),
    "hand": Field(sort="text", choices=("left", "right"), means="hand of a part that has a mirror twin"),
    "revision": Field(sort="text", means="revision printed or cut into the part"),
    "mates_with": Field(sort="named texts", means="other parts' ids and the revision of each that it needs"),
    "also_called": Field(sort="texts", means="names that other papers use for the same part"),
    "carrier": Field(
        sort="flag", default="`false`", means="a printed carrier that keeps nuts from falling or sliding"
    ),
}

PLACE: Fields = {
    "part": Field(sort="text", required=True, means="part id or catalogue designation"),
    "on": Field(
        sort="text",
        default="stands in the unit",
        means="stands on: a part (its own frame) or a member's slot, beam:+z",
    ),
    "at_mm": Field(
        sort="point",
        default="`[0, 0, 0]`",
        means="origin in the unit, or in the frame of the part it stands on",
    ),
    "along": Field(sort="direction", default="`+x`", means="where the part's own x points"),
    "up": Field(
        sort="direction",
        default="`+z`, or `+x` for a part that points up or down",
        means="where the part's own z points",
    ),
    "from": Field(
        sort="text",
        choices=("a", "b"),
        default="`a`",
        means="on a slot: the member's end the offset counts from",
    ),
    "offset_mm": Field(
        sort="number", default="0", means="on a slot: from that end to the part's nearest end"
    ),
    "across_mm": Field(sort="number", default="0", means="on a slot: beside the middle of the slot"),
    "height_mm": Field(sort="number", default="0", means="on a slot: above the face"),
    "turn_deg": Field(sort="number", default="0", means="on a slot: turned about the face's normal"),
}

_SCREWED: dict[str, Field] = {
    "recipe": Field(sort="text", required=True, means="which recipe"),
    "torque_newton_metre": Field(sort="size", means="tightening torque the paper states"),
    "friction": Field(sort="size", means="friction coefficient, when the screws are oiled or coated"),
    "lock": Field(sort="texts", means="consumables that lock it: threadlocker"),
    "align": Field(sort="text", means="characteristic to be read between snug and final"),
    "play_mm": Field(
        sort="size", default="from its holes", means="how far it can be shifted while snug, ± this"
    ),
    "note": Field(sort="text", means="a remark for people"),
}
_SCREW = Field(sort="text", required=True, means="screw designation; without a length it is computed")
_NUT = Field(
    sort="text",
    default="`slide-in`",
    means="nut designation, or the sort of slot nut: slide-in, roll-in, quarter-turn, hex-in-slot",
)
_WASHER = Field(sort="text", means="washer designation, under the head")
_THROUGH = Field(sort="texts", means="holes the screw passes, from the head: part:hole-group")
_FROM = Field(
    sort="text", choices=("front", "back"), default="`front`", means="side of the first hole the head is on"
)
_EVERY = Field(sort="integer", default="1", means="use every n-th hole, from the middle")
_CARRIER = Field(sort="text", means="part id of the printed carrier that holds each nut")

_CORNER: Fields = {
    "end": Field(sort="text", required=True, means="member's end at the corner: beam:a"),
    "toward": Field(sort="direction", required=True, means="side of the member on which the bracket lies"),
}

_OVER: Fields = {
    "pulley": Field(sort="text", required=True, means="placed pulley or idler"),
    "turn": Field(
        sort="text",
        required=True,
        choices=("clockwise", "anticlockwise"),
        means="which way the belt runs round it, seen against the first pulley's axis",
    ),
}

RECIPES: dict[str, Fields] = {
    "blind-joint": {
        **_SCREWED,
        "ends": Field(sort="texts", required=True, means="members' tapped ends: beam:a"),
        "screw": _SCREW,
    },
    "bracket": {
        **_SCREWED,
        "through": _THROUGH,
        "bracket": Field(sort="text", means="part id of the bracket to set at each corner"),
        "corners": Field(sort="tables", inside=_CORNER, means="where a bracket goes"),
        "screw": _SCREW,
        "nut": _NUT,
        "washer": _WASHER,
        "carrier": _CARRIER,
    },
    "rail-on-slot": {
        **_SCREWED,
        "rail": Field(sort="texts", required=True, means="placed rail"),
        "screw": _SCREW,
        "nut": _NUT,
        "bar": Field(sort="text", means="part id of a threaded bar that runs in the slot, instead of nuts"),
        "every": _EVERY,
        "carrier": _CARRIER,
        "first_nut_mm": Field(
            sort="number",
            default="not checked",
            means="where a paper lays the first nut: from the member's end a to its middle",
        ),
    },
    "plate-on-slots": {
        **_SCREWED,
        "through": Field(sort="texts", required=True, means=_THROUGH.means),
        "screw": _SCREW,
        "nut": _NUT,
        "washer": _WASHER,
        "from": _FROM,
        "carrier": _CARRIER,
    },
    "through-bolt": {
        **_SCREWED,
        "through": Field(sort="texts", required=True, means=_THROUGH.means),
        "into": Field(
            sort="text",
            default="a nut",
            means="tapped holes it bites into, part:hole-group, or a member's tapped end, base:a",
        ),
        "screw": _SCREW,
        "nut": Field(sort="text", means="nut designation"),
        "washer": _WASHER,
        "washer_under_nut": Field(sort="text", means="washer designation, under the nut"),
        "from": _FROM,
    },
    "insert-and-screw": {
        **_SCREWED,
        "through": Field(sort="texts", required=True, means=_THROUGH.means),
        "into": Field(sort="text", required=True, means="insert holes: part:hole-group"),
        "screw": _SCREW,
        "washer": _WASHER,
        "from": _FROM,
    },
    "block-on-rail": {
        **_SCREWED,
        "rail": Field(sort="text", required=True, means="placed rail"),
        "blocks": Field(sort="texts", required=True, means="placed blocks on it"),
        "through": _THROUGH,
        "screw": Field(sort="text", default="none yet", means="screws into the blocks"),
        "washer": _WASHER,
        "from": _FROM,
    },
    "shaft-and-coupling": {
        **_SCREWED,
        "shaft": Field(sort="text", required=True, means="shaft: part:shaft-name, or a placed lead screw"),
        "onto": Field(sort="text", required=True, means="placed pulley, coupling or hub"),
        "screw": Field(sort="text", default="as the pulley says", means="its set or clamp screws"),
        "holes": Field(sort="text", default="`set`", means="hole group of the screws"),
    },
    "belt-path": {
        **_SCREWED,
        "belt": Field(sort="text", required=True, means="belt designation"),
        "over": Field(
            sort="tables", inside=_OVER, required=True, means="pulleys and idlers in running order"
        ),
        "ends": Field(
            sort="texts",
            default="the belt is closed",
            means="two points where the belt is clamped: part:point",
        ),
        "equal_to": Field(sort="text", means="belt-path joint that must be as long"),
    },
    "cable-run": {
        **_SCREWED,
        "wire": Field(sort="text", required=True, means="wire designation"),
        "cores": Field(sort="integer", required=True, means="how many"),
        "from": Field(sort="text", required=True, means="part:point it begins at"),
        "to": Field(sort="text", required=True, means="part:point it ends at"),
        "via_mm": Field(sort="points", means="points it passes, in the unit"),
        "through": Field(sort="texts", means="placed glands, chains, plates or holes it passes"),
        "slack_mm": Field(sort="length", default="0", means="spare length"),
        "ampere": Field(sort="length", required=True, means="design current"),
        "volt": Field(sort="length", required=True, means="voltage"),
        "label": Field(sort="text", required=True, means="label on both ends"),
        "plug_mm": Field(sort="length", means="largest width of a connector fitted before routing"),
        "role": Field(
            sort="text",
            required=True,
            choices=("mains", "earth", "supply", "heater", "motor", "signal", "fan"),
            means="what it carries",
        ),
        "fuse_ampere": Field(sort="length", default="not known", means="rating of the fuse that protects it"),
        "contact_ampere": Field(
            sort="length", default="not known", means="what its weakest contact bears, by the maker's sheet"
        ),
        "pins": Field(sort="texts", means="its cores at the `from` end, in order, left to right"),
        "pins_seen": Field(
            sort="text",
            default="wire side",
            choices=("wire side", "mating side"),
            means="where one looks from at the pins",
        ),
        "to_pins": Field(
            sort="texts", means="its cores at the `to` end, left to right, each called as in `pins`"
        ),
        "to_pins_seen": Field(
            sort="text",
            default="wire side",
            choices=("wire side", "mating side"),
            means="where one looks from at `to_pins`",
        ),
    },
}
"""Each recipe's keys. A new recipe is a row here and one function in `machine/recipes`."""

ACTION: Fields = {
    **{verb: Field(sort="texts", means=f"{verb}: what it is done to") for verb in VERBS},
    "says": Field(sort="text", means="words for a person"),
    "reads": Field(sort="texts", means="characteristics read, compared or signed for"),
    "using": Field(sort="texts", means="jigs, instruments or consumables"),
    "gap_mm": Field(sort="length", default="computed", means="start: gap to leave under the head"),
    "minutes": Field(sort="length", means="wait: how long"),
    "celsius": Field(sort="number", means="wait or grease: temperature"),
    "toward": Field(sort="direction", means="place: where the part comes from; turn: what ends up on top"),
    "means": Field(sort="text", choices=("tape", "tie", "stop", "prop", "clamp"), means="hold: with what"),
    "matters": Field(
        sort="text",
        choices=("safety", "alignment"),
        default="safety in a step with a caution",
        means="check: what it is a matter of; the step is then not left without it unless somebody says why",
    ),
    "order": Field(sort="texts", means="tighten: the order a paper states, screw by screw"),
}

CAUTIONS: tuple[str, ...] = (
    "mains", "selector", "earth", "terminals", "heater", "hot", "motion", "router", "laser", "fumes", "class",
)  # fmt: skip

STEP: Fields = {
    "id": Field(sort="text", required=True, means="id, kept for ever"),
    "title": Field(sort="text", required=True, means="what it is called"),
    "unit": Field(sort="text", required=True, means="unit it builds; names are looked up there first"),
    "actions": Field(sort="tables", inside=ACTION, required=True, means="what is done, in order"),
    "why": Field(sort="text", means="why it stands here"),
    "caution": Field(sort="texts", choices=CAUTIONS, means="cautions that must be shown"),
    "minutes": Field(sort="length", default="from its actions", means="planned duration"),
}

UNIT: Fields = {
    "title": Field(sort="text", default="the id", means="what people call it"),
    "in": Field(sort="text", default="the machine itself", means="unit it belongs to"),
    "at_mm": Field(sort="point", default="`[0, 0, 0]`", means="its origin in that unit"),
    "along": Field(sort="direction", default="`+x`", means="where its own x points"),
    "up": Field(sort="direction", default="`+z`", means="where its own z points"),
}

AXIS: Fields = {
    "travel_mm": Field(sort="size", required=True, means="travel"),
    "direction": Field(sort="direction", required=True, means="the way it moves, in the machine frame"),
    "moves": Field(sort="texts", required=True, means="placed parts or patterns that move with it"),
    "at_mm": Field(sort="length", default="0", means="where in its travel the machine is drawn"),
}

INSTRUMENT: Fields = {
    "sort": Field(
        sort="text", required=True, means="caliper, tape, square, feeler, dial, pinch-rod, scale …"
    ),
    "half_width_mm": Field(sort="size", required=True, means="error limits, ± this"),
    "reach_mm": Field(sort="size", means="longest it spans"),
    "marked": Field(
        sort="flag",
        default="`true`",
        means="`false`: nobody vouches for it; a wide default counts until checked",
    ),
    "source": Field(sort="text", means="who says so"),
}

CHARACTERISTIC: Fields = {
    "sort": Field(
        sort="text",
        required=True,
        choices=(
            "squareness", "twist", "parallelism", "offset", "flatness", "flush", "height-difference",
            "centring", "free-motion", "resistance", "other",
        ),
        means="what is read",
    ),
    "of": Field(sort="texts", required=True, means="placed parts it is read on"),
    "against": Field(sort="texts", default="each other", means="placed parts it is held against"),
    "limit": Field(sort="size", required=True, means="limit"),
    "unit": Field(
        sort="text", required=True, choices=("mm", "mm/100", "newton", "ohm"), means="unit of the limit"
    ),
    "reason": Field(sort="text", means="why this limit"),
}  # fmt: skip

MACHINE_FILE: Fields = {
    "format": Field(sort="integer", required=True, means="format of this folder; 1"),
    "name": Field(sort="text", required=True, means="the machine's name"),
    "summary": Field(sort="text", means="one sentence"),
    "axis": Field(sort="named", inside=AXIS, means="its axes"),
    "instrument": Field(sort="named", inside=INSTRUMENT, means="instruments owned"),
    "characteristic": Field(sort="named", inside=CHARACTERISTIC, means="what true means here"),
}

PARTS_FILE: Fields = {
    "paper": _PAPER,
    "part": Field(sort="named", inside=PART, means="part types that no standard describes"),
}

UNIT_FILE: Fields = {
    "paper": _PAPER,
    "unit": Field(sort="table", inside=UNIT, means="the unit itself"),
    "place": Field(sort="named", inside=PLACE, means="placed parts"),
    "joint": Field(sort="anything", means="joints: see the recipes"),
}

STEPS_FILE: Fields = {
    "paper": _PAPER,
    "step": Field(sort="tables", inside=STEP, means="the author's order"),
}

_LINE = Field(sort="text", required=True, means="line of the machine: unit.frame.place.beam, step.feet …")
_REASON = Field(sort="text", means="why")
_PAGE = Field(sort="text", means="page or section of the paper")
_WITH = Field(sort="anything", required=True, means="table of keys")

PAPER_FILE: Fields = {
    "title": Field(sort="text", required=True, means="title on the paper"),
    "kind": Field(
        sort="text", required=True, choices=tuple(str(kind) for kind in PaperKind), means="what it is"
    ),
    "edition": Field(sort="text", required=True, means="edition or date printed on it"),
    "over": Field(sort="texts", means="papers it was written over and takes precedence of"),
    "reason": _REASON,
    "add": Field(
        sort="tables",
        means="adds a line",
        inside={
            "line": _LINE,
            "with": _WITH,
            "after": Field(sort="text", means="step it follows"),
            "before": Field(sort="text", means="step it precedes"),
            "reason": _REASON,
            "page": _PAGE,
        },
    ),
    "replace": Field(
        sort="tables",
        means="replaces keys of a line",
        inside={"line": _LINE, "with": _WITH, "reason": _REASON, "page": _PAGE},
    ),
    "remove": Field(
        sort="tables", means="removes a line", inside={"line": _LINE, "reason": _REASON, "page": _PAGE}
    ),
    "void": Field(
        sort="tables",
        means="voids a step",
        inside={
            "step": Field(sort="text", required=True, means="id of the step"),
            "reason": _REASON,
            "page": _PAGE,
        },
    ),
    "rename": Field(
        sort="tables",
        means="another name for the same part",
        inside={
            "part": Field(sort="text", required=True, means="part id or designation"),
            "to": Field(sort="text", required=True, means="the name this paper uses"),
            "reason": _REASON,
            "page": _PAGE,
        },
    ),
}

RULINGS_FILE: Fields = {
    "ruling": Field(
        sort="tables",
        means="the builder's decisions between papers",
        inside={
            "line": _LINE,
            "take": Field(sort="text", required=True, means="id of the paper that is right"),
            "reason": Field(sort="text", required=True, means="why"),
        },
    ),
}

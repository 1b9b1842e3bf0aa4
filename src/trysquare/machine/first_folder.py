"""The text of a first machine folder: a box frame of T-slot members on blind joints, to build the rest upon.

A blind joint needs no bracket: a screw in the tapped end of one member lies with its head in the other's slot
and is turned through an access hole. Names, joints and order are written as a person would write them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trysquare.ground.errors import ReadingError

LEAST_MM, MOST_MM = 120.0, 2000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameProfile:
    """A member that a first frame may be made of. `cell_mm`: its side; `screw`: of the blind joints;
    `hole_mm`: the access hole that the key goes through, wide enough for the key and narrower than the head;
    `tapped_mm`: how deep the ends are tapped, twice the thread's diameter and some more."""

    name: str
    cell_mm: float
    screw: str
    hole_mm: float
    tapped_mm: float


def _profile(cell_mm: int, slot_mm: int, screw: str, hole_mm: float, tapped_mm: float) -> FrameProfile:
    name = f"profile {cell_mm}x{cell_mm} slot {slot_mm}"
    return FrameProfile(name=name, cell_mm=cell_mm, screw=screw, hole_mm=hole_mm, tapped_mm=tapped_mm)


PROFILES: Mapping[str, FrameProfile] = {
    "15x15": _profile(15, 3, "ISO 7380-1 M3x10", 3.5, 12),
    "20x20": _profile(20, 6, "ISO 7380-1 M5x12", 5.5, 15),
    "30x30": _profile(30, 8, "ISO 7380-1 M8x20", 7, 22),
    "40x40": _profile(40, 8, "ISO 7380-1 M8x25", 7, 27),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstFrame:
    """A box by its outer sizes in mm. Raises ReadingError for sizes that no such frame has."""

    name: str
    width_mm: float
    depth_mm: float
    height_mm: float
    profile: FrameProfile

    def __post_init__(self) -> None:
        for what in ("width_mm", "depth_mm", "height_mm"):
            size = getattr(self, what)
            if not LEAST_MM <= size <= MOST_MM:
                raise ReadingError(
                    where=what,
                    read=size,
                    expected=f"{LEAST_MM:g} to {MOST_MM:g} mm",
                    remedy="Give the frame's outer size.",
                )
        if not self.name.strip() or any(ord(sign) < 32 for sign in self.name):
            raise ReadingError(
                where="name", read=self.name, expected="one line of text", remedy="Give the machine a name."
            )


def first_folder(frame: FirstFrame) -> dict[str, str]:
    """The folder's files: name and text of each."""
    return {
        "machine.toml": _machine(frame),
        "parts.toml": _parts(frame),
        "units/base.toml": _base(frame),
        "units/uprights.toml": _uprights(frame),
        "units/top.toml": _top(frame),
        "steps.toml": _STEPS,
    }


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _n(value: float) -> str:
    return f"{value:g}"


def _machine(frame: FirstFrame) -> str:
    sizes = " × ".join(_n(each) for each in (frame.width_mm, frame.depth_mm, frame.height_mm))
    return f"""# The machine frame: +x right, +y back, +z up; 0 is the left front corner at the table.
format = 1
name = {quoted(frame.name)}
summary = "A box frame of {sizes} mm, to build the rest upon."

# What you measure with. Yours may differ: the limits stand on its sheet.
[instrument.square]
sort = "square"
half_width_mm = 0.04
reach_mm = 75
marked = false
source = "unmarked; common practice, no source"

[instrument.tape]
sort = "tape"
half_width_mm = 0.5
reach_mm = 3000
source = "common practice, no source"

[instrument.feeler]
sort = "feeler"
half_width_mm = 0.02
reach_mm = 1
source = "common practice, no source"

# What the frame has to be. The members stand here by name: what you add to a unit later is not meant.
[characteristic.base-square]
sort = "squareness"
of = ["base/front", "base/back", "base/left", "base/right"]
limit = 0.1
unit = "mm/100"
reason = "Everything stands on it."

[characteristic.base-twist]
sort = "twist"
of = ["base/front", "base/back", "base/left", "base/right"]
limit = 0.2
unit = "mm"
reason = "A twisted base bends every rail."

[characteristic.uprights-square]
sort = "squareness"
of = ["uprights/left-front", "uprights/right-front", "uprights/left-back", "uprights/right-back"]
against = ["base/front", "base/back", "base/left", "base/right"]
limit = 0.1
unit = "mm/100"
reason = "What moves up must move up square."

[characteristic.top-square]
sort = "squareness"
of = ["top/front", "top/back", "top/left", "top/right"]
limit = 0.1
unit = "mm/100"
reason = "It closes the frame."
"""


def _parts(frame: FirstFrame) -> str:
    cell, width, depth, height = frame.profile.cell_mm, frame.width_mm, frame.depth_mm, frame.height_mm
    half = cell / 2
    post = height - cell
    hole = f'from = "a", diameter_mm = {_n(frame.profile.hole_mm)}, access = true'
    ends = f"at_mm = [{_n(half)}, {_n(width - half)}]"
    return f"""[part.base-long]
name = "Base beam {_n(width)}, access holes below and outside"
kind = "member"
profile = {quoted(frame.profile.name)}
length_mm = {_n(width)}
hole = [
  {{ name = "below", face = "-z", {ends}, {hole} }},
  {{ name = "outside", face = "-y", {ends}, {hole} }},
]

[part.cross]
name = "Cross beam {_n(depth - 2 * cell)}, both ends tapped"
kind = "member"
profile = {quoted(frame.profile.name)}
length_mm = {_n(depth - 2 * cell)}
tapped = ["a", "b"]
tapped_depth_mm = {_n(frame.profile.tapped_mm)}

[part.top-long]
name = "Top beam {_n(width - 2 * cell)}, both ends tapped"
kind = "member"
profile = {quoted(frame.profile.name)}
length_mm = {_n(width - 2 * cell)}
tapped = ["a", "b"]
tapped_depth_mm = {_n(frame.profile.tapped_mm)}

# End a is the foot. Own +z looks outside to the left or right, own +y to the front or back.
[part.upright]
name = "Upright {_n(post)}, foot tapped"
kind = "member"
profile = {quoted(frame.profile.name)}
length_mm = {_n(post)}
tapped = ["a"]
tapped_depth_mm = {_n(frame.profile.tapped_mm)}
hole = [
  {{ name = "side", face = "+z", at_mm = {_n(post - half)}, {hole} }},
  {{ name = "front", face = "+y", at_mm = {_n(post - half)}, {hole} }},
]

[part.upright-other]
name = "Upright {_n(post)}, foot tapped, other hand"
kind = "member"
profile = {quoted(frame.profile.name)}
length_mm = {_n(post)}
tapped = ["a"]
tapped_depth_mm = {_n(frame.profile.tapped_mm)}
hole = [
  {{ name = "side", face = "+z", at_mm = {_n(post - half)}, {hole} }},
  {{ name = "front", face = "-y", at_mm = {_n(post - half)}, {hole} }},
]
"""


def _base(frame: FirstFrame) -> str:
    cell, width, depth = frame.profile.cell_mm, frame.width_mm, frame.depth_mm
    half = cell / 2
    return f"""[unit]
title = "Base frame"

[place]
front = {{ part = "base-long", at_mm = [0, {_n(half)}, {_n(half)}] }}
back  = {{ part = "base-long", at_mm = [{_n(width)}, {_n(depth - half)}, {_n(half)}], along = "-x" }}
left  = {{ part = "cross", at_mm = [{_n(half)}, {_n(cell)}, {_n(half)}], along = "+y" }}
right = {{ part = "cross", at_mm = [{_n(width - half)}, {_n(cell)}, {_n(half)}], along = "+y" }}

[joint.corners]
recipe = "blind-joint"
ends = ["left:a", "left:b", "right:a", "right:b"]
screw = {quoted(frame.profile.screw)}
align = "base-square"
"""


def _uprights(frame: FirstFrame) -> str:
    cell, width, depth = frame.profile.cell_mm, frame.width_mm, frame.depth_mm
    half = cell / 2
    low, right, back = _n(half), _n(width - half), _n(depth - half)
    foot = _n(cell)
    return f"""[unit]
title = "Uprights"

[place]
left-front  = {{ part = "upright", at_mm = [{low}, {low}, {foot}], along = "+z", up = "-x" }}
right-front = {{ part = "upright-other", at_mm = [{right}, {low}, {foot}], along = "+z", up = "+x" }}
left-back   = {{ part = "upright-other", at_mm = [{low}, {back}, {foot}], along = "+z", up = "-x" }}
right-back  = {{ part = "upright", at_mm = [{right}, {back}, {foot}], along = "+z", up = "+x" }}

[joint.feet]
recipe = "blind-joint"
ends = ["left-front:a", "right-front:a", "left-back:a", "right-back:a"]
screw = {quoted(frame.profile.screw)}
align = "uprights-square"
"""


def _top(frame: FirstFrame) -> str:
    cell, width, depth, height = frame.profile.cell_mm, frame.width_mm, frame.depth_mm, frame.height_mm
    half = cell / 2
    high, right, back = _n(height - half), _n(width - half), _n(depth - half)
    return f"""[unit]
title = "Top ring"

[place]
front = {{ part = "top-long", at_mm = [{_n(cell)}, {_n(half)}, {high}] }}
back  = {{ part = "top-long", at_mm = [{_n(cell)}, {back}, {high}] }}
left  = {{ part = "cross", at_mm = [{_n(half)}, {_n(cell)}, {high}], along = "+y" }}
right = {{ part = "cross", at_mm = [{right}, {_n(cell)}, {high}], along = "+y" }}

[joint.ring]
recipe = "blind-joint"
ends = [
  "front:a", "front:b", "back:a", "back:b", "left:a", "left:b", "right:a", "right:b",
]
screw = {quoted(frame.profile.screw)}
align = "top-square"
"""


_STEPS = """# The order of work. `trysquare order` proposes another; `trysquare check` judges this one.

[[step]]
id = "unpack"
title = "Count, look, deburr"
unit = "base"
actions = [
  { check = ["Every member against the parts list."] },
  { look = ["base/*", "uprights/*", "top/*"], says = "Dents, bent slots, missing taps." },
  { deburr = ["base/*", "uprights/*", "top/*"] },
  { clean = ["base/*", "uprights/*", "top/*"] },
]

[[step]]
id = "base"
title = "Base frame, snug"
unit = "base"
actions = [
  { place = ["front", "back", "left", "right"] },
  { start = ["corners"], says = "Screws into the tapped ends a few turns, then the heads into the slots." },
  { snug = ["corners"], says = "Members must still shift by hand." },
]

[[step]]
id = "base-true"
title = "Square the base, then tighten"
unit = "base"
why = "On a flat table: a frame squared on a twisted table is a twisted frame."
actions = [
  { align = ["front", "back", "left", "right"], using = ["square", "tape"] },
  { read = ["front", "left"], reads = ["base-square"], using = ["square"] },
  { read = ["front", "back"], reads = ["base-twist"], using = ["feeler"] },
  { tighten = ["corners"] },
  { read = ["front", "left"], reads = ["base-square"], says = "Once more: nothing moved." },
]

[[step]]
id = "uprights"
title = "Uprights, snug"
unit = "uprights"
actions = [
  { place = ["left-front", "right-front", "left-back", "right-back"] },
  { start = ["feet"] },
  { snug = ["feet"] },
]

[[step]]
id = "top"
title = "Top ring, snug"
unit = "top"
why = "The heads slide down the slots of the uprights from above."
actions = [
  { place = ["front", "back", "left", "right"] },
  { start = ["ring"] },
  { snug = ["ring"] },
]

[[step]]
id = "frame-true"
title = "Square the whole, tighten from below upwards"
unit = "top"
actions = [
  { read = ["uprights/*"], reads = ["uprights-square"], using = ["square"] },
  { tighten = ["uprights/feet"] },
  { read = ["front", "left"], reads = ["top-square"], using = ["square"] },
  { tighten = ["ring"] },
  { read = ["uprights/*"], reads = ["uprights-square"], says = "Once more: nothing moved." },
]
"""

"""A small machine of our own, written as a folder: two posts, a beam, a rail, a plate, a belt and a cable."""

from __future__ import annotations

from pathlib import Path

MACHINE = """
format = 1
name = "Small frame"
[instrument.square]
sort = "square"
half_width_mm = 0.02
[axis.x]
travel_mm = 60
direction = "+x"
moves = ["frame/block"]
[characteristic.corner]
sort = "squareness"
of = ["frame/beam", "frame/left"]
limit = 0.05
unit = "mm/100"
"""

PARTS = """
paper = "manual"
[part.post]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
hole = [ { name = "access", face = "-z", from = "a", at_mm = 10, diameter_mm = 5.5, access = true } ]
[part.beam]
name = "cross beam"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
tapped = ["a", "b"]
also_called = ["traverse"]
[part.plate]
kind = "plate"
size_mm = [40, 30, 3]
hole = [ { name = "m", at_mm = [[10, 15], [30, 15]], diameter_mm = 5.5 } ]
[part.foot]
kind = "printed"
material = "PETG"
solid = [ { box_mm = [40, 40, 10] } ]
[[part.foot.hole]]
name = "i"
at_mm = [[10, 10, 10], [30, 10, 10]]
insert = "heat-set insert M3x5.7"
depth_mm = 8
[part.foot.points]
left = [0, 0, 20]
right = [300, 0, 20]
[part.cover]
kind = "plate"
size_mm = [40, 40, 2]
hole = [ { name = "c", at_mm = [[10, 10], [30, 10]], diameter_mm = 3.4 } ]
[part.distance-piece]
kind = "jig"
size_mm = [10, 10, 50]
"""

UNIT = """
paper = "manual"
[unit]
title = "Frame"
[place]
left  = { part = "post", at_mm = [10, 10, 0], along = "+z" }
right = { part = "post", at_mm = [330, 10, 0], along = "+z" }
beam  = { part = "beam", at_mm = [20, 10, 10] }
rail  = { part = "rail 9x200", on = "beam:+z", from = "b", offset_mm = 20 }
block = { part = "block 9 standard", on = "rail", at_mm = [100, 0, 0] }
plate = { part = "plate", on = "beam:-y", offset_mm = 50, across_mm = -15 }
[joint]
ends  = { recipe = "blind-joint", ends = ["beam:a", "beam:b"], screw = "ISO 7380-1 M5" }
rail  = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3" }
block = { recipe = "block-on-rail", rail = "rail", blocks = ["block"] }
[joint.plate]
recipe = "plate-on-slots"
through = ["plate:m"]
screw = "ISO 7380-1 M5x8"
nut = "slide-in"
lock = ["threadlocker medium"]
"""

DRIVE = """
paper = "manual"
[unit]
at_mm = [0, 0, 400]
[place]
foot    = { part = "foot", at_mm = [0, -200, 0] }
cover   = { part = "cover", at_mm = [0, -200, 10] }
driving = { part = "pulley 2 mm pitch 20 teeth bore 5" }
idle    = { part = "idler 2 mm pitch 20 teeth bore 5", at_mm = [200, 0, 0] }
[joint]
cover = { recipe = "insert-and-screw", through = ["cover:c"], into = "foot:i", screw = "ISO 4762 M3" }
[joint.belt]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
[[joint.belt.over]]
pulley = "driving"
turn = "anticlockwise"
[[joint.belt.over]]
pulley = "idle"
turn = "anticlockwise"
[joint.cable]
recipe = "cable-run"
wire = "wire AWG 22"
cores = 4
from = "foot:left"
to = "foot:right"
ampere = 1
volt = 24
label = "M1"
role = "motor"
slack_mm = 100
"""

STEPS = """
paper = "manual"
[[step]]
id = "nuts"
title = "Nuts into the beam"
unit = "frame"
actions = [ { place = ["beam"] }, { insert = ["rail", "plate"] } ]
[[step]]
id = "frame"
title = "Posts and beam"
unit = "frame"
actions = [
  { start = ["ends"] },
  { place = ["left", "right"] },
  { snug = ["ends"] },
  { read = ["beam"], reads = ["corner"], using = ["square", "distance-piece"] },
  { tighten = ["ends"] },
]
[[step]]
id = "rail"
title = "Rail and block"
unit = "frame"
why = "The block goes on once the rail is tight."
actions = [
  { place = ["rail"] },
  { start = ["rail"] },
  { tighten = ["rail"] },
  { place = ["block"] },
  { grease = ["block"], using = ["grease NLGI 2"] },
]
[[step]]
id = "plate"
title = "Plate"
unit = "frame"
actions = [ { place = ["plate"] }, { start = ["plate.1"] }, { start = ["plate.2"] }, { tighten = ["plate"] } ]
[[step]]
id = "drive"
title = "Drive"
unit = "drive"
actions = [
  { press = ["cover"] },
  { place = ["foot", "cover", "driving", "idle"] },
  { start = ["cover"] },
  { tighten = ["cover"] },
  { route = ["belt", "cable"] },
]
"""

MANUAL = """
title = "Small frame, manual"
kind = "base"
edition = "1"
"""

UPGRADE = """
title = "Quieter small frame"
kind = "upgrade"
edition = "2"
reason = "Longer screws hold better."
[[replace]]
line = "unit.frame.joint.plate"
with = { screw = "ISO 7380-1 M5x10" }
page = "3"
reason = "The plate of this kit is thicker."
[[rename]]
part = "ISO 4762 M3x6"
to = "rail screw S6"
"""

WHOLE = {
    "machine.toml": MACHINE,
    "parts.toml": PARTS,
    "units/frame.toml": UNIT,
    "units/drive.toml": DRIVE,
    "steps.toml": STEPS,
    "papers/manual.toml": MANUAL,
}


def write_frame(folder: Path, **files: str) -> Path:
    """Writes the small frame, with files changed or added: slashes and points written as in steps_toml=…"""
    return write_files(folder, WHOLE | {_file(name): text for name, text in files.items()})


def write_files(folder: Path, files: dict[str, str]) -> Path:
    """Writes the files of a folder; an empty text leaves the file out."""
    for name, text in files.items():
        if text:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
    return folder


def _file(name: str) -> str:
    """papers__upgrade_toml is papers/upgrade.toml."""
    stem, _, ending = name.replace("__", "/").rpartition("_")
    return f"{stem}.{ending}"

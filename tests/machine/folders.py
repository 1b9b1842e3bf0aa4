"""Machine folders for the reader's tests: a good one, and the means to spoil it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

GOOD: Mapping[str, str] = {
    "machine.toml": """\
format = 1
name = "Sill, a small test machine"

[axis.x]
travel_mm = 100
direction = "+x"
moves = ["carriage/*"]
at_mm = 50

[instrument.square]
sort = "square"
half_width_mm = 0.02

[characteristic.corners-square]
sort = "squareness"
of = ["frame/left", "frame/beam"]
limit = 0.05
unit = "mm/100"
""",
    "parts.toml": """\
paper = "manual"

[part.post]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
hole = [{ name = "key", face = "-z", from = "a", at_mm = 10, diameter_mm = 6, access = true }]

[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
tapped = ["a", "b"]

[part.plate]
kind = "plate"
size_mm = [40, 30, 3]
hole = [{ name = "m", at_mm = [[10, 15], [30, 15]], diameter_mm = 5.5 }]
""",
    "units/frame.toml": """\
paper = "manual"

[unit]
title = "Frame"

[place]
left = { part = "post", at_mm = [10, 10, 0], along = "+z" }
right = { part = "post", at_mm = [330, 10, 0], along = "+z" }
beam = { part = "beam", at_mm = [20, 10, 10] }
rail = { part = "rail 9x200", on = "beam:+z", from = "b", offset_mm = 20 }
plate = { part = "plate", on = "beam:-y", offset_mm = 50, across_mm = -15 }

[joint.ends]
recipe = "blind-joint"
ends = ["beam:a", "beam:b"]
screw = "ISO 7380-1 M5"
align = "corners-square"

[joint.rail-screws]
recipe = "rail-on-slot"
rail = "rail"
screw = "ISO 4762 M3"

[joint.plate-screws]
recipe = "plate-on-slots"
through = "plate:m"
screw = "ISO 7380-1 M5x8"
nut = "slide-in"
""",
    "units/carriage.toml": """\
[unit]
title = "Carriage"

[place]
block = { part = "block 9 standard", on = "frame/rail", at_mm = [100, 0, 0] }

[joint.block]
recipe = "block-on-rail"
rail = "frame/rail"
blocks = "block"
""",
    "steps.toml": """\
paper = "manual"

[[step]]
id = "corners"
title = "Corners"
unit = "frame"
actions = [
  { place = ["left", "right", "beam"] },
  { start = ["ends"], gap_mm = 2 },
  { snug = ["ends"] },
  { read = ["beam"], reads = ["corners-square"], using = ["square"] },
  { tighten = ["ends"], order = ["ends.2", "ends.1"] },
]

[[step]]
id = "plate"
title = "Plate"
unit = "frame"
actions = [{ place = "plate" }, { start = "plate-screws" }, { tighten = "plate-screws" }]

[[step]]
id = "rail"
title = "Rail and block"
unit = "frame"
actions = [{ place = ["rail", "carriage/block"] }, { tighten = "rail-screws" }, { note = "Done." }]
""",
    "papers/manual.toml": 'title = "Sill, manual"\nkind = "base"\nedition = "1"\n',
    "papers/erratum.toml": """\
title = "Sill, erratum"
kind = "erratum"
edition = "2"
over = ["manual"]

[[replace]]
line = "unit.frame.joint.plate-screws"
with = { screw = "ISO 7380-1 M5x10" }
reason = "M5x8 does not reach."
page = "3"
""",
    "rulings.toml": "",
    "list.csv": "part,pieces\nplate,1\nrail 9x200,1\nISO 7380-1 M5x10,2\n",
}
"""A folder that is read without a problem and without a finding."""


def write(folder: Path, files: Mapping[str, str | bytes]) -> Path:
    """Writes the files of a machine folder; bytes as they are."""
    for name, text in files.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return folder


def good(folder: Path, changes: Mapping[str, str | bytes] | None = None) -> Path:
    """The good folder with some files changed or added."""
    return write(folder, {**GOOD, **(changes or {})})


def spoiled(folder: Path, name: str, old: str, new: str) -> Path:
    """The good folder with one text in one file replaced; the text must be there once."""
    assert GOOD[name].count(old) == 1, (name, old, GOOD[name].count(old))
    return good(folder, {name: GOOD[name].replace(old, new)})


def line_of(name: str, text: str, files: Mapping[str, str] = GOOD) -> int:
    """The line on which a text stands in a file of the good folder."""
    return files[name][: files[name].index(text)].count("\n") + 1


def problems_of(folder: Path, *papers: Path) -> tuple[ReadingError, ...]:
    """All problems of a folder that cannot be read."""
    try:
        load_machine(folder, papers)
    except ReadingErrors as errors:
        return errors.problems
    message = "the folder was read without a problem"
    raise AssertionError(message)


def problem_of(folder: Path, *papers: Path) -> ReadingError:
    """The only problem of a folder."""
    problems = problems_of(folder, *papers)
    assert len(problems) == 1, [str(problem) for problem in problems]
    return problems[0]


def read_well(folder: Path, *papers: Path) -> Machine:
    """The machine of a folder that must be read without a problem."""
    return load_machine(folder, papers)

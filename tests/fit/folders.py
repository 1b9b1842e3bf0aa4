"""A small clean machine as a folder, and the same machine with one thing changed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from machine.folders import write
from trysquare.fit.check import check_fit
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

Edit = tuple[str, str]

MACHINE = """
format = 1
name = "Bench"
[axis.x]
travel_mm = 100
direction = "+x"
moves = ["frame/block", "frame/carriage"]
at_mm = 50
"""

PARTS = """
[part.post]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
hole = [ { name = "access", face = "-z", from = "a", at_mm = 10, diameter_mm = 5.5, access = true } ]
[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
tapped = ["a", "b"]
[part.plate]
kind = "plate"
size_mm = [40, 30, 3]
hole = [ { name = "m", at_mm = [[10, 15], [30, 15]], diameter_mm = 5.5 } ]
[part.carriage]
kind = "plate"
size_mm = [40, 30, 5.5]
hole = [ { name = "b", at_mm = [[15, 7.5], [25, 7.5], [15, 22.5], [25, 22.5]], diameter_mm = 3.4 } ]
[part.shelf]
kind = "plate"
size_mm = [30, 30, 4]
hole = [ { name = "s", at_mm = [15, 15], diameter_mm = 3.4 } ]
[part.holder]
kind = "printed"
material = "PETG"
solid = [ { box_mm = [30, 30, 10] } ]
hole = [ { name = "in", at_mm = [15, 15, 10], depth_mm = 9, insert = "heat-set insert M3x5.7" } ]
[part.cover]
kind = "plate"
size_mm = [30, 30, 3]
hole = [ { name = "c", at_mm = [15, 15], diameter_mm = 3.4 } ]
[part.motor]
kind = "bought"
solid = [ { box_mm = [42, 42, 40], at_mm = [-21, -21, -40] }, { cylinder_mm = [5, 24] } ]
shaft = [ { name = "shaft", at_mm = [0, 0, 0], direction = "+z", diameter_mm = 5, length_mm = 24 } ]
"""

FRAME = """
[unit]
title = "Frame"
[place]
left = { part = "post", at_mm = [10, 10, 0], along = "+z" }
right = { part = "post", at_mm = [330, 10, 0], along = "+z" }
beam = { part = "beam", at_mm = [20, 10, 10] }
rail = { part = "rail 9x200", on = "beam:+z", from = "b", offset_mm = 20 }
block = { part = "block 9 standard", on = "rail", at_mm = [100, 0, 0] }
carriage = { part = "carriage", on = "block", at_mm = [-20, -15, 10] }
plate = { part = "plate", on = "beam:-y", offset_mm = 50, across_mm = -15 }
lower = { part = "shelf", at_mm = [100, 200, 0] }
upper = { part = "shelf", at_mm = [100, 200, 4] }
holder = { part = "holder", at_mm = [150, 200, 0] }
cover = { part = "cover", at_mm = [150, 200, 10] }
motor = { part = "motor", at_mm = [220, 220, 40] }
pulley = { part = "pulley 2 mm pitch 20 teeth bore 5", at_mm = [220, 220, 45] }
[joint]
ends = { recipe = "blind-joint", ends = ["beam:a", "beam:b"], screw = "ISO 7380-1 M5" }
rail = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3" }
plate = { recipe = "plate-on-slots", through = ["plate:m"], screw = "ISO 7380-1 M5x8", nut = "slide-in" }
block = { recipe = "block-on-rail", rail = "rail", blocks = ["block"], through = [
    "carriage:b"], screw = "ISO 4762 M3x8" }
shelf = { recipe = "through-bolt", through = ["upper:s",
    "lower:s"], screw = "ISO 4762 M3", nut = "ISO 4032 M3" }
cover = { recipe = "insert-and-screw", through = ["cover:c"], into = "holder:in", screw = "ISO 4762 M3x8" }
pulley = { recipe = "shaft-and-coupling", shaft = "motor:shaft", onto = "pulley" }
"""


def machine_of(
    folder: Path, *edits: Edit, parts: str = "", place: str = "", joint: str = "", axes: str = ""
) -> Machine:
    """The clean machine with texts replaced (each must be there exactly once) and lines added."""
    texts = {"machine.toml": MACHINE + axes, "parts.toml": PARTS + parts}
    texts["units/frame.toml"] = FRAME.replace("[joint]\n", f"{place}\n[joint]\n") + joint
    for old, new in edits:
        (name,) = [name for name, text in texts.items() if old in text]
        assert texts[name].count(old) == 1, old
        texts[name] = texts[name].replace(old, new)
    return load_machine(write(folder, texts))


def codes(findings: Sequence[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def only(folder: Path, *edits: Edit, **more: str) -> Finding:
    """The one finding of the changed machine: one cause gives one finding."""
    found = check_fit(machine_of(folder, *edits, **more))
    assert len(found) == 1, [f"{one.code}: {one.says}" for one in found]
    return found[0]

"""Small machines whose answers are known, written as a builder would write them."""

from __future__ import annotations

from pathlib import Path

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

HEAD = 'format = 1\nname = "Small"\n'

STOOL_PARTS = """
[part.base]
name = "base beam"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
hole = [{ name = "access", face = "-z", from = "a", at_mm = 100, diameter_mm = 6 }]

[part.post]
name = "post"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a"]

[part.cap]
name = "cap"
kind = "plate"
size_mm = [20, 20, 4]
"""

STOOL_UNIT = """
[unit]
title = "Stool"

[place]
base = { part = "base", along = "+x" }
post = { part = "post", at_mm = [100, 0, 10], along = "+z" }

[joint.foot]
recipe = "blind-joint"
ends = ["post:a"]
screw = "ISO 7380-1 M5x12"
"""

STOOL_STEPS = """
[[step]]
id = "lay"
title = "Lay the base"
unit = "stool"
actions = [{ place = ["base"] }]

[[step]]
id = "rest"
title = "Look at it"
unit = "stool"
actions = [{ check = ["It lies flat."] }]

[[step]]
id = "stand"
title = "Stand the post"
unit = "stool"
actions = [{ place = ["post"] }, { start = ["foot"] }, { snug = ["foot"] }, { tighten = ["foot"] }]
"""


def machine(
    folder: Path, parts: str = STOOL_PARTS, steps: str = STOOL_STEPS, head: str = HEAD, **units: str
) -> Machine:
    """Writes a machine folder and reads it; without units it is the stool."""
    (folder / "units").mkdir(parents=True, exist_ok=True)
    (folder / "machine.toml").write_text(head, encoding="utf-8")
    (folder / "parts.toml").write_text(parts, encoding="utf-8")
    if steps:
        (folder / "steps.toml").write_text(steps, encoding="utf-8")
    for name, text in (units or {"stool": STOOL_UNIT}).items():
        (folder / "units" / f"{name}.toml").write_text(text, encoding="utf-8")
    return load_machine(folder)

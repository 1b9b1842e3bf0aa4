"""Tiny machines for the order's tests: one unit, a page of parts, and steps written a line each.

A line of steps reads ``frame: place left right; start ends gap_mm=3; snug ends``: the step's id, then
its actions. What has an equals sign is a key of the action; ``+`` makes a list of texts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from machine.folders import write
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.check import check_order

Edit = tuple[str, str]
Said = tuple[str, str, str]

HEAD = 'format = 1\nname = "A small machine for one question"\n'
_LISTS = frozenset({"reads", "using", "order"})
_NUMBERS = frozenset({"gap_mm", "minutes", "celsius"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A machine folder in pieces. `parts`, `place` and `joint` are TOML; `steps` one line a step."""

    parts: str
    place: str
    joint: str
    steps: str
    head: str = ""

    def but(self, *edits: Edit) -> Bench:
        """The bench with texts replaced; each must be there exactly once."""
        fields = {name: getattr(self, name) for name in ("parts", "place", "joint", "steps", "head")}
        for old, new in edits:
            (name,) = [name for name, text in fields.items() if old in text]
            assert fields[name].count(old) == 1, old
            fields[name] = fields[name].replace(old, new)
        return Bench(**fields)

    def ordered(self, *ids: str) -> Bench:
        """The bench with these of its steps, in this order."""
        line = {text.partition(":")[0].strip(): text for text in self.steps.strip().splitlines()}
        return replace(self, steps="\n".join(line[name] for name in ids))

    def write(self, folder: Path) -> Path:
        """Writes the machine folder."""
        texts = {
            "machine.toml": HEAD + self.head,
            "parts.toml": self.parts,
            "units/w.toml": f'[unit]\ntitle = "Work"\n[place]\n{self.place}\n[joint]\n{self.joint}',
            "steps.toml": steps_file(self.steps),
        }
        return write(folder, texts)

    def machine(self, folder: Path) -> Machine:
        """The machine, read from a folder written for it."""
        return load_machine(self.write(folder))


def steps_file(lines: str) -> str:
    """The steps as the file has them."""
    texts: list[str] = []
    for line in filter(None, (line.strip() for line in lines.splitlines())):
        name, _, actions = line.partition(":")
        rows = ", ".join(_action(text.split()) for text in actions.split(";") if text.strip())
        texts.append(f'[[step]]\nid = "{name}"\ntitle = "{name}"\nunit = "w"\nactions = [{rows}]\n')
    return "\n".join(texts)


def _action(words: Sequence[str]) -> str:
    verb, *rest = words
    names = ", ".join(f'"{word}"' for word in rest if "=" not in word)
    keys = [f"{verb} = [{names}]"]
    for word in rest:
        key, equals, value = word.partition("=")
        if not equals:
            continue
        listed = ", ".join(f'"{one}"' for one in value.split("+"))
        keys.append(
            f"{key} = [{listed}]"
            if key in _LISTS
            else f"{key} = {value}"
            if key in _NUMBERS
            else f'{key} = "{value}"'
        )
    return "{ " + ", ".join(keys) + " }"


def said(findings: Sequence[Finding]) -> list[Said]:
    """Code, step and subject of each finding: what a judge must agree on."""
    return [(one.code, one.step, one.joint or (one.parts[0] if one.parts else "")) for one in findings]


def order_of(bench: Bench, folder: Path) -> tuple[Finding, ...]:
    """The order's findings."""
    return check_order(bench.machine(folder))


def is_clean(bench: Bench, folder: Path) -> bool:
    """Whether the order has no finding; what it has is shown when it has one."""
    found = order_of(bench, folder)
    assert not found, [f"{one.code}, {one.step}: {one.says}" for one in found]
    return True


def only(bench: Bench, folder: Path) -> Finding:
    """The one finding of an order: one mistake gives one finding."""
    found = order_of(bench, folder)
    assert len(found) == 1, [f"{one.code}, {one.step}: {one.says}" for one in found]
    return found[0]


# -- parts that several tests use -------------------------------------------------------------------

BEAM = """
[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a", "b"]
"""

POST = """
[part.post]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 100
hole = [{ name = "key", face = "+z", from = "a", at_mm = 50, diameter_mm = 5.5, access = true }]
"""

PLATE = """
[part.plate]
kind = "plate"
size_mm = [40, 20, 3]
hole = [{ name = "m", at_mm = [[10, 10], [30, 10]], diameter_mm = 5.5 }]
"""

PANEL = """
[part.panel]
kind = "plate"
size_mm = [30, 30, 4]
hole = [{ name = "m", at_mm = [15, 15], diameter_mm = 5.5 }]
"""


STOPS = Bench(
    parts=BEAM
    + """
[part.stop]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [16, 20, 14], at_mm = [0, -10, 0] }]
hole = [{ name = "m", at_mm = [8, 0, 14], thickness_mm = 14, diameter_mm = 5.5, counterbore_mm = [10, 8] }]
""",
    place="""
beam = { part = "beam" }
rail = { part = "rail 9x160", on = "beam:+z", offset_mm = 20 }
block = { part = "block 9 standard", on = "rail", at_mm = [80, 0, 0] }
stop-a = { part = "stop", on = "beam:+z", offset_mm = 4 }
stop-b = { part = "stop", on = "beam:+z", offset_mm = 180 }
""",
    joint="""
rail = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3", nut = "slide-in" }
block = { recipe = "block-on-rail", rail = "rail", blocks = ["block"] }
stop-a = { recipe = "plate-on-slots", through = ["stop-a:m"], screw = "ISO 7380-1 M5", nut = "slide-in" }
stop-b = { recipe = "plate-on-slots", through = ["stop-b:m"], screw = "ISO 7380-1 M5", nut = "slide-in" }
""",
    steps="",
)
"""A beam with a rail between two stops, and its carriage."""

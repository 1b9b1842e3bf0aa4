"""What a word means in a machine: a unit, part, joint, screw, step, paper or any line by its name."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.cli.answers import NotThere
from trysquare.cli.words import one_line
from trysquare.ground.errors import nearest
from trysquare.machine.values import Machine

MOST_SHOWN = 4  # a word that means more things is a question back


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing that can be shown. `sort`: "unit", "placed part", "joint", "screw", "step", "paper",
    "part type", "profile", "axis", "characteristic" or "instrument"; `line` is the name that means only
    this thing."""

    sort: str
    id: str
    line: str


def find(machine: Machine, word: str) -> list[Thing]:
    """The things a word means, best first: whole ids and lines, else short names, else a designation.

    Raises NotThere when it means none, or so many that they would not help.
    """
    things = list(_things(machine))
    word = word.strip()
    found = [thing for thing in things if word in (thing.id, thing.line)]
    if not found:
        found = [thing for thing in things if thing.line and word.startswith(f"{thing.line}.")]
        found = found[-1:]  # a key below a line: the longest line that holds it
    if not found and word in machine.aliases:
        found = _of_type(things, machine.aliases[word])
    if not found:
        named = [part.id for part in machine.types.values() if word in (part.name, *part.aliases)]
        found = [thing for thing in things if thing.sort == "part type" and thing.id in named]
    if all(thing.sort == "part type" for thing in found):
        # A type and its only piece often share a name; whoever asks for it wants to see both.
        short = [thing for thing in things if "/" in thing.id and thing.id.rpartition("/")[2] == word]
        found = [*short, *found] if len(short) + len(found) <= MOST_SHOWN or not found else found
    if not found:
        found = _of_type(things, word)
    if not found:
        found = _of_profile(things, word)
    if not found:
        known = {thing.id for thing in things if thing.sort != "screw"}
        known |= {name.rpartition("/")[2] for name in known}
        raise NotThere(f"There is no '{one_line(word)}' in {machine.name}. {nearest(word, known)}")
    if len(found) > MOST_SHOWN:
        few = ", ".join(thing.line or thing.id for thing in found[:8])
        raise NotThere(f"'{one_line(word)}' means {len(found)} things: {few} … Ask for one of them.")
    return found


def _of_type(things: list[Thing], word: str) -> list[Thing]:
    """A part type by its id, or by its designation however it is written."""
    names = {word}
    with contextlib.suppress(UnknownDesignation):
        names.add(lookup(word).designation)
    return [thing for thing in things if thing.sort == "part type" and thing.id in names]


def _of_profile(things: list[Thing], word: str) -> list[Thing]:
    """The profiles whose designation has every word of this one: "20x20" is "profile 20x20 slot 6"."""
    words = set(word.casefold().replace("×", "x").split())
    named = [
        thing for thing in things if thing.sort == "profile" and words <= set(thing.id.casefold().split())
    ]
    return named if words - {"profile", "slot"} else []


def _things(machine: Machine) -> Iterator[Thing]:
    """Everything that can be asked for; longer lines after the lines that hold them."""
    for unit in machine.units:
        yield Thing(sort="unit", id=unit, line=f"unit.{unit}")
    for part in machine.placed:
        line = f"unit.{part.unit}.place.{part.id.rpartition('/')[2]}" if not part.joint else ""
        yield Thing(sort="placed part", id=part.id, line=line)
    for joint in machine.joints:
        line = f"unit.{joint.unit}.joint.{joint.id.rpartition('/')[2]}"
        yield Thing(sort="joint", id=joint.id, line=line)
        for one in joint.fastenings:
            yield Thing(sort="screw", id=one.id, line="")
    for step in machine.steps:
        yield Thing(sort="step", id=step.id, line=f"step.{step.id}")
    for paper in machine.papers:
        yield Thing(sort="paper", id=paper.id, line=f"paper.{paper.id}")
    for name in machine.types:
        yield Thing(sort="part type", id=name, line=f"part.{name}")
    profiles = {part.profile.designation for part in machine.types.values() if part.profile is not None}
    for name in sorted(profiles):
        yield Thing(sort="profile", id=name, line="")
    for axis in machine.axes:
        yield Thing(sort="axis", id=axis.id, line=f"machine.axis.{axis.id}")
    for limit in machine.characteristics:
        yield Thing(sort="characteristic", id=limit.id, line=f"machine.characteristic.{limit.id}")
    for instrument in machine.instruments:
        yield Thing(sort="instrument", id=instrument.id, line=f"machine.instrument.{instrument.id}")

"""What is held in the hand or used up, but does not stay in the machine as a piece."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import Grease, Insert, Nut, StandardPart
from trysquare.machine.values import Action, Joint, Kind, Machine, PlacedPart

DRIVING_VERBS = frozenset({"start", "snug", "tighten"})
"""Verbs for which a key is taken in the hand."""

_INSTRUMENT_VERBS = frozenset({"read", "align", "look", "check"})
_SUPPLY_VERBS = frozenset({"grease", "clean"})
# Words by which people call what is used up; common practice, no source.
_SUPPLY_WORDS = (
    "threadlocker", "grease", "oil", "alcohol", "isopropanol", "glue", "adhesive", "tape", "solder", "tie",
    "thermal paste", "cloth", "heat-shrink", "ferrule",
)  # fmt: skip


_TOOL_WORDS = ("brush", "syringe", "gun", "knife", "iron", "pliers")  # that put on or cut what is used up


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Tool:
    """Something to have at hand. `sort`: "hexagon key", "spanner", "soldering iron", "crimping pliers",
    "jig", "instrument" or "tool"; `size_mm` of keys and spanners, across flats; 0 for the others.
    """

    sort: str
    size_mm: float = 0.0
    name: str


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Supply:
    """Something used up: grease, threadlocker, tape. Nobody counts it in pieces."""

    name: str


def driving_tools(machine: Machine, joint: Joint, fastenings: Iterable[str] = ()) -> set[Tool]:
    """Keys of the joint's screws and spanners of its free nuts; of the named screws alone, if any."""
    only = frozenset(fastenings)
    tools: set[Tool] = set()
    for one in joint.fastenings:
        if only and one.id not in only:
            continue
        key_mm = one.screw_type.key_mm
        if key_mm > 0:
            tools.add(Tool(sort="hexagon key", size_mm=key_mm, name=f"hexagon key {key_mm:g} mm"))
        host = machine.part.get(one.host_part)
        if host is not None and isinstance(host.type.standard, Nut):
            flats_mm = host.type.standard.across_flats_mm
            tools.add(Tool(sort="spanner", size_mm=flats_mm, name=f"spanner {flats_mm:g} mm"))
    return tools


def insert_tools(brought: Iterable[PlacedPart]) -> set[Tool]:
    """The soldering iron with a tip for each thread of the heat-set inserts among these pieces."""
    inserts = [placed.type.standard for placed in brought if isinstance(placed.type.standard, Insert)]
    return {
        Tool(sort="soldering iron", name=f"soldering iron with {insert.thread.name} insert tip")
        for insert in inserts
    }


def action_tools(machine: Machine, action: Action) -> set[Tool]:
    """Everything an action needs in the hand."""
    tools: set[Tool] = set()
    joints = [machine.joint[name] for name in action.joints]
    if action.verb in DRIVING_VERBS:
        for joint in joints:
            tools |= driving_tools(machine, joint)
        for name in action.fastenings:
            tools |= driving_tools(machine, machine.joint[machine.fastening[name].joint], (name,))
    if action.verb == "press":
        for joint in joints:
            tools |= insert_tools(joint.brings)
    if action.verb == "crimp":
        tools.add(Tool(sort="crimping pliers", name="crimping pliers"))
    for word in action.using:
        found = _used(machine, action.verb, word)
        if isinstance(found, Tool):
            tools.add(found)
    for name in action.parts:
        if machine.part[name].type.kind is Kind.JIG:
            tools.add(Tool(sort="jig", name=machine.part[name].type.name))
    return tools


def action_supplies(machine: Machine, action: Action) -> set[Supply]:
    """Everything an action uses up: its own words and placed consumables."""
    found = {_used(machine, action.verb, word) for word in action.using}
    placed = (machine.part[name].type for name in action.parts)
    return {one for one in found if isinstance(one, Supply)} | {
        Supply(name=part_type.name) for part_type in placed if part_type.kind is Kind.CONSUMABLE
    }


def supply_of(machine: Machine, word: str) -> Supply:
    """The supply a joint's `lock` names: of the machine, of the catalogue, or the word itself."""
    found = _used(machine, "grease", word)
    return found if isinstance(found, Supply) else Supply(name=word)


@cache
def _standard(word: str) -> StandardPart | None:
    """What the catalogue knows by this name; asked once for each word, as a name it lacks takes long."""
    try:
        return lookup(word)
    except UnknownDesignation:
        return None


def _used(machine: Machine, verb: str, word: str) -> Tool | Supply:
    """What a word under `using` is: a jig, an instrument, a consumable of the machine, or a plain word."""
    part_type = machine.types.get(machine.aliases.get(word, word))
    if part_type is not None:
        if part_type.kind is Kind.CONSUMABLE:
            return Supply(name=part_type.name)
        return Tool(sort="jig" if part_type.kind is Kind.JIG else "tool", name=part_type.name)
    for instrument in machine.instruments:
        if instrument.id == word:
            return Tool(sort="instrument", name=word)
    standard = _standard(word)
    if isinstance(standard, Grease):
        return Supply(name=standard.designation)
    said = word.casefold()
    if any(known in said for known in _TOOL_WORDS):
        return Tool(sort="tool", name=word)
    if verb in _SUPPLY_VERBS or any(known in said for known in _SUPPLY_WORDS):
        return Supply(name=word)
    return Tool(sort="instrument" if verb in _INSTRUMENT_VERBS else "tool", name=word)

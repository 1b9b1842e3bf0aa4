"""What a step needs in the hand: its keys, what reads its readings, and what nobody has said."""

from __future__ import annotations

import re

from trysquare.machine.values import Characteristic, Step
from trysquare.publish.known import Known
from trysquare.sequence.instruments import best_instrument, best_of_kinds

NOT_SAID = "tool not said"

# Words for a person that ask for a key although no joint is named. Source: common practice, no source.
_TURNED = re.compile(r"\b(tighten|tightened|loosen|loosened|unscrew|unscrewed|screwed)\b", re.IGNORECASE)
_AT_HAND = {"newton": "spring balance"}  # what people have; a force gauge reads finer, by common practice
_BY_WORDS = frozenset({"look", "check", "wait"})


def tools_of(known: Known, step: Step) -> list[str]:
    """Names of all tools of a step, each once: those its actions name or turn, then what its readings need.

    A reading for which an action of the step names no instrument gets the machine's own that reads it best;
    where none does, the sort that is usual for it with "tool not said". What is tightened in words alone,
    without a tool, is told as "tool not said: …", so that nobody finds out with hot hands.
    """
    found = [tool.name for tool in known.picks[step.id].tools]
    return list(dict.fromkeys((*found, *_reading(known, step), *_in_words_alone(step))))


def tools_of_machine(known: Known) -> dict[str, list[int]]:
    """Every tool with the numbers of the steps that need it: keys first, as `need` lists them."""
    found: dict[str, list[int]] = {row.tool.name: [] for row in known.whole.tools}
    for row in known.whole.tools:
        found[row.tool.name] += [known.number_of[step] for step in row.steps]
    for step in known.machine.steps:
        number = known.number_of[step.id]
        for name in _reading(known, step):
            steps = found.setdefault(name, [])
            if number not in steps:
                steps.append(number)
                steps.sort()
    return found


def _reading(known: Known, step: Step) -> list[str]:
    """What reads the step's characteristics that no action of it names an instrument for."""
    by_id = {one.id: one for one in known.machine.characteristics}
    named = {name for action in step.actions if action.using for name in action.reads}
    asked = dict.fromkeys(
        name
        for action in step.actions
        if action.verb == "read" and not action.using
        for name in action.reads
        if name in by_id and name not in named
    )
    return [_reader(known, by_id[name]) for name in asked]


def _reader(known: Known, one: Characteristic) -> str:
    owned = best_instrument(known.machine, one)
    if owned is not None:
        return owned.id
    name = one.id.rpartition("/")[2]
    kind = best_of_kinds(known.machine, one)
    if kind is None:
        return f"{NOT_SAID}: what reads {name}"
    usual = _AT_HAND.get(kind.unit, kind.sort.replace("-", " "))
    return f"{usual} for {name} ({NOT_SAID})"


def _in_words_alone(step: Step) -> list[str]:
    """What people are told to tighten by hand in a look or a check that names no tool."""
    return [
        f"{NOT_SAID}: “{said.strip().rstrip('.')}”"
        for action in step.actions
        if action.verb in _BY_WORDS and not action.using
        for said in (action.says,)
        if _TURNED.search(said)
    ]

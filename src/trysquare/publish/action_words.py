"""What a step asks for, in sentences: the verb, what it is done to, with what, and how tight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.fit.torque import Torque, torque_of
from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.values import Action, Fastening, Step
from trysquare.publish.known import Known
from trysquare.sequence.rules_truth import centre_outwards
from trysquare.sequence.state import Event
from trysquare.sequence.telling import side

MOST_NAMES = 6  # more than so many are told by their sorts
_VERBS = {
    "place": "Place", "insert": "Insert", "start": "Start", "snug": "Snug", "align": "Align", "read": "Read",
    "look": "Look", "tighten": "Tighten", "hold": "Hold", "release": "Release", "clean": "Clean",
    "deburr": "Deburr", "grease": "Grease", "press": "Press in", "crimp": "Crimp", "route": "Lay",
    "wait": "Wait", "check": "Check", "sign-off": "Sign", "note": "Note", "turn": "Turn",
}  # fmt: skip
_TURNING = frozenset({"start", "snug", "tighten"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """Screws of one sort that an action turns. `names` are their joints."""

    part: str
    pieces: int
    key_mm: float
    torque: Torque | None
    joints: tuple[str, ...]


def short(name: str, unit: str) -> str:
    """A name as it is said within its unit: without the unit in front."""
    return name.removeprefix(f"{unit}/") if unit else name


def names_words(names: Sequence[str], unit: str, known: Known) -> str:
    """Names one after another; many of them by how many of each sort."""
    if len(names) <= MOST_NAMES:
        return ", ".join(short(name, unit) for name in names)
    counts: dict[str, int] = {}
    for name in names:
        placed = known.machine.part.get(name)
        if placed is None:  # joints have no sort
            own = name.rpartition("/")[0]
            counts[f"of {own}" if own else "here"] = counts.get(f"of {own}" if own else "here", 0) + 1
            continue
        letter = known.letter(placed.type.id)
        word = f"{placed.type.name} ({letter})" if letter else placed.type.name
        counts[word] = counts.get(word, 0) + 1
    return ", ".join(f"{pieces} × {word}" if not word.startswith("of ") else f"{pieces} {word}"
                     for word, pieces in counts.items())  # fmt: skip


def action_facts(known: Known, step: Step, event: Event) -> dict[str, Any]:
    """One action: `verb`, `to` and `says` are words; `screws` one row for each sort of screw it turns."""
    action = event.action
    turned = turned_of(known, event) if action.verb in _TURNING else ()
    return {
        "verb": _VERBS.get(action.verb, action.verb),
        "to": _to(known, step, action),
        "says": action.says,
        "how": _how(action),
        "screws": [_screw(known, one, action.verb, step.unit, several=len(turned) > 1) for one in turned],
        "order": _order(event),
        "sign": action.verb == "sign-off",
    }


def turned_of(known: Known, event: Event) -> tuple[Turned, ...]:
    """The screws an action turns, by sort and by what they bear."""
    rows: dict[tuple[str, float, str], list[Fastening]] = {}
    torques: dict[tuple[str, float, str], Torque | None] = {}
    for one in event.screws:
        torque = torque_of(known.machine, one)
        part = known.machine.part[one.screw].type.id
        key = (part, round(torque.newton_metre, 2) if torque else 0.0, torque.limited_by if torque else "")
        rows.setdefault(key, []).append(one)
        torques[key] = torque
    return tuple(
        Turned(
            part=key[0],
            pieces=len(ones),
            key_mm=ones[0].screw_type.key_mm,
            torque=torques[key],
            joints=tuple(dict.fromkeys(one.joint for one in ones)),
        )
        for key, ones in rows.items()
    )


def torque_words(newton_metre: float) -> str:
    """A torque as a driver is set: two figures."""
    return f"{newton_metre:.2g}" if newton_metre < 10 else f"{newton_metre:.0f}"


def _screw(known: Known, one: Turned, verb: str, unit: str, *, several: bool) -> dict[str, Any]:
    torque = ""
    if one.torque is not None and verb in ("snug", "tighten"):
        value = one.torque.snug_newton_metre if verb == "snug" else one.torque.newton_metre
        limit = f" ({one.torque.limited_by}{', assumed' if one.torque.is_assumed else ''})"
        torque = f"{torque_words(value)} N·m" if verb == "snug" else f"{torque_words(value)} N·m{limit}"
        torque = f"about {torque}" if verb == "snug" else f"at most {torque}"
    return {
        "letter": known.letter(one.part),
        "pieces": one.pieces,
        "name": one.part,
        "key": f"key {written(one.key_mm)}" if one.key_mm else "",
        "torque": torque,
        "joints": ", ".join(short(name, unit) for name in one.joints) if several else "",
    }


def _to(known: Known, step: Step, action: Action) -> str:
    names = [*action.parts, *action.joints, *action.fastenings]
    if action.verb == "turn":
        return ""
    said = names_words(names, step.unit, known)
    if action.verb in ("insert", "press") and said:
        said = f"{'what lies in slots' if action.verb == 'insert' else 'the inserts'} for {said}"
    if action.using:
        said += f"{' ' if said else ''}with {', '.join(action.using)}"
    return said


def _how(action: Action) -> str:
    """Details in few words: from where, with which gap, for how long."""
    words = []
    if action.gap_mm is not None:
        words.append(f"heads {written(action.gap_mm)} mm proud")
    if action.verb == "turn" and action.toward in DIRECTIONS:
        words.append(f"the machine's {side(np.asarray(DIRECTIONS[action.toward]))} comes up")
    elif action.toward in DIRECTIONS:
        words.append(f"from the {side(np.asarray(DIRECTIONS[action.toward]))}")
    if action.means:
        words.append({"tape": "with tape", "tie": "with a tie", "stop": "with a stop", "prop": "with a prop",
                      "clamp": "with a clamp"}.get(action.means, action.means))  # fmt: skip
    if action.minutes:
        hours = action.minutes / 60
        words.append(f"{written(hours)} h" if hours >= 3 else f"{written(action.minutes)} min")
    if action.celsius:
        words.append(f"at {written(action.celsius)} °C")
    return ", ".join(words)


def _order(event: Event) -> str:
    """In which order a row of screws is turned, where that matters: their numbers in the joint."""
    if event.action.verb != "tighten":
        return ""
    if event.action.order:
        return ", ".join(name.rpartition(".")[2] for name in event.action.order)
    rows = [joint for joint in event.joints if joint.from_centre and len(joint.fastenings) > 2]
    if not rows:
        return ""
    orders = {tuple(name.rpartition(".")[2] for name in centre_outwards(joint.fastenings)) for joint in rows}
    return "from the middle outwards: " + "; ".join(", ".join(order) for order in sorted(orders))

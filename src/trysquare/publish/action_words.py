"""What a step asks for, in sentences: the verb, what it is done to, with what, and how tight."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.fit.soft import PRACTICE, gives_way
from trysquare.fit.torque import Torque, torque_of
from trysquare.ground.placement import DIRECTIONS, side
from trysquare.machine.values import Action, Fastening, Step
from trysquare.publish.bench_words import bench_words
from trysquare.publish.known import Known
from trysquare.sequence.crosswise import LEAST, fields_of, numbers_of
from trysquare.sequence.row_orders import centre_outwards, order_by_joint, rows_of
from trysquare.sequence.state import Event

MOST_NAMES = 6  # more than so many are told by their sorts
_VERBS = {
    "place": "Place", "insert": "Insert", "start": "Start", "snug": "Snug", "align": "Align", "read": "Read",
    "look": "Look", "tighten": "Tighten", "hold": "Hold", "release": "Release", "clean": "Clean",
    "deburr": "Deburr", "grease": "Grease", "press": "Press in", "crimp": "Crimp", "route": "Lay",
    "wait": "Wait", "check": "Check", "sign-off": "Sign", "note": "Note", "turn": "Turn",
}  # fmt: skip
_BEFORE = {"insert": "what lies in slots for", "press": "the inserts for", "look": "at"}
_OF_PARTS = frozenset({"clean", "deburr", "grease", "look"})
_TURNING = frozenset({"start", "snug", "tighten"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """Screws of one sort that an action turns, and their `joints`. `soft`: what in the stack gives way."""

    part: str
    pieces: int
    key_mm: float
    torque: Torque | None
    soft: str
    joints: tuple[str, ...]


def short(name: str, unit: str) -> str:
    """A name as it is said within its unit: without the unit in front."""
    return name.removeprefix(f"{unit}/") if unit else name


def names_words(names: Sequence[str], unit: str, known: Known) -> str:
    """Names one after another; cables by their labels; many parts by how many of each sort."""
    cables = [known.machine.joint[name].cable for name in names if name in known.machine.joint]
    labels = [cable.label for cable in cables if cable is not None and cable.label]
    if names and len(labels) == len(names):
        return ", ".join(in_runs(sorted(labels, key=natural)))
    if len(names) <= MOST_NAMES:
        return ", ".join(short(name, unit) for name in names)
    counts: dict[str, int] = {}
    joints: dict[str, int] = {}
    for name in names:
        placed = known.machine.part.get(name)
        if placed is None:  # joints have no sort
            own = name.rpartition("/")[0]
            joints[own] = joints.get(own, 0) + 1
            continue
        letter = known.letter(placed.type.id)
        word = f"{placed.type.name} ({letter})" if letter else placed.type.name
        counts[word] = counts.get(word, 0) + 1
    said = [f"{pieces} × {word}" for word, pieces in counts.items()]
    for own, number in joints.items():
        joint = "joint" if number == 1 else "joints"
        said.append(f"{number} {joint} of {own}" if own and own != unit else f"{number} {joint}")
    return ", ".join(said)


def natural(label: str) -> tuple[str, int, str]:
    """A key that sorts "PE 2" before "PE 10"."""
    head = label.rstrip("0123456789")
    digits = label.removeprefix(head)
    return head, int(digits) if digits else -1, label


def in_runs(labels: Sequence[str]) -> list[str]:
    """Labels one after another, those that count up as "PE 3 to PE 9"."""
    found: list[list[tuple[str, str, int]]] = []
    for label in labels:
        head, number, _ = natural(label)
        last = found[-1][-1] if found else None
        if last is not None and number >= 0 and (last[1], last[2] + 1) == (head, number):
            found[-1].append((label, head, number))
        else:
            found.append([(label, head, number)])
    return [
        text
        for run in found
        for text in ([f"{run[0][0]} to {run[-1][0]}"] if len(run) > 2 else [label for label, *_ in run])
    ]


def action_facts(known: Known, step: Step, event: Event) -> dict[str, Any]:
    """One action: `verb`, `to` and `says` are words; `to` is `before`, `names` and what it is done `using`.
    `screws`: one row for each sort of screw it turns."""
    action = event.action
    said = _to(known, step, action)
    turned = turned_of(known, event) if action.verb in _TURNING else ()
    return {
        "verb": _VERBS.get(action.verb, action.verb),
        "to": " ".join(word for word in (*said[:2], f"with {said[2]}" if said[2] else "") if word),
        "before": said[0],
        "names": said[1],
        "using": said[2],
        "says": " ".join(word for word in (action.says, *bench_words(known.machine, step, event)) if word),
        "how": _how(action),
        "screws": [_screw(known, one, action.verb, step.unit, several=len(turned) > 1) for one in turned],
        "order": _order(known, event),
        "sign": action.verb == "sign-off",
    }


def turned_of(known: Known, event: Event) -> tuple[Turned, ...]:
    """The screws an action turns, by sort and by what they bear."""
    rows: dict[tuple[str, float, str], list[Fastening]] = {}
    torques: dict[tuple[str, float, str], Torque | None] = {}
    for one in event.screws:
        torque = torque_of(known.machine, one)
        part = known.machine.part[one.screw].type.id
        limit = torque.limited_by if torque else gives_way(known.machine, one)
        key = (part, round(torque.newton_metre, 2) if torque else 0.0, limit)
        rows.setdefault(key, []).append(one)
        torques[key] = torque
    return tuple(
        Turned(
            part=key[0],
            pieces=len(ones),
            key_mm=ones[0].screw_type.key_mm,
            torque=torques[key],
            soft="" if torques[key] else key[2],
            joints=tuple(dict.fromkeys(one.joint for one in ones)),
        )
        for key, ones in rows.items()
    )


def torque_words(newton_metre: float) -> str:
    """A torque as a driver is set: two figures."""
    return f"{newton_metre:.2g}" if newton_metre < 10 else f"{newton_metre:.0f}"


def soft_words(soft: str, verb: str) -> str:
    """How far a screw is turned through something that gives way: no torque. Common practice, no source."""
    if verb == "snug":
        return f"until the {soft} is just touched, no torque"
    return f"no torque: to its mark or reading, never tight (the {soft} gives way; {PRACTICE})"


def _screw(known: Known, one: Turned, verb: str, unit: str, *, several: bool) -> dict[str, Any]:
    torque = ""
    if one.torque is not None and verb in ("snug", "tighten"):
        value = one.torque.snug_newton_metre if verb == "snug" else one.torque.newton_metre
        limit = f" ({one.torque.limited_by}{', assumed' if one.torque.is_assumed else ''})"
        torque = f"{torque_words(value)} N·m" if verb == "snug" else f"{torque_words(value)} N·m{limit}"
        torque = f"about {torque}" if verb == "snug" else f"at most {torque}"
    elif one.soft and verb in ("snug", "tighten"):
        torque = soft_words(one.soft, verb)
    return {
        "letter": known.letter(one.part),
        "pieces": one.pieces,
        "name": one.part,
        "key": f"key {written(one.key_mm)}" if one.key_mm else "",
        "torque": torque,
        "joints": ", ".join(short(name, unit) for name in one.joints) if several else "",
    }


def _to(known: Known, step: Step, action: Action) -> tuple[str, str, str]:
    """What an action is done to: words before the names, the names, and the instruments."""
    if action.verb == "turn":
        return "", "", ""
    names = [*action.parts, *action.joints, *action.fastenings]
    if action.verb in _OF_PARTS and action.parts:  # a pattern such as base/* names joints, too
        names = list(action.parts)
    said = names_words(names, step.unit, known)
    return _BEFORE.get(action.verb, "") if said else "", said, ", ".join(action.using)


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


def _order(known: Known, event: Event) -> str:
    """In which order screws are turned, where that matters: their numbers in the joint."""
    if event.action.verb != "tighten":
        return ""
    if event.action.order:
        stated = _rows(order_by_joint(event.action.order), several=len(event.joints) > 1)
        faces = _faces(known, event, {name.rpartition(".")[0] for name in event.action.order})
        return "; ".join(words for words in (stated, faces) if words)
    return "; ".join(words for words in (_rails(event), _faces(known, event, frozenset())) if words)


def _rails(event: Event) -> str:
    """Rows that go from the middle outwards."""
    rows = [joint for joint in event.joints if joint.from_centre and len(joint.fastenings) > 2]
    if not rows:
        return ""
    orders: dict[str, tuple[str, ...]] = {}
    for joint in rows:
        of_joint = rows_of(joint.fastenings)
        for part, names in of_joint.items():
            chosen = [one for one in joint.fastenings if one.id in names]
            called = part if len(of_joint) > 1 else joint.id  # one joint may hold two rails
            orders[called] = order_by_joint(centre_outwards(chosen))[joint.id]
    alike = len(set(orders.values())) == 1 and len(rows) == len(event.joints)
    several = len(event.joints) > 1 or len(orders) > 1
    return "from the middle outwards: " + _rows(orders, several=several and not alike)


def _faces(known: Known, event: Event, stated: Collection[str]) -> str:
    """Faces that go crosswise, those of one sort together; in two passes where none was snug before."""
    orders: dict[str, dict[str, tuple[str, ...]]] = {}
    turned = {one.id for one in event.screws}
    for joint in event.joints:
        fields = fields_of(joint) if joint.id not in stated else ()
        for face in fields:
            if not turned.issuperset(face.screws):
                continue
            snug = all(known.timeline.was_snug(name, event.at) for name in face.screws)
            words = face.words if snug else f"{face.words}, all snug, then once more to final"
            called = face.part if len(fields) > 1 else joint.id
            orders.setdefault(words, {})[called] = numbers_of(face.order)
    said = []
    for words, of_joints in orders.items():
        alike = len(set(of_joints.values())) == 1
        numbers = _rows(of_joints, several=len(of_joints) > 1 and not alike)
        only = alike and len(of_joints) < len(event.joints)
        names = ", ".join(name.rpartition("/")[2] for name in of_joints)
        # Of four screws "the one opposite" is one; of more the numbers help, which the book draws.
        told = words if all(len(order) == LEAST for order in of_joints.values()) else f"{words}: {numbers}"
        said.append(f"{names} {told}" if only else told)
    return "; ".join(said)


def _rows(orders: Mapping[str, tuple[str, ...]], *, several: bool) -> str:
    """Numbers of screws; of several joints each row under its joint's name."""
    if several:
        return "; ".join(
            f"{name.rpartition('/')[2]} {', '.join(numbers)}" for name, numbers in orders.items()
        )
    return "; ".join(dict.fromkeys(", ".join(numbers) for numbers in orders.values()))

"""Which action brings which piece to the machine. Each piece is brought once, by the first action that can.

`place` brings the parts it names; `press` the inserts of its joints; `insert` what lies in slots and
pockets (nuts, bars, carriers) and corner brackets; `route` belts and cables; `start`, `snug` and
`tighten` whatever of their joints is not there yet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from trysquare.machine.values import Action, Joint, Machine, PlacedPart

_BY_VERB: dict[str, tuple[str, ...]] = {
    "press": ("insert",),
    "insert": ("nut", "bar", "carrier", "bracket"),
    "route": ("belt",),
}
_ALL = frozenset({"start", "snug", "tighten"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """What one action brings: its own placed parts, then the joints' pieces in picking order.

    `again`: parts the action places although they are already there.
    """

    step: int
    action: int
    pieces: tuple[PlacedPart, ...]
    again: tuple[str, ...] = ()


def sort_of(piece: PlacedPart) -> str:
    """The sort in a brought piece's id: ``frame/corners/nut.3`` is a nut."""
    return piece.id.rpartition("/")[2].partition(".")[0]


def joints_of(machine: Machine, action: Action) -> tuple[Joint, ...]:
    """The joints an action works on, those of single screws included."""
    names = dict.fromkeys(action.joints)
    names |= dict.fromkeys(name.rpartition(".")[0] for name in action.fastenings)
    return tuple(machine.joint[name] for name in names)


def bringing(machine: Machine) -> tuple[Brought, ...]:
    """One entry for each action of each step, in order."""
    there: set[str] = set()
    found: list[Brought] = []
    for step_index, step in enumerate(machine.steps):
        for action_index, action in enumerate(step.actions):
            pieces: list[PlacedPart] = []
            again: list[str] = []
            if action.verb == "place":
                for name in action.parts:
                    if name in there:
                        again.append(name)
                    else:
                        pieces.append(machine.part[name])
                        there.add(name)
            for piece in _joint_pieces(machine, action):
                if piece.id not in there:
                    pieces.append(piece)
                    there.add(piece.id)
            found.append(
                Brought(step=step_index, action=action_index, pieces=tuple(pieces), again=tuple(again))
            )
    return tuple(found)


def _joint_pieces(machine: Machine, action: Action) -> Iterator[PlacedPart]:
    if action.verb not in _BY_VERB and action.verb not in _ALL and action.verb != "place":
        return
    for joint in joints_of(machine, action):
        wanted = None if action.verb in _ALL else _BY_VERB.get(action.verb, ())
        if action.verb == "place":
            wanted = ("bracket",)
        only = (
            _pieces_of_screws(joint, action) if action.fastenings and joint.id not in action.joints else None
        )
        for piece in joint.brings:
            if wanted is not None and sort_of(piece) not in wanted:
                continue
            if only is not None and piece.id not in only:
                continue
            yield piece


def _pieces_of_screws(joint: Joint, action: Action) -> set[str]:
    """The pieces that belong to the screws an action names one by one."""
    ids: set[str] = set()
    for fastening in joint.fastenings:
        if fastening.id in action.fastenings:
            ids |= {fastening.screw, fastening.host_part, fastening.carrier, *fastening.washers}
    return ids


def never_brought(machine: Machine) -> tuple[PlacedPart, ...]:
    """Pieces of the machine that no action brings, in machine order; jigs are not pieces of it."""
    there = {piece.id for entry in bringing(machine) for piece in entry.pieces}
    return tuple(part for part in machine.placed if part.id not in there and part.type.kind != "jig")

"""Which step picks up which pieces, with which tools, and which nuts go into which slot.

Which action brings a piece is said in one place for the pick lists and for the order's rules:
`stock.bringing`. Here cables join in, which have no solid: the first ``route`` or ``crimp`` (or the
first ``snug`` or ``tighten``) of their joint brings their wires.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trysquare.machine.values import Action, Fastening, Host, Kind, Machine, Step
from trysquare.stock.bringing import Brought, bringing
from trysquare.stock.pieces import Piece, core_ids, pieces_of
from trysquare.stock.tools import (
    DRIVING_VERBS,
    Supply,
    Tool,
    action_supplies,
    action_tools,
    insert_tools,
    supply_of,
)

_WIRE_VERBS = frozenset({"route", "crimp", "snug", "tighten"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PickLine:
    """Pieces of one part that a step picks up. `cuts_mm` are the lengths of belts and wires."""

    part: str
    name: str
    kind: Kind
    pieces: tuple[str, ...]  # piece ids
    asked_by: tuple[str, ...]  # joints or placed parts
    cuts_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotNuts:
    """Nuts or bars that one insert action puts into one slot.

    `at_mm` counts from the member's end a, sorted; a bar has the places of its screws.
    `nearer_end` is the end with less way to push; whether it is open is another question.
    """

    member: str
    face: str
    nut: str
    pieces: int
    at_mm: tuple[float, ...]
    nearer_end: str
    joints: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPick:
    """What one step needs on the bench."""

    step: str
    title: str
    unit: str
    lines: tuple[PickLine, ...]
    tools: tuple[Tool, ...]
    supplies: tuple[Supply, ...]
    slot_nuts: tuple[SlotNuts, ...]
    paper: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Twice:
    """A part that a step places although an earlier action has placed it already."""

    id: str
    first_step: str
    again_step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Picking:
    """The whole order as pick lists. `step_of` says for each piece the step that picks it up;
    `left` are the pieces that no step picks up."""

    pieces: Mapping[str, Piece]
    steps: tuple[StepPick, ...]
    step_of: Mapping[str, str]
    left: tuple[Piece, ...]
    twice: tuple[Twice, ...]


def pick_lists(machine: Machine) -> tuple[StepPick, ...]:
    """A pick list for each step, in the order of the steps; empty without steps."""
    return pick_all(machine).steps


def pick_all(machine: Machine) -> Picking:
    """Walks all steps once and hands out every piece."""
    pieces = pieces_of(machine)
    brought = {(entry.step, entry.action): entry for entry in bringing(machine)}
    step_of: dict[str, str] = {}
    locked: set[str] = set()  # joints whose locking chemicals were handed out
    picks: list[StepPick] = []
    twice: list[Twice] = []
    for index, step in enumerate(machine.steps):
        entries = [brought[(index, at)] for at in range(len(step.actions))]
        for entry in entries:
            twice += [
                Twice(id=name, first_step=step_of.get(name, step.id), again_step=step.id)
                for name in entry.again
            ]
            step_of.update(dict.fromkeys((piece.id for piece in entry.pieces), step.id))
        picks.append(_pick(machine, step, entries, pieces, step_of, locked))
    left = tuple(piece for piece in pieces.values() if piece.id not in step_of)
    return Picking(pieces=pieces, steps=tuple(picks), step_of=step_of, left=left, twice=tuple(twice))


def _pick(
    machine: Machine,
    step: Step,
    entries: Sequence[Brought],
    pieces: Mapping[str, Piece],
    step_of: dict[str, str],
    locked: set[str],
) -> StepPick:
    taken: list[Piece] = []
    tools: set[Tool] = set()
    supplies: set[Supply] = set()
    slot_nuts: list[SlotNuts] = []
    for action, entry in zip(step.actions, entries, strict=True):
        ids = [piece.id for piece in entry.pieces]
        taken += [pieces[name] for name in ids if name in pieces]
        for name in _wires(machine, action):
            if name not in step_of:
                step_of[name] = step.id
                taken.append(pieces[name])
        tools |= action_tools(machine, action) | insert_tools(entry.pieces)
        supplies |= action_supplies(machine, action) | _locks(machine, action, locked)
        if action.verb == "insert":
            slot_nuts += nuts_by_slot(machine, ids)
    return StepPick(
        step=step.id,
        title=step.title,
        unit=step.unit,
        lines=_lines(taken),
        tools=tuple(sorted(tools)),
        supplies=tuple(sorted(supplies)),
        slot_nuts=tuple(slot_nuts),
        paper=step.paper,
    )


def _wires(machine: Machine, action: Action) -> list[str]:
    """The wires of the cables that an action could bring."""
    if action.verb not in _WIRE_VERBS:
        return []
    return [name for joint in action.joints for name in core_ids(machine.joint[joint])]


def _locks(machine: Machine, action: Action, locked: set[str]) -> set[Supply]:
    """Locking chemicals of a joint, with the first action that drives its screws."""
    if action.verb not in DRIVING_VERBS:
        return set()
    names = [*action.joints, *(machine.fastening[name].joint for name in action.fastenings)]
    new = [name for name in dict.fromkeys(names) if name not in locked]
    locked.update(new)
    return {supply_of(machine, word) for name in new for word in machine.joint[name].locks}


def nuts_by_slot(machine: Machine, taken: Iterable[str]) -> list[SlotNuts]:
    """The taken nuts and bars that lie in slots, one row for each slot and sort, in the joints' order."""
    chosen = set(taken)
    rows: dict[tuple[str, str, str], list[Fastening]] = {}
    for one in machine.fastening.values():
        if one.host_part in chosen and one.slot_member and one.host in (Host.SLOT_NUT, Host.BAR):
            nut = machine.part[one.host_part].type.id
            rows.setdefault((one.slot_member, one.slot_face, nut), []).append(one)
    found: list[SlotNuts] = []
    for (member, face, nut), fastenings in rows.items():
        at_mm = tuple(sorted(one.slot_at_mm for one in fastenings))
        middle_mm = machine.part[member].type.length_mm / 2
        found.append(
            SlotNuts(
                member=member,
                face=face,
                nut=nut,
                pieces=len({one.host_part for one in fastenings}),
                at_mm=at_mm,
                nearer_end="a" if sum(at_mm) / len(at_mm) <= middle_mm else "b",
                joints=tuple(dict.fromkeys(one.joint for one in fastenings)),
            )
        )
    return found


def _lines(pieces: Iterable[Piece]) -> tuple[PickLine, ...]:
    """Pieces gathered by part, in the order in which they are picked up."""
    by_part: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_part.setdefault(piece.part, []).append(piece)
    return tuple(
        PickLine(
            part=part,
            name=rows[0].name,
            kind=rows[0].kind,
            pieces=tuple(piece.id for piece in rows),
            asked_by=tuple(dict.fromkeys(piece.asked_by for piece in rows)),
            cuts_mm=tuple(piece.length_mm for piece in rows if piece.length_mm),
        )
        for part, rows in by_part.items()
    )

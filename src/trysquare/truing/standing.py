"""What stands while it is trued: which parts are there, and how tight each screw is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.machine.values import Machine
from trysquare.sequence.state import State, Tightness, apply, events_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """`present`: placed ids that are there, None: all. `tight`: by fastening id; what is not named is final.
    `step`: at whose reading this is, "" for the whole machine."""

    present: frozenset[str] | None = None
    tight: Mapping[str, Tightness] = field(default_factory=dict)
    step: str = ""


def while_truing(machine: Machine) -> Standing:
    """Everything there; what has something to be read is snug, all else final."""
    return Standing(
        tight={one.id: Tightness.SNUG for joint in machine.joints if joint.align for one in joint.fastenings}
    )


def at_reading(machine: Machine, step_id: str) -> Standing:
    """The machine at the first reading of a step, or at its end when it has none. Raises ReadingError."""
    known = [step.id for step in machine.steps]
    if step_id not in known:
        raise ReadingError(
            where=Where(file=str(machine.folder)),
            read=step_id,
            expected="a step of the machine",
            remedy=nearest(step_id, known),
        )
    state = State()
    number = known.index(step_id)
    for event in events_of(machine):
        if event.step > number:
            break
        apply(state, event)
        if event.step == number and event.action.verb == "read":
            break
    return of_state(state, machine, step_id)


def of_state(state: State, machine: Machine, step: str = "") -> Standing:
    """What a walked order stands at. Screws that no event has turned are out."""
    return Standing(
        present=frozenset(state.present),
        tight={name: state.tightness(name) for name in machine.fastening},
        step=step,
    )


def tightness_of(machine: Machine, joint: str, screws: Sequence[str], standing: Standing) -> Tightness:
    """How tight a place is: its loosest screw, or its joint's where it has none of its own."""
    names = screws or tuple(one.id for one in machine.joint[joint].fastenings)
    return min((standing.tight.get(name, Tightness.FINAL) for name in names), default=Tightness.FINAL)

"""What a log says of the part-built machine: how far each screw is, and what was not done in order. Pure."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from trysquare.machine.values import Joint, Machine
from trysquare.record.state import BuildState, Said, Torqued
from trysquare.sequence.state import Event, State, Tightness, apply, events_of, reached

_LEVEL = {"started": Tightness.STARTED, "snug": Tightness.SNUG, "final": Tightness.FINAL}


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """A screw as it was last turned. `step`: where; `newton_metre`: as it was said, else None."""

    fastening: str
    level: Tightness
    step: str | None
    newton_metre: float | None
    said: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFault:
    """Work that was not done in the order that the machine asks for.

    `code`: "unread" (tightened before its alignment was read), "read-too-late" (read, but only after it was
    tightened), "step-left-out" (an earlier step is not done), "screw-order" (screws of a joint tightened in
    another order than the paper's). `at`: what was logged.
    """

    code: str
    says: str
    step: str | None
    joint: str
    at: Said


def done_in_order(state: BuildState) -> tuple[tuple[str, Said], ...]:
    """The steps that are done, in the order in which they were."""
    done = [(name, step.done) for name, step in state.steps.items() if step.done is not None]
    return tuple(sorted(done, key=lambda pair: pair[1].seq))


def state_by_log(machine: Machine, state: BuildState) -> State:
    """The part-built machine after the steps that are done, in the order in which they were."""
    of_step: dict[str, list[Event]] = {}
    for event in events_of(machine):
        of_step.setdefault(event.step_id, []).append(event)
    built = State()
    for step, _ in done_in_order(state):
        for event in of_step.get(step, ()):
            apply(built, event)
    return built


def turned(machine: Machine, state: BuildState) -> Mapping[str, Turned]:
    """Each screw that was turned, by its fastening's id, as it was last. What was logged of a joint or screw
    itself goes before what a step that is done says of it."""
    return {name: found[-1] for name, found in _turnings(machine, state).items()}


def order_faults(machine: Machine, state: BuildState) -> tuple[OrderFault, ...]:
    """Where the log and the machine's order do not agree, in the order of the log."""
    turnings = _turnings(machine, state)
    found = [
        *_unread(machine, state, turnings),
        *_left_out(machine, state),
        *_other_order(machine, state),
    ]
    return tuple(sorted(found, key=lambda fault: (fault.at.seq, fault.code, fault.joint)))


def _turnings(machine: Machine, state: BuildState) -> Mapping[str, list[Turned]]:
    """Every turning of every screw, oldest first."""
    found: dict[str, list[Turned]] = {}
    said_of: dict[tuple[str | None, str], Tightness] = {}  # how far each screw was logged in each step
    for of, entries in state.torqued.items():
        for fastening in _fastenings(machine, of):
            for entry in entries:
                level = _LEVEL.get(entry.state, Tightness.FINAL)
                before = said_of.get((entry.step, fastening), Tightness.ABSENT)
                said_of[entry.step, fastening] = max(before, level)
                found.setdefault(fastening, []).append(_turned(fastening, level, entry))
    done = dict(done_in_order(state))
    for event in events_of(machine):
        meant = reached(event.action.verb)
        if meant is None or event.step_id not in done:
            continue
        for one in event.screws:
            if said_of.get((event.step_id, one.id), Tightness.ABSENT) < meant:
                found.setdefault(one.id, []).append(
                    Turned(
                        fastening=one.id,
                        level=meant,
                        step=event.step_id,
                        newton_metre=None,
                        said=done[event.step_id],
                    )
                )
    # Within one step its actions stand in their own order: sorting keeps it.
    return {name: sorted(turnings, key=lambda one: one.said.seq) for name, turnings in found.items()}


def _turned(fastening: str, level: Tightness, entry: Torqued) -> Turned:
    return Turned(
        fastening=fastening, level=level, step=entry.step, newton_metre=entry.newton_metre, said=entry.said
    )


def _fastenings(machine: Machine, ref: str) -> tuple[str, ...]:
    """The screws of a joint, or the one screw."""
    if ref in machine.joint:
        return tuple(one.id for one in machine.joint[ref].fastenings)
    return (ref,) if ref in machine.fastening else ()


def _unread(
    machine: Machine, state: BuildState, turnings: Mapping[str, list[Turned]]
) -> Iterator[OrderFault]:
    """Joints that were tightened although their alignment had not been read."""
    for joint in machine.joints:
        if not joint.align:
            continue
        final = _first_final(joint, turnings)
        if final is None:
            continue
        read = sorted(
            one.said.seq
            for (_, of), readings in state.readings.items()
            if of == joint.align
            for one in readings
            if not one.set_aside
        )
        if any(seq < final.said.seq for seq in read):
            continue
        late = bool(read)
        says = f"{joint.id} was tightened before {joint.align} was read" + (
            "." if late else ", and it never was."
        )
        code = "read-too-late" if late else "unread"
        yield OrderFault(code=code, says=says, step=final.step, joint=joint.id, at=final.said)


def _first_final(joint: Joint, turnings: Mapping[str, list[Turned]]) -> Turned | None:
    finals = [
        turning
        for one in joint.fastenings
        for turning in turnings.get(one.id, ())
        if turning.level is Tightness.FINAL
    ]
    return min(finals, key=lambda one: one.said.seq, default=None)


def _left_out(machine: Machine, state: BuildState) -> Iterator[OrderFault]:
    """Steps that are done although an earlier one of the order was not done by then."""
    number = {step.id: at for at, step in enumerate(machine.steps)}
    done = [(name, said) for name, said in done_in_order(state) if name in number]
    by_then: set[str] = set()
    told: set[str] = set()
    for name, said in done:
        by_then.add(name)
        missing = [step.id for step in machine.steps[: number[name]] if step.id not in by_then | told]
        if missing:
            told.update(missing)
            more = f" and {len(missing) - 1} more" if len(missing) > 1 else ""
            says = f"{name} was done before {missing[0]}{more}."
            yield OrderFault(code="step-left-out", says=says, step=name, joint="", at=said)


def _other_order(machine: Machine, state: BuildState) -> Iterator[OrderFault]:
    """Single screws that were logged final in another order than a paper states."""
    first: dict[str, Said] = {}
    for of, entries in state.torqued.items():
        finals = [entry.said for entry in entries if entry.state in ("final", "")]
        if of in machine.fastening and finals:
            first[of] = min(finals, key=lambda said: said.seq)
    for step in machine.steps:
        for action in step.actions:
            logged = [name for name in action.order if name in first] if action.verb == "tighten" else []
            for early, late in itertools.pairwise(logged):
                if first[early].seq > first[late].seq:
                    says = f"{late} was tightened before {early}; the paper says the other way round."
                    joint = machine.fastening[late].joint
                    yield OrderFault(code="screw-order", says=says, step=step.id, joint=joint, at=first[late])

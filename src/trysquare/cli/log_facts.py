"""What `trysquare log` tells, as plain facts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.machine.values import Machine
from trysquare.publish.durations import Learned, durations
from trysquare.record.events import Logged
from trysquare.record.faults import Fault
from trysquare.record.log import BuildLog, Head
from trysquare.record.replay_open import OpenLine, open_lines
from trysquare.record.replay_sequence import OrderFault, order_faults
from trysquare.record.replay_times import measured_steps
from trysquare.record.sign_offs import SignOff, sign_offs
from trysquare.record.state import BuildState

LEAST_LEARNED_SECONDS = 1.0  # a step ticked off in passing says nothing of how long it takes


def log_facts(machine: Machine, log: BuildLog, state: BuildState, last: int) -> dict[str, Any]:
    """The overview; `last`: how many entries of the end to tell."""
    steps = _steps(machine, state)
    done = [step for step in steps if step["done"]]
    return {
        "machine": machine.name,
        "read_only": log.why_read_only,
        "entries": state.seq,
        "head": head_fact(Head(seq=state.seq, hash=state.hash)),
        "steps": steps,
        "steps_done": len(done),
        "steps_elsewhere": sorted(set(state.steps) - {step["step"] for step in steps}),
        "seconds_spent": round(sum(one.seconds for one in state.steps.values()), 3),
        "seconds_left": round(sum(step["planned_seconds"] for step in steps if not step["done"]), 3),
        "open": [_open_fact(line) for line in open_lines(state)],
        "order": [_order_fact(fault) for fault in order_faults(machine, state)],
        "signed": [_signed_fact(one) for one in sign_offs(state)],
        "counts": {
            "readings": sum(len(found) for found in state.readings.values()),
            "set_aside": sum(bool(one.set_aside) for found in state.readings.values() for one in found),
            "deviations": len(state.deviations),
            "photos": len(state.photos),
            "files": len(state.files),
            "notes": len(state.notes),
            "marks": len(state.marks),
            "rulings": len(state.rulings),
            "results": sum(len(found) for found in state.results.values()),
            "sorts_counted": len(state.counted),
            "undone": len(state.undone),
            "unknown": state.unknown,
        },
        "last": [entry_fact(entry, state) for entry in log.events(max(0, state.seq - last))][:last],
    }


def _steps(machine: Machine, state: BuildState) -> list[dict[str, Any]]:
    measured = {
        step: seconds for step, seconds in measured_steps(state).items() if seconds >= LEAST_LEARNED_SECONDS
    }
    found = []
    for planned in durations(machine, Learned(steps=measured)):
        step = state.steps.get(planned.step)
        found.append(
            {
                "step": planned.step,
                "title": planned.title,
                "unit": planned.unit,
                "done": step is not None and step.done is not None,
                "done_at": step.done.at if step is not None and step.done is not None else None,
                "opened": step is not None and step.opened is not None,
                "reopened": step.reopened if step is not None else 0,
                "seconds": round(step.seconds, 3) if step is not None else 0.0,
                "planned_seconds": round(planned.seconds, 3),
            }
        )
    return found


def head_fact(head: Head) -> dict[str, Any]:
    """The last entry, as a person notes it."""
    return {"entry": head.seq, "hash": head.hash}


def entry_fact(entry: Logged, state: BuildState) -> dict[str, Any]:
    """One entry as it stands."""
    event = entry.event
    return {
        "entry": entry.seq,
        "id": event.id,
        "kind": event.kind,
        "step": event.step,
        "subject": event.subject,
        "at": event.at,
        "device": event.device,
        "received": entry.received,
        "data": dict(event.data),
        "undone": event.id in state.undone,
    }


def fault_facts(faults: Sequence[Fault]) -> list[dict[str, Any]]:
    """What a check found."""
    return [{"code": one.code, "entry": one.seq, "says": one.says, "remedy": one.remedy} for one in faults]


def _open_fact(line: OpenLine) -> dict[str, Any]:
    return {
        "sort": line.sort,
        "step": line.step,
        "item": line.item,
        "says": line.says,
        "of": line.of,
        "entry": line.said.seq,
        "at": line.said.at,
        "device": line.said.device,
    }


def _signed_fact(one: SignOff) -> dict[str, Any]:
    return {
        "of": one.of,
        "says": one.says,
        "who": one.who,
        "step": one.step,
        "entry": one.said.seq,
        "at": one.said.at,
        "device": one.said.device,
    }


def _order_fact(fault: OrderFault) -> dict[str, Any]:
    return {
        "code": fault.code,
        "says": fault.says,
        "step": fault.step,
        "joint": fault.joint,
        "entry": fault.at.seq,
    }

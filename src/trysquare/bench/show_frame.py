"""All around a page: the rule with where one is, what is open, what is ready."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.bench import links
from trysquare.bench.now import Now
from trysquare.bench.open_count import open_count
from trysquare.bench.views import Frame, Graduation, UnitRun


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a frame says of the visit: not of the machine, but of the device, its address and the log."""

    token: str
    device: str
    secure: bool
    is_local: bool
    why_read_only: str
    folder: str
    machine: str = ""
    further: tuple[tuple[str, str], ...] = ()


def rule(now: Now, step: str = "") -> tuple[UnitRun, ...]:
    """The order as a rule. `step`: of the page shown; the cursor stands there, else at the next to do."""
    order = now.shown.order
    if order is None:
        return ()
    here = step or now.begin
    return tuple(
        UnitRun(
            number=run.number,
            name=run.unit,
            title=run.title,
            href=f"/#unit-{run.number}",
            graduations=tuple(_graduation(now, number, here) for number in range(run.first, run.last + 1)),
        )
        for run in order.runs
    )


def _graduation(now: Now, number: int, here: str) -> Graduation:
    assert now.shown.order is not None
    head = now.shown.order.steps[number - 1]
    known = now.state.steps.get(head.id)
    return Graduation(
        id=head.id,
        number=number,
        title=head.title,
        href=links.step_href(head.id),
        done=known is not None and known.done is not None,
        begun=head.id in now.begun,
        open_points=now.open_by_step.get(head.id, 0),
        here=head.id == here,
        conflict=head.id in now.conflict_steps,
    )


def frame(now: Now, around: Around, here: str, title: str, step: str = "") -> Frame:
    """The frame of a page. `here`: which page it is; `step`: the step it shows."""
    shown = now.shown
    runs = rule(now, step)
    return Frame(
        machine=around.machine,
        machine_name=shown.order.name if shown.order is not None else around.folder,
        folder=around.folder,
        token=around.token,
        seq=now.state.seq,
        version=shown.version[:16],
        device=around.device,
        here=here,
        title=title,
        rule=runs,
        steps_done=sum(run.done for run in runs),
        steps_all=sum(len(run.graduations) for run in runs),
        open_points=open_count(now),
        conflicts=len(now.state.conflicts),
        ready=shown.ready,
        writable=not around.why_read_only,
        why_read_only=around.why_read_only,
        problems=shown.problems,
        no_machine=shown.order is None,
        secure=around.secure,
        is_local=around.is_local,
        further=around.further,
    )

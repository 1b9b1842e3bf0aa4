"""All that is computed of a machine before a page is made of it, each answer once for the whole book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine
from trysquare.publish.sorts import Labelled, labelled_sorts
from trysquare.sequence.reach import Reach
from trysquare.sequence.slot_ledger import SlotRow, slot_ledger
from trysquare.sequence.state import Event
from trysquare.sequence.timeline import Timeline
from trysquare.sequence.wrong_ways import WrongWay, wrong_ways
from trysquare.stock.letters import KeptLetter
from trysquare.stock.need import Need, need
from trysquare.stock.picks import StepPick


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """A machine and its answers. `sort_of`: the labelled sort of each part id; `events_of`: a step's actions
    as events; `number_of`: a step's number, from 1; `boxes_of`: boxes in which a part came, with counts."""

    machine: Machine
    whole: Need
    sorts: tuple[Labelled, ...]
    sort_of: Mapping[str, Labelled]
    picks: Mapping[str, StepPick]
    timeline: Timeline
    events_of: Mapping[str, tuple[Event, ...]]
    number_of: Mapping[str, int]
    ledger: tuple[SlotRow, ...]
    ways: tuple[WrongWay, ...]
    findings: tuple[Finding, ...] = ()
    boxes_of: Mapping[str, tuple[tuple[str, int], ...]] = field(default_factory=dict)

    def letter(self, part: str) -> str:
        """The letter on a part's label; "" for what has none."""
        return self.sort_of[part].letter if part in self.sort_of else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What takes longest to know: ways to put parts in wrongly, and what check finds."""

    ways: tuple[WrongWay, ...]
    findings: tuple[Finding, ...] = ()


def known_of(
    machine: Machine,
    kept: Iterable[KeptLetter] = (),
    *,
    reach: Reach | None = None,
    judged: Callable[[], Judged] | None = None,
    boxes_of: Mapping[str, tuple[tuple[str, int], ...]] | None = None,
) -> Known:
    """Computes everything; `reach` keeps geometric answers. A machine without steps or solids is no fault.

    `judged` is asked last: its answer may come from beside. Without it there are no findings.
    """
    reach = reach or Reach(machine)
    whole = need(machine)
    sorts = labelled_sorts(machine, kept, whole=whole)
    timeline = Timeline(machine, reach)
    events: dict[str, list[Event]] = {step.id: [] for step in machine.steps}
    for event in timeline.walk.events:
        events[event.step_id].append(event)
    ledger = slot_ledger(machine, reach)
    judgement = judged() if judged is not None else Judged(ways=wrong_ways(machine, reach))
    return Known(
        machine=machine,
        whole=whole,
        sorts=sorts,
        sort_of={part: sort for sort in sorts for part in (sort.part, *sort.parts)},
        picks={pick.step: pick for pick in whole.picking.steps},
        timeline=timeline,
        events_of={step: tuple(rows) for step, rows in events.items()},
        number_of={step.id: number for number, step in enumerate(machine.steps, start=1)},
        ledger=ledger,
        ways=judgement.ways,
        findings=judgement.findings,
        boxes_of=boxes_of or {},
    )

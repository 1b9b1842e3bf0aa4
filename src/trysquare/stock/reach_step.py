"""How far the boxes reach: the last step that can be built with them, and how each size runs down.

Steps are served in their order: an earlier step never goes without for a later one, and still as many
pieces are served as can be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.ground.findings import Finding
from trysquare.stock.allocation import SupplyAllotment, question_of
from trysquare.stock.cuts import Roll, cut_from
from trysquare.stock.demands import CutDemand, Demand, Demands
from trysquare.stock.flows import Question, most_pieces
from trysquare.stock.lots import Lack, StockLot
from trysquare.stock.need import Need


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """`last` is the number of the last step that can be built, counted from 0; -1 when not even the
    first can. `machines`: how many whole machines of those asked for. Lacks stand in the order of steps."""

    last: int
    steps: int
    machines: int
    lacks: tuple[Lack, ...]


def reach(
    whole: Need,
    demands: Demands,
    lots: Sequence[StockLot],
    supplies: Sequence[SupplyAllotment] = (),
    machines: int = 1,
) -> Reach:
    """How far the lots reach with the substitutes that the demands permit.

    Steps and lacks are those of the first machine; `machines` of the answer says how many get all they need.
    """
    steps = len(whole.picking.steps)
    lacks = [*_counted(demands.counted, lots, steps), *_cut(demands.cut, lots)]
    at = {step.step: number for number, step in enumerate(whole.picking.steps)}
    lacks += [
        Lack(step=at[one.steps[0]], part=one.supply, pieces=0, served=0, wanted=0)
        for one in supplies
        if not one.box and one.steps
    ]
    lacks.sort(key=lambda lack: (lack.step, lack.part))
    first = min((lack.step for lack in lacks), default=steps)
    complete = 1 if machines == 1 and not lacks else _whole_machines(demands, lots, machines)
    return Reach(last=min(first, steps) - 1, steps=steps, machines=complete, lacks=tuple(lacks))


def _counted(demands: Sequence[Demand], lots: Sequence[StockLot], steps: int) -> list[Lack]:
    """Lacks of counted pieces: each demand cut into slices, one a step, served in the order of steps."""
    slices: list[tuple[int, int, int, tuple[str, ...]]] = []  # step, demand, pieces, places
    for number, demand in enumerate(demands):
        by_step: dict[int, list[str]] = {}
        for place, step in zip(demand.places, demand.steps, strict=True):
            by_step.setdefault(step, []).append(place)
        slices += [(step, number, len(places), tuple(places)) for step, places in by_step.items()]
        bare = demand.pieces - len(demand.places)
        if bare:
            slices.append((steps, number, bare, ()))
    slices.sort(key=lambda one: (one[0], one[1]))
    served = _in_order([(demands[number], pieces) for _, number, pieces, _ in slices], lots)
    lacks: list[Lack] = []
    held: dict[str, int] = {}
    wanted: dict[str, int] = {}
    for (step, number, pieces, places), got in zip(slices, served, strict=True):
        part = demands[number].part
        held[part] = held.get(part, 0) + got
        wanted[part] = wanted.get(part, 0) + pieces
        if got < pieces:
            lacks.append(
                Lack(
                    step=step, part=part, pieces=pieces - got, served=held[part], wanted=wanted[part],
                    places=places[got:],
                )
            )  # fmt: skip
    return lacks


def _in_order(slices: Sequence[tuple[Demand, int]], lots: Sequence[StockLot]) -> list[int]:
    """How many pieces of each slice are served when none goes without for a later one."""
    question = question_of([demand for demand, _ in slices], lots)
    asked = Question(
        demands=tuple(pieces for _, pieces in slices), lots=question.lots, points=question.points
    )
    flows = most_pieces(asked, in_order=True)
    served = [0] * len(slices)
    for (number, _), pieces in flows.items():
        served[number] += pieces
    return served


def _cut(demands: Sequence[CutDemand], lots: Sequence[StockLot]) -> list[Lack]:
    """Lacks of belts and wires: the first step whose cuts no longer all come from the rolls, and what
    the later ones go without."""
    lacks = []
    for demand in demands:
        if _fit(demand, lots, len(demand.cuts_mm)) == len(demand.cuts_mm):
            continue
        taken = 0
        for step in dict.fromkeys(demand.steps):
            upto = sum(1 for one in demand.steps if one <= step)
            fits = _fit(demand, lots, upto)
            missing = upto - fits - taken
            if missing > 0:
                taken += missing
                lacks.append(Lack(step=step, part=demand.part, pieces=missing, served=fits, wanted=upto))
    return lacks


def _fit(demand: CutDemand, lots: Sequence[StockLot], upto: int) -> int:
    rolls = [
        Roll(box=lots[lot].box, length_mm=lots[lot].length_mm)
        for lot in demand.lots
        for _ in range(min(lots[lot].pieces, upto))
    ]
    return cut_from(demand.cuts_mm[:upto], rolls).cut


def _whole_machines(demands: Demands, lots: Sequence[StockLot], machines: int) -> int:
    """How many machines get all their pieces and cuts: the most for which everything is served."""
    low, high = 0, machines
    while low < high:
        middle = (low + high + 1) // 2
        if _all_served(demands, lots, middle):
            low = middle
        else:
            high = middle - 1
    return low


def _all_served(demands: Demands, lots: Sequence[StockLot], machines: int) -> bool:
    question = question_of(demands.counted, lots, machines)
    if sum(most_pieces(question).values()) < sum(question.demands):
        return False
    for demand in demands.cut:
        cuts = demand.cuts_mm * machines
        rolls = [
            Roll(box=lots[lot].box, length_mm=lots[lot].length_mm)
            for lot in demand.lots
            for _ in range(min(lots[lot].pieces, len(cuts)))
        ]
        if cut_from(cuts, rolls).cut < len(cuts):
            return False
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One step takes pieces of a size: `takes` for itself, of which `instead` as substitutes for another
    part; `left` remain in the boxes. Millimetres for what is cut."""

    step: int
    takes: float
    instead: float
    left: float


def balance(
    allotted: Sequence[tuple[str, str, Sequence[int], Sequence[float]]], lots: Sequence[StockLot]
) -> Mapping[str, tuple[float, tuple[Drawn, ...]]]:
    """For each part in the boxes: how many there were, and how they run down step by step.

    `allotted`: part asked, part taken, the step number of each piece, and the cut lengths (none for what
    is counted). Parts that nothing is taken of keep their count.
    """
    there: dict[str, float] = {}
    for lot in lots:
        there[lot.part] = there.get(lot.part, 0.0) + lot.pieces * (lot.length_mm or 1)
    takes: dict[str, dict[int, list[float]]] = {}
    for asked, part, steps, cuts in allotted:
        for at, step in enumerate(steps):
            amount = cuts[at] if cuts else 1.0
            row = takes.setdefault(part, {}).setdefault(step, [0.0, 0.0])
            row[0] += amount
            row[1] += amount if asked != part and not part.startswith(f"{asked} ") else 0.0
    found: dict[str, tuple[float, tuple[Drawn, ...]]] = {}
    for part, count in there.items():
        left, rows = count, []
        for step, (amount, instead) in sorted(takes.get(part, {}).items()):
            left -= amount
            rows.append(Drawn(step=step, takes=amount, instead=instead, left=left))
        found[part] = (count, tuple(rows))
    return found


def boxes_findings(whole: Need, reached: Reach, waiting: int) -> tuple[Finding, ...]:
    """Each part that a step needs more of than the boxes hold, at the first step that goes without.

    `waiting`: names in the boxes that nobody has confirmed yet; they may be what is missing. What is used
    up is not counted and gives no finding.
    """
    rows: dict[str, list[Lack]] = {}
    for lack in reached.lacks:
        if lack.pieces and lack.step < reached.steps:
            rows.setdefault(lack.part, []).append(lack)
    steps = [step.step for step in whole.picking.steps]
    return tuple(_ran_out(part, lacks, steps, waiting) for part, lacks in rows.items())


def _ran_out(part: str, lacks: Sequence[Lack], steps: Sequence[str], waiting: int) -> Finding:
    first, missing = lacks[0], sum(lack.pieces for lack in lacks)
    later = f"; by the end {missing} are missing." if missing > first.pieces else "."
    first_look = ""
    if waiting:
        many = f"{waiting} names in the boxes wait" if waiting > 1 else "A name in the boxes waits"
        first_look = f"{many} to be confirmed: look there first. "
    return Finding(
        code="boxes-run-out",
        says=f"{part}: {first.wanted} are needed by the end of step {steps[first.step]}, and the boxes "
        f"serve {first.served}{later}",
        parts=tuple(place for lack in lacks for place in lack.places),
        step=steps[first.step],
        value=float(first.wanted),
        limit=float(first.served),
        unit="pieces",
        remedy=f"{first_look}Order {missing} more, or count again.",
    )

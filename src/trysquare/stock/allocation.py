"""Need against stock: which piece comes from which box, with what compromise, what is short and what is over.

Most pieces served comes first, then least compromise, then fewest boxes to open; `stock.optimum` proves
it. Belts and wires are cut from rolls (`stock.cuts`); grease and the like are there or not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.catalogue.values import Grease
from trysquare.machine.values import Machine
from trysquare.stock.cuts import Roll, cut_from
from trysquare.stock.demands import (
    NO_COMPROMISE,
    CutDemand,
    Demand,
    Demands,
    demands_of,
)
from trysquare.stock.flows import Lot, Question
from trysquare.stock.lots import StockLot
from trysquare.stock.need import Need
from trysquare.stock.optimum import SECONDS, Optimum, best
from trysquare.stock.standard_parts import standard_of
from trysquare.stock.substitutes import Compromise

POINTS_GREASE = 6  # for each grade that a grease is thinner
MOST_THINNER = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Allotment:
    """Pieces of one lot that go to one demand. `places` are piece ids, machine after machine; of a bare
    list there are none. Cut to `cuts_mm`, where it is cut.
    """

    asked: str
    part: str
    box: str
    pieces: int
    places: tuple[str, ...]
    steps: tuple[int, ...] = ()  # number of the step for each place, one past the last for none
    compromise: Compromise = NO_COMPROMISE
    grade: str = ""
    cuts_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """Pieces of a part that nothing in the boxes serves. `served` are; `step` is the number of the first
    step that goes without. `cuts_mm`: the lengths that cannot be cut."""

    part: str
    pieces: int
    served: int
    places: tuple[str, ...]
    step: int
    cuts_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyAllotment:
    """What is used up: the part and box that serve it, or "" when no box has it."""

    supply: str
    part: str
    box: str
    steps: tuple[str, ...]
    compromise: Compromise = NO_COMPROMISE


@dataclass(frozen=True, slots=True, kw_only=True)
class Allocation:
    """Everything allotted, for `machines` machines alike.

    The gaps say how much better an answer could still be that nobody has found: pieces more, points
    less, boxes fewer; all 0 when this one is proven the best. `left`: pieces left over of each lot;
    of rolls, whole ones.
    """

    machines: int
    lots: tuple[StockLot, ...]
    demands: Demands
    allotments: tuple[Allotment, ...]
    short: tuple[Short, ...]
    left: tuple[int, ...]
    supplies: tuple[SupplyAllotment, ...]
    boxes: tuple[str, ...]
    wanted: int
    served: int
    points: int
    pieces_gap: int
    points_gap: int
    boxes_gap: int

    @property
    def proven(self) -> bool:
        return not (self.pieces_gap or self.points_gap or self.boxes_gap)


def allocate(
    machine: Machine,
    whole: Need,
    lots: Sequence[StockLot],
    machines: int = 1,
    *,
    seconds: float = SECONDS,
    substitutes: bool = True,
) -> Allocation:
    """The best allocation of these lots to so many machines, or the best found within the time."""
    demands = demands_of(machine, whole, lots, machines, substitutes=substitutes)
    names = list(dict.fromkeys(lot.box for lot in lots))
    optimum = best(question_of(demands.counted, lots, machines), seconds)
    left = [lot.pieces for lot in lots]
    allotments: list[Allotment] = []
    short: list[Short] = []
    for number, demand in enumerate(demands.counted):
        given, missing = _handed_out(number, demand, lots, optimum, machines)
        allotments += given
        short += missing
    for (_, lot), pieces in optimum.flows.items():
        left[lot] -= pieces
    opened = {names[box] for box in optimum.boxes}
    cut_gap = 0
    for cut in demands.cut:
        given, missing, gap = _cut(cut, lots, machines, opened, left)
        allotments += given
        short += missing
        cut_gap += gap
    supplies = tuple(_supply(line.name, line.steps, lots) for line in whole.supplies)
    opened |= {one.box for one in allotments} | {one.box for one in supplies if one.box}
    return Allocation(
        machines=machines,
        lots=tuple(lots),
        demands=demands,
        allotments=tuple(allotments),
        short=_by_part(short),
        left=tuple(left),
        supplies=supplies,
        boxes=tuple(name for name in names if name in opened),
        wanted=machines * whole.pieces,
        served=sum(one.pieces for one in allotments),
        points=optimum.points,
        pieces_gap=optimum.pieces_bound - optimum.pieces + cut_gap,
        points_gap=optimum.points - optimum.points_bound,
        boxes_gap=len(optimum.boxes) - optimum.boxes_bound,
    )


def question_of(demands: Sequence[Demand], lots: Sequence[StockLot], machines: int = 1) -> Question:
    """The demands as bare numbers."""
    names = {name: number for number, name in enumerate(dict.fromkeys(lot.box for lot in lots))}
    return Question(
        demands=tuple(machines * demand.pieces for demand in demands),
        lots=tuple(Lot(box=names[lot.box], pieces=lot.pieces) for lot in lots),
        points={
            (number, lot): compromise.points
            for number, demand in enumerate(demands)
            for lot, compromise in demand.serve.items()
        },
    )


def _handed_out(
    number: int, demand: Demand, lots: Sequence[StockLot], optimum: Optimum, machines: int
) -> tuple[list[Allotment], list[Short]]:
    """A demand's pieces from their lots, what was asked first; the tail goes without."""
    places, steps = demand.places * machines, demand.steps * machines
    flows = sorted(
        ((lot, pieces) for (who, lot), pieces in optimum.flows.items() if who == number),
        key=lambda flow: (demand.serve[flow[0]].points, flow[0]),
    )
    found: list[Allotment] = []
    at = 0
    for lot, pieces in flows:
        found.append(
            Allotment(
                asked=demand.part,
                part=lots[lot].part,
                box=lots[lot].box,
                pieces=pieces,
                places=places[at : at + pieces],
                steps=steps[at : at + pieces],
                compromise=demand.serve[lot],
                grade=lots[lot].grade,
            )
        )
        at += pieces
    wanted = machines * demand.pieces
    if at >= wanted:
        return found, []
    step = min(steps[at:], default=-1)
    return found, [Short(part=demand.part, pieces=wanted - at, served=at, places=places[at:], step=step)]


def _cut(
    demand: CutDemand,
    lots: Sequence[StockLot],
    machines: int,
    opened: set[str],
    left: list[int],
) -> tuple[list[Allotment], list[Short], int]:
    """Cuts from rolls, those of open boxes first; how many more cuts there might be room for."""
    cuts, places, steps = demand.cuts_mm * machines, demand.places * machines, demand.steps * machines
    order = sorted(demand.lots, key=lambda lot: (lots[lot].box not in opened, lots[lot].length_mm, lot))
    most = len(cuts)  # no more rolls than cuts are ever begun
    of_lot = [lot for lot in order for _ in range(min(lots[lot].pieces, most))]
    cutting = cut_from(cuts, [Roll(box=lots[lot].box, length_mm=lots[lot].length_mm) for lot in of_lot])
    begun: dict[int, list[int]] = {}
    for number, roll in enumerate(cutting.roll_of):
        if roll is not None:
            begun.setdefault(roll, []).append(number)
    found = []
    for roll in sorted(begun):
        lot = of_lot[roll]
        left[lot] -= 1
        found.append(
            Allotment(
                asked=demand.part,
                part=lots[lot].part,
                box=lots[lot].box,
                pieces=len(begun[roll]),
                places=tuple(places[number] for number in begun[roll]),
                steps=tuple(steps[number] for number in begun[roll]),
                grade=lots[lot].grade,
                cuts_mm=tuple(cuts[number] for number in begun[roll]),
            )
        )
    missing = [number for number, roll in enumerate(cutting.roll_of) if roll is None]
    if not missing:
        return found, [], 0
    short = Short(
        part=demand.part,
        pieces=len(missing),
        served=cutting.cut,
        places=tuple(places[number] for number in missing),
        step=min(steps[number] for number in missing),
        cuts_mm=tuple(cuts[number] for number in missing),
    )
    return found, [short], cutting.most - cutting.cut


def _by_part(short: Sequence[Short]) -> tuple[Short, ...]:
    """One row for each part, in the order of need."""
    parts: dict[str, list[Short]] = {}
    for one in short:
        parts.setdefault(one.part, []).append(one)
    return tuple(
        Short(
            part=part,
            pieces=sum(one.pieces for one in rows),
            served=sum(one.served for one in rows),
            places=tuple(place for one in rows for place in one.places),
            step=min(one.step for one in rows),
            cuts_mm=tuple(cut for one in rows for cut in one.cuts_mm),
        )
        for part, rows in parts.items()
    )


def _supply(name: str, steps: tuple[str, ...], lots: Sequence[StockLot]) -> SupplyAllotment:
    """The box that has what is used up; a thinner grease serves, with what follows from it."""
    for lot in lots:
        if lot.part == name and lot.pieces:
            return SupplyAllotment(supply=name, part=lot.part, box=lot.box, steps=steps)
    asked = standard_of(name)
    found: list[SupplyAllotment] = []
    for lot in lots:
        offered = standard_of(lot.part)
        if lot.pieces and isinstance(asked, Grease) and isinstance(offered, Grease):
            compromise = grease_serves(asked, offered)
            if compromise is not None:
                one = SupplyAllotment(
                    supply=name, part=lot.part, box=lot.box, steps=steps, compromise=compromise
                )
                found.append(one)
    empty = SupplyAllotment(supply=name, part="", box="", steps=steps)
    return min(found, key=lambda one: one.compromise.points, default=empty)


def grease_serves(asked: Grease, offered: Grease) -> Compromise | None:
    """What it costs to take a thinner grease; None for one too thin, or thicker: small blocks do not draw
    that in.

    Source of the usual interval: maker sheets of miniature rails, 100 to 200 h; halving it for each
    grade is common practice, no source.
    """
    thinner = _number(asked.nlgi) - _number(offered.nlgi)
    if not 0 < thinner <= MOST_THINNER:
        return None
    low, high = 100 // 2**thinner, 200 // 2**thinner
    return Compromise(
        points=POINTS_GREASE * thinner,
        sort="grease",
        says=f"{offered.designation} is thinner than {asked.designation}: it runs out of the blocks sooner. "
        f"Grease again after {low} to {high} h instead of 100 to 200 h, and never mix thickeners.",
    )


def _number(nlgi: str) -> int:
    """Grades by rising thickness: 000, 00, 0, 1 … 6."""
    return 1 - len(nlgi) if set(nlgi) == {"0"} else int(nlgi)


def left_over(allocation: Allocation) -> Mapping[str, int]:
    """Pieces left of each part, over all boxes; parts of which nothing is left are not in it."""
    found: dict[str, int] = {}
    for lot, pieces in zip(allocation.lots, allocation.left, strict=True):
        if pieces:
            found[lot.part] = found.get(lot.part, 0) + pieces
    return found

"""Cutting belts and wires from rolls: as many of the wanted cuts as can be cut, with a proof or without.

If any number of cuts can be cut at all, so can that many of the shortest: each in the place of a longer
one. So the question is how many of the shortest fit, and that is asked by halving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SAW_MM = 0.0  # shears take nothing away
SECONDS = 1.0
MOST_EXACT = 60  # cuts up to which a failed packing is asked of the solver; beyond, the gap is told


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """One roll or length in a box."""

    box: str
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """`roll_of`: for each wanted cut the number of its roll, or None where none is left. `most`: no way of
    cutting gives more cuts."""

    roll_of: tuple[int | None, ...]
    most: int

    @property
    def cut(self) -> int:
        return sum(roll is not None for roll in self.roll_of)

    @property
    def proven(self) -> bool:
        return self.cut == self.most


def cut_from(cuts_mm: Sequence[float], rolls: Sequence[Roll]) -> Cutting:
    """Which cut from which roll. Rolls are used up one after the other, the first given first."""
    order = sorted(range(len(cuts_mm)), key=lambda number: (cuts_mm[number], number))
    lengths = [roll.length_mm for roll in rolls]
    whole = sum(lengths)
    bound, total = 0, 0.0
    longest = max(lengths, default=0.0)
    for number in order:  # no more than the shortest that fit by their sum
        total += cuts_mm[number]
        if total > whole + 1e-6 or cuts_mm[number] > longest + 1e-6:
            break
        bound += 1
    low, high, packed = 0, bound, _packed([], [], lengths)
    while low < high:
        middle = (low + high + 1) // 2
        found = _packed([cuts_mm[number] for number in order[:middle]], order[:middle], lengths)
        if found is None:
            high = middle - 1
        else:
            low, packed = middle, found
    while low < bound:  # the quick packing failed: it may have been clumsy
        wanted = order[: low + 1]
        if len(wanted) > MOST_EXACT:
            break
        fits, exact = _asked([cuts_mm[number] for number in wanted], wanted, lengths)
        if exact is None:
            bound = low if fits is False else bound
            break
        low, packed = low + 1, exact
    assert packed is not None
    return Cutting(roll_of=tuple(packed.get(number) for number in range(len(cuts_mm))), most=bound)


def _packed(
    cuts_mm: Sequence[float], numbers: Sequence[int], lengths: Sequence[float]
) -> dict[int, int] | None:
    """First fit, the longest cut first; None when one of them finds no room."""
    left = list(lengths)
    found: dict[int, int] = {}
    for length, number in sorted(zip(cuts_mm, numbers, strict=True), key=lambda pair: (-pair[0], pair[1])):
        roll = next((at for at, room in enumerate(left) if room + 1e-6 >= length), None)
        if roll is None:
            return None
        left[roll] -= length + SAW_MM
        found[number] = roll
    return found


def _asked(
    cuts_mm: Sequence[float], numbers: Sequence[int], lengths: Sequence[float]
) -> tuple[bool | None, dict[int, int] | None]:
    """The same as a question to the solver: False when it is proven that they do not fit, None if open."""
    from ortools.sat.python import cp_model  # noqa: PLC0415  # heavy, and hardly ever wanted

    model = cp_model.CpModel()
    tenths = [round(length * 10) for length in cuts_mm]
    lies = {
        (cut, roll): model.new_bool_var(f"{cut} {roll}")
        for cut in range(len(cuts_mm))
        for roll in range(len(lengths))
    }
    for cut in range(len(cuts_mm)):
        model.add_exactly_one(lies[(cut, roll)] for roll in range(len(lengths)))
    for roll, length in enumerate(lengths):
        load = sum(tenths[cut] * lies[(cut, roll)] for cut in range(len(cuts_mm)))
        model.add(load <= round(length * 10))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = SECONDS
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        chosen = {numbers[cut]: roll for (cut, roll), one in lies.items() if solver.value(one)}
        return True, chosen
    return (False if status == cp_model.INFEASIBLE else None), None

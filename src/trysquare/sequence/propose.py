"""A whole order from nothing but the finished machine.

The finished machine is taken apart (`undoing`), which backwards is an order; what must come before
what follows from it (`precedence`); operations are gathered in bundles and steps (`bundles`), a
constraint solver makes the arrangement better (`solving`), and the steps are written down and walked
once more by the same rules that judge every author's order (`writing`, `rehearsal`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.bundles import Bundling, bundle_up, steps_by_hand, tool_changes, turns
from trysquare.sequence.instruments import best_instrument, is_felt
from trysquare.sequence.operations import Work, work_of
from trysquare.sequence.precedence import Precedence, precedence_of
from trysquare.sequence.reach import Reach
from trysquare.sequence.rehearsal import stops_of, with_holding
from trysquare.sequence.solving import Solved, solve
from trysquare.sequence.undoing import Obstacle, TakenApart, take_apart
from trysquare.sequence.wishes import HANDY, HEAVY
from trysquare.sequence.writing import AGAIN, instruments_for, write_steps

Progress = Callable[[str, float], None]
Clock = Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck:
    """An operation that no order can contain, and what closes each of its choices."""

    name: str
    parts: tuple[str, ...]
    obstacles: tuple[Obstacle, ...]

    @property
    def says(self) -> str:
        """One sentence."""
        if not self.obstacles:
            return f"{self.name} waits for others that cannot be done."
        by = list(dict.fromkeys(one.by for one in self.obstacles))
        names = ", ".join(by[:4]) + (f" and {len(by) - 4} more" if len(by) > 4 else "")
        return f"{self.name}: there is never {self.obstacles[0].asks}; in the way: {names}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """An order of work. Without steps when there is none: then `stuck` says why.

    `gap`: how much less the best conceivable arrangement could cost, 0 to 1; `optimal`: proven that none
    costs less. `found_after_s`: when the first feasible order stood, by the caller's clock. `stopped`:
    somebody said stop, or time ran out, before the search ended by itself. `findings`: what the order
    rules still say of it. `says`: remarks, such as rules that had to be given up.
    """

    steps: tuple[Step, ...] = ()
    turns: int = 0
    tool_changes: int = 0
    cost: int = 0
    gap: float = 1.0
    optimal: bool = False
    found_after_s: float = 0.0
    stopped: bool = False
    stuck: tuple[Stuck, ...] = ()
    findings: tuple[Finding, ...] = ()
    says: tuple[str, ...] = field(default=())

    @property
    def feasible(self) -> bool:
        return not self.stuck and not self.findings


def propose_order(
    machine: Machine,
    *,
    seconds: float = 30.0,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    clock: Clock | None = None,
    reach: Reach | None = None,
) -> Proposal:
    """An order of the finished machine that the rules find nothing wrong with; its own steps are ignored.

    `progress` is told what is going on and how far it is, 0 to 1. `stop` is asked now and then; the best
    order so far is given then. The core has no clock: give `clock` (such as time.monotonic) and the whole
    work keeps within `seconds`; without one only the solver's share is limited.
    A machine without parts has an empty order.
    """
    run = _Run(machine, seconds, progress, stop, clock, reach)
    return run.run()


class _Run:
    def __init__(
        self,
        machine: Machine,
        seconds: float,
        progress: Progress | None,
        stop: Callable[[], bool] | None,
        clock: Clock | None,
        reach: Reach | None,
    ) -> None:
        self.machine = replace(machine, steps=())
        self.seconds, self.progress, self.clock = seconds, progress, clock
        self.asked = stop
        self.begin = clock() if clock else 0.0
        self.reach = reach or Reach(self.machine)
        self.was_stopped = False

    def elapsed_s(self) -> float:
        return self.clock() - self.begin if self.clock else 0.0

    def stop(self) -> bool:
        if self.asked is not None and self.asked():
            self.was_stopped = True
        return self.was_stopped

    def tell(self, says: str, done: float) -> None:
        if self.progress is not None:
            self.progress(says, done)

    def run(self) -> Proposal:
        if not self.machine.placed:
            return Proposal(
                gap=0.0, optimal=True, says=("The machine has no parts: there is nothing to order.",)
            )
        self.tell("taking the machine apart", 0.0)
        work, apart = taken_apart(self.machine, self.reach, self.stop)
        if apart.stopped:
            return Proposal(stopped=True, says=("Stopped before a first order was found.",))
        if apart.left:
            return Proposal(stuck=stuck_of(work, apart))
        self.tell("finding what must come before what", 0.2)
        for strict in (False, True):
            began = self.elapsed_s()
            known = precedence_of(work, apart, strict=strict)
            bundling = bundle_up(work, known)
            first = _tuples(steps_by_hand(bundling))
            draft = Solved(steps=first, cost=0, bound=0, optimal=False)
            proposal = self._proposal(work, apart, known, bundling, draft)
            if not proposal.findings:  # else the units must meet exactly as they were parted
                break
        found_after_s = self.elapsed_s()
        self.tell(f"first order: {len(proposal.steps)} steps", 0.3)
        # The better order will take as long to write down and judge as the first one did.
        left = self.seconds - self.elapsed_s() - 1.5 * (found_after_s - began)
        if left <= 0 or self.stop():
            return replace(proposal, found_after_s=found_after_s, stopped=True)
        until = self.elapsed_s() + left

        def late() -> bool:
            return self.stop() or (self.clock is not None and self.elapsed_s() > until)

        solved = solve(bundling, first, left, better=self._better(left), stop=late)
        better = self._proposal(work, apart, known, bundling, solved)
        # The rules have the last word: a better arrangement that they object to is not better.
        best = better if len(better.findings) <= len(proposal.findings) else proposal
        timed_out = not solved.optimal
        return replace(best, found_after_s=found_after_s, stopped=self.was_stopped or timed_out)

    def _better(self, seconds: float) -> Callable[[int, float], None]:
        def told(cost: int, bound: float) -> None:
            gap = (cost - bound) / cost if cost else 0.0
            done = 0.3 + 0.7 * min(1.0, max(0.0, 1 - (self.seconds - self.elapsed_s()) / max(seconds, 0.1)))
            self.tell(f"better: cost {cost}, at most {gap:.0%} above the best", done if self.clock else 0.3)

        return told

    def _proposal(
        self, work: Work, apart: TakenApart, known: Precedence, bundling: Bundling, solved: Solved
    ) -> Proposal:
        arranged = [
            [number for one in step for number in bundling.bundles[one].operations] for step in solved.steps
        ]
        steps = with_holding(self.machine, write_steps(work, known, arranged), self.reach)
        findings = stops_of(self.machine, steps, self.reach)
        if any(one.code == "disturbed-after-truing" for one in findings):
            steps = with_rereads(self.machine, steps, findings)
            findings = stops_of(self.machine, steps, self.reach)
        return Proposal(
            steps=steps,
            turns=turns(bundling, solved.steps),
            tool_changes=tool_changes(bundling, solved.steps),
            cost=solved.cost,
            gap=solved.gap if solved.bound else 1.0,
            optimal=solved.optimal,
            findings=findings,
            says=(*given_up(work, apart), *unread(self.machine)),
        )


def _tuples(steps: Sequence[Sequence[int]]) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(step) for step in steps)


def taken_apart(
    machine: Machine, reach: Reach, stop: Callable[[], bool] | None = None
) -> tuple[Work, TakenApart]:
    """The machine taken apart; joints whose work is stuck as a whole are tried screw by screw."""
    split: set[str] = set()
    while True:
        work = work_of(machine, reach, split=split, trade=True)
        apart = take_apart(work, stop=stop)
        if not apart.left or apart.stopped:
            return work, apart
        new = {
            operation.of
            for number, why in apart.left.items()
            if why
            for operation in (work.operations[number],)
            if operation.verb in ("start", "insert") and len(operation.fast) > 1
        } - split
        if not new:
            return work, apart
        split |= new


def stuck_of(work: Work, apart: TakenApart) -> tuple[Stuck, ...]:
    """What is left over, those first that something closes."""
    found: list[Stuck] = []
    for number, obstacles in apart.left.items():
        if not obstacles:
            continue
        operation = work.operations[number]
        parts = operation.pieces or (
            work.machine.joint[operation.of].parts if operation.of in work.machine.joint else ()
        )
        by = dict.fromkeys(one.by for one in obstacles)
        found.append(
            Stuck(name=operation.name, parts=tuple(dict.fromkeys((*parts, *by))), obstacles=obstacles)
        )
    if not found:  # a circle of plain needs
        names = [work.operations[number].name for number in apart.left]
        found.append(Stuck(name=", ".join(names[:4]), parts=(), obstacles=()))
    return tuple(found)


def given_up(work: Work, apart: TakenApart) -> tuple[str, ...]:
    """Rules of good practice that no order of this machine can keep, in words: each with what comes too
    late for it and what goes ahead."""
    late: dict[str, dict[str, None]] = {}
    ahead: dict[str, dict[str, None]] = {}
    for first, after in apart.given_up:
        if work.soft.get((first, after), HEAVY) <= HANDY:
            continue
        why = work.needs[after].get(first, "")
        late.setdefault(why, {})[work.operations[first].of] = None
        ahead.setdefault(why, {})[work.operations[after].of] = None
    return tuple(
        f"Not kept, because no order can: {why}. {', '.join(late[why])} must wait until after "
        f"{', '.join(ahead[why])}."
        for why in late
    )


def unread(machine: Machine) -> tuple[str, ...]:
    """Characteristics that none of the builder's instruments reads or reaches, in words."""
    bare = [
        one.id
        for one in machine.characteristics
        if machine.instruments and not is_felt(one) and best_instrument(machine, one) is None
    ]
    return (f"No instrument of machine.toml reads or reaches {', '.join(bare)}.",) if bare else ()


def with_rereads(machine: Machine, steps: tuple[Step, ...], findings: Sequence[Finding]) -> tuple[Step, ...]:
    """Reads once more what a later joint clamps anew."""
    of = {one.id: one.of for one in machine.characteristics}
    using = {one.id: instruments_for(machine, one) for one in machine.characteristics}
    for finding in findings:
        name = next((name for name in of if finding.says.startswith(f"{name} was true")), "")
        if finding.code == "disturbed-after-truing" and name:
            read = Action(verb="read", parts=of[name], says=AGAIN, reads=(name,), using=using[name])
            steps = tuple(
                replace(step, actions=(*step.actions, read)) if step.id == finding.step else step
                for step in steps
            )
    return steps

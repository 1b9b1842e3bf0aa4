"""An author's order with what it lacks put in and what stands wrong moved, and nothing else changed.

Each finding that forbids to go on suggests a few edits. An edit is kept when the rules then have less
to say. What can be done at several places goes to the latest one that works: so little as possible is
done before its time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine, Step
from trysquare.sequence.drafts import Draft, Try
from trysquare.sequence.reach import Reach
from trysquare.sequence.rehearsal import stops_of, with_holding
from trysquare.sequence.suggestions import Suggestions
from trysquare.sequence.walk import Walk

MOST_EDITS = 60
MOST_PLACES = 40  # looked at one by one, when halving finds none
_HOLDING = frozenset({"carriage-can-run-off", "cannot-stand"})
# Of several edits that settle these the one that settles most is taken; of others the first.
_COMPARED = frozenset({"joint-before-its-parts", "no-way-in", "unit-has-no-way-in", "no-key-line"})
# What is not there brings further findings with it; so it is settled first.
_FIRST = ("empty-step", "placed-twice", "never-placed", "joint-before-its-parts", "joint-never-made")


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change to an author's order, in words, and the step it is made in."""

    step: str
    says: str
    mends: str  # code of the finding that asked for it


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """`left`: findings that no edit settles. `stopped`: somebody said stop before all was tried."""

    steps: tuple[Step, ...]
    edits: tuple[Edit, ...]
    left: tuple[Finding, ...]
    stopped: bool = False


def mend_order(
    machine: Machine, *, reach: Reach | None = None, stop: Callable[[], bool] | None = None
) -> Mended:
    """The machine's own order with the fewest edits that settle what the rules find.

    Without steps there is nothing to mend: ask for a proposed order instead.
    """
    return _Mending(machine, reach or Reach(machine), stop).run()


class _Mending:
    def __init__(self, machine: Machine, reach: Reach, stop: Callable[[], bool] | None) -> None:
        self.machine, self.reach, self.stop = machine, reach, stop
        self.steps: tuple[Step, ...] = machine.steps
        self.edits: list[Edit] = []
        self.judged: dict[Draft, tuple[Finding, ...]] = {}
        self.stopped = False
        self.walk = Walk(replace(machine, steps=()), self.reach)

    def run(self) -> Mended:
        findings = self._judge(self._draft())
        hopeless: set[tuple[str, ...]] = set()
        while findings and len(self.edits) < MOST_EDITS:
            if self.stop is not None and self.stop():
                self.stopped = True
                break
            ahead = [one for one in findings if _key(one) not in hopeless]
            if not ahead:
                break
            finding = min(
                ahead, key=lambda one: _FIRST.index(one.code) if one.code in _FIRST else len(_FIRST)
            )
            better = self._settle(finding, findings)
            if better is None:
                hopeless.add(_key(finding))
            else:
                findings = better
        return Mended(steps=self.steps, edits=tuple(self.edits), left=findings, stopped=self.stopped)

    # -- judging ----------------------------------------------------------------------------------

    def _draft(self) -> Draft:
        return tuple(step.actions for step in self.steps)

    def _with(self, draft: Draft) -> tuple[Step, ...]:
        return tuple(replace(step, actions=actions) for step, actions in zip(self.steps, draft, strict=True))

    def _judge(self, draft: Draft) -> tuple[Finding, ...]:
        if draft not in self.judged:
            self.judged[draft] = stops_of(self.machine, self._with(draft), self.reach)
        return self.judged[draft]

    def _settle(self, finding: Finding, findings: tuple[Finding, ...]) -> tuple[Finding, ...] | None:
        if finding.code == "empty-step":
            self.edits.append(
                Edit(step=finding.step, says="The step does nothing; it is left out.", mends=finding.code)
            )
            self.steps = tuple(step for step in self.steps if step.id != finding.step or step.actions)
            self.judged.clear()
            return self._judge(self._draft())
        if finding.code in _HOLDING:
            return self._hold(finding, findings)
        suggested = [
            tries for tries in Suggestions(self.machine, self.steps, self.walk).groups(finding) if tries
        ]
        # An edit that brings a new finding with it is taken only when no clean one is known.
        for clean in (True, False):
            good: list[tuple[Try, tuple[Finding, ...]]] = []
            for tries in suggested:
                kept = self._latest(tries, finding, findings, clean=clean)
                if kept is not None:
                    good.append(kept)
                    if finding.code not in _COMPARED:
                        break
            if good:
                chosen, after = min(good, key=lambda one: len(one[1]))
                self.edits.append(Edit(step=self.steps[chosen.step].id, says=chosen.says, mends=finding.code))
                self.steps = self._with(chosen.draft)
                return after
        return None

    def _latest(
        self, tries: Sequence[Try], finding: Finding, findings: tuple[Finding, ...], *, clean: bool
    ) -> tuple[Try, tuple[Finding, ...]] | None:
        """The latest of some places that works. The earlier the freer, so halving finds it; where that is
        not so (a place before its part has come) the places around are tried."""
        known = {_key(one) for one in findings}

        def works(at: int) -> tuple[Finding, ...] | None:
            after = self._judge(tries[at].draft)
            keys = {_key(one) for one in after}
            fewer = len(after) < len(findings) and _key(finding) not in keys
            return after if fewer and (not clean or keys <= known) else None

        found = works(0)  # tries begin with the latest place
        if found is not None:
            return tries[0], found
        low, high, best = 0, len(tries), None  # low does not work; beyond high nothing is known to
        while high - low > 1:
            middle = (low + high) // 2
            after = works(middle)
            if after is not None:
                best, high = (tries[middle], after), middle
            elif self._too_early(tries[middle], finding):
                high = middle
            else:
                low = middle
        if best is None and clean:  # open only for a while: too late after it, too early before it
            for at in range(1, min(len(tries), MOST_PLACES)):
                after = works(at)
                if after is not None:
                    return tries[at], after
        return best

    def _too_early(self, tried: Try, finding: Finding) -> bool:
        """Whether a place fails because something it needs has not come yet."""
        early = {"joint-before-its-parts", "slot-not-there", "read-before-snug"}
        loose = finding.parts[0] if finding.code == "never-placed" else ""
        return any(
            (one.code in early and (not finding.joint or one.joint == finding.joint))
            or (one.code == "part-hangs-free" and loose in one.parts)
            for one in self._judge(tried.draft)
        )

    def _hold(self, finding: Finding, findings: tuple[Finding, ...]) -> tuple[Finding, ...] | None:
        steps = with_holding(self.machine, self.steps, self.reach)
        after = stops_of(self.machine, steps, self.reach)
        if len(after) >= len(findings):
            return None
        for old, new in zip(self.steps, steps, strict=True):
            for action in new.actions:
                if action not in old.actions:
                    what = f"{action.verb} {', '.join(action.parts)}" + (
                        f" with {action.means}" if action.means else ""
                    )
                    self.edits.append(Edit(step=new.id, says=f"Added: {what}.", mends=finding.code))
        self.steps = steps
        return after


def _key(finding: Finding) -> tuple[str, ...]:
    return (finding.code, finding.joint, *finding.parts[:1])

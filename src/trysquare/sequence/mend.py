"""An author's order with what it lacks put in and what stands wrong moved, and nothing else changed.

Each finding that forbids to go on suggests a few edits. An edit is kept when the rules then have less
to say. What can be done at several places goes to the latest one that works: so little as possible is
done before its time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.reach import Reach
from trysquare.sequence.rehearsal import stops_of, with_holding
from trysquare.sequence.rules_listing import head_gap_mm
from trysquare.sequence.rules_truth import centre_outwards
from trysquare.sequence.walk import Walk

MOST_EDITS = 60
MOST_PLACES = 40  # looked at one by one, when halving finds none
_HOLDING = frozenset({"carriage-can-run-off", "cannot-stand"})
# What is not there brings further findings with it; so it is settled first.
_TURNING = ("insert", "press", "start", "snug", "tighten")
_FIRST = ("empty-step", "placed-twice", "never-placed", "joint-before-its-parts", "joint-never-made")
_EARLIER = {
    "nut-shut-out": "insert",
    "mouth-covered": "insert",
    "nuts-would-pass": "insert",
    "iron-cannot-reach": "press",
    "screw-cannot-get-in": "start",
    "closed-belt-shut-out": "route",
}


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


@dataclass(frozen=True, slots=True)
class _Place:
    """Before action `action` of step `step`; `action` may be one past the last."""

    step: int
    action: int


Draft = tuple[tuple[Action, ...], ...]


@dataclass(frozen=True, slots=True)
class _Try:
    draft: Draft
    step: int
    says: str


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
        self.stopped = False
        self.held_parts = {part for joint in machine.joints for part in joint.parts}
        self.walk = Walk(replace(machine, steps=()), self.reach)

    def touching(self, part: str) -> set[str]:
        return set(self.walk.touching(part))

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
        return stops_of(self.machine, self._with(draft), self.reach)

    def _settle(self, finding: Finding, findings: tuple[Finding, ...]) -> tuple[Finding, ...] | None:
        if finding.code == "empty-step":
            self.edits.append(
                Edit(step=finding.step, says="The step does nothing; it is left out.", mends=finding.code)
            )
            self.steps = tuple(step for step in self.steps if step.id != finding.step or step.actions)
            return self._judge(self._draft())
        if finding.code in _HOLDING:
            return self._hold(finding, findings)
        suggested = [tries for tries in self._suggestions(finding) if tries]
        # An edit that brings a new finding with it is taken only when no clean one is known.
        for clean in (True, False):
            kept = [self._latest(tries, finding, findings, clean=clean) for tries in suggested]
            good = [one for one in kept if one is not None]
            if good:
                chosen, after = min(good, key=lambda one: len(one[1]))
                self.edits.append(Edit(step=self.steps[chosen.step].id, says=chosen.says, mends=finding.code))
                self.steps = self._with(chosen.draft)
                return after
        return None

    def _latest(
        self, tries: Sequence[_Try], finding: Finding, findings: tuple[Finding, ...], *, clean: bool
    ) -> tuple[_Try, tuple[Finding, ...]] | None:
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

    def _too_early(self, tried: _Try, finding: Finding) -> bool:
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

    # -- suggestions --------------------------------------------------------------------------------

    def _suggestions(self, finding: Finding) -> Iterator[list[_Try]]:
        """Groups of edits, each group from the latest place to the earliest."""
        code, joint = finding.code, finding.joint
        if code in _EARLIER and joint:
            yield self._done_earlier(_EARLIER[code], finding)
            for blocker in finding.parts[1:]:
                if blocker in self.held_parts:
                    yield self._used_when_wanted(blocker)
        elif code in ("no-key-line", "unit-has-no-way-in", "no-way-in", "no-open-rail-end"):
            yield from self._way_earlier(finding)
        elif code == "slot-not-there":
            yield self._when_needs_are_there("insert", joint, finding.step)
            yield self._place_before(finding.parts[-1:], joint, finding.step)
        elif code == "part-hangs-free":
            yield from self._each(self._beside(finding.parts[0]))
        elif code == "never-placed":
            yield self._place_before_use(finding.parts[0])
        elif code == "joint-before-its-parts":
            yield self._place_before(finding.parts, joint, finding.step)
            for verb in ("press", "start", "snug", "tighten", "route"):
                yield self._when_needs_are_there(verb, joint, finding.step)
        elif code == "joint-never-made":
            yield self._added(self._making(joint))
        elif code == "left-snug":
            tighten = Action(verb="tighten", joints=(joint,))
            yield self._added((tighten,), finding.step)
            yield self._added((tighten,))
        elif code == "never-routed":
            yield self._added((Action(verb="route", joints=(joint,)),))
        elif code in ("final-before-read", "rails-final-before-run", "read-before-snug"):
            yield from self._read_first(finding)
            if code == "final-before-read":
                yield self._when_needs_are_there("tighten", joint, finding.step)
            if code == "read-before-snug":
                yield self._reading_later(finding)
        elif code == "disturbed-after-truing":
            yield self._read_again(finding)
        else:
            yield self._put_right(finding)
            if code == "loosened-after-truing":
                yield self._before_others(joint, finding.step)

    def _put_right(self, finding: Finding) -> list[_Try]:
        """Edits inside one action, where it stands."""
        change = {
            "placed-twice": lambda action: _without_parts(action, "place", finding.parts),
            "released-but-not-held": lambda action: _without_parts(action, "release", finding.parts),
            "head-gap-wrong": lambda action: self._with_gap(action, finding.joint),
            "screws-left-out": lambda action: self._with_order(action, finding.joint),
            "tightened-from-the-ends": lambda action: self._with_order(action, finding.joint),
            "locked-before-truing": lambda action: _without_lock(action, finding.joint),
            "loosened-after-truing": lambda action: _without_joint(action, finding.joint),
            "plug-larger-than-hole": lambda action: action,
        }.get(finding.code)
        if finding.code == "plug-larger-than-hole":
            return self._crimp_after(finding.joint)
        if change is None:
            return []
        tries: list[_Try] = []
        for place in self._places(finding.step):
            old = self._draft()[place.step][place.action]
            new = change(old)
            if new != old:
                tries.append(_Try(self._swap(place, new), place.step, _changed(finding, old, new)))
        return tries

    def _with_gap(self, action: Action, joint: str) -> Action:
        if action.gap_mm is None or joint not in _joints_named(action):
            return action
        span = head_gap_mm(self.machine.joint[joint].fastenings[0], self.machine)
        return action if span is None else replace(action, gap_mm=round((span[0] + span[1]) / 2, 1))

    def _with_order(self, action: Action, joint: str) -> Action:
        if not action.order or joint not in _joints_named(action):
            return action
        others = tuple(name for name in action.order if name.rpartition(".")[0] != joint)
        return replace(action, order=(*others, *centre_outwards(self.machine.joint[joint].fastenings)))

    def _crimp_after(self, joint: str) -> list[_Try]:
        draft, crimps = self._taken_out("crimp", joint)
        tries = []
        for step, actions in enumerate(draft):
            for index, action in enumerate(actions):
                if action.verb == "route" and joint in action.joints and crimps:
                    place = _Place(step, index + 1)
                    tries.append(
                        _Try(_put(draft, place, crimps), step, f"Moved: crimp {joint}, after it is routed.")
                    )
        return tries

    def _done_earlier(self, verb: str, finding: Finding) -> list[_Try]:
        """An action of a joint moved, or put in, before the place where it is too late."""
        joint = finding.joint
        last = self._place_of(finding)
        if last is None:
            return []
        draft, taken = self._taken_out(verb, joint, finding.step)
        moved = bool(taken)
        actions = taken or (Action(verb=verb, joints=(joint,), gap_mm=self._gap(verb, joint)),)
        word = "Moved" if moved else "Added"
        last = _Place(last.step, min(last.action, len(draft[last.step])))
        return [
            _Try(
                _put(draft, place, actions),
                place.step,
                f"{word}: {verb} {joint}, {self._where(draft, place)}.",
            )
            for place in _back_from(draft, last)
        ]

    def _gap(self, verb: str, joint: str) -> float | None:
        fastenings = self.machine.joint[joint].fastenings
        span = head_gap_mm(fastenings[0], self.machine) if verb == "start" and fastenings else None
        return None if span is None else round((span[0] + span[1]) / 2, 1)

    def _way_earlier(self, finding: Finding) -> Iterator[list[_Try]]:
        """What has no way or no key any more is done before what closes it; or that comes later."""
        if finding.joint:
            for verb in ("tighten", "snug", "start", "route"):
                if any(
                    action.verb == verb and finding.joint in _joints_named(action)
                    for step in self.steps
                    if step.id == finding.step
                    for action in step.actions
                ):
                    yield self._done_earlier(verb, finding)
        for blocker in finding.parts[1:]:
            if blocker in self.held_parts:
                yield self._used_when_wanted(blocker)
        part = finding.parts[0] if finding.parts else ""
        if part in self.machine.part:
            yield from self._each(self._beside(part))
            draft, last = self._part_taken_out(part)
            if last is not None:
                action = Action(verb="place", parts=(part,))
                yield [
                    _Try(
                        _put(draft, place, (action,)),
                        place.step,
                        f"Moved: place {part}, {self._where(draft, place)}.",
                    )
                    for place in _back_from(draft, last)
                ]

    def _when_needs_are_there(self, verb: str, joint: str, step: str) -> list[_Try]:
        """A joint's action moved right behind the last of what it needs."""
        draft, taken = self._taken_out(verb, joint, step)
        if not taken:
            return []
        one = self.machine.joint[joint]
        parts = set(one.parts)
        if verb == "insert":
            parts = {each.slot_member for each in one.fastenings}
        earlier = _TURNING[: _TURNING.index(verb)] if verb in _TURNING else ()
        last: _Place | None = None
        for at, actions in enumerate(draft):
            for index, action in enumerate(actions):
                places = action.verb == "place" and parts & set(action.parts)
                prepares = action.verb in earlier and joint in _joints_named(action)
                reads = verb == "tighten" and one.align in action.reads
                if places or prepares or (reads and one.align):
                    last = _Place(at, index + 1)
        if last is None:
            return []
        says = f"Moved: {verb} {joint}, {self._where(draft, last)}."
        return [_Try(_put(draft, last, taken), last.step, says)]

    def _before_others(self, joint: str, step: str) -> list[_Try]:
        """What starts or snugs a joint, moved before everything else that turns its screws."""
        for verb in ("snug", "start"):
            draft, taken = self._taken_out(verb, joint, step)
            later = _TURNING[_TURNING.index(verb) + 1 :]
            for at, actions in enumerate(draft):
                for index, action in enumerate(actions):
                    if taken and action.verb in later and joint in _joints_named(action):
                        place = _Place(at, index)
                        says = f"Moved: {verb} {joint}, {self._where(draft, place)}."
                        return [_Try(_put(draft, place, taken), at, says)]
        return []

    def _beside(self, part: str) -> list[_Try]:
        """A part that no joint holds, moved behind the last coming of something that it touches."""
        draft, was = _strip_part(self._draft(), part)
        if not was or part in self.held_parts:
            return []
        touched = self.touching(part)
        tries: list[_Try] = []
        for at in range(len(draft) - 1, -1, -1):
            for index in range(len(draft[at]) - 1, -1, -1):
                action = draft[at][index]
                brings = {
                    piece.id for name in _joints_named(action) for piece in self.machine.joint[name].brings
                }
                if touched & (brings | set(action.parts)):
                    place = _Place(at, index + 1)
                    says = f"Moved: place {part}, {self._where(draft, place)}."
                    tries.append(_Try(_put(draft, place, (Action(verb="place", parts=(part,)),)), at, says))
        return tries

    def _each(self, tries: list[_Try]) -> Iterator[list[_Try]]:
        for one in tries:
            yield [one]

    def _used_when_wanted(self, part: str) -> list[_Try]:
        """A part in the way, moved right before the first action that wants it."""
        draft, was = _strip_part(self._draft(), part)
        tries = self._place_before_use(part, draft) if was else []
        return [replace(one, says=one.says.replace("Added", "Moved")) for one in tries]

    def _place_before_use(self, part: str, draft: Draft | None = None) -> list[_Try]:
        """A forgotten part comes right before the first action on one of its joints, else last in its unit."""
        joints = {joint.id for joint in self.machine.joints if part in joint.parts}
        action = Action(verb="place", parts=(part,))
        draft = self._draft() if draft is None else draft
        turning = ["start", "snug", "tighten", "route", "press"]
        if self.machine.part[part].type.profile is not None:
            turning.append("insert")  # nuts go into a member's slots, whatever they will hold
        for step, actions in enumerate(draft):
            for index, one in enumerate(actions):
                if one.verb in turning and joints & set(_joints_named(one)):
                    return [
                        _Try(
                            _put(draft, at, (action,)),
                            at.step,
                            f"Added: place {part}, {self._where(draft, at)}.",
                        )
                        for at in _back_from(draft, _Place(step, index))
                    ]
        unit = self.machine.part[part].unit
        steps = [index for index, step in enumerate(self.steps) if step.unit == unit] or [len(draft) - 1]
        place = _Place(steps[-1], len(draft[steps[-1]]))
        return [
            _Try(_put(draft, at, (action,)), at.step, f"Added: place {part}, {self._where(draft, at)}.")
            for at in _back_from(draft, place)
        ]

    def _place_before(self, parts: Sequence[str], joint: str, step: str) -> list[_Try]:
        draft = self._draft()
        moved = False
        for part in parts:
            draft, was = _strip_part(draft, part)
            moved = moved or was
        for index, one in enumerate(self.steps):
            if one.id != step:
                continue
            for at, action in enumerate(draft[index]):
                if joint in _joints_named(action):
                    place = _Place(index, at)
                    word = "Moved" if moved else "Added"
                    says = f"{word}: place {', '.join(parts)}, {self._where(draft, place)}."
                    return [
                        _Try(_put(draft, place, (Action(verb="place", parts=tuple(parts)),)), index, says)
                    ]
        return []

    def _making(self, joint: str) -> tuple[Action, ...]:
        """All that makes a joint, one after another."""
        one = self.machine.joint[joint]
        actions = [Action(verb="start", joints=(joint,), gap_mm=self._gap("start", joint))]
        if one.align:
            of = next((c.of for c in self.machine.characteristics if c.id == one.align), ())
            actions.append(Action(verb="snug", joints=(joint,)))
            actions.append(Action(verb="read", parts=of, reads=(one.align,)))
        return (*actions, Action(verb="tighten", joints=(joint,)))

    def _added(self, actions: tuple[Action, ...], step: str = "") -> list[_Try]:
        """Actions put in as late as they work, or at the end of one step."""
        draft = self._draft()
        name = actions[0].joints[0]
        verbs = ", ".join(action.verb for action in actions)
        ends = [index for index, one in enumerate(self.steps) if one.id == step] or [len(draft) - 1]
        end = _Place(ends[0], len(draft[ends[0]]))
        places = _back_from(draft, end)
        return [
            _Try(
                _put(draft, place, actions),
                place.step,
                f"Added: {verbs} {name}, {self._where(draft, place)}.",
            )
            for place in (places[:1] if step else places)
        ]

    def _read_first(self, finding: Finding) -> Iterator[list[_Try]]:
        """A reading, or a snug screw, put before the action that wanted it."""
        draft = self._draft()
        joint = self.machine.joint[finding.joint]
        names = [joint.align] if joint.align else []
        if finding.code == "rails-final-before-run":
            names = [one.id for one in self.machine.characteristics if one.sort == "free-motion"]
        of = {one.id: one.of for one in self.machine.characteristics}
        for place in self._places(finding.step):
            action = draft[place.step][place.action]
            snug = Action(verb="snug", joints=(finding.joint,))
            if finding.code == "read-before-snug":
                if set(action.reads) & set(names):
                    says = f"Added: snug {finding.joint}, before {joint.align} is read."
                    yield [_Try(_put(draft, place, (snug,)), place.step, says)]
                continue
            if action.verb != "tighten" or finding.joint not in _joints_named(action):
                continue
            for name in names:
                read = Action(verb="read", parts=of.get(name, ()), reads=(name,))
                says = f"Added: read {name}, before {finding.joint} is tightened."
                yield [_Try(_put(draft, place, (read,)), place.step, says)]
                says = f"Added: snug {finding.joint} and read {name}, before it is tightened."
                yield [_Try(_put(draft, place, (snug, read)), place.step, says)]

    def _reading_later(self, finding: Finding) -> list[_Try]:
        """A reading moved behind the last snug of the joints it is read for."""
        name = self.machine.joint[finding.joint].align
        aligned = {joint.id for joint in self.machine.joints if joint.align == name}
        taken: list[Action] = []
        draft: list[tuple[Action, ...]] = []
        for step in self.steps:
            mine = [
                one
                for one in step.actions
                if one.verb == "read" and name in one.reads and step.id == finding.step
            ]
            taken += mine
            draft.append(tuple(one for one in step.actions if one not in mine))
        for at in range(len(draft) - 1, -1, -1):
            for index in range(len(draft[at]) - 1, -1, -1):
                action = draft[at][index]
                if taken and action.verb == "snug" and aligned & set(_joints_named(action)):
                    place = _Place(at, index + 1)
                    says = f"Moved: read {name}, {self._where(tuple(draft), place)}."
                    return [_Try(_put(tuple(draft), place, taken), at, says)]
        return []

    def _read_again(self, finding: Finding) -> list[_Try]:
        of = {one.id: one.of for one in self.machine.characteristics}
        draft = self._draft()
        for index, step in enumerate(self.steps):
            for name, parts in of.items():
                if step.id == finding.step and finding.says.startswith(f"{name} was true"):
                    read = Action(verb="read", parts=parts, reads=(name,))
                    place = _Place(index, len(draft[index]))
                    return [_Try(_put(draft, place, (read,)), index, f"Added: read {name} once more.")]
        return []

    # -- places -------------------------------------------------------------------------------------

    def _places(self, step: str) -> list[_Place]:
        return [
            _Place(index, at)
            for index, one in enumerate(self.steps)
            if one.id == step
            for at in range(len(one.actions))
        ]

    def _place_of(self, finding: Finding) -> _Place | None:
        """The first action of the finding's step on its joint."""
        for place in self._places(finding.step):
            if finding.joint in _joints_named(self.steps[place.step].actions[place.action]):
                return place
        places = self._places(finding.step)
        return places[0] if places else None

    def _swap(self, place: _Place, action: Action) -> Draft:
        draft = [list(actions) for actions in self._draft()]
        if _does_nothing(action):
            del draft[place.step][place.action]
        else:
            draft[place.step][place.action] = action
        return tuple(tuple(actions) for actions in draft)

    def _taken_out(self, verb: str, joint: str, step: str = "") -> tuple[Draft, tuple[Action, ...]]:
        """The draft without a joint's actions of one verb, and these actions; only of one step if named."""
        taken: list[Action] = []
        draft: list[tuple[Action, ...]] = []
        for one in self.steps:
            kept: list[Action] = []
            for action in one.actions:
                if action.verb == verb and joint in _joints_named(action) and step in ("", one.id):
                    screws = tuple(name for name in action.fastenings if name.rpartition(".")[0] == joint)
                    whole = (joint,) if joint in action.joints else ()
                    order = tuple(name for name in action.order if name.rpartition(".")[0] == joint)
                    taken.append(replace(action, joints=whole, fastenings=screws, order=order))
                    rest = _without_joint(action, joint)
                    if not _does_nothing(rest):
                        kept.append(rest)
                else:
                    kept.append(action)
            draft.append(tuple(kept))
        return tuple(draft), tuple(taken)

    def _part_taken_out(self, part: str) -> tuple[Draft, _Place | None]:
        for index, step in enumerate(self.steps):
            for at, action in enumerate(step.actions):
                if action.verb == "place" and part in action.parts:
                    draft, _ = _strip_part(self._draft(), part)
                    return draft, _Place(index, min(at, len(draft[index])))
        return self._draft(), None

    def _where(self, draft: Draft, place: _Place) -> str:
        """A place in words."""
        actions = draft[place.step]
        if place.action < len(actions):
            following = actions[place.action]
            names = [*following.parts, *following.joints, *following.reads]
            return f"before {following.verb} {', '.join(names[:2])}".rstrip()
        return "at the end of the step"


def _key(finding: Finding) -> tuple[str, ...]:
    return (finding.code, finding.joint, *finding.parts[:1])


def _joints_named(action: Action) -> tuple[str, ...]:
    return (*action.joints, *(name.rpartition(".")[0] for name in action.fastenings))


def _does_nothing(action: Action) -> bool:
    wants = action.verb in (
        "place",
        "release",
        "insert",
        "start",
        "snug",
        "tighten",
        "press",
        "route",
        "crimp",
    )
    return wants and not (action.parts or action.joints or action.fastenings)


def _without_parts(action: Action, verb: str, parts: Sequence[str]) -> Action:
    if action.verb != verb:
        return action
    return replace(action, parts=tuple(part for part in action.parts if part not in parts))


def _without_joint(action: Action, joint: str) -> Action:
    if joint not in _joints_named(action):
        return action
    return replace(
        action,
        joints=tuple(name for name in action.joints if name != joint),
        fastenings=tuple(name for name in action.fastenings if name.rpartition(".")[0] != joint),
        order=tuple(name for name in action.order if name.rpartition(".")[0] != joint),
    )


def _without_lock(action: Action, joint: str) -> Action:
    if joint not in _joints_named(action):
        return action
    return replace(action, using=tuple(word for word in action.using if "threadlocker" not in word.lower()))


def _strip_part(draft: Draft, part: str) -> tuple[Draft, bool]:
    was = any(action.verb == "place" and part in action.parts for actions in draft for action in actions)
    changed = tuple(
        tuple(new for action in actions if not _does_nothing(new := _without_parts(action, "place", (part,))))
        for actions in draft
    )
    return changed, was


def _put(draft: Draft, place: _Place, new: Sequence[Action]) -> Draft:
    actions = draft[place.step]
    changed = (*actions[: place.action], *new, *actions[place.action :])
    return (*draft[: place.step], changed, *draft[place.step + 1 :])


def _back_from(draft: Draft, last: _Place) -> list[_Place]:
    """All places from `last` back to the beginning; between two steps the end of the earlier one."""
    places = [_Place(last.step, at) for at in range(last.action, 0, -1)]
    for step in range(last.step - 1, -1, -1):
        places += [_Place(step, at) for at in range(len(draft[step]), 0, -1)]
    return [*places, _Place(0, 0)] if last.action > 0 or last.step > 0 else [_Place(0, 0)]


def _changed(finding: Finding, old: Action, new: Action) -> str:
    words = {
        "placed-twice": f"Left out: place {', '.join(finding.parts)}, which is there already.",
        "released-but-not-held": f"Left out: release {', '.join(finding.parts)}, which nothing holds.",
        "head-gap-wrong": f"Changed: {old.gap_mm} mm under the heads of {finding.joint} becomes {new.gap_mm} mm.",
        "locked-before-truing": f"Left out: threadlocker on {finding.joint} before it is true.",
        "loosened-after-truing": f"Left out: {old.verb} {finding.joint}, which is true and final.",
    }
    return words.get(
        finding.code, f"Changed: the order of {finding.joint}'s screws, from the middle outwards."
    )

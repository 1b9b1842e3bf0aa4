"""What could settle a finding in an author's order: groups of edits, each from the latest place back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Action
from trysquare.sequence.drafts import (
    Place,
    Try,
    back_from,
    joints_named,
    put,
    without_joint,
    without_lock,
    without_parts,
)
from trysquare.sequence.edits import Edits
from trysquare.sequence.row_orders import centre_outwards
from trysquare.sequence.rules_listing import head_gap_mm

_EARLIER = {
    "nut-shut-out": "insert",
    "mouth-covered": "insert",
    "nuts-would-pass": "insert",
    "iron-cannot-reach": "press",
    "screw-cannot-get-in": "start",
    "closed-belt-shut-out": "route",
}
_NO_WAY = ("no-key-line", "unit-has-no-way-in", "no-way-in", "no-open-rail-end")
_READ_FIRST = ("final-before-read", "rails-final-before-run", "read-before-snug")


class Suggestions(Edits):
    """What may settle each sort of finding, of one order of one machine."""

    def groups(self, finding: Finding) -> Iterator[list[Try]]:
        """Groups of edits, each group from the latest place to the earliest."""
        code = finding.code
        if code in _EARLIER and finding.joint:
            return self._earlier(finding)
        if code in _NO_WAY:
            return self._way_earlier(finding)
        if code in _READ_FIRST:
            return self._truth(finding)
        return _SUGGESTED.get(code, Suggestions._in_place)(self, finding)

    def _earlier(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._done_earlier(_EARLIER[finding.code], finding)
        for blocker in finding.parts[1:]:
            if blocker in self.held_parts:
                yield self._used_when_wanted(blocker)

    def _truth(self, finding: Finding) -> Iterator[list[Try]]:
        yield from self._read_first(finding)
        if finding.code == "final-before-read":
            yield self._when_needs_are_there("tighten", finding.joint, finding.step)
        if finding.code == "read-before-snug":
            yield self._reading_later(finding)

    def _slot_first(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._when_needs_are_there("insert", finding.joint, finding.step)
        yield self._place_before(finding.parts[-1:], finding.joint, finding.step)

    def _hangs(self, finding: Finding) -> Iterator[list[Try]]:
        yield from self._each(self._beside(finding.parts[0]))

    def _never_placed(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._place_before_use(finding.parts[0])

    def _parts_first(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._place_before(finding.parts, finding.joint, finding.step)
        for verb in ("press", "start", "snug", "tighten", "route"):
            yield self._when_needs_are_there(verb, finding.joint, finding.step)

    def _never_made(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._added(self._making(finding.joint))

    def _left_snug(self, finding: Finding) -> Iterator[list[Try]]:
        tighten = Action(verb="tighten", joints=(finding.joint,))
        yield self._added((tighten,), finding.step)
        yield self._added((tighten,))

    def _never_routed(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._added((Action(verb="route", joints=(finding.joint,)),))

    def _disturbed(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._read_again(finding)

    def _in_place(self, finding: Finding) -> Iterator[list[Try]]:
        yield self._put_right(finding)
        if finding.code == "loosened-after-truing":
            yield self._before_others(finding.joint, finding.step)

    def _put_right(self, finding: Finding) -> list[Try]:
        """Edits inside one action, where it stands."""
        if finding.code == "plug-larger-than-hole":
            return self._crimp_after(finding.joint)
        changes: dict[str, Callable[[Action], Action]] = {
            "placed-twice": lambda action: without_parts(action, "place", finding.parts),
            "released-but-not-held": lambda action: without_parts(action, "release", finding.parts),
            "head-gap-wrong": lambda action: self._with_gap(action, finding.joint),
            "screws-left-out": lambda action: self._with_order(action, finding.joint),
            "tightened-from-the-ends": lambda action: self._with_order(action, finding.joint),
            "locked-before-truing": lambda action: without_lock(action, finding.joint),
            "loosened-after-truing": lambda action: without_joint(action, finding.joint),
        }
        change = changes.get(finding.code)
        if change is None:
            return []
        tries: list[Try] = []
        for place in self._places(finding.step):
            old = self._draft()[place.step][place.action]
            new = change(old)
            if new != old:
                tries.append(Try(self._swap(place, new), place.step, _changed(finding, old, new)))
        return tries

    def _with_gap(self, action: Action, joint: str) -> Action:
        if action.gap_mm is None or joint not in joints_named(action):
            return action
        span = head_gap_mm(self.machine.joint[joint].fastenings[0], self.machine)
        return action if span is None else replace(action, gap_mm=round((span[0] + span[1]) / 2, 1))

    def _with_order(self, action: Action, joint: str) -> Action:
        if not action.order or joint not in joints_named(action):
            return action
        others = tuple(name for name in action.order if name.rpartition(".")[0] != joint)
        return replace(action, order=(*others, *centre_outwards(self.machine.joint[joint].fastenings)))

    def _crimp_after(self, joint: str) -> list[Try]:
        draft, crimps = self._taken_out("crimp", joint)
        tries = []
        for step, actions in enumerate(draft):
            for index, action in enumerate(actions):
                if action.verb == "route" and joint in action.joints and crimps:
                    place = Place(step, index + 1)
                    tries.append(
                        Try(put(draft, place, crimps), step, f"Moved: crimp {joint}, after it is routed.")
                    )
        return tries

    def _way_earlier(self, finding: Finding) -> Iterator[list[Try]]:
        """What has no way or no key any more is done before what closes it; or that comes later."""
        if finding.joint:
            for verb in ("tighten", "snug", "start", "route"):
                if any(
                    action.verb == verb and finding.joint in joints_named(action)
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
                    Try(
                        put(draft, place, (action,)),
                        place.step,
                        f"Moved: place {part}, {self._where(draft, place)}.",
                    )
                    for place in back_from(draft, last)
                ]

    def _each(self, tries: list[Try]) -> Iterator[list[Try]]:
        for one in tries:
            yield [one]

    def _making(self, joint: str) -> tuple[Action, ...]:
        """All that makes a joint, one after another."""
        one = self.machine.joint[joint]
        actions = [Action(verb="start", joints=(joint,), gap_mm=self._gap("start", joint))]
        if one.align:
            of = next((c.of for c in self.machine.characteristics if c.id == one.align), ())
            actions.append(Action(verb="snug", joints=(joint,)))
            actions.append(Action(verb="read", parts=of, reads=(one.align,)))
        return (*actions, Action(verb="tighten", joints=(joint,)))

    def _read_first(self, finding: Finding) -> Iterator[list[Try]]:
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
                    yield [Try(put(draft, place, (snug,)), place.step, says)]
                continue
            if action.verb != "tighten" or finding.joint not in joints_named(action):
                continue
            for name in names:
                read = Action(verb="read", parts=of.get(name, ()), reads=(name,))
                says = f"Added: read {name}, before {finding.joint} is tightened."
                yield [Try(put(draft, place, (read,)), place.step, says)]
                says = f"Added: snug {finding.joint} and read {name}, before it is tightened."
                yield [Try(put(draft, place, (snug, read)), place.step, says)]

    def _reading_later(self, finding: Finding) -> list[Try]:
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
                if taken and action.verb == "snug" and aligned & set(joints_named(action)):
                    place = Place(at, index + 1)
                    says = f"Moved: read {name}, {self._where(tuple(draft), place)}."
                    return [Try(put(tuple(draft), place, taken), at, says)]
        return []

    def _read_again(self, finding: Finding) -> list[Try]:
        of = {one.id: one.of for one in self.machine.characteristics}
        draft = self._draft()
        for index, step in enumerate(self.steps):
            for name, parts in of.items():
                if step.id == finding.step and finding.says.startswith(f"{name} was true"):
                    read = Action(verb="read", parts=parts, reads=(name,))
                    place = Place(index, len(draft[index]))
                    return [Try(put(draft, place, (read,)), index, f"Added: read {name} once more.")]
        return []


def _changed(finding: Finding, old: Action, new: Action) -> str:
    words = {
        "placed-twice": f"Left out: place {', '.join(finding.parts)}, which is there already.",
        "released-but-not-held": f"Left out: release {', '.join(finding.parts)}, which nothing holds.",
        "head-gap-wrong": f"Changed: {old.gap_mm} mm under {finding.joint}'s heads becomes {new.gap_mm} mm.",
        "locked-before-truing": f"Left out: threadlocker on {finding.joint} before it is true.",
        "loosened-after-truing": f"Left out: {old.verb} {finding.joint}, which is true and final.",
    }
    return words.get(
        finding.code, f"Changed: the order of {finding.joint}'s screws, from the middle outwards."
    )


_SUGGESTED: dict[str, Callable[[Suggestions, Finding], Iterator[list[Try]]]] = {
    "slot-not-there": Suggestions._slot_first,  # noqa: SLF001  # the class's own table, written after it
    "part-hangs-free": Suggestions._hangs,  # noqa: SLF001
    "never-placed": Suggestions._never_placed,  # noqa: SLF001
    "joint-before-its-parts": Suggestions._parts_first,  # noqa: SLF001
    "joint-never-made": Suggestions._never_made,  # noqa: SLF001
    "left-snug": Suggestions._left_snug,  # noqa: SLF001
    "never-routed": Suggestions._never_routed,  # noqa: SLF001
    "disturbed-after-truing": Suggestions._disturbed,  # noqa: SLF001
}

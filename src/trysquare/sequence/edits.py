"""Edits of an author's order: actions moved, taken out or put in, each from the latest place back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.drafts import (
    Draft,
    Place,
    Try,
    back_from,
    does_nothing,
    joints_named,
    put,
    strip_part,
    without_joint,
)
from trysquare.sequence.rules_listing import head_gap_mm
from trysquare.sequence.walk import Walk

_TURNING = ("insert", "press", "start", "snug", "tighten")


class Edits:
    """Edits of one order of one machine. `walk` knows the machine, not the order."""

    def __init__(self, machine: Machine, steps: tuple[Step, ...], walk: Walk) -> None:
        self.machine, self.steps, self.walk = machine, steps, walk
        self.held_parts = {part for joint in machine.joints for part in joint.parts}

    def _draft(self) -> Draft:
        return tuple(step.actions for step in self.steps)

    def _done_earlier(self, verb: str, finding: Finding) -> list[Try]:
        """An action of a joint moved, or put in, before the place where it is too late."""
        joint = finding.joint
        last = self._place_of(finding)
        if last is None:
            return []
        draft, taken = self._taken_out(verb, joint, finding.step)
        moved = bool(taken)
        actions = taken or (Action(verb=verb, joints=(joint,), gap_mm=self._gap(verb, joint)),)
        word = "Moved" if moved else "Added"
        last = Place(last.step, min(last.action, len(draft[last.step])))
        return [
            Try(
                put(draft, place, actions),
                place.step,
                f"{word}: {verb} {joint}, {self._where(draft, place)}.",
            )
            for place in back_from(draft, last)
        ]

    def _gap(self, verb: str, joint: str) -> float | None:
        fastenings = self.machine.joint[joint].fastenings
        span = head_gap_mm(fastenings[0], self.machine) if verb == "start" and fastenings else None
        return None if span is None else round((span[0] + span[1]) / 2, 1)

    def _when_needs_are_there(self, verb: str, joint: str, step: str) -> list[Try]:
        """A joint's action moved right behind the last of what it needs."""
        draft, taken = self._taken_out(verb, joint, step)
        if not taken:
            return []
        one = self.machine.joint[joint]
        parts = set(one.parts)
        if verb == "insert":
            parts = {each.slot_member for each in one.fastenings}
        earlier = _TURNING[: _TURNING.index(verb)] if verb in _TURNING else ()
        last: Place | None = None
        for at, actions in enumerate(draft):
            for index, action in enumerate(actions):
                places = action.verb == "place" and parts & set(action.parts)
                prepares = action.verb in earlier and joint in joints_named(action)
                reads = verb == "tighten" and one.align in action.reads
                if places or prepares or (reads and one.align):
                    last = Place(at, index + 1)
        if last is None:
            return []
        says = f"Moved: {verb} {joint}, {self._where(draft, last)}."
        return [Try(put(draft, last, taken), last.step, says)]

    def _before_others(self, joint: str, step: str) -> list[Try]:
        """What starts or snugs a joint, moved before everything else that turns its screws."""
        for verb in ("snug", "start"):
            draft, taken = self._taken_out(verb, joint, step)
            later = _TURNING[_TURNING.index(verb) + 1 :]
            for at, actions in enumerate(draft):
                for index, action in enumerate(actions):
                    if taken and action.verb in later and joint in joints_named(action):
                        place = Place(at, index)
                        says = f"Moved: {verb} {joint}, {self._where(draft, place)}."
                        return [Try(put(draft, place, taken), at, says)]
        return []

    def _beside(self, part: str) -> list[Try]:
        """A part that no joint holds, moved behind the last coming of something that it touches."""
        draft, was = strip_part(self._draft(), part)
        if not was or part in self.held_parts:
            return []
        touched = set(self.walk.touching(part))
        tries: list[Try] = []
        for at in range(len(draft) - 1, -1, -1):
            for index in range(len(draft[at]) - 1, -1, -1):
                action = draft[at][index]
                brings = {
                    piece.id for name in joints_named(action) for piece in self.machine.joint[name].brings
                }
                if touched & (brings | set(action.parts)):
                    place = Place(at, index + 1)
                    says = f"Moved: place {part}, {self._where(draft, place)}."
                    tries.append(Try(put(draft, place, (Action(verb="place", parts=(part,)),)), at, says))
        return tries

    def _used_when_wanted(self, part: str) -> list[Try]:
        """A part in the way, moved right before the first action that wants it."""
        draft, was = strip_part(self._draft(), part)
        tries = self._place_before_use(part, draft) if was else []
        return [replace(one, says=one.says.replace("Added", "Moved")) for one in tries]

    def _place_before_use(self, part: str, draft: Draft | None = None) -> list[Try]:
        """A forgotten part comes right before the first action on its joints, else last in its unit."""
        joints = {joint.id for joint in self.machine.joints if part in joint.parts}
        action = Action(verb="place", parts=(part,))
        draft = self._draft() if draft is None else draft
        turning = ["start", "snug", "tighten", "route", "press"]
        if self.machine.part[part].type.profile is not None:
            turning.append("insert")  # nuts go into a member's slots, whatever they will hold
        for step, actions in enumerate(draft):
            for index, one in enumerate(actions):
                if one.verb in turning and joints & set(joints_named(one)):
                    return [
                        Try(
                            put(draft, at, (action,)),
                            at.step,
                            f"Added: place {part}, {self._where(draft, at)}.",
                        )
                        for at in back_from(draft, Place(step, index))
                    ]
        unit = self.machine.part[part].unit
        steps = [index for index, step in enumerate(self.steps) if step.unit == unit] or [len(draft) - 1]
        place = Place(steps[-1], len(draft[steps[-1]]))
        return [
            Try(put(draft, at, (action,)), at.step, f"Added: place {part}, {self._where(draft, at)}.")
            for at in back_from(draft, place)
        ]

    def _place_before(self, parts: Sequence[str], joint: str, step: str) -> list[Try]:
        draft = self._draft()
        moved = False
        for part in parts:
            draft, was = strip_part(draft, part)
            moved = moved or was
        for index, one in enumerate(self.steps):
            if one.id != step:
                continue
            for at, action in enumerate(draft[index]):
                if joint in joints_named(action):
                    place = Place(index, at)
                    word = "Moved" if moved else "Added"
                    says = f"{word}: place {', '.join(parts)}, {self._where(draft, place)}."
                    return [Try(put(draft, place, (Action(verb="place", parts=tuple(parts)),)), index, says)]
        return []

    def _added(self, actions: tuple[Action, ...], step: str = "") -> list[Try]:
        """Actions put in as late as they work, or at the end of one step."""
        draft = self._draft()
        name = actions[0].joints[0]
        verbs = ", ".join(action.verb for action in actions)
        ends = [index for index, one in enumerate(self.steps) if one.id == step] or [len(draft) - 1]
        end = Place(ends[0], len(draft[ends[0]]))
        places = back_from(draft, end)
        return [
            Try(
                put(draft, place, actions),
                place.step,
                f"Added: {verbs} {name}, {self._where(draft, place)}.",
            )
            for place in (places[:1] if step else places)
        ]

    def _places(self, step: str) -> list[Place]:
        return [
            Place(index, at)
            for index, one in enumerate(self.steps)
            if one.id == step
            for at in range(len(one.actions))
        ]

    def _place_of(self, finding: Finding) -> Place | None:
        """The first action of the finding's step on its joint."""
        for place in self._places(finding.step):
            if finding.joint in joints_named(self.steps[place.step].actions[place.action]):
                return place
        places = self._places(finding.step)
        return places[0] if places else None

    def _swap(self, place: Place, action: Action) -> Draft:
        draft = [list(actions) for actions in self._draft()]
        if does_nothing(action):
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
                if action.verb == verb and joint in joints_named(action) and step in ("", one.id):
                    screws = tuple(name for name in action.fastenings if name.rpartition(".")[0] == joint)
                    whole = (joint,) if joint in action.joints else ()
                    order = tuple(name for name in action.order if name.rpartition(".")[0] == joint)
                    taken.append(replace(action, joints=whole, fastenings=screws, order=order))
                    rest = without_joint(action, joint)
                    if not does_nothing(rest):
                        kept.append(rest)
                else:
                    kept.append(action)
            draft.append(tuple(kept))
        return tuple(draft), tuple(taken)

    def _part_taken_out(self, part: str) -> tuple[Draft, Place | None]:
        for index, step in enumerate(self.steps):
            for at, action in enumerate(step.actions):
                if action.verb == "place" and part in action.parts:
                    draft, _ = strip_part(self._draft(), part)
                    return draft, Place(index, min(at, len(draft[index])))
        return self._draft(), None

    def _where(self, draft: Draft, place: Place) -> str:
        """A place in words."""
        actions = draft[place.step]
        if place.action < len(actions):
            following = actions[place.action]
            names = [*following.parts, *following.joints, *following.reads]
            return f"before {following.verb} {', '.join(names[:2])}".rstrip()
        return "at the end of the step"

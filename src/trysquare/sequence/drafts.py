"""An order as a draft: its actions step by step, with actions taken out and put in elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trysquare.machine.values import Action

Draft = tuple[tuple[Action, ...], ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Before action `action` of step `step`; `action` may be one past the last."""

    step: int
    action: int


@dataclass(frozen=True, slots=True)
class Try:
    """A changed draft, the step that changed, and the change in words."""

    draft: Draft
    step: int
    says: str


def joints_named(action: Action) -> tuple[str, ...]:
    """Joints an action works on, those of single screws included."""
    return (*action.joints, *(name.rpartition(".")[0] for name in action.fastenings))


def does_nothing(action: Action) -> bool:
    """Whether an action has lost all it was done to."""
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


def without_parts(action: Action, verb: str, parts: Sequence[str]) -> Action:
    """An action of this verb without some parts."""
    if action.verb != verb:
        return action
    return replace(action, parts=tuple(part for part in action.parts if part not in parts))


def without_joint(action: Action, joint: str) -> Action:
    """An action without one joint and its screws."""
    if joint not in joints_named(action):
        return action
    return replace(
        action,
        joints=tuple(name for name in action.joints if name != joint),
        fastenings=tuple(name for name in action.fastenings if name.rpartition(".")[0] != joint),
        order=tuple(name for name in action.order if name.rpartition(".")[0] != joint),
    )


def without_lock(action: Action, joint: str) -> Action:
    """A joint's action without threadlocker."""
    if joint not in joints_named(action):
        return action
    return replace(action, using=tuple(word for word in action.using if "threadlocker" not in word.lower()))


def strip_part(draft: Draft, part: str) -> tuple[Draft, bool]:
    """The draft with a part placed nowhere, and whether it was."""
    was = any(action.verb == "place" and part in action.parts for actions in draft for action in actions)
    changed = tuple(
        tuple(new for action in actions if not does_nothing(new := without_parts(action, "place", (part,))))
        for actions in draft
    )
    return changed, was


def put(draft: Draft, place: Place, new: Sequence[Action]) -> Draft:
    """The draft with actions put in at a place."""
    actions = draft[place.step]
    changed = (*actions[: place.action], *new, *actions[place.action :])
    return (*draft[: place.step], changed, *draft[place.step + 1 :])


def back_from(draft: Draft, last: Place) -> list[Place]:
    """All places from `last` back to the beginning; between two steps the end of the earlier one."""
    places = [Place(last.step, at) for at in range(last.action, 0, -1)]
    for step in range(last.step - 1, -1, -1):
        places += [Place(step, at) for at in range(len(draft[step]), 0, -1)]
    return [*places, Place(0, 0)] if last.action > 0 or last.step > 0 else [Place(0, 0)]

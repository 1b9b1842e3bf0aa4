"""Random changes of an order: actions and steps swapped, dropped, moved, doubled."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

from trysquare.machine.values import Action, Step

Order = tuple[Step, ...]
Item = TypeVar("Item")


def mutated(order: Order, chance: random.Random) -> Order:
    """The order with one change, now and then two."""
    changed = _once(order, chance)
    return _once(changed, chance) if chance.random() < 0.25 else changed


def mutations(order: Order, count: int, seed: int) -> Iterator[Order]:
    """Some changed orders, the same for the same seed."""
    chance = random.Random(seed)
    for _ in range(count):
        yield mutated(order, chance)


def _once(order: Order, chance: random.Random) -> Order:
    how = chance.choice(("swap", "drop", "move", "double"))
    if chance.random() < 0.4 and len(order) > 2:
        steps: list[Step] = list(order)
        _change(steps, how, chance)
        return tuple(steps)
    return _with_actions(order, how, chance)


def _with_actions(order: Order, how: str, chance: random.Random) -> Order:
    """One change among all actions; an action that moves goes into whichever step stands there."""
    actions: list[tuple[int, Action]] = [
        (n, action) for n, step in enumerate(order) for action in step.actions
    ]
    if len(actions) < 2:
        return order
    owners = [owner for owner, _ in actions]
    only = [action for _, action in actions]
    if how == "swap":
        _change(only, how, chance)
        return _dealt(order, list(zip(owners, only, strict=True)))
    index = chance.randrange(len(actions))
    _, action = actions[index]
    if how in ("drop", "move"):
        del actions[index]
    if how in ("double", "move"):
        goal = chance.randrange(len(actions))
        actions.insert(goal, (actions[goal][0], action))
    return _dealt(order, actions)


def _dealt(order: Order, actions: Sequence[tuple[int, Action]]) -> Order:
    return tuple(
        replace(step, actions=tuple(action for owner, action in actions if owner == number))
        for number, step in enumerate(order)
    )


def _change(items: list[Item], how: str, chance: random.Random) -> None:
    one, other = chance.randrange(len(items)), chance.randrange(len(items))
    if how == "swap":
        items[one], items[other] = items[other], items[one]
    elif how == "drop":
        del items[one]
    elif how == "double":
        items.insert(other, items[one])
    else:
        items.insert(other, items.pop(one))

"""What no rule looks at yet of the things that a machine has: said, lest silence be taken for good."""

from __future__ import annotations

from collections.abc import Callable

from trysquare.machine.values import Kind, Machine

_NO_RULE: tuple[tuple[Callable[[Machine], bool], str], ...] = (
    (
        lambda machine: any(joint.cable is not None for joint in machine.joints),
        "no rule yet for the load of wires and contacts, polarity, bends and strain relief",
    ),
    (
        lambda machine: any(joint.belt is not None for joint in machine.joints),
        "no rule yet for belt tension and travel per turn, which are measured on the running machine",
    ),
    (
        lambda machine: any(part.type.kind is Kind.PRINTED for part in machine.placed),
        "no rule yet for shrinkage of printed parts",
    ),
    (
        lambda machine: bool(machine.steps),
        "no rule yet for when to deburr, wash, grease and take photos",
    ),
)


def no_rule_yet(machine: Machine) -> list[str]:
    """One line for each sort of thing that this machine has and no rule looks at."""
    return [says for has, says in _NO_RULE if has(machine)]

"""What no rule looks at yet of the things that a machine has: said, lest silence be taken for good."""

from __future__ import annotations

from collections.abc import Callable

from trysquare.machine.values import Kind, Machine

_NO_RULE: tuple[tuple[Callable[[Machine], bool], str], ...] = (
    (
        lambda machine: any(joint.cable is not None for joint in machine.joints),
        "wires, contacts, fuses and earth: trysquare tune wiring; no rule yet for bends and strain relief",
    ),
    (
        lambda machine: any(joint.belt is not None for joint in machine.joints),
        "belt tension and travel per turn, measured on the running machine: trysquare tune belt, tune drive",
    ),
    (
        lambda machine: any(part.type.kind is Kind.PRINTED for part in machine.placed),
        "shrinkage of printed parts, measured on a test piece: trysquare tune skew",
    ),
    (
        lambda machine: bool(machine.steps),
        "no rule yet for when to deburr, wash, grease and take photos",
    ),
)


def no_rule_yet(machine: Machine) -> list[str]:
    """One line for each sort of thing that this machine has and no rule looks at."""
    return [says for has, says in _NO_RULE if has(machine)]

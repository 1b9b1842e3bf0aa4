"""Which findings follow from others: the cause is told first, and what follows from it says so.

A table says from which code which other codes follow on the bench. Two findings belong together when they
name a part or a joint in common. Nothing is left out here: until the cause is settled nobody can be sure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from trysquare.ground.findings import Finding, Weight

_LOOSE = ("part-hangs-free", "cannot-stand")
COUNTED = ("boxes-run-out", "list-short")
_OFF = ("hole-missing", "hole-off-line", "hole-over-no-slot", "gap-in-stack")

FOLLOWS: Mapping[str, tuple[str, ...]] = {
    # what stands elsewhere than it should, or is of another sort
    "rail-turned": ("nuts-off-rail", *_OFF, "screw-bites-nothing"),
    "revision-mismatch": ("overlap", *_OFF, *_LOOSE),
    "block-of-another-size": ("block-off-rail", "overlap", *_OFF, *COUNTED),
    "overlap": (*_OFF, "in-moving-path", "nuts-too-close", "access-hole-missing", "no-key-line", *_LOOSE),
    "end-meets-no-slot": (*_OFF, "nut-shut-out", "no-key-line", *_LOOSE),
    "hole-over-no-slot": ("hole-missing", "nut-shut-out", "screw-bites-nothing", *_LOOSE),
    "hole-missing": ("nut-shut-out", "screw-bites-nothing", *_LOOSE),
    "gap-in-stack": ("hole-missing", "no-length-fits", "screw-too-short", "screw-bites-nothing", *_LOOSE),
    # what is never done
    "never-placed": ("joint-before-its-parts", "joint-never-made", "left-snug", "carriage-can-run-off",
                     *_LOOSE),
    "joint-never-made": ("left-snug", "screws-left-out", "carriage-can-run-off", *_LOOSE),
    # another screw or nut than the joint takes: the right one is counted anew
    "nut-unfit-for-slot": ("nut-shut-out", "nuts-would-pass", "screw-too-short", *COUNTED),
    "wrong-thread": ("hole-too-small", "screw-bites-nothing", *COUNTED),
    "screw-too-long": ("in-moving-path", *COUNTED),
    "screw-too-short": COUNTED,
    "no-length-fits": COUNTED,
}  # fmt: skip
"""Codes that follow from a code, where both name one part or joint. None follows from itself by any way."""

_BY_STEP = _LOOSE
"""Codes that follow likewise when one of the same code and step does: what hangs on a loose part is loose."""


def causes_first(findings: Sequence[Finding]) -> list[Finding]:
    """All findings in their order, but what follows from another stands behind it and has it as its cause.

    A cause weighs at least as much as what follows from it; of several the first in the table is named.
    """
    causes = _causes(findings)
    told: dict[int, Finding] = {}

    def tell(one: Finding) -> Finding:
        if id(one) not in told:
            cause = causes.get(id(one))
            told[id(one)] = one if cause is None else replace(one, cause=tell(cause))
        return told[id(one)]

    after: dict[int, list[Finding]] = {}
    for one in findings:
        after.setdefault(id(causes.get(id(one))) if id(one) in causes else 0, []).append(one)
    ordered: list[Finding] = []

    def walk(some: Iterable[Finding]) -> None:
        for one in some:
            ordered.append(tell(one))
            walk(after.get(id(one), ()))

    walk(after.get(0, ()))
    return ordered


def _causes(findings: Sequence[Finding]) -> dict[int, Finding]:
    """The cause of each finding that has one, by the finding's identity."""
    by_code: dict[str, list[Finding]] = {}
    for one in findings:
        by_code.setdefault(one.code, []).append(one)
    names = {id(one): _names(one) for one in findings}
    causes: dict[int, Finding] = {}
    for code, following in FOLLOWS.items():
        for cause in by_code.get(code, ()):
            for follower in following:
                for one in by_code.get(follower, ()):
                    if id(one) not in causes and _outweighs(cause, one) and names[id(cause)] & names[id(one)]:
                        causes[id(one)] = cause
    for code in _BY_STEP:
        of_step = {one.step: causes[id(one)] for one in by_code.get(code, ()) if id(one) in causes}
        for one in by_code.get(code, ()):
            if id(one) not in causes and one.step and one.step in of_step:
                causes[id(one)] = of_step[one.step]
    return causes


def _outweighs(cause: Finding, one: Finding) -> bool:
    weights = list(Weight)
    return weights.index(cause.weight) <= weights.index(one.weight)


def _names(one: Finding) -> set[str]:
    """The parts and joints a finding is about; a piece of a joint (j/screw.1) is that joint's too."""
    pieces = {part.rpartition("/")[0] for part in one.parts if part.count("/") > 1}
    return {*one.parts, *pieces, *([one.joint] if one.joint else [])}

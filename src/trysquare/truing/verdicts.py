"""Good, bad, or cannot tell: a value with its uncertainty held against a limit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from trysquare.truing.uncertainty import COVERAGE, acceptance_limit, conformance_probability


class Verdict(StrEnum):
    """What a reading decides."""

    GOOD = "good"
    BAD = "bad"
    CANNOT_TELL = "cannot tell"
    NOT_READ = "not read"  # no reading sees it: only drawing, saw and joints speak


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A value against ± limit. `expanded`: its uncertainty U = 2 u; `probability`: of its being within."""

    value: float
    expanded: float
    limit: float
    verdict: Verdict
    probability: float


def judge(value: float, uncertainty: float, limit: float, *, read: bool = True) -> Judged:
    """The three-way verdict. Good: within the limit less U. Bad: beyond the limit plus U.

    Source: ISO 14253-1, the classic rule (guard band w = U on both sides of the limit); JCGM 106:2012, 8.3.
    """
    expanded = COVERAGE * uncertainty
    if not read:
        verdict = Verdict.NOT_READ
    elif abs(value) <= acceptance_limit(limit, uncertainty):
        verdict = Verdict.GOOD
    elif abs(value) > limit + expanded:
        verdict = Verdict.BAD
    else:
        verdict = Verdict.CANNOT_TELL
    return Judged(
        value=value,
        expanded=expanded,
        limit=limit,
        verdict=verdict,
        probability=conformance_probability(value, uncertainty, -limit, limit),
    )


def worst_of(verdicts: list[Verdict]) -> Verdict:
    """The verdict on a whole from its parts: bad if one is bad, good only if all are."""
    for verdict in (Verdict.BAD, Verdict.NOT_READ, Verdict.CANNOT_TELL):
        if verdict in verdicts:
            return verdict
    return Verdict.GOOD if verdicts else Verdict.NOT_READ

"""A fault: a finding together with the overlaps of solids that it is the cause of.

One cause gives one finding. A screw too long for its slot also crosses the slot's floor in the solids;
the fault says so, and the check of overlaps leaves that crossing out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from trysquare.ground.findings import Finding, places_alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A finding and what it explains.

    `pairs`: pairs of placed ids whose overlap it causes; a pair of one id stands for all its
    overlaps. `tip`: a screw whose overlaps from `tip_from_mm` below its head on it causes; "" for none.
    """

    finding: Finding
    pairs: frozenset[frozenset[str]] = frozenset()
    tip: str = ""
    tip_from_mm: float = 0.0


def pair(one: str, other: str) -> frozenset[str]:
    """Two placed ids in no order."""
    return frozenset((one, other))


def gathered(findings: Iterable[Finding]) -> list[Finding]:
    """Findings of one joint that say the same become one, with all their parts, in order of their first."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        key = (
            finding.code, finding.joint, finding.says, finding.remedy, _rounded(finding.value),
            _rounded(finding.limit),
        )  # fmt: skip
        groups.setdefault(key, []).append(finding)
    return [_one_of(group) for group in groups.values()]


def _one_of(group: list[Finding]) -> Finding:
    if len(group) == 1:
        return group[0]
    parts = tuple(dict.fromkeys(part for finding in group for part in finding.parts))
    return replace(group[0], parts=parts, says=places_alike(group[0].says, len(group)))


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 3)

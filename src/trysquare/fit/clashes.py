"""What clashes: overlaps of solids, each as the finding that names its cause."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from trysquare.catalogue.values import Head
from trysquare.fit.faults import Fault, pair
from trysquare.fit.lengths import named
from trysquare.fit.screws import screw_faults
from trysquare.ground.findings import Finding, places_alike
from trysquare.machine.values import Fastening, Kind, Machine, PlacedPart
from trysquare.solid.overlap import Overlap, overlaps
from trysquare.solid.shapes import solid_of

EXPLAINING = frozenset(
    {
        "hole-missing", "block-of-another-size", "block-off-rail", "off-the-shaft", "bore-unlike-shaft",
        "belt-out-of-plane", "belt-too-wide", "belt-path-impossible", "hole-over-no-slot", "end-not-tapped",
    }
)  # fmt: skip
"""Findings of reading that already say why the solids they name cross each other."""


@dataclass(slots=True)
class Explained:
    """Overlaps whose cause is said already."""

    pairs: set[frozenset[str]] = field(default_factory=set)
    tips: dict[str, float] = field(default_factory=dict)  # screw -> from where below its head
    groups: list[frozenset[str]] = field(default_factory=list)

    def covers(self, overlap: Overlap, screws: dict[str, Fastening]) -> bool:
        both = pair(overlap.a_id, overlap.b_id)
        if both in self.pairs or any(frozenset({one}) in self.pairs for one in both):
            return True
        if any(both <= group for group in self.groups):
            return True
        return any(
            one in self.tips and deepest_mm(screws[one], overlap) >= self.tips[one]
            for one in both
            if one in screws
        )


def clash_findings(
    machine: Machine, faults: Sequence[Fault] | None = None, unusable: set[str] | None = None
) -> list[Finding]:
    """Every overlap of placed solids that nothing else explains; alike ones become one finding.

    `faults`: those of the screws, when they are known already. `unusable` collects the types whose
    shape file cannot be read.
    """
    solid_parts = [part for part in machine.placed if part.type.kind is not Kind.JIG]
    found = overlaps(solid_parts, machine.folder, unusable=set() if unusable is None else unusable)
    if not found:
        return []
    screws = {fastening.screw: fastening for fastening in machine.fastening.values()}
    known = explained(machine, screw_faults(machine) if faults is None else faults)
    left = [overlap for overlap in found if not known.covers(overlap, screws)]
    return _gathered(machine, [(overlap, _finding(machine, overlap, screws)) for overlap in left])


def explained(machine: Machine, faults: Iterable[Fault]) -> Explained:
    """What the screws' faults, the findings of reading and the sense of a belt explain."""
    answer = Explained()
    for fault in faults:
        answer.pairs |= fault.pairs
        if fault.tip:
            answer.tips[fault.tip] = min(fault.tip_from_mm, answer.tips.get(fault.tip, fault.tip_from_mm))
    for finding in machine.findings:
        if finding.code in EXPLAINING:
            joint = machine.joint.get(finding.joint)
            brought = {part.id for part in joint.brings} if joint else set()
            answer.groups.append(frozenset({*finding.parts, *brought}))
    for joint in machine.joints:
        if joint.belt:  # it wraps its pulleys and lies in its clamps
            answer.pairs |= {pair(joint.belt.placed, part) for part in joint.parts}
    return answer


def deepest_mm(fastening: Fastening, overlap: Overlap) -> float:
    """How far below the screw's head the overlap reaches."""
    axis, head = np.asarray(fastening.axis), np.asarray(fastening.head_mm)
    corners = np.array([overlap.low_mm, overlap.high_mm])
    return float(np.sum(np.max((head - corners) * axis, axis=0)))


def _finding(machine: Machine, overlap: Overlap, screws: dict[str, Fastening]) -> Finding:
    for one, other in ((overlap.a_id, overlap.b_id), (overlap.b_id, overlap.a_id)):
        if one in screws and other not in screws:
            found = _screw_in_part(machine, screws[one], machine.part[other], overlap)
            if found is not None:
                return found
    return _plain(machine, overlap)


def _screw_in_part(
    machine: Machine, fastening: Fastening, part: PlacedPart, overlap: Overlap
) -> Finding | None:
    """A shank that crosses what it should pass through: a hole is missing, or stands beside its line."""
    if fastening.screw_type.head is Head.NONE or (
        part.joint == fastening.joint and part.id != fastening.host_part
    ):
        return None
    depth = float((np.asarray(fastening.head_mm) - np.asarray(overlap.at_mm)) @ np.asarray(fastening.axis))
    gripped = any(grip.part == part.id for grip in fastening.grips)
    if not 0 < depth <= max(fastening.thread_from_mm, 0.0) + 0.01 and not (gripped and depth > 0):
        return None
    code = "hole-off-line" if gripped else "hole-missing"
    does = (
        f"meets the wall of its hole in {part.id}: the hole stands beside the screw's line, or the shape "
        "lacks it."
        if gripped
        else f"passes {part.id}, which has no hole there."
    )
    return Finding(
        code=code,
        says=f"{named(fastening)} {does}",
        parts=(fastening.screw, part.id),
        joint=fastening.joint,
        value=overlap.volume_mm3,
        unit="mm3",
        at_mm=overlap.at_mm,
        remedy=f"Compare the hole patterns; look at {side_of(machine, part, overlap.at_mm)} of {part.id}.",
    )


def _plain(machine: Machine, overlap: Overlap) -> Finding:
    one, other = machine.part[overlap.a_id], machine.part[overlap.b_id]
    size = np.array(overlap.high_mm) - np.array(overlap.low_mm)
    spot = side_of(machine, one, overlap.at_mm)
    return Finding(
        code="overlap",
        says=f"{one.id} and {other.id} share {overlap.volume_mm3:.1f} mm³, "
        f"{size[0]:.1f} × {size[1]:.1f} × {size[2]:.1f} mm along x, y, z, at {spot} of {one.id}.",
        parts=(one.id, other.id),
        joint=one.joint or other.joint,
        value=overlap.volume_mm3,
        limit=0.0,
        unit="mm3",
        at_mm=overlap.at_mm,
        remedy=f"Look at {spot} of {one.id} and at {side_of(machine, other, overlap.at_mm)} of {other.id}: "
        "one of them stands in the wrong place, is turned, or is of another revision.",
    )


def side_of(machine: Machine, part: PlacedPart, at_mm: tuple[float, float, float]) -> str:
    """Where on a part a point lies, in words: a member's end, or the side of its own box that is nearest."""
    solid = solid_of(part.type, machine.folder)
    half = np.maximum((solid.high_mm - solid.low_mm) / 2, 1e-6)
    away = (part.placement.back(at_mm) - (solid.low_mm + solid.high_mm) / 2) / half
    axis = int(np.argmax(np.abs(away)))
    up = away[axis] > 0
    if abs(away[axis]) < 0.3:
        return "the middle"
    if part.type.profile is not None and axis == 0:
        return f"end {'b' if up else 'a'}"
    return f"the {'+' if up else '-'}{'xyz'[axis]} side"


def _gathered(machine: Machine, found: Sequence[tuple[Overlap, Finding]]) -> list[Finding]:
    """Overlaps of the same two types by the same volume have one cause: the first speaks for all."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for overlap, finding in found:
        types = frozenset({machine.part[overlap.a_id].type.id, machine.part[overlap.b_id].type.id})
        groups.setdefault((finding.code, types, round(overlap.volume_mm3, 2)), []).append(finding)
    answer = []
    for group in groups.values():
        parts = tuple(dict.fromkeys(part for finding in group for part in finding.parts))
        says = group[0].says if len(group) == 1 else places_alike(group[0].says, len(group))
        answer.append(replace(group[0], parts=parts, says=says))
    return answer

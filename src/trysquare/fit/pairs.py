"""Parts that must suit each other: revisions, equal belts, teeth in mesh."""

from __future__ import annotations

from collections.abc import Iterator

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import BeltSize, Pulley
from trysquare.fit.limits import LEAST_TEETH, ROUNDING_MM, TEETH_PER_BELT_PAIR
from trysquare.ground.findings import Finding
from trysquare.machine.values import BeltRun, Joint, Machine


def pair_findings(machine: Machine) -> list[Finding]:
    """Revisions that do not go together, belts that must be equal and are not, too few teeth in mesh."""
    return [*_revisions(machine), *_unequal_belts(machine), *_few_teeth(machine)]


def _revisions(machine: Machine) -> Iterator[Finding]:
    used = {part.type.id for part in machine.placed} | set(machine.listed)
    for part_type in machine.types.values():
        if part_type.id not in used:
            continue
        for word, needed in part_type.mates_with.items():
            other = machine.types.get(machine.aliases.get(word, word))
            if other is None or other.id not in used or other.revision == needed:
                continue
            has = f"is revision {other.revision}" if other.revision else "says no revision"
            yield Finding(
                code="revision-mismatch",
                says=f"{part_type.id} needs revision {needed} of {other.id}, which {has}.",
                parts=tuple(part.id for part in machine.placed if part.type.id in (part_type.id, other.id)),
                remedy=f"Look for the revision on {other.id}; take the pair that was made together.",
                where=part_type.where,
            )


def _unequal_belts(machine: Machine) -> Iterator[Finding]:
    said: set[frozenset[str]] = set()
    for joint in machine.joints:
        other = machine.joint.get(joint.belt.equal_to) if joint.belt else None
        if joint.belt is None or other is None or other.belt is None or {joint.id, other.id} in said:
            continue
        said.add(frozenset({joint.id, other.id}))
        yield from _unequal(joint, joint.belt, other.belt)


def _unequal(joint: Joint, one: BeltRun, other: BeltRun) -> Iterator[Finding]:
    size = lookup(one.belt)
    pitch = size.pitch_mm if isinstance(size, BeltSize) else 2.0
    apart = abs(one.length_mm - other.length_mm)
    if apart <= TEETH_PER_BELT_PAIR * pitch + ROUNDING_MM:
        return
    yield Finding(
        code="belts-unequal",
        says=f"{one.joint} is {one.length_mm:.1f} mm long, {other.joint} {other.length_mm:.1f} mm; they must "
        f"be equal and differ by {apart / pitch:.1f} teeth.",
        parts=(one.placed, other.placed),
        joint=joint.id,
        value=apart,
        limit=TEETH_PER_BELT_PAIR * pitch,
        unit="mm",
        remedy="Compare the two paths: an idler or a clamp stands elsewhere on one side.",
        where=joint.where,
    )


def _few_teeth(machine: Machine) -> Iterator[Finding]:
    """Only pulleys fixed on a shaft pass a load through their teeth; an idler on bearings does not."""
    for joint in machine.joints:
        for identity, teeth in (joint.belt.teeth_in_mesh if joint.belt else {}).items():
            pulley = machine.part[identity].type.standard
            if not isinstance(pulley, Pulley) or pulley.driven or teeth >= LEAST_TEETH - ROUNDING_MM:
                continue
            x, y, z = machine.part[identity].placement.point((0.0, 0.0, pulley.belt_centre_mm))
            yield Finding(
                code="few-teeth-in-mesh",
                says=f"{joint.id}: {teeth:.1f} teeth in mesh on {identity}; {LEAST_TEETH:g} are the least.",
                parts=(identity,),
                joint=joint.id,
                value=teeth,
                limit=LEAST_TEETH,
                unit="teeth",
                at_mm=(float(x), float(y), float(z)),
                remedy="Take a pulley with more teeth, or set an idler so that the belt wraps further round.",
                where=joint.where,
            )

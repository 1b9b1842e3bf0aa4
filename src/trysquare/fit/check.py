"""Does it all fit? Every check of this room in one answer, heaviest first."""

from __future__ import annotations

from trysquare.fit.axes import axis_findings, motions
from trysquare.fit.bosses import boss_findings
from trysquare.fit.clashes import clash_findings
from trysquare.fit.cut_offs import cut_off_findings
from trysquare.fit.faults import gathered
from trysquare.fit.hands import drive_findings, hand_findings
from trysquare.fit.moving import moving_findings
from trysquare.fit.pairs import pair_findings
from trysquare.fit.pin_maps import pin_findings, polarity_findings
from trysquare.fit.screws import screw_faults
from trysquare.fit.shape_scale import scale_findings
from trysquare.fit.shape_too_large import too_large_findings
from trysquare.fit.stops import stop_findings
from trysquare.fit.torque import torque_findings
from trysquare.ground.findings import Finding, Weight
from trysquare.machine.says_so import located
from trysquare.machine.values import Kind, Machine
from trysquare.solid.shapes import makes_solid

_ORDER = {Weight.STOP: 0, Weight.DOUBT: 1, Weight.NOTE: 2}
_WITHOUT_SHAPE = (Kind.WIRE, Kind.CONSUMABLE, Kind.JIG)  # nothing is drawn of these


def check_fit(machine: Machine) -> tuple[Finding, ...]:
    """All findings on screws, torque, pairs, overlaps and motion, and what could not be checked.

    Ordered by weight, then by unit in building order, then by code.
    """
    faults = screw_faults(machine)
    moving = motions(machine)
    unusable: set[str] = set()
    found = [
        *gathered(fault.finding for fault in faults),
        *torque_findings(machine),
        *pair_findings(machine),
        *hand_findings(machine),
        *drive_findings(machine),
        *cut_off_findings(machine),
        *pin_findings(machine),
        *polarity_findings(machine),
        *boss_findings(machine),
        *clash_findings(machine, faults, unusable),
        *axis_findings(machine, moving),
        *stop_findings(machine, moving),
        *moving_findings(machine, moving, unusable),
        *scale_findings(machine, unusable),
        *too_large_findings(machine, unusable),
        *level_findings(machine, unusable),
    ]
    units = {unit: index for index, unit in enumerate(machine.units)}

    def rank(finding: Finding) -> tuple[int, int, str]:
        return _ORDER[finding.weight], units.get(unit_of(machine, finding), len(units)), finding.code

    return tuple(sorted(located(machine, found), key=rank))


def level_findings(machine: Machine, unusable: set[str] | None = None) -> list[Finding]:
    """What is not checked for want of shapes or joints, said once for each sort of part."""
    found: list[Finding] = []
    belts = {joint.belt.placed for joint in machine.joints if joint.belt}
    without = {
        part.type.id: part.type
        for part in machine.placed
        if part.id not in belts
        and part.type.kind not in _WITHOUT_SHAPE
        and (not makes_solid(part.type) or part.type.id in (unusable or ()))
    }
    for part_type in without.values():
        broken = part_type.id in (unusable or ())
        found.append(
            Finding(
                code="shape-unusable" if broken else "no-solid",
                says=f"{part_type.id}: "
                + (f"{part_type.shape_file} cannot be used" if broken else "no shape")
                + ": overlap not checked.",
                parts=tuple(part.id for part in machine.placed if part.type.id == part_type.id),
                where=part_type.where,
            )
        )
    if not machine.joints and (machine.placed or machine.listed):
        found.append(
            Finding(
                code="no-joints", says="No joints are described: screws, slots and torque are not checked."
            )
        )
    return found


def unit_of(machine: Machine, finding: Finding) -> str:
    """The unit a finding belongs to: its joint's, else its first part's."""
    if finding.joint in machine.joint:
        return machine.joint[finding.joint].unit
    first = machine.part.get(finding.parts[0]) if finding.parts else None
    return first.unit if first is not None else ""

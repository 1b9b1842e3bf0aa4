"""Does every screw fit? All that can be said of a screw from its stack, its holes, its head and its nut."""

from __future__ import annotations

import numpy as np

from trysquare.fit.faults import Fault, gathered
from trysquare.fit.heads import head_faults, hole_faults
from trysquare.fit.key_holes import access_faults
from trysquare.fit.lengths import length_faults
from trysquare.fit.slots import nut_faults, slot_faults
from trysquare.ground.findings import Finding
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.values import Fastening, Machine


def screw_findings(machine: Machine) -> list[Finding]:
    """What is wrong with screws and nuts; screws of one joint that fail alike are one finding."""
    return gathered(fault.finding for fault in screw_faults(machine))


def screw_faults(machine: Machine) -> list[Fault]:
    """The same screw by screw, each with the overlaps of solids that it explains."""
    faults: list[Fault] = []
    gaps = [finding for finding in machine.findings if finding.code == "gap-in-stack"]
    for fastening in machine.fastening.values():
        # A screw across a gap has no meaningful length: the gap is said already.
        if not any(_lies_on(fastening, gap) for gap in gaps):
            faults += length_faults(machine, fastening)
        faults += hole_faults(machine, fastening)
        faults += head_faults(machine, fastening)
        faults += access_faults(fastening)
        faults += nut_faults(machine, fastening)
    return [*faults, *slot_faults(machine)]


def _lies_on(fastening: Fastening, finding: Finding) -> bool:
    """Whether a finding of the screw's joint lies on the screw's line."""
    if finding.joint != fastening.joint or finding.at_mm is None:
        return False
    axis = np.asarray(fastening.axis)
    delta = np.asarray(finding.at_mm) - np.asarray(fastening.head_mm)
    return float(np.linalg.norm(delta - float(delta @ axis) * axis)) <= ON_AXIS_MM

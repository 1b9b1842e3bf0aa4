"""Does every screw fit? All that can be said of a screw from its stack, its holes, its head and its nut."""

from __future__ import annotations

from trysquare.fit.faults import Fault, gathered
from trysquare.fit.heads import head_faults, hole_faults
from trysquare.fit.key_holes import access_faults
from trysquare.fit.lengths import length_faults
from trysquare.fit.slots import nut_faults, slot_faults
from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine


def screw_findings(machine: Machine) -> list[Finding]:
    """What is wrong with screws and nuts; screws of one joint that fail alike are one finding."""
    return gathered(fault.finding for fault in screw_faults(machine))


def screw_faults(machine: Machine) -> list[Fault]:
    """The same screw by screw, each with the overlaps of solids that it explains."""
    faults: list[Fault] = []
    for fastening in machine.fastening.values():
        faults += length_faults(machine, fastening)
        faults += hole_faults(machine, fastening)
        faults += head_faults(machine, fastening)
        faults += access_faults(fastening)
        faults += nut_faults(machine, fastening)
    return [*faults, *slot_faults(machine)]

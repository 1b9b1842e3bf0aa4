"""Thermal cut-offs against what the heaters they guard, and the adhesive under these, bear."""

from __future__ import annotations

from collections.abc import Iterator

from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine


def cut_off_findings(machine: Machine) -> Iterator[Finding]:
    """A cut-off that opens above what a part bears which hangs on one of its heater runs.

    Common practice, no source: a cut-off that opens above the limit of the adhesive comes too late.
    """
    said: set[tuple[str, str]] = set()
    for joint in machine.joints:
        if joint.cable is None or joint.cable.role != "heater":
            continue
        ends = [machine.part[name] for name in joint.parts if name in machine.part]
        for cut_off in ends:
            for part in ends:
                opens, bears = cut_off.type.opens_celsius, part.type.bears_celsius
                if not opens or not bears or opens < bears or (cut_off.id, part.id) in said:
                    continue
                said.add((cut_off.id, part.id))
                yield Finding(
                    code="cut-off-above-limit",
                    says=f"{cut_off.id} opens at {opens:g} °C; {part.id} with what holds it bears "
                    f"{bears:g} °C.",
                    parts=(cut_off.id, part.id),
                    joint=joint.id,
                    value=opens,
                    limit=bears,
                    unit="°C",
                    remedy=f"Take a cut-off that opens below {bears:g} °C and above the hottest use, by the "
                    "maker's sheet of the adhesive.",
                    where=cut_off.type.where,
                )

"""Each wire from the board's pin to the load's, by the maps of both; what is crossed is told before power."""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.fit.pin_maps import connector, pin_findings, wires_of
from trysquare.machine.values import Machine
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part, Table
from trysquare.tuning.wiring import RunFigures
from trysquare.tuning.wiring_places import listed


def ends_part(machine: Machine, figures: Sequence[RunFigures]) -> Part | None:
    """Runs whose two ends are both mapped; None when no part of the machine says its pins.

    Bad: coils split between the board's pairs, or a wire to a pin of other polarity, voltage or purpose.
    Cannot tell: a motor whose board's or own pins are not written.
    """
    runs = [one.run for one in figures]
    if not any(connector(machine, run) or connector(machine, run, far=True) for run in runs):
        return None
    found = list(pin_findings(machine))
    bad = [f"{each.says} {each.remedy}" for each in found]
    compared = [(run, wires) for run in runs if (wires := wires_of(machine, run))]
    told = {run.joint for run, _ in compared}
    unknown = [run.label for run in runs if run.role == "motor" and run.joint not in told]
    unsure = [f"{', '.join(unknown)}: write pins of the run and of the board's connector."] if unknown else []
    crossed = {each.joint for each in found}
    rows = tuple(
        (
            run.label,
            " | ".join(wire.near for wire in wires),
            " | ".join(wire.name for wire in wires),
            " | ".join(wire.far for wire in wires),
            "crossed" if run.joint in crossed else "",
        )
        for run, wires in compared
    )
    return Part(
        of="pins end to end",
        title="Pins, end to end",
        verdict=BAD if bad else CANNOT_TELL if unsure else GOOD,
        says=listed([*bad, *unsure])
        or ("By the maps of both ends, coil pairs stay pairs and plus meets plus.",),
        tables=(
            Table(
                title="Left to right at the `from` end, seen from the wires",
                columns=("run", "pins there", "wires", "pins at the other end", ""),
                rows=rows,
                gist=f"{len(crossed)} of {len(compared)} crossed" if crossed else f"{len(compared)} compared",
            ),
        ),
        notes=(
            (
                "A map is as good as the drawing it was copied from: read the motor's pairs by ohm meter and "
                "plus and minus by volt meter, at low current first."
            ),
        ),
    )

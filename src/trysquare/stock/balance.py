"""Does the parts list give exactly what the joints and places ask for."""

from __future__ import annotations

from collections import Counter

from trysquare.catalogue.values import Nut, Screw
from trysquare.ground.errors import Where
from trysquare.ground.findings import Finding
from trysquare.machine.values import Kind, Machine
from trysquare.stock.need import Need
from trysquare.stock.pieces import NOT_PIECES

_BY_LENGTH = frozenset({Kind.WIRE})


def list_findings(machine: Machine, whole: Need) -> tuple[Finding, ...]:
    """The list against the need, part by part; nothing when there is no list or no joint to compare with.

    A screw or nut asked for without a property class is served by any class on the list. Belts and
    wires from the roll need only be on the list: a list counts rolls, not cuts.
    """
    if not machine.listed or not machine.joints:
        return ()
    asked = {line.part: 1 if line.cuts_mm else line.pieces for line in whole.lines}
    missing, over = _compare(machine, asked)
    rolls = {line.part for line in whole.lines if line.cuts_mm}
    names = {line.part: line for line in whole.lines}
    findings = [
        Finding(
            code="list-short",
            says=f"{part}: the joints and places ask for {asked[part]}, the list has {asked[part] - pieces}."
            if part not in rolls
            else f"{part}: {names[part].length_mm:.0f} mm of it are asked for, the list has none.",
            parts=tuple(place for reason in names[part].reasons for place in reason.places),
            value=float(asked[part] - pieces),
            limit=float(asked[part]),
            unit="pieces",
            remedy=f"Order {pieces} more, or correct list.csv if they are in the box."
            if part not in rolls
            else "Order it, or add it to list.csv if it is in the box.",
            where=Where(file="list.csv"),
        )
        for part, pieces in missing.items()
    ]
    findings += [
        Finding(
            code="list-over",
            says=f"{part}: the list has {machine.listed[part]}, the machine asks for "
            f"{machine.listed[part] - pieces}.",
            value=float(machine.listed[part]),
            limit=float(machine.listed[part] - pieces),
            unit="pieces",
            where=Where(file="list.csv"),
        )
        for part, pieces in over.items()
        if part not in rolls and machine.types[part].kind not in _BY_LENGTH
    ]
    return tuple(findings)


def _compare(machine: Machine, asked: dict[str, int]) -> tuple[dict[str, int], dict[str, int]]:
    """Pieces missing and pieces over, by part; what agrees is left out."""
    left = Counter(
        {
            part: pieces
            for part, pieces in machine.listed.items()
            if machine.types[part].kind not in NOT_PIECES
        }
    )
    missing: dict[str, int] = {}
    for part, pieces in asked.items():
        got = min(pieces, left[part])
        left[part] -= got
        if got < pieces:
            missing[part] = pieces - got
    for part in list(missing):
        for other in list(left):
            if left[other] > 0 and _serves(machine, other, part):
                got = min(missing[part], left[other])
                left[other] -= got
                missing[part] -= got
                if not missing[part]:
                    del missing[part]
                    break
    return missing, {part: pieces for part, pieces in left.items() if pieces > 0}


def _serves(machine: Machine, offered: str, asked: str) -> bool:
    """Whether a listed screw or nut of some class is the one asked for without a class."""
    one, other = machine.types.get(offered), machine.types.get(asked)
    if one is None or other is None:
        return False
    have, want = one.standard, other.standard
    if not isinstance(want, Screw | Nut) or type(have) is not type(want) or want.strength:
        return False
    assert isinstance(have, Screw | Nut)
    return have.designation == f"{want.designation} {have.strength}".rstrip()

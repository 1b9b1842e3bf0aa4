"""Which motor of a crossed-belt drive turns the wrong way: a part of a report, from two observed moves."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trysquare.tuning.drive import Wiring, moved_by
from trysquare.tuning.drive_machine import Drive
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part, Table

_WAYS = {
    "right": (1.0, 0.0), "left": (-1.0, 0.0), "back": (0.0, 1.0), "front": (0.0, -1.0),
    "+x": (1.0, 0.0), "-x": (-1.0, 0.0), "+y": (0.0, 1.0), "-y": (0.0, -1.0), "nowhere": (0.0, 0.0),
}  # fmt: skip
EXPECTED = "right, left, back, front, two of them (right-back), nowhere, or millimetres such as 0,10"


def way_seen(text: str) -> tuple[float, float]:
    """Where the head went, from words or two numbers; raises ValueError."""
    word = text.strip().casefold().replace("−", "-")
    if word in _WAYS:
        return _WAYS[word]
    found = re.fullmatch(r"(right|left)[- ](back|front)|(back|front)[- ](right|left)", word)
    if found:
        x, y = (_WAYS[found[1] or found[4]], _WAYS[found[2] or found[3]])
        return x[0], y[1]
    first, comma, second = word.partition(",")
    try:
        went = float(first), float(second)
    except ValueError:
        went = None
    if not comma or went is None or not all(abs(one) < 1e4 for one in went):  # NaN fails this too
        raise ValueError(f"read {text[:40]!r}; expected {EXPECTED}")
    return went


_TURN = "turn its direction, or swap the two wires of one of its coils."
_THEN = "swap the plugs, then make both moves again."
_WIRING_DOES = {
    Wiring.RIGHT: "Both motors turn as they should.",
    Wiring.A_REVERSED: f"Motor A turns the wrong way: {_TURN}",
    Wiring.B_REVERSED: f"Motor B turns the wrong way: {_TURN}",
    Wiring.BOTH_REVERSED: "Both motors turn the wrong way: turn both directions.",
    Wiring.SWAPPED: "The two motors are exchanged: swap their plugs.",
    Wiring.SWAPPED_A_REVERSED: f"The motors are exchanged, and one turns the wrong way: {_THEN}",
    Wiring.SWAPPED_B_REVERSED: f"The motors are exchanged, and one turns the wrong way: {_THEN}",
    Wiring.SWAPPED_BOTH_REVERSED: "The motors are exchanged and both turn the wrong way: swap the plugs and "
    "turn both directions.",
}


def crossed_part(wiring: Wiring | None, drives: Sequence[Drive]) -> Part:
    """Which motor of a crossed-belt drive turns the wrong way, from two observed moves."""
    names = [one.of for one in drives if not one.screw][:2]
    rows = tuple(
        (str(one), _arrow(moved_by(one, 1, 0)), _arrow(moved_by(one, 0, 1)), "here" if one is wiring else "")
        for one in Wiring
    )
    if wiring is None:
        says = [
            "No way of wiring two motors does that.",
            "Does a motor stand still or hum? Then a coil is open or a plug is loose.",
            "Does it turn and the head stay? Then a belt is off or a set screw is loose.",
        ]
    else:
        says = [_WIRING_DOES[wiring]]
        if wiring is not Wiring.RIGHT:
            says.append(
                "Never pull a motor's plug while the drives are on: that kills drivers. Power off first."
            )
    if len(names) == 2:
        says.append(f"A is {names[0]} or {names[1]}: A is the one that runs alone towards right and back.")
    return Part(
        of="crossed-belts",
        title="Directions of the crossed belts",
        verdict=GOOD if wiring is Wiring.RIGHT else CANNOT_TELL if wiring is None else BAD,
        says=tuple(says),
        tables=(
            Table(
                title="What each way of wiring does",
                columns=("wiring", "+x asked", "+y asked", ""),
                rows=rows,
            ),
        ),
        notes=(
            "Signs after x = (a + b) / 2 and y = (a − b) / 2; other machines name a and b the other way.",
        ),
        data={"wiring": None if wiring is None else str(wiring)},
    )


def _arrow(went: tuple[float, float]) -> str:
    x, y = (round(one) for one in went)
    return {(1, 0): "+x", (-1, 0): "−x", (0, 1): "+y", (0, -1): "−y"}.get((x, y), "?")

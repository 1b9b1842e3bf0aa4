"""A number as people write it at the bench: decimal comma or point, its unit behind it if they like. Pure.

The pages' script (`frontend/src/number.ts`) reads while one types, by the same rules and with the same words;
a test holds the two equal.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

_BLANKS = re.compile(r"\s+")
_PARTED = re.compile(r"[0-9.,]\s+[0-9.,]")  # "0 05" may be 0.05 or 5: nobody knows
_NUMBER = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(.*)", re.DOTALL)
_NO_UNIT = re.compile(
    r"[0-9.,+\-/*^]|[eE][+-]?[0-9]"
)  # what begins so goes on with the number: "1/2", "1.000,5"

NOT_A_NUMBER = "Not a number yet: write it as 0.25 or 0,25."
LONGEST_UNIT = 20

_SCALES: Mapping[str, Mapping[str, float]] = {
    "length": {
        "mm": 1.0, "cm": 10.0, "m": 1000.0, "µm": 0.001, "\u03bcm": 0.001, "um": 0.001, "in": 25.4,
        "inch": 25.4, '"': 25.4, "″": 25.4, "thou": 0.0254, "mil": 0.0254,
    },
    "slope": {
        "mm/100": 1.0, "mm/100mm": 1.0, "mmper100mm": 1.0, "mm/m": 0.1, "mmperm": 0.1,
        "µm/m": 0.0001, "\u03bcm/m": 0.0001, "um/m": 0.0001,
    },
    "angle": {
        "rad": 1.0, "mrad": 0.001, "°": math.pi / 180, "deg": math.pi / 180, "degree": math.pi / 180,
        "degrees": math.pi / 180,
    },
    "force": {
        "N": 1.0, "newton": 1.0, "mN": 0.001, "kN": 1000.0, "gf": 0.00980665, "kgf": 9.80665,
        "lbf": 4.4482216152605, "ozf": 0.27801385095378125,
    },
    "resistance": {
        "Ω": 1.0, "\u2126": 1.0, "ohm": 1.0, "ohms": 1.0, "mΩ": 0.001, "kΩ": 1000.0, "kohm": 1000.0,
    },
    "mass": {"g": 1.0, "kg": 1000.0},
    "frequency": {"Hz": 1.0, "kHz": 1000.0},
    "time": {"s": 1.0, "min": 60.0, "h": 3600.0},
}  # fmt: skip
"""Units by what they measure, each in the first one of its row. Inch 25.4 mm and pound 0.45359237 kg by the
yard and pound agreement of 1959, standard gravity 9.80665 m/s² by the 3rd CGPM of 1901: both from memory. A
slope is a length over a length; an angle's is its tangent."""
_QUANTITY: Mapping[str, str] = {unit: name for name, row in _SCALES.items() for unit in row}
_TOLD: Mapping[str, str] = {"mm/100": "mm per 100 mm", "newton": "N", "ohm": "Ω"}
_OFFERED: Mapping[str, str] = {
    "length": "mm, cm, m, µm, in or thou",
    "slope": "mm/100, mm/m, µm/m, mrad or °",
    "angle": "°, rad or mrad",
    "force": "N, mN, kN, gf, kgf, lbf or ozf",
    "resistance": "Ω, mΩ or kΩ",
    "mass": "g or kg",
    "frequency": "Hz or kHz",
    "time": "s, min or h",
}
_SAYS: Mapping[str, str] = {
    "length": "a length", "slope": "a slope", "angle": "an angle", "force": "a force",
    "resistance": "a resistance", "mass": "a mass", "frequency": "a frequency", "time": "a time",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed. `value`: in the field's unit, None when it is none; then `says` has the words for it
    ("" for an empty field). `converted`: what was typed, where its unit was another; else ""."""

    value: float | None
    says: str = ""
    converted: str = ""


def typed_number(text: str, unit: str) -> Typed:
    """A number typed into a field of this unit ("" for a bare number)."""
    plain = _BLANKS.sub("", text)
    if not plain:
        return Typed(value=None)
    if _PARTED.search(text):
        return Typed(value=None, says=NOT_A_NUMBER)
    found = _NUMBER.fullmatch(re.sub("[−–]", "-", plain).replace(",", ".", 1))
    if found is None or _NO_UNIT.match(found[2]) or not math.isfinite(float(found[1])):
        return Typed(value=None, says=NOT_A_NUMBER)
    value, written = float(found[1]), found[2]
    own = _unit_named(unit)
    read = _unit_named(written)
    if not written or written == _BLANKS.sub("", unit) or read == own:
        return Typed(value=value)
    scaled = _scaled(value, read, own)
    if scaled is None:
        return Typed(value=None, says=_wrong(written, read, unit, own))
    is_same = (_QUANTITY[read], _scale(read)) == (_QUANTITY[own], _scale(own))
    return Typed(value=value) if is_same else Typed(value=scaled, converted=text.strip())


def _scale(unit: str) -> float:
    return _SCALES[_QUANTITY[unit]][unit]


def _unit_named(written: str) -> str:
    """The unit as the table has it: a phone begins with a capital, and no length's name hangs on that."""
    plain = _BLANKS.sub("", written)
    if plain in _QUANTITY:
        return plain
    small = plain.lower()
    return small if _QUANTITY.get(small) in ("length", "slope", "angle") else plain


def _scaled(value: float, read: str, own: str) -> float | None:
    """A value of one unit in another; None where one cannot be said in the other."""
    from_what, to_what = _QUANTITY.get(read, ""), _QUANTITY.get(own, "")
    if not from_what or not to_what:
        return None
    from_scale, to_scale = _scale(read), _scale(own)
    if from_what == to_what:
        return _rounded(value * from_scale / to_scale)
    if from_what == "angle" and to_what == "slope" and abs(value * from_scale) < math.pi / 2:
        return _rounded(math.tan(value * from_scale) * 100 / to_scale)
    return None


def _rounded(value: float) -> float:
    """As far as a reading may have digits; what a change of unit adds beyond them is noise."""
    return float(f"{value:.10g}") + 0.0  # no minus before nought


def _wrong(written: str, read: str, unit: str, own: str) -> str:
    named = _TOLD.get(unit, unit)
    shown = written if len(written) <= LONGEST_UNIT else written[:LONGEST_UNIT] + "…"
    what = _QUANTITY.get(read, "")
    first = f"“{shown}” is {_SAYS[what]}" if what else f"“{shown}” is no unit known here"
    offered = _OFFERED.get(_QUANTITY.get(own, ""), "")
    if not unit:
        return f"{first}; here goes a number alone."
    more = f", or with {offered}." if offered else "."
    return f"{first}; this field is in {named}. Write the number alone{more}"

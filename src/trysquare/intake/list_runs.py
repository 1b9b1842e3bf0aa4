"""How long a belt, a wire or another part sold by the metre is, as its row says."""

from __future__ import annotations

import re
from collections.abc import Sequence

SOLD_BY_LENGTH = ("belt ", "wire ")
"""How the designations of such parts begin."""

_METRES = re.compile(
    r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(m|mtr|metres?|meters?|mètres?)(?![\w²2])", re.IGNORECASE
)


def run_mm(parts: Sequence[str], text: str, said_mm: float) -> float:
    """The length of a row's part in mm, 0 where none is said or it is not sold by length.

    `said_mm`: what a length column or the quantity says; else whole metres are looked for in the text.
    """
    if not any(part.startswith(SOLD_BY_LENGTH) for part in parts):
        return 0.0
    if said_mm:
        return said_mm
    found = _METRES.findall(text)
    return float(found[-1][0].replace(",", ".")) * 1000.0 if found else 0.0

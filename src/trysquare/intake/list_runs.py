"""How long a belt, a sleeving, a cable or another part sold by the metre is, as its row says."""

from __future__ import annotations

import re
from collections.abc import Sequence

from trysquare.catalogue.designation import tidy

SOLD_BY_LENGTH = ("belt ", "wire ")
"""How the designations of the catalogue's parts begin that are sold by length."""

_BY_LENGTH = re.compile(
    r"sleev|\btub(?:e|es|ing)\b|\bhos(?:e|es)\b|\btapes?\b|\bcables?\b|\bchains?\b|\bropes?\b|\bcords?\b|"
    r"\bwires?\b|\bbelts?\b|\bstrips?\b|\bribbon|shrink|\bbraid|\bgasket|\bfilaments?\b|\bmoulding|\btrim\b|\bduct|"
    r"schlauch|schl[äa]uche|kabel|leitung|litze|\w*kette\b|\w*band\b|\briemen|\bgeflecht|\bdraht\b|\bseil\b|\w*rohr\b|"
    r"\bgaines?\b|\btuyaux?\b|\bc[âa]bles?\b|\bcha[îi]nes?\b|\brubans?\b|\bfils?\b|\bcourroies?\b|"
    r"\bguain[ae]\b|\btub[oi]s?\b|\bcav[oi]\b|\bcaten[ae]\b|\bnastr[oi]\b|\bcinghi[ae]\b|"
    r"\bfundas?\b|\bmanguera|\bcadenas?\b|\bcintas?\b|\bcorreas?\b|\bhilos?\b|"
    r"\bkous\b|\bslang\b|\bketting\b|\bsnoer\b|\bdraad\b"
)
"""Goods sold by length, by their words; common practice, no source."""
_GOES_WITH = re.compile(
    r"\bties?\b|\bgland|\bclips?\b|\bclamps?\b|\bholders?\b|\bmeasure\b|\blugs?\b|\bcutters?\b|\blinks?\b|"
    r"\bconnectors?\b|\bsprocket|\bplugs?\b|\bfittings?\b|\bnuts?\b|\bscrews?\b|\bmounts?\b|\btensioners?\b|"
    r"\bbinder|verschraubung|\bendst[üu]ck"
)
_METRES = re.compile(
    r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(m|mtr|metres?|meters?|mètres?)(?![\w²2])", re.IGNORECASE
)
_LENGTHS = re.compile(
    r"(?<![\w.,])(?:l ?= ?)?(\d+(?:[.,]\d+)?)\s*(mm|cm|mtr|metres?|meters?|mètres?|m)(?![\w²2])",
    re.IGNORECASE,
)
_SAYS_LENGTH = re.compile(r"\d\s*(?:mm|cm|mtr|metres?|meters?|mètres?|m)(?![\w²2])", re.IGNORECASE)
_TO_MM = {"mm": 1.0, "cm": 10.0}
SHORTEST_MM = 100.0
"""Millimetres in a name below it are a width or a bore; common practice, no source."""


def run_mm(
    parts: Sequence[str], text: str, said_mm: float, quantity: str = "", *, own: bool = False
) -> float:
    """The length of a row's part in mm, 0 where none is said or it is not sold by length.

    `said_mm`: what a length column or the quantity says; else the length is looked for in the text, the last
    that stands there. `quantity`: as written; where it is a length ("5 m"), it counts whatever the part is
    called. `own`: the part is none of the catalogue's, so its words say whether it is sold by length.
    """
    if not own:
        if not any(part.startswith(SOLD_BY_LENGTH) for part in parts):
            return 0.0
        found = _METRES.findall(text)
        return said_mm or (_in_mm(*found[-1]) if found else 0.0)
    if said_mm and _SAYS_LENGTH.search(quantity):
        return said_mm
    words = tidy(text)
    if not _BY_LENGTH.search(words) or _GOES_WITH.search(words):
        return 0.0
    lengths = [
        length
        for number, unit in _LENGTHS.findall(text)
        if (length := _in_mm(number, unit)) >= SHORTEST_MM or unit.casefold() not in _TO_MM
    ]
    return said_mm or (lengths[-1] if lengths else 0.0)


def _in_mm(number: str, unit: str) -> float:
    return float(number.replace(",", ".")) * _TO_MM.get(unit.casefold(), 1000.0)

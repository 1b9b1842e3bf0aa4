"""What it costs to look at one piece, and how far to believe it.

The table `readings.csv` beside this file: effort for one piece, error limits of a size read that way
(of an owned instrument they come from the machine folder), and how often a look slips altogether.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib import resources

TELL_BY = 3.0
"""Two sorts are told apart by a size when their intervals of ± this many standard uncertainties do not
touch: each is then taken for the other less than once in 700 readings."""

REDO_SECONDS = 300.0
"""What a wrong look costs on the average: found later, looked for, sorted again. common practice, no
source"""

UNTOLD_SECONDS = 3600.0
"""What it costs when a piece cannot be told at all: its bag must be found or its seller asked. common
practice, no source. More than all looks together: what can be told is told."""

FACE_SLIP = 0.05
"""How often two sorts are confused that look the same from one face with holes: that one face is taken for
all. common practice, no source"""

BLANK_SLIP = 0.02
"""How often a piece with holes is taken for one without, because a blank face was up. common practice, no
source"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way of looking. `half_width` is in the unit of what is read (mm, gram); `relative` is a further
    share of the value; None: that of the instrument. `slip`: share of looks that go wrong altogether."""

    id: str
    effort_seconds: float
    half_width: float | None
    relative: float
    slip: float
    words: str
    source: str


@cache
def ways() -> dict[str, Way]:
    """All ways by id, as the table has them."""
    text = (resources.files("trysquare.stock") / "readings.csv").read_text(encoding="utf-8")
    return {
        row["way"]: Way(
            id=row["way"],
            effort_seconds=float(row["effort_seconds"]),
            half_width=float(row["half_width"]) if row["half_width"] else None,
            relative=float(row["relative"]),
            slip=float(row["slip"]),
            words=row["words"],
            source=row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    }


def standard_uncertainty(*half_widths: float) -> float:
    """Standard uncertainty of a reading whose parts are each known to lie within ± their half-width.

    Source: JCGM 100:2008, 4.3.7, equation (7), and 5.1.2 for the root of the sum of squares.
    """
    return math.sqrt(sum(half**2 for half in half_widths) / 3)

"""Clearance holes for screws."""

from __future__ import annotations

from functools import cache

from trysquare.catalogue.designation import near
from trysquare.catalogue.rows import rows
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation

FITS = ("fine", "medium", "coarse")


@cache
def clearance_hole_mm(thread_name: str, fit: str = "medium") -> float:
    """Diameter of the clearance hole; `fit` is "fine", "medium" or "coarse".

    Source: ISO 273:1979.
    """
    if fit not in FITS:
        raise UnknownDesignation(
            read=fit, expected=f"a fit: {', '.join(FITS)}", suggestions=near(fit, FITS), where="fit"
        )
    name = thread(thread_name).name
    return next(float(row[f"{fit}_mm"]) for row in rows("clearance_holes") if row["thread"] == name)

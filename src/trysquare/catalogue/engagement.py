"""How much thread a screw needs in what it bites into."""

from __future__ import annotations

from functools import cache

from trysquare.catalogue.rows import rows
from trysquare.catalogue.threads import thread


@cache
def least_engagement_mm(host: str, material: str, thread_name: str) -> tuple[float, str]:
    """Least thread engagement and its source.

    `host`: "slot nut", "nut", "insert", "tapped hole", "threaded bar"; `material` matters for
    tapped holes and bars: steel, brass, aluminium; anything else counts as plastic.
    """
    diameter = thread(thread_name).diameter_mm
    table = [row for row in rows("engagement") if row["host"] == host]
    known = {row["material"] for row in table}
    wanted = material if material in known else ("" if "" in known else "plastic")
    for row in table:
        if row["material"] == wanted:
            return float(row["diameters"]) * diameter, row["source"]
    return diameter, "common practice, no source"

"""Metric coarse threads: basic sizes from diameter and pitch."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, neighbours, tidy
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Thread


@cache
def thread(name: str) -> Thread:
    """The coarse thread of a name such as "M3"; raises UnknownDesignation.

    Equations, with H = √3/2 · P: d2 = d − 3/4·H, D1 = d − 5/4·H, d3 = d − 17/12·H,
    stress area = π/4 · ((d2 + d3)/2)².
    Source: ISO 68-1:1998, ISO 724:1993 (basic sizes), ISO 898-1:2013, 9.1.6.1 (stress area).
    """
    asked = tidy(name).upper()
    for row in rows("threads"):
        if row["name"] == asked:
            break
    else:
        known = thread_names()
        raise UnknownDesignation(
            read=name,
            expected=f"a metric coarse thread: {', '.join(known)}",
            suggestions=near_threads(name, known),
        )
    diameter_mm, pitch_mm = float(row["diameter_mm"]), float(row["pitch_mm"])
    triangle_mm = math.sqrt(3) / 2 * pitch_mm
    pitch_diameter_mm = diameter_mm - 3 / 4 * triangle_mm
    root_diameter_mm = diameter_mm - 17 / 12 * triangle_mm
    return Thread(
        name=row["name"],
        diameter_mm=diameter_mm,
        pitch_mm=pitch_mm,
        pitch_diameter_mm=pitch_diameter_mm,
        minor_diameter_mm=diameter_mm - 5 / 4 * triangle_mm,
        root_diameter_mm=root_diameter_mm,
        stress_area_mm2=math.pi / 4 * ((pitch_diameter_mm + root_diameter_mm) / 2) ** 2,
        tap_drill_mm=float(row["tap_drill_mm"]),
        source=row["source"],
    )


def thread_names() -> tuple[str, ...]:
    """All threads, smallest first."""
    return tuple(row["name"] for row in rows("threads"))


def near_threads(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """The known threads next smaller and next larger than the one named; by spelling if it names no size."""
    by_size = {float(word[1:]): word for word in known}
    if found := re.fullmatch(rf"m ?{NUMBER}", tidy(name)):
        return tuple(by_size[size] for size in neighbours(float(found[1]), list(by_size)))
    return near(name, by_size.values())

"""Wire and grease.

A wire's design current is what we plan with for wires bundled in a warm box. It is common practice,
not a rating: the wire maker's sheet and the local code decide.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, neighbours, written
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Grease, Wire

_AWG = r"(?:wire )?awg ?([0-9]{1,2})"
_METRIC = rf"wire {NUMBER} ?mm(?:2|\^2)"
_GREASE = r"grease nlgi ?(0{1,3}|[1-9])"
COPPER_OHM_MM2_PER_KM = 17.241  # annealed copper at 20 °C. Source: IEC 60028:1925 (100 % IACS)


def awg_diameter_mm(gauge: int) -> float:
    """Bare diameter of an American wire gauge: 0.127 · 92^((36 − n)/39). Source: ASTM B258."""
    return 0.127 * math.pow(92, (36 - gauge) / 39)


@cache
def wire_awg(gauge: int) -> Wire:
    """The wire of an American gauge; raises UnknownDesignation.

    Area and resistance are those of a solid wire; a stranded one may have a few per cent more resistance.
    """
    for row in rows("wires_awg"):
        if int(row["gauge"]) == gauge:
            area_mm2 = math.pi / 4 * awg_diameter_mm(gauge) ** 2
            return Wire(
                designation=f"wire AWG {gauge}",
                area_mm2=area_mm2,
                resistance_ohm_per_km=COPPER_OHM_MM2_PER_KM / area_mm2,
                design_ampere=float(row["design_ampere"]),
                insulation_mm=float(row["insulation_mm"]),
                source=row["source"],
            )
    known = [float(row["gauge"]) for row in rows("wires_awg")]
    raise UnknownDesignation(
        read=f"wire AWG {gauge}",
        expected=f"a gauge: {', '.join(map(written, known))}",
        suggestions=tuple(f"wire AWG {written(item)}" for item in neighbours(gauge, known)),
    )


@cache
def wire_mm2(area_mm2: float) -> Wire:
    """The wire of a metric cross-section; raises UnknownDesignation. Resistance is the class 5 maximum."""
    for row in rows("wires_metric"):
        if float(row["area_mm2"]) == area_mm2:
            return Wire(
                designation=f"wire {written(area_mm2)} mm2",
                area_mm2=area_mm2,
                resistance_ohm_per_km=float(row["resistance_ohm_per_km"]),
                design_ampere=float(row["design_ampere"]),
                insulation_mm=float(row["insulation_mm"]),
                source=row["source"],
            )
    known = [float(row["area_mm2"]) for row in rows("wires_metric")]
    raise UnknownDesignation(
        read=f"wire {written(area_mm2)} mm2",
        expected=f"a cross-section: {', '.join(map(written, known))} mm2",
        suggestions=tuple(f"wire {written(item)} mm2" for item in neighbours(area_mm2, known)),
    )


def read_wire(text: str) -> Wire | None:
    """The wire that a tidy text names; None when it has another form."""
    if found := re.fullmatch(_AWG, text):
        return wire_awg(int(found[1]))
    if found := re.fullmatch(_METRIC, text):
        return wire_mm2(float(found[1]))
    return None


def wire_designations() -> Iterator[str]:
    """Every wire."""
    yield from (f"wire AWG {row['gauge']}" for row in rows("wires_awg"))
    yield from (f"wire {row['area_mm2']} mm2" for row in rows("wires_metric"))


@cache
def grease(nlgi: str) -> Grease:
    """The grease grade "000" … "6"; raises UnknownDesignation."""
    for row in rows("greases"):
        if row["nlgi"] == nlgi:
            return Grease(
                designation=f"grease NLGI {nlgi}",
                nlgi=nlgi,
                penetration_low=int(row["penetration_low"]),
                penetration_high=int(row["penetration_high"]),
                source=row["source"],
            )
    name = f"grease NLGI {nlgi}"
    raise UnknownDesignation(
        read=name, expected="a grade 000 to 6", suggestions=near(name, grease_designations())
    )


def read_grease(text: str) -> Grease | None:
    """The grease that a tidy text names; None when it has another form."""
    found = re.fullmatch(_GREASE, text)
    return grease(found[1]) if found else None


def grease_designations() -> Iterator[str]:
    """Every grease grade."""
    return (f"grease NLGI {row['nlgi']}" for row in rows("greases"))

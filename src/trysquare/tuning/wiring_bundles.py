"""Cables that lie together: how thick the bundle is in its clip, gland or chain, and how warm it gets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.tuning.wiring import RunFigures

# A bundle of n wires of diameter d is about 1.2 · d · √n thick. Common practice, no source.
PACKING = 1.2
AIR = 0.1  # of the opening stays free. Source: chain makers' sheets, 10 % round each cable
# What a bundle in still air gives off, W/(m² K), and how much warmer it may be than the box.
# Common practice, no source; makers' sheets for grouped cables decide.
GIVES_WATT_PER_M2_KELVIN, WARMER_KELVIN = 10.0, 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """What passes one part: its runs, thickness, the opening (0: not said), heat and how much it warms."""

    part: str
    runs: tuple[RunFigures, ...]
    across_mm: float
    opening_mm: float
    watt_per_m: float
    warmer_kelvin: float

    @property
    def too_thick(self) -> bool:
        """Whether less than a tenth of the opening would stay free."""
        return self.opening_mm > 0 and self.across_mm > (1 - AIR) * self.opening_mm

    @property
    def too_warm(self) -> bool:
        """Whether it warms by more than is sensible."""
        return self.warmer_kelvin > WARMER_KELVIN


def bundles_of(figures: Sequence[RunFigures]) -> list[Bundle]:
    """Every part that cables pass, the warmest first."""
    passing: dict[str, list[tuple[RunFigures, float]]] = {}
    for one in figures:
        if one.run.cores < 1:
            continue  # its own run says so
        for part, opening in zip(one.run.through, one.run.openings_mm, strict=False):
            passing.setdefault(part, []).append((one, opening))
    found = []
    for part, pairs in passing.items():
        runs = tuple(one for one, _ in pairs)
        across = PACKING * math.sqrt(sum(one.run.cores * one.wire.insulation_mm**2 for one in runs))
        heat = sum(one.heat_watt_per_m for one in runs)
        found.append(
            Bundle(
                part=part,
                runs=runs,
                across_mm=across,
                opening_mm=min((opening for _, opening in pairs if opening > 0), default=0.0),
                watt_per_m=heat,
                warmer_kelvin=heat / (GIVES_WATT_PER_M2_KELVIN * math.pi * across / 1000),
            )
        )
    return sorted(found, key=lambda one: -one.warmer_kelvin)

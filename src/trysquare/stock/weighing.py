"""Counting by weight: what one piece weighs, and what a scale's reading says of how many there are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from trysquare.catalogue.values import Head, Insert, Nut, Screw, SlotNut, Thread, Washer
from trysquare.machine.values import Kind, PartType

SCALE_HALF_WIDTH_GRAM = 2.0  # a kitchen scale; common practice, no source
COVERAGE = 2.0  # expanded uncertainty, about 95 %. Source: JCGM 100:2008, 6.3.3

# Source: usual handbook values, from memory; g/mm³.
DENSITY_GRAM_PER_MM3 = {
    "steel": 7.85e-3, "stainless": 7.90e-3, "brass": 8.5e-3, "aluminium": 2.70e-3, "bronze": 8.8e-3,
    "copper": 8.96e-3, "zinc": 6.7e-3, "acrylic": 1.19e-3, "polycarbonate": 1.20e-3, "silicone": 1.2e-3,
}  # fmt: skip
# Of the mass, as half-widths; common practice, no source.
SCREW_SHARE = 0.06  # head, length and thread within their tolerances, plain or stainless steel
HEAD_AS_MADE = 0.97  # of the largest diameter and height that the standard allows
SOCKET_AS_MADE = 1.25  # of the least depth
SOLID_SHARE = 0.03
SAID_SHARE = 0.02  # a mass that a paper or packing list states


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceMass:
    """What one piece weighs: `gram` ± `half_width_gram`, and on what that rests."""

    gram: float
    half_width_gram: float
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a reading says of a count.

    `pieces` is the likeliest number, `plus_minus` its expanded uncertainty; there are from `low` to
    `high`. `agrees`: some whole number lies within; else it is another part, or something else lay on the
    scale. `decides`: it agrees with one number alone. `tells_apart`: two heaps are told apart from this many
    pieces of difference on. `decides_up_to`: up to so many pieces this scale counts singly, 0 if it
    never does.
    """

    pieces: int
    plus_minus: float
    low: int
    high: int
    agrees: bool
    decides: bool
    tells_apart: int
    decides_up_to: int


def thread_volume_mm3(thread: Thread, length_mm: float) -> float:
    """Volume of a threaded shank of the basic profile.

    Equation: over one pitch P the radius is r = d/2 on the crest (P/8), r1 = d1/2 in the root (P/4) and
    runs straight between them (5P/8); the mean of its square is (r²/8 + r1²/4 + 5/24·(r² + r·r1 + r1²)).
    Source: basic profile of ISO 68-1; the integral is ours.
    """
    outer, root = thread.diameter_mm / 2, thread.minor_diameter_mm / 2
    square = outer**2 / 8 + root**2 / 4 + 5 / 24 * (outer**2 + outer * root + root**2)
    return math.pi * square * length_mm


def screw_volume_mm3(screw: Screw) -> float:
    """Volume of a socket screw as made: threaded to the head, its end chamfered, less its hexagon socket."""
    head = HEAD_AS_MADE * screw.head_diameter_mm / 2
    height = HEAD_AS_MADE * screw.head_height_mm
    volume = thread_volume_mm3(screw.thread, screw.length_mm - screw.thread.pitch_mm / 2)
    if screw.head is Head.CYLINDER:
        volume += math.pi * head**2 * height
    elif screw.head is Head.BUTTON:
        volume += math.pi * height / 6 * (3 * head**2 + height**2)  # cap of a sphere
    elif screw.head is Head.COUNTERSUNK:
        shank = screw.thread.diameter_mm / 2
        cone = head - shank  # 90°, so as high as it is wider
        volume += math.pi * cone / 3 * (head**2 + head * shank + shank**2)
        volume -= thread_volume_mm3(screw.thread, min(cone, screw.length_mm))
    depth = min(SOCKET_AS_MADE * screw.key_depth_mm, 0.8 * (height + screw.length_mm))
    socket = math.sqrt(3) / 2 * screw.key_mm**2 * depth
    return volume - socket


def mass_of_one(part_type: PartType, folder: str | Path = "", said_gram: float = 0.0) -> PieceMass | None:
    """What one piece weighs; None where nobody can know: printed parts are hollow to their infill.

    `said_gram`: what the packing list says of one piece; it goes before what we reckon.
    """
    if said_gram > 0 or part_type.mass_gram > 0:
        gram = said_gram or part_type.mass_gram
        return PieceMass(gram=gram, half_width_gram=SAID_SHARE * gram, basis="as stated")
    standard = part_type.standard
    if isinstance(standard, Screw):
        volume = screw_volume_mm3(standard)
        stainless = standard.strength.startswith("A")
        steel = DENSITY_GRAM_PER_MM3["stainless" if stainless else "steel"]
        return _reckoned(volume * steel, SCREW_SHARE, "thread, head and socket; steel")
    if isinstance(standard, Insert):
        hollow = math.pi / 4 * (standard.hole_mm**2 - standard.thread.diameter_mm**2) * standard.length_mm
        return _reckoned(hollow * DENSITY_GRAM_PER_MM3["brass"], 3 * SCREW_SHARE, "a plain brass tube")
    from trysquare.solid.shapes import makes_solid, solid_of  # noqa: PLC0415  # heavy: only when weighed

    density = _density(part_type)
    if density is None or part_type.kind is Kind.PRINTED or not makes_solid(part_type):
        return None
    volume = solid_of(part_type, folder).volume_mm3
    share = SCREW_SHARE if isinstance(standard, Nut | SlotNut | Washer) else SOLID_SHARE
    return _reckoned(volume * density, share, f"its solid; {part_type.material}")


def _density(part_type: PartType) -> float | None:
    said = part_type.material.casefold()
    return next((value for word, value in DENSITY_GRAM_PER_MM3.items() if word in said), None)


def _reckoned(gram: float, share: float, basis: str) -> PieceMass:
    return PieceMass(gram=gram, half_width_gram=share * gram, basis=basis)


def weighed(reading_gram: float, one: PieceMass, half_width_gram: float = SCALE_HALF_WIDTH_GRAM) -> Weighed:
    """How many pieces a reading means.

    Equation: N = W/m; u²(N) = (a/√3 / m)² + (N·e/√3 / m)², with the scale's limits ±a and the piece's
    ±e taken as rectangular; expanded by 2.
    Source: JCGM 100:2008, 4.3.7 and 5.1.2.
    Raises ValueError for a reading or mass that is not above 0, or a scale with negative limits.
    """
    if not (reading_gram > 0 and one.gram > 0 and half_width_gram >= 0):
        raise ValueError("a weighing needs a reading and a mass above 0 g")
    count = reading_gram / one.gram
    plus_minus = _plus_minus(count, one, half_width_gram)
    low = max(0, math.ceil(count - plus_minus - 1e-9))
    high = math.floor(count + plus_minus + 1e-9)
    agrees = low <= high
    if not agrees:
        low, high = math.floor(count), math.ceil(count)
    return Weighed(
        pieces=min(max(round(count), low), high),
        plus_minus=plus_minus,
        low=low,
        high=high,
        agrees=agrees,
        decides=agrees and low == high and plus_minus < 0.5,
        tells_apart=math.floor(2 * plus_minus) + 1,
        decides_up_to=decides_up_to(one, half_width_gram),
    )


def _plus_minus(count: float, one: PieceMass, half_width_gram: float) -> float:
    scale = half_width_gram / math.sqrt(3) / one.gram
    piece = count * one.half_width_gram / math.sqrt(3) / one.gram
    return COVERAGE * math.hypot(scale, piece)


def decides_up_to(one: PieceMass, half_width_gram: float) -> int:
    """The most pieces that this scale still counts singly; 0 when not even one."""
    if _plus_minus(1, one, half_width_gram) >= 0.5:
        return 0
    scale = COVERAGE * half_width_gram / math.sqrt(3) / one.gram
    piece = COVERAGE * one.half_width_gram / math.sqrt(3) / one.gram
    return math.floor(math.sqrt(0.25 - scale**2) / piece) if piece else 10**9

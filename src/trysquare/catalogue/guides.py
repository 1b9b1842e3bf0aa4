"""Miniature profile rails, cut to any length, and their blocks."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, written
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.ground.tolerances import SAME_ROW_MM

_RAIL = rf"rail {NUMBER}x{NUMBER}(?: ends {NUMBER} ?/ ?{NUMBER})?"
_BLOCK = rf"block {NUMBER} (standard|long)"
_LEAST_HOLES = 2


@cache
def rail(width_mm: float, length_mm: float, ends_mm: tuple[float, float] | None = None) -> RailSize:
    """A rail cut to `length_mm`; raises UnknownDesignation.

    `ends_mm`: from end a to its first hole and from end b to its own, as a rail is ordered with unequal
    ends or cut down by hand; the rest must be a whole number of pitches. Without it the holes are
    centred: their number z is the largest that leaves at least the table's `least_end_mm` before the
    first, and first hole = (L − T·(z − 1)) / 2 with hole pitch T. At least two holes are needed. Ends that
    are those of the centred rail give that same rail.
    Source: the usual rule of maker sheets for a rail ordered by length only; for stated ends, the two end
    distances of maker sheets' ordering codes (L = G1 + T·(z − 1) + G2).
    """
    name = f"rail {written(width_mm)}x{written(length_mm)}"
    row = next((row for row in rows("rails") if float(row["width_mm"]) == width_mm), None)
    if row is None:
        widths = [item["width_mm"] for item in rows("rails")]
        raise UnknownDesignation(
            read=name,
            expected=f"a rail width: {', '.join(widths)}",
            suggestions=near(name, [f"rail {width}x{written(length_mm)}" for width in widths]),
        )
    pitch_mm, end_mm, longest_mm = (
        float(row[key]) for key in ("hole_pitch_mm", "least_end_mm", "longest_mm")
    )
    # a millionth of a pitch absorbs the rounding of lengths such as 0.1 + 0.2
    holes = math.floor((length_mm - 2 * end_mm) / pitch_mm + 1e-6) + 1
    centred_mm = (length_mm - pitch_mm * (holes - 1)) / 2
    if ends_mm is None:
        ends_mm = (centred_mm, centred_mm)
        if holes < _LEAST_HOLES or length_mm > longest_mm:
            shortest_mm = 2 * end_mm + pitch_mm
            nearest_mm = shortest_mm if holes < _LEAST_HOLES else longest_mm
            raise UnknownDesignation(
                read=name,
                expected=f"a length from {written(shortest_mm)} (two holes) to {written(longest_mm)} mm",
                suggestions=(f"rail {row['width_mm']}x{written(nearest_mm)}",),
            )
    elif max(abs(end - centred_mm) for end in ends_mm) > SAME_ROW_MM or holes < _LEAST_HOLES:
        _check_ends(name, length_mm, ends_mm, row)
        name = f"{name} ends {written(ends_mm[0])}/{written(ends_mm[1])}"
    else:
        return rail(width_mm, length_mm)
    return RailSize(
        designation=name,
        width_mm=width_mm,
        length_mm=float(length_mm),
        height_mm=float(row["height_mm"]),
        hole_pitch_mm=pitch_mm,
        first_hole_mm=float(ends_mm[0]),
        last_hole_mm=float(ends_mm[1]),
        hole_mm=float(row["hole_mm"]),
        counterbore_mm=float(row["counterbore_mm"]),
        counterbore_depth_mm=float(row["counterbore_depth_mm"]),
        thread=row["thread"],
        source=row["source"],
    )


def _check_ends(name: str, length_mm: float, ends_mm: tuple[float, float], row: Mapping[str, str]) -> None:
    """Raises UnknownDesignation for ends that no rail of this length and pitch has."""
    pitch_mm, longest_mm = float(row["hole_pitch_mm"]), float(row["longest_mm"])
    read = f"{name} ends {written(ends_mm[0])}/{written(ends_mm[1])}"
    least_mm = float(row["hole_mm"]) / 2  # a hole that is cut open holds no screw
    if length_mm > longest_mm:
        raise UnknownDesignation(
            read=read,
            expected=f"a length of at most {written(longest_mm)} mm",
            remedy="Measure the rail's whole length.",
        )
    if not min(ends_mm) >= least_mm:
        raise UnknownDesignation(
            read=read,
            expected=f"ends of at least {written(least_mm)} mm, half a hole",
            remedy="Measure from each end of the rail to the centre of the hole nearest to it.",
        )
    between = length_mm - sum(ends_mm)
    pitches = round(between / pitch_mm)
    if pitches < _LEAST_HOLES - 1 or abs(between - pitches * pitch_mm) > SAME_ROW_MM:
        lower = max(_LEAST_HOLES - 1, math.floor(between / pitch_mm))
        fitting = [length_mm - ends_mm[0] - count * pitch_mm for count in (lower + 1, lower)]
        ends = " or ".join(written(end) for end in fitting if end >= least_mm)
        with_ends = f"; with {written(ends_mm[0])} mm at end a, end b has {ends} mm" if ends else ""
        sum_words = " - ".join(written(each) for each in (length_mm, *ends_mm))
        raise UnknownDesignation(
            read=read,
            expected=f"whole pitches of {written(pitch_mm)} mm between the end holes; "
            f"{sum_words} = {written(between)} mm is not",
            remedy=f"Measure both ends and the whole length again{with_ends}.",
        )


def read_rail(text: str) -> RailSize | None:
    """The rail that a tidy text names; None when it has another form."""
    found = re.fullmatch(_RAIL, text)
    if found is None:
        return None
    # thousandths are what a designation prints, so they are what it means
    width, length = float(found[1]), round(float(found[2]), 3)
    if found[3] is None:
        return rail(width, length)
    return rail(width, length, (round(float(found[3]), 3), round(float(found[4]), 3)))


def rail_designations() -> Iterator[str]:
    """Rails of every width in a few usual lengths; any other length resolves as well."""
    for row in rows("rails"):
        for length in (100, 150, 200, 250, 300, 350, 400):
            yield f"rail {row['width_mm']}x{length}"


@cache
def block(rail_width_mm: float, *, long: bool = False) -> BlockSize:
    """The standard or long block for a rail; raises UnknownDesignation."""
    kind = "long" if long else "standard"
    for row in rows("blocks"):
        if float(row["rail_width_mm"]) == rail_width_mm and row["kind"] == kind:
            return BlockSize(
                designation=f"block {row['rail_width_mm']} {kind}",
                rail_width_mm=rail_width_mm,
                long=long,
                height_mm=float(row["height_mm"]),
                width_mm=float(row["width_mm"]),
                length_mm=float(row["length_mm"]),
                gap_mm=float(row["gap_mm"]),
                pattern_across_mm=float(row["pattern_across_mm"]),
                pattern_along_mm=float(row["pattern_along_mm"]),
                thread=row["thread"],
                thread_depth_mm=float(row["thread_depth_mm"]),
                source=row["source"],
            )
    name = f"block {written(rail_width_mm)} {kind}"
    raise UnknownDesignation(
        read=name, expected="a block of the table blocks.csv", suggestions=near(name, block_designations())
    )


def read_block(text: str) -> BlockSize | None:
    """The block that a tidy text names; None when it has another form."""
    found = re.fullmatch(_BLOCK, text)
    return block(float(found[1]), long=found[2] == "long") if found else None


def block_designations() -> Iterator[str]:
    """Every block."""
    return (f"block {row['rail_width_mm']} {row['kind']}" for row in rows("blocks"))

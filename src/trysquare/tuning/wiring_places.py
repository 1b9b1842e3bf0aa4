"""Cables where they lie, move and end: bundles, reach, pins, and the points of the protective earth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trysquare.machine.values import Machine
from trysquare.tuning.earth import EarthPoint, EarthReading, earth_points, ohm_words
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Part, Table
from trysquare.tuning.wiring import RunFigures
from trysquare.tuning.wiring_bundles import WARMER_KELVIN, bundles_of
from trysquare.tuning.wiring_reach import reaches

CODES = "Local codes and licensed practice decide; this gives checks, not permission."
_MOST_SAID = 6


def listed(sentences: Sequence[str]) -> tuple[str, ...]:
    """The first sentences, and how many more there are."""
    if len(sentences) <= _MOST_SAID:
        return tuple(sentences)
    return (*sentences[:_MOST_SAID], f"{len(sentences) - _MOST_SAID} more stand in the table.")


def bundles_part(figures: Sequence[RunFigures]) -> Part | None:
    """Thickness and heat where cables lie together."""
    bundles = bundles_of(figures)
    if not bundles:
        return None
    bad = [
        f"{one.part}: a bundle of {one.across_mm:.1f} mm goes through {one.opening_mm:g} mm; a tenth must "
        "stay free."
        for one in bundles
        if one.too_thick
    ] + [
        f"{one.part}: {one.watt_per_m:.1f} W on each metre warm it by {one.warmer_kelvin:.0f} K: take the "
        "heaters' "
        "wires thicker, or lead them apart."
        for one in bundles
        if one.too_warm
    ]
    warmest = max(bundles, key=lambda one: one.warmer_kelvin)
    rows = tuple(
        (one.part, f"{len(one.runs)}", f"{one.across_mm:.1f}",
         f"{one.opening_mm:g}" if one.opening_mm else "–",
         f"{one.watt_per_m:.2f}", f"{one.warmer_kelvin:.0f}")
        for one in bundles
    )  # fmt: skip
    return Part(
        of="bundles",
        title="Bundles, glands and chains",
        verdict=BAD if bad else GOOD,
        says=listed(bad) or ("They fit with a tenth of air, and warm little.",),
        tables=(
            Table(
                title="Where cables lie together",
                columns=("passes", "runs", "across mm", "opening mm", "W/m", "warmer K"),
                rows=rows,
                right=frozenset({1, 2, 3, 4, 5}),
                gist=f"warmest: {warmest.part}, {warmest.warmer_kelvin:.0f} K",
            ),
        ),
        notes=(
            (
                "Across: 1.2 · √Σd² of generic sheaths; heat: all currents at once, 10 W/(m² K) in still "
                "air, limit "
                f"{WARMER_KELVIN:g} K (common practice, no source). An opening that is not named is not "
                "judged."
            ),
        ),
    )


def reach_part(machine: Machine, figures: Sequence[RunFigures]) -> Part | None:
    """Whether cables to what moves reach the worst corner."""
    found = reaches(machine, [one.run for one in figures])
    if not found:
        return None
    bad = [
        f"{one.run.label}: {-one.spare_mm:.0f} mm too short between {one.begins} and {one.ends} at "
        f"{_corner(one.corner)}."
        for one in found
        if one.spare_mm < 0
    ]
    tight = [
        f"{one.run.label}: only {one.spare_mm:.0f} mm are left between {one.begins} and {one.ends} at "
        f"{_corner(one.corner)}; give it {one.wanted_mm:.0f} mm."
        for one in found
        if 0 <= one.spare_mm < one.wanted_mm
    ]
    rows = tuple(
        (one.run.label, f"{one.run.length_mm:.0f}", one.begins, one.ends, f"{one.has_mm:.0f}",
         f"{one.needs_mm:.0f}", f"{one.spare_mm:.0f}", _corner(one.corner))
        for one in sorted(found, key=lambda one: one.spare_mm)
    )  # fmt: skip
    return Part(
        of="reach of cables",
        title="Cables that move",
        verdict=BAD if bad or tight else GOOD,
        says=listed([*bad, *tight]) or ("Each reaches the worst corner of the travel with some to spare.",),
        tables=(
            Table(
                title="The free piece, and its worst corner",
                columns=(
                    "run",
                    "whole mm",
                    "held at",
                    "and at",
                    "has mm",
                    "needs mm",
                    "left mm",
                    "worst corner",
                ),
                rows=rows,
                right=frozenset({1, 4, 5, 6}),
                gist=f"tightest: {rows[0][0]}, {rows[0][6]} mm left",
            ),
        ),
        notes=(
            (
                "Needs: the straight way between both holds. A chain or a bend of 7.5 to 10 cable "
                "diameters takes "
                "more (from memory): pull the loom through every corner by hand, power off."
            ),
        ),
    )


def _corner(corner: Mapping[str, float]) -> str:
    return ", ".join(f"{axis} {at:g}" for axis, at in corner.items()) or "where it is drawn"


def pins_part(figures: Sequence[RunFigures]) -> Part | None:
    """Pin maps: seen from the wires and from the mating side, for one is the other's mirror."""
    many = [one.run for one in figures if one.run.cores > 2 and one.run.role != "mains"]
    mapped = [one.run for one in figures if one.run.pins]
    if not many and not mapped:
        return None
    bad = [
        f"{run.label}: {len(run.pins)} pins are written for {run.cores} cores."
        for run in mapped
        if len(run.pins) != run.cores
    ]
    missing = [run.label for run in many if not run.pins]
    says = [*bad]
    if missing:
        says.append(
            f"No pin map is written for {', '.join(missing)}: write pins, left to right, and pins_seen. "
            "Coil pairs "
            "are found by ohm meter."
        )
    rows = tuple(
        (run.label, run.from_terminal,
         *(" | ".join(each) for each in (
             (run.pins, tuple(reversed(run.pins)))
             if run.pins_seen == "wire side"
             else (tuple(reversed(run.pins)), run.pins)
         )))
        for run in mapped
    )  # fmt: skip
    tables = (
        Table(title="Left to right", columns=("run", "at", "seen from the wires", "seen from the other half"),
              rows=rows),
    ) if rows else ()  # fmt: skip
    return Part(
        of="pin maps",
        title="Pin maps",
        verdict=BAD if bad else CANNOT_TELL if missing else TOLD,
        says=tuple(says)
        or ("Check each against the board's own map, and mind from which side that is drawn.",),
        tables=tables,
    )


def _worst_point(points: Sequence[EarthPoint]) -> str:
    """The point that reads highest of the worst state; how many are not read where none is bad."""
    unread = sum(one.state == "not read" for one in points)
    still = f"; {unread} not read" if unread else ""
    read = [one for one in points if one.reading is not None]
    worst = max(read, key=lambda one: one.reading.ohm / one.limit_ohm if one.reading else 0.0, default=None)
    if worst is None or worst.reading is None:
        return f"{unread} not read"
    return f"worst: {worst.part}, {ohm_words(worst.reading.ohm)}{still}"


def earth_part(
    machine: Machine, figures: Sequence[RunFigures], readings: Sequence[EarthReading], cord_ohm: float
) -> Part | None:
    """Every earth point with what it should read and what was read."""
    points, strangers = earth_points(machine, figures, readings, cord_ohm)
    if not points:
        if any(one.run.role == "mains" for one in figures):
            return Part(
                of="earth points", title="Protective earth", verdict=BAD,
                says=(("The machine has mains and no earth wire: every exposed metal part needs its "
                      "own."), CODES),
            )  # fmt: skip
        return None
    states = [one.state for one in points]
    unread = states.count("not read")
    says = [f"{one.part} reads {ohm_words(one.reading.ohm)}: no earth path. Do not plug it in."
            for one in points
            if one.state == "bad" and one.reading]  # fmt: skip
    says += [f"{one.part} has no earth wire in the folder." for one in points if one.wires_ohm is None]
    if "cannot tell" in states:
        says.append(
            f"{states.count('cannot tell')} are inside the meter's doubt: read them with a meter for small "
            "resistances (four leads), or have them tested."
        )
    if unread:
        says.append(
            f"{unread} of {len(points)} points are not read: unplugged, from the inlet's earth pin to "
            "each, and "
            "give the list as --earth FILE (point,ohm,within_ohm)."
        )
    says += [f"'{name}' is none of the points." for name in strangers]
    bad = "bad" in states or any(one.wires_ohm is None for one in points)
    return Part(
        of="earth points",
        title="Protective earth",
        verdict=BAD if bad else CANNOT_TELL if unread or strangers or "cannot tell" in states else GOOD,
        says=(*(listed(says) or ("Every point reads as an earth path should.",)), CODES),
        tables=(
            Table(
                title=f"{len(points)} points, limit {points[0].limit_ohm:.2g} Ω from the inlet's pin",
                columns=("point", "last wire", "its wires Ω", "read Ω", "± Ω", "state"),
                rows=tuple(
                    (
                        one.part, one.label, "none" if one.wires_ohm is None else f"{one.wires_ohm:.4f}",
                        ohm_words(one.reading.ohm).removesuffix(" Ω") if one.reading else "______",
                        f"{one.reading.within_ohm:g}" if one.reading else "", one.state,
                    )
                    for one in points
                ),
                right=frozenset({2, 3, 4}),
                gist=_worst_point(points),
            ),
        ),
        notes=(
            (
                "Limit 0.1 Ω beside the cord's own (makers' sheets; some rules allow 1 Ω). A meter is a "
                "sanity check "
                "only: whether the path carries a fault's current is for a competent person with the right "
                "instrument."
            ),
        ),
    )  # fmt: skip

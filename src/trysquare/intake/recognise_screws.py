"""Screws, from socket, head and shank.

All rows of the screw table are compared with what was measured; the row that agrees best names the standard
and the thread. A thread may be drawn as a plain shank of nominal or of root diameter, or be modelled.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from trysquare.catalogue.designation import written
from trysquare.catalogue.rows import rows
from trysquare.catalogue.screws import length_tolerance_mm, screw_standards, sold_lengths_mm
from trysquare.catalogue.threads import thread
from trysquare.catalogue.values import Head
from trysquare.intake.bodies import Recognition, Shape, Sort
from trysquare.intake.recognise_screw_form import Measures, measures_of
from trysquare.intake.recognise_turned import Turned, facing_socket, ring_of_flats, turned_views

KEY_RATIO = 0.045  # a socket is drawn at nominal size or up to its largest, which is some hundredths more
HEAD_MINUS_RATIO = 0.09  # drawn heads lie between the standard's least and largest diameter
OLD_HEAD_MINUS_RATIO = 0.05  # DIN 7991: h14 below its largest
HEIGHT_RATIO = 0.12
SHANK_RATIO = 0.03
LENGTH_SLIP_MM = 0.3  # more than any standard's tolerance of a short screw


def screw_of(shape: Shape) -> Recognition | None:
    """The screw that a shape is, or None when it has no screw's form."""
    for view in turned_views(shape, 2):
        measures = measures_of(view)
        if measures is not None:
            found = _matched(measures)
            if found is not None:
                return found
        hexagon = _with_hexagon_head(view)
        if hexagon is not None:
            return hexagon
    return None


def _with_hexagon_head(view: Turned) -> Recognition | None:
    """A screw with a six-sided head: what it is, but not which, since the tables have none."""
    for ring in ring_of_flats(view.flats, 6, inner=False):
        tall = ring.high_mm - ring.low_mm
        up = view.high_mm - ring.high_mm < ring.low_mm - view.low_mm
        shank = view.outer(0.2 * view.length_mm)
        if any(each.hollow for each in view.rounds) or tall > 0.6 * view.length_mm or not shank:
            continue
        if 2 * shank[0].radius_mm < 0.75 * ring.across_mm:
            bearing = ring.low_mm if up else ring.high_mm
            return Recognition(
                sort=Sort.SCREW, confidence=0.5,
                parameters={
                    "across_flats_mm": ring.across_mm, "shank_mm": 2 * shank[0].radius_mm,
                    "length_mm": view.length_mm - tall,
                },
                evidence=(
                    f"six-sided head {ring.across_mm:.3g} across flats",
                    f"shank Ø{2 * shank[0].radius_mm:.3g}",
                ),
                doubts=("the tables have no screw with a six-sided head",),
                frame=facing_socket(view, upside_down=not up, origin_mm=bearing, angle_rad=ring.angle_rad),
            )  # fmt: skip
    return None


@dataclass(frozen=True, slots=True)
class _Fit:
    row: Mapping[str, str]
    penalty: float
    remarks: tuple[str, ...]
    root: bool


def _matched(m: Measures) -> Recognition | None:
    fits = sorted((fit for row in rows("screws") if (fit := _fit(m, row))), key=lambda fit: fit.penalty)
    evidence = [
        f"six-sided recess {m.key_mm:.3g} across flats, {m.key_depth_mm:.3g} deep"
        if m.key_mm
        else "no recess drawn",
        f"head Ø{m.head_mm:.4g}, {m.head_height_mm:.3g} high, {_FORMS[m.head]}"
        if m.head is not Head.NONE
        else "no head",
        f"{'modelled thread' if m.modelled_thread else 'shank'} Ø{m.shank_mm:.3g}",
        f"{m.length_mm:.4g} long, counted as for this head",
    ]
    parameters = {
        "length_mm": m.length_mm,
        "head_mm": m.head_mm,
        "head_height_mm": m.head_height_mm,
        "key_mm": m.key_mm,
        "shank_mm": m.shank_mm,
    }
    frame = facing_socket(
        m.view, upside_down=not m.up, origin_mm=m.bearing_mm, angle_rad=m.key_angle_rad + math.pi / 2
    )
    if not fits and not m.key_mm:
        return None
    if not fits:
        return Recognition(
            sort=Sort.SCREW, parameters=parameters, confidence=0.4, frame=frame,
            evidence=tuple(evidence), doubts=("no screw of the tables has these measures",),
        )  # fmt: skip
    best = fits[0]
    standard, name = best.row["standard"], best.row["thread"]
    lengths = sold_lengths_mm(standard, name)
    nearest = min(lengths, key=lambda length: (abs(length - m.length_mm), length))
    deviation = m.length_mm - nearest
    parameters["deviation_mm"] = deviation
    confidence = 0.98 - min(0.25, best.penalty * 0.25)
    doubts = list(best.remarks)
    if not m.key_mm:
        confidence = min(confidence, 0.7)
        doubts.append("without its recess a pin or another screw looks the same")
    if abs(deviation) > max(*length_tolerance_mm(nearest), LENGTH_SLIP_MM):
        doubts.append(f"{m.length_mm:.4g} long is no length that is made; the nearest is {written(nearest)}")
        confidence -= 0.35
    else:
        evidence.append(f"nearest standard length {written(nearest)}, {deviation:+.2f}")
    if best.root:
        evidence.append(f"the shank is drawn at the thread's root, Ø{thread(name).root_diameter_mm:.3g}")
    rivals = []
    for fit in fits[1:4]:
        if fit.penalty < best.penalty + 0.6:
            rivals.append(f"{fit.row['standard']} {fit.row['thread']}x{written(nearest)}")
            if fit.penalty < best.penalty + 0.12:
                confidence = min(confidence, 0.85)
    return Recognition(
        sort=Sort.SCREW,
        designation=f"{standard} {name}x{written(nearest)}",
        parameters=parameters,
        confidence=max(0.05, confidence),
        evidence=tuple(evidence),
        doubts=tuple(doubts),
        alternatives=tuple(rivals),
        frame=frame,
    )


_FORMS = {
    Head.CYLINDER: "straight-sided",
    Head.BUTTON: "domed",
    Head.COUNTERSUNK: "countersunk at 90°",
    Head.NONE: "",
}


def _fit(m: Measures, row: Mapping[str, str]) -> _Fit | None:
    """How far a row of the table is from what was measured, in shares of what is allowed; None if too far."""
    kind = next(each for each in rows("screw_standards") if each["standard"] == row["standard"])
    if Head(kind["head"]) is not m.head:
        return None
    key = float(row["key_mm"])
    if m.key_mm and abs(m.key_mm - key) > KEY_RATIO * key + 0.02:
        return None
    size = thread(row["thread"])
    least = size.root_diameter_mm - 0.05 * size.diameter_mm
    most = size.diameter_mm * (1 + SHANK_RATIO) + 0.05
    if not least <= m.shank_mm <= most:
        return None
    # drawn at the root of the bolt's thread, at that of the nut's, or in between
    root = m.shank_mm < (size.minor_diameter_mm + size.diameter_mm) / 2
    wanted = min(max(m.shank_mm, size.root_diameter_mm), size.minor_diameter_mm) if root else size.diameter_mm
    penalty = abs(m.shank_mm - wanted) / (SHANK_RATIO * size.diameter_mm + 0.05) + (0.1 if root else 0.0)
    if m.key_mm:
        penalty += max(0.0, key - m.key_mm) / (KEY_RATIO * key + 0.02) * 0.5
    remarks: list[str] = []
    if m.head is Head.NONE:
        wants_cup = kind["point"] == "cup"
        penalty += 0.5 if wants_cup is not m.cup else 0.0
        return _Fit(row, penalty, (), root)
    plain, largest = float(row["plain_head_mm"]), float(row["head_diameter_mm"])
    minus = OLD_HEAD_MINUS_RATIO if row["standard"] == "DIN 7991" else HEAD_MINUS_RATIO
    low, high = plain * (1 - minus), largest * 1.015 + 0.05
    if not low <= m.head_mm <= high:
        return None
    penalty += min(abs(m.head_mm - plain), abs(m.head_mm - largest)) / (minus * plain) * 0.5
    height = float(row["head_height_mm"])
    off_height = abs(m.head_height_mm - height)
    # a countersunk head with a blunt edge is drawn with another height
    if off_height > HEIGHT_RATIO * height + 0.1 and m.head is not Head.COUNTERSUNK:
        remarks.append(f"its head is {m.head_height_mm:.3g} high; {row['standard']} says {height:g}")
        penalty += 0.8
    penalty += min(1.0, off_height / (HEIGHT_RATIO * height + 0.1)) * 0.3
    penalty += 0.02 * screw_standards().index(row["standard"]) / 10
    return _Fit(row, penalty, tuple(remarks), root)

"""Belts, pulleys, idlers and lead screws."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, neighbours, written
from trysquare.catalogue.rows import numbers, rows
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import BeltSize, LeadScrew, Pulley

_BELT = rf"belt {NUMBER} ?mm pitch {NUMBER} ?mm wide"
_TOOTHED = (
    rf"(pulley|idler) {NUMBER} ?mm pitch ([0-9]{{1,3}}) teeth"
    rf" bore {NUMBER}(?: ?mm)?(?: belt {NUMBER}(?: ?mm)?)?"
)
_SMOOTH = rf"(?:idler smooth|smooth idler) {NUMBER} bore {NUMBER}"
_LEAD_SCREW = rf"lead screw {NUMBER}x{NUMBER} starts? ([0-9]{{1,2}}) length {NUMBER}"
_USUAL_BELT_MM = 6.0  # what a pulley is for when its designation names no belt
_LEAST_WALL_MM = 1.0  # metal left between bore and tooth root: common practice, no source


@cache
def belt(pitch_mm: float, width_mm: float) -> BeltSize:
    """The belt of a pitch and width; raises UnknownDesignation."""
    for row in rows("belts"):
        if (float(row["pitch_mm"]), float(row["width_mm"])) == (pitch_mm, width_mm):
            return BeltSize(
                designation=_belt_name(row["pitch_mm"], row["width_mm"]),
                pitch_mm=pitch_mm,
                width_mm=width_mm,
                thickness_mm=float(row["thickness_mm"]),
                tooth_height_mm=float(row["tooth_height_mm"]),
                pitch_line_mm=float(row["pitch_line_mm"]),
                mass_gram_per_metre=float(row["mass_gram_per_metre"]),
                source=row["source"],
            )
    name = _belt_name(written(pitch_mm), written(width_mm))
    raise UnknownDesignation(
        read=name, expected="a belt of the table belts.csv", suggestions=near(name, belt_designations())
    )


def _belt_name(pitch: str, width: str) -> str:
    return f"belt {pitch} mm pitch {width} mm wide"


def read_belt(text: str) -> BeltSize | None:
    """The belt that a tidy text names; None when it has another form."""
    found = re.fullmatch(_BELT, text)
    return belt(float(found[1]), float(found[2])) if found else None


def belt_designations() -> Iterator[str]:
    """Every belt."""
    return (_belt_name(row["pitch_mm"], row["width_mm"]) for row in rows("belts"))


@cache
def toothed(
    kind: str, pitch_mm: float, teeth: int, bore_mm: float, belt_width_mm: float = _USUAL_BELT_MM
) -> Pulley:
    """A toothed pulley (kind "pulley") or toothed idler ("idler"); raises UnknownDesignation.

    Pitch diameter = pitch · teeth / π; the outer diameter, on which the belt's tooth roots lie, is
    less by twice the pitch line's height above it.
    """
    name = _toothed_name(kind, pitch_mm, teeth, bore_mm, belt_width_mm)
    for row in rows("pulleys"):
        found = (row["kind"], float(row["pitch_mm"]), float(row["belt_width_mm"]))
        if found == (kind, pitch_mm, belt_width_mm):
            break
    else:
        raise UnknownDesignation(
            read=name,
            expected="a row of the table pulleys.csv",
            suggestions=near(name, toothed_designations()),
        )
    least, most = int(row["least_teeth"]), int(row["most_teeth"])
    if not least <= teeth <= most:
        nearest = min(max(teeth, least), most)
        raise UnknownDesignation(
            read=name,
            expected=f"{least} to {most} teeth",
            suggestions=(_toothed_name(kind, pitch_mm, nearest, bore_mm, belt_width_mm),),
        )
    size = belt(pitch_mm, belt_width_mm)
    bores_mm = [bore for bore in numbers(row["bores_mm"]) if _bore_fits(size, teeth, bore)]
    if bore_mm not in bores_mm:
        raise UnknownDesignation(
            read=name,
            expected=f"a bore that leaves metal under the teeth: {', '.join(map(written, bores_mm))} mm",
            suggestions=tuple(
                _toothed_name(kind, pitch_mm, teeth, bore, belt_width_mm)
                for bore in neighbours(bore_mm, bores_mm)
            ),
        )
    running_mm = _running_mm(size, teeth)
    flange_mm = running_mm + float(row["flange_over_mm"])
    hub_length_mm, face_mm = float(row["hub_length_mm"]), float(row["face_mm"])
    flange_thickness_mm = float(row["flange_thickness_mm"])
    return Pulley(
        designation=name,
        driven=kind == "idler",
        pitch_mm=pitch_mm,
        teeth=teeth,
        bore_mm=bore_mm,
        running_mm=running_mm,
        pitch_diameter_mm=pitch_mm * teeth / math.pi,
        flange_mm=flange_mm,
        length_mm=hub_length_mm + face_mm + 2 * flange_thickness_mm,
        belt_centre_mm=hub_length_mm + flange_thickness_mm + face_mm / 2,
        belt_width_mm=belt_width_mm,
        set_screw=row["set_screw"],
        hub_mm=flange_mm if hub_length_mm else 0.0,
        source=row["source"],
    )


def _running_mm(size: BeltSize, teeth: int) -> float:
    return size.pitch_mm * teeth / math.pi - 2 * size.pitch_line_mm


def _bore_fits(size: BeltSize, teeth: int, bore_mm: float) -> bool:
    return bore_mm + 2 * (size.tooth_height_mm + _LEAST_WALL_MM) <= _running_mm(size, teeth)


def _toothed_name(kind: str, pitch_mm: float, teeth: int, bore_mm: float, belt_width_mm: float) -> str:
    name = f"{kind} {written(pitch_mm)} mm pitch {teeth} teeth bore {written(bore_mm)}"
    return name if belt_width_mm == _USUAL_BELT_MM else f"{name} belt {written(belt_width_mm)}"


def read_toothed(text: str) -> Pulley | None:
    """The pulley or toothed idler that a tidy text names; None when it has another form."""
    found = re.fullmatch(_TOOTHED, text)
    if not found:
        return None
    kind, pitch, teeth, bore, width = found.groups()
    return toothed(kind, float(pitch), int(teeth), float(bore), float(width or _USUAL_BELT_MM))


def toothed_designations() -> Iterator[str]:
    """Pulleys and toothed idlers in a few usual tooth counts; any other count in range resolves."""
    for row in rows("pulleys"):
        width_mm, pitch_mm = float(row["belt_width_mm"]), float(row["pitch_mm"])
        size = belt(pitch_mm, width_mm)
        for teeth in (16, 20, 24, 30, 36, 40, 60, 80):
            for bore_mm in numbers(row["bores_mm"]):
                if _bore_fits(size, teeth, bore_mm):
                    yield _toothed_name(row["kind"], pitch_mm, teeth, bore_mm, width_mm)


@cache
def smooth_idler(running_mm: float, bore_mm: float) -> Pulley:
    """An idler for the belt's back; raises UnknownDesignation."""
    for row in rows("smooth_idlers"):
        if float(row["running_mm"]) == running_mm and bore_mm in numbers(row["bores_mm"]):
            face_mm, flange_thickness_mm = float(row["face_mm"]), float(row["flange_thickness_mm"])
            length_mm = face_mm + 2 * flange_thickness_mm
            return Pulley(
                designation=_smooth_name(running_mm, bore_mm),
                driven=True,
                pitch_mm=0.0,
                teeth=0,
                bore_mm=bore_mm,
                running_mm=running_mm,
                pitch_diameter_mm=0.0,
                flange_mm=running_mm + float(row["flange_over_mm"]),
                length_mm=float(length_mm),
                belt_centre_mm=length_mm / 2,
                belt_width_mm=float(row["belt_width_mm"]),
                set_screw="",
                hub_mm=0.0,
                source=row["source"],
            )
    name = _smooth_name(running_mm, bore_mm)
    raise UnknownDesignation(
        read=name,
        expected="an idler of the table smooth_idlers.csv",
        suggestions=near(name, smooth_idler_designations()),
    )


def _smooth_name(running_mm: float, bore_mm: float) -> str:
    return f"idler smooth {written(running_mm)} bore {written(bore_mm)}"


def read_smooth_idler(text: str) -> Pulley | None:
    """The smooth idler that a tidy text names; None when it has another form."""
    found = re.fullmatch(_SMOOTH, text)
    return smooth_idler(float(found[1]), float(found[2])) if found else None


def smooth_idler_designations() -> Iterator[str]:
    """Every smooth idler."""
    for row in rows("smooth_idlers"):
        for bore_mm in numbers(row["bores_mm"]):
            yield _smooth_name(float(row["running_mm"]), bore_mm)


@cache
def lead_screw(diameter_mm: float, pitch_mm: float, starts: int, length_mm: float) -> LeadScrew:
    """A trapezoidal lead screw cut to length; raises UnknownDesignation."""
    name = (
        f"lead screw {written(diameter_mm)}x{written(pitch_mm)} starts {starts} length {written(length_mm)}"
    )
    for row in rows("lead_screws"):
        found = (float(row["diameter_mm"]), float(row["pitch_mm"]), int(row["starts"]))
        if found == (diameter_mm, pitch_mm, starts):
            break
    else:
        known = [_lead_screw_name(row, length_mm) for row in rows("lead_screws")]
        raise UnknownDesignation(
            read=name, expected="a thread of the table lead_screws.csv", suggestions=near(name, known)
        )
    longest_mm = float(row["longest_mm"])
    if not diameter_mm <= length_mm <= longest_mm:
        nearest_mm = min(max(length_mm, diameter_mm), longest_mm)
        raise UnknownDesignation(
            read=name,
            expected=f"a length from {written(diameter_mm)} to {written(longest_mm)} mm",
            suggestions=(_lead_screw_name(row, nearest_mm),),
        )
    return LeadScrew(
        designation=name,
        diameter_mm=diameter_mm,
        pitch_mm=pitch_mm,
        starts=starts,
        length_mm=float(length_mm),
        source=row["source"],
    )


def _lead_screw_name(row: Mapping[str, str], length_mm: float) -> str:
    size = f"{row['diameter_mm']}x{row['pitch_mm']}"
    return f"lead screw {size} starts {row['starts']} length {written(length_mm)}"


def read_lead_screw(text: str) -> LeadScrew | None:
    """The lead screw that a tidy text names; None when it has another form."""
    found = re.fullmatch(_LEAD_SCREW, text)
    if not found:
        return None
    return lead_screw(float(found[1]), float(found[2]), int(found[3]), round(float(found[4]), 3))


def lead_screw_designations() -> Iterator[str]:
    """Every lead screw thread in a few lengths; any other length resolves as well."""
    return (_lead_screw_name(row, length) for row in rows("lead_screws") for length in (100, 250, 400))

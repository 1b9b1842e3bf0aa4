"""T-slot profiles and the nuts that go in their slots."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, written
from trysquare.catalogue.rows import rows
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Profile, SlotNut, SlotNutShape

_PROFILE = rf"(?:profile )?{NUMBER}x{NUMBER} slot {NUMBER}"
_SLOT_NUT = rf"(slide|hex|roll|quarter)[- ]?(?:in[- ]?slot|in|turn)(?: nut)? slot {NUMBER} m{NUMBER}"
_SHAPES = {
    "slide": SlotNutShape.SLIDE_IN,
    "hex": SlotNutShape.HEX_IN_SLOT,
    "roll": SlotNutShape.ROLL_IN,
    "quarter": SlotNutShape.QUARTER_TURN,
}


@cache
def profile(size_y_mm: float, size_z_mm: float, slot_mm: float) -> Profile:
    """The profile of an outer size and slot; raises UnknownDesignation.

    The sizes may come in either order: "40x20" is the same bar as "20x40" and gets its name;
    the value's y is always the shorter side.
    """
    short_mm, long_mm = sorted((size_y_mm, size_z_mm))
    for row in rows("profiles"):
        cell_mm = float(row["cell_mm"])
        size_mm = (cell_mm * int(row["cells_y"]), cell_mm * int(row["cells_z"]))
        if size_mm == (short_mm, long_mm) and float(row["slot_mm"]) == slot_mm:
            return _profile_of(row)
    name = f"profile {written(short_mm)}x{written(long_mm)} slot {written(slot_mm)}"
    raise UnknownDesignation(
        read=name,
        expected="a profile of the table profiles.csv",
        suggestions=near(name, profile_designations()),
    )


def _profile_of(row: Mapping[str, str]) -> Profile:
    slot = next(
        slot
        for slot in rows("slots")
        if (slot["cell_mm"], slot["slot_mm"]) == (row["cell_mm"], row["slot_mm"])
    )
    return Profile(
        designation=_profile_name(row),
        cell_mm=float(row["cell_mm"]),
        cells_y=int(row["cells_y"]),
        cells_z=int(row["cells_z"]),
        slot_mm=float(row["slot_mm"]),
        mouth_mm=float(slot["mouth_mm"]),
        lip_mm=float(slot["lip_mm"]),
        inside_mm=float(slot["inside_mm"]),
        shoulder_mm=float(slot["shoulder_mm"]),
        floor_mm=float(slot["floor_mm"]),
        depth_mm=float(slot["depth_mm"]),
        core_mm=float(slot["core_mm"]),
        core_thread=slot["core_thread"],
        source=slot["source"],
    )


def _profile_name(row: Mapping[str, str]) -> str:
    cell_mm = float(row["cell_mm"])
    y_mm, z_mm = cell_mm * int(row["cells_y"]), cell_mm * int(row["cells_z"])
    return f"profile {written(y_mm)}x{written(z_mm)} slot {row['slot_mm']}"


def read_profile(text: str) -> Profile | None:
    """The profile that a tidy text names; None when it has another form."""
    found = re.fullmatch(_PROFILE, text)
    return profile(float(found[1]), float(found[2]), float(found[3])) if found else None


def profile_designations() -> Iterator[str]:
    """Every profile."""
    return (_profile_name(row) for row in rows("profiles"))


@cache
def slot_nut(shape: SlotNutShape, slot_mm: float, thread_name: str) -> SlotNut:
    """The nut of a shape for a slot and thread; raises UnknownDesignation."""
    for row in rows("slot_nuts"):
        if (row["shape"], float(row["slot_mm"]), row["thread"]) == (shape.value, slot_mm, thread_name):
            return SlotNut(
                designation=_slot_nut_name(row),
                shape=shape,
                slot_mm=slot_mm,
                thread=thread(thread_name),
                length_mm=float(row["length_mm"]),
                width_mm=float(row["width_mm"]),
                shoulder_mm=float(row["shoulder_mm"]),
                neck_width_mm=float(row["neck_width_mm"]),
                neck_mm=float(row["neck_mm"]),
                height_mm=float(row["height_mm"]),
                pull_newton=float(row["pull_newton"]),
                insertable=row["insertable"] == "yes",
                source=row["source"],
            )
    name = f"{shape.value} nut slot {written(slot_mm)} {thread_name}"
    raise UnknownDesignation(
        read=name,
        expected="a nut of the table slot_nuts.csv",
        suggestions=near(name, slot_nut_designations()),
    )


def _slot_nut_name(row: Mapping[str, str]) -> str:
    return f"{row['shape']} nut slot {row['slot_mm']} {row['thread']}"


def read_slot_nut(text: str) -> SlotNut | None:
    """The slot nut that a tidy text names; None when it has another form."""
    found = re.fullmatch(_SLOT_NUT, text)
    return slot_nut(_SHAPES[found[1]], float(found[2]), f"M{written(float(found[3]))}") if found else None


def slot_nut_designations() -> Iterator[str]:
    """Every slot nut."""
    return (_slot_nut_name(row) for row in rows("slot_nuts"))

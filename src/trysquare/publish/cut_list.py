"""The frame as a cut list: each different member once, how many, from which bars, and its drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import Profile
from trysquare.machine.values import Machine, PartType
from trysquare.publish.cut_drawing import face_drawing, face_holes, hole_rows, scale_of, stated_ends
from trysquare.publish.typst_page import Pages, breakable, set_pages
from trysquare.solid.shapes import content_of
from trysquare.stock.cuts import Roll, cut_from

MOST_BARS = 500


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutMember:
    """A different member: its part type, all ids under which it goes, and its placed pieces."""

    part_type: PartType
    ids: tuple[str, ...]
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BarPlan:
    """One bar: the ids and lengths cut from it, in cutting order, and what is left."""

    profile: str
    cuts: tuple[tuple[str, float], ...]
    rest_mm: float


def cut_members(machine: Machine) -> tuple[CutMember, ...]:
    """The members of a machine, those alike in all that is cut and drilled together, the longest first."""
    found: dict[tuple[object, ...], list[tuple[PartType, str]]] = {}
    for piece in machine.placed:
        if piece.type.profile is not None:
            key = (content_of(piece.type, machine.folder), piece.type.cut_mm, piece.type.end_mm)
            found.setdefault(key, []).append((piece.type, piece.id))
    members = [
        CutMember(
            part_type=rows[0][0],
            ids=tuple(dict.fromkeys(part_type.id for part_type, _ in rows)),
            places=tuple(place for _, place in rows),
        )
        for rows in found.values()
    ]
    return tuple(
        sorted(members, key=lambda one: (_profile(one).designation, -one.part_type.length_mm, one.ids))
    )


def bar_plan(members: Sequence[CutMember], bar_mm: float, kerf_mm: float) -> tuple[list[BarPlan], list[str]]:
    """Bars of one length from which all members are cut, as few as are found; and ids longer than a bar.

    Each cut takes the saw's width too, but for the last piece of a bar that is used up to its end. Equation:
    pieces and bar are reckoned longer by one kerf each.
    """
    plans: list[BarPlan] = []
    too_long: list[str] = []
    for profile in dict.fromkeys(_profile(one).designation for one in members):
        wanted: list[tuple[str, float]] = []
        for one in members:
            if _profile(one).designation != profile:
                continue
            if one.part_type.length_mm > bar_mm:
                too_long += one.ids
            else:
                wanted += [(one.ids[0], one.part_type.length_mm)] * len(one.places)
        plans += _bars(profile, wanted, bar_mm, kerf_mm)
    return plans, too_long


def _bars(profile: str, wanted: Sequence[tuple[str, float]], bar_mm: float, kerf_mm: float) -> list[BarPlan]:
    lengths = [length + kerf_mm for _, length in wanted]
    least = -(-sum(lengths) // (bar_mm + kerf_mm))
    for bars in range(int(least), min(len(wanted), MOST_BARS) + 1):
        rolls = [Roll(box=str(number), length_mm=bar_mm + kerf_mm) for number in range(bars)]
        cutting = cut_from(lengths, rolls)
        if cutting.cut == len(wanted):
            plans = []
            for number in range(bars):
                cuts = [one for one, roll in zip(wanted, cutting.roll_of, strict=True) if roll == number]
                used = sum(length + kerf_mm for _, length in cuts)
                plans.append(BarPlan(profile=profile, cuts=tuple(cuts), rest_mm=max(bar_mm - used, 0.0)))
            return plans
    return []


def member_facts(machine: Machine, one: CutMember) -> dict[str, Any]:
    """A member's row and its faces in figures, as JSON says them."""
    part_type = one.part_type
    holes = face_holes(part_type, stated_ends(machine, part_type))
    return {
        "parts": list(one.ids),
        "name": part_type.name,
        "profile": _profile(one).designation,
        "pieces": len(one.places),
        "places": list(one.places),
        "length_mm": part_type.length_mm,
        "cut_mm": part_type.cut_mm,
        "end_mm": part_type.end_mm,
        "tapped_ends": list(part_type.tapped_ends),
        "tapped_depth_mm": part_type.tapped_depth_mm,
        "holes": len(holes),
        "faces": {
            face: hole_rows([hole for hole in holes if hole.face == face])
            for face in dict.fromkeys(hole.face for hole in holes)
        },
    }


def cut_list_pdf(
    machine: Machine, members: Sequence[CutMember], plans: Sequence[BarPlan], bar_mm: float, kerf_mm: float,
    paper: str,
) -> Pages:  # fmt: skip
    """The pages: the list, the bars, a drawing for each member. No member: a page that says so."""
    return set_pages(
        "cut_list",
        {
            "machine": machine.name,
            "paper": paper,
            "bar": written(bar_mm) if bar_mm else "",
            "kerf": written(kerf_mm),
            "members": [_entry(machine, one) for one in members],
            "bars": [
                {
                    "profile": plan.profile,
                    "cuts": breakable(_listed(plan)),
                    "rest": f"{plan.rest_mm:.1f}".removesuffix(".0"),
                }
                for plan in plans
            ],
        },
        title=f"{machine.name}: cut list and drilling drawings",
    )


def _listed(plan: BarPlan) -> str:
    counts: dict[tuple[str, float], int] = {}
    for cut in plan.cuts:
        counts[cut] = counts.get(cut, 0) + 1
    return ", ".join(f"{number} × {written(length)} ({name})" for (name, length), number in counts.items())


def _entry(machine: Machine, one: CutMember) -> dict[str, Any]:
    part_type = one.part_type
    holes = face_holes(part_type, stated_ends(machine, part_type))
    faces = list(dict.fromkeys(hole.face for hole in holes)) or ["+z"]
    ends = []
    for end in ("a", "b"):
        if end in part_type.tapped_ends:
            thread = _profile(one).core_thread
            cores = "core" if _profile(one).cells_y * _profile(one).cells_z == 1 else "each core"
            ends.append(f"end {end}: {cores} tapped {thread}, {written(part_type.tapped_depth_mm)} deep")
    return {
        "ids": ", ".join(one.ids),
        "says": breakable(_says(one, ends)),
        "profile": _profile(one).designation,
        "count": len(one.places),
        "length": written(round(part_type.length_mm, 2)),
        "true": f"± {written(part_type.cut_mm)}" if part_type.cut_mm else "",
        "ends": "; ".join(ends) or "ends not tapped",
        "scale": f"1 : {written(round(scale_of(part_type.length_mm), 2))}",
        "places": breakable(", ".join(one.places)),
        "holes": len(holes),
        "faces": [
            {
                "face": face,
                "drawing": face_drawing(part_type, face, own).facts(),
                "rows": hole_rows(own),
            }
            for face in faces
            for own in [[hole for hole in holes if hole.face == face]]
        ],
    }  # fmt: skip


def _says(one: CutMember, ends: Sequence[str]) -> str:
    """What is said of a member above its drawing."""
    part_type = one.part_type
    words = [_profile(one).designation, *(ends or ["ends not tapped"])]
    if part_type.cut_mm:
        words.append(f"length true to ± {written(part_type.cut_mm)} mm")
    if part_type.end_mm:
        words.append(f"ends square to ± {written(part_type.end_mm)} mm across the section")
    name = "" if part_type.name in one.ids else f"{part_type.name}. "
    return f"{name}{'; '.join(words)}."


def _profile(one: CutMember) -> Profile:
    assert one.part_type.profile is not None  # by construction: only members are here
    return one.part_type.profile

"""What can be seen or measured on one piece of each part: its form, sizes, holes, thread, head, hand.

A feature that a part has not got (the hole of a part without holes) is None; one that nobody knows (the
mass of a part without a solid) is left out. Sizes carry the half-width by which pieces of one part
differ among themselves; these are common practice, no source, but for screws, whose limits stand in the
catalogue.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.catalogue.values import (
    BlockSize,
    Insert,
    LeadScrew,
    Nut,
    Pulley,
    RailSize,
    Screw,
    SlotNut,
    Washer,
)
from trysquare.machine.values import Hole, Kind, PartType
from trysquare.solid.shapes import Solid, makes_solid, solid_of

CUT_MM = 0.2  # a good saw; common practice, no source
BORED_MM = 0.3  # place of a hole, drilled by template; common practice, no source
BORE_MM = 0.1  # its diameter; common practice, no source
OUTLINE_MM = 0.2  # of a plate; common practice, no source
PRINTED_MM = 0.3  # common practice, no source
BOUGHT_MM = 0.5  # common practice, no source
TURNED_MM = 0.1  # nuts, washers, pulleys; common practice, no source
MASS_SHARE = 0.05  # of the mass; common practice, no source

MOST_HOLE_PLACES = 4  # the places of so many holes, from one end, are features of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A size of one piece and the half-width by which pieces of the same part differ, in mm (mass: gram)."""

    value: float
    spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """All that is known to tell a part by. `sizes` and `seen` by feature name: see `looks.FEATURES`.

    `views`: of a member, what each of its four faces shows, in ring order +y +z -y -z.
    """

    form: str
    sizes: Mapping[str, Size | None] = field(default_factory=dict)
    seen: Mapping[str, str | None] = field(default_factory=dict)
    views: tuple[View, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class View:
    """What a member's face shows: places of its holes along and across and their diameters, each rounded to
    a tenth; of the two ways round the one that sorts first, as nobody knows which end is which."""

    holes: tuple[tuple[float, float, float], ...]

    def __len__(self) -> int:
        return len(self.holes)


FACES = ("+y", "+z", "-y", "-z")
_NORMALS = {"+y": (0.0, 1.0, 0.0), "+z": (0.0, 0.0, 1.0), "-y": (0.0, -1.0, 0.0), "-z": (0.0, 0.0, -1.0)}


def features_of(part: PartType, folder: str = "") -> Features:
    """The features of a part type. `folder`: the machine folder, for shapes from files."""
    if part.profile is not None:
        return _member(part)
    standard = part.standard
    if isinstance(standard, Screw):
        return _screw(standard)
    if isinstance(standard, Nut | Washer | Insert | SlotNut):
        return _small(standard)
    if isinstance(standard, RailSize | BlockSize | Pulley | LeadScrew):
        return _guide_or_drive(standard)
    return _other(part, folder)


def _sizes(spread: float, **values: float | None) -> dict[str, Size | None]:
    return {
        name: None if value is None else Size(value=value, spread=spread) for name, value in values.items()
    }


# --- members


def _member(part: PartType) -> Features:
    profile = part.profile
    assert profile is not None
    holes = part.holes
    places = _from_one_end([hole.at_mm[0] for hole in holes], part.length_mm)
    sizes = _sizes(CUT_MM, length=part.length_mm)
    sizes |= _sizes(
        TURNED_MM,
        width=max(profile.size_y_mm, profile.size_z_mm),
        thickness=min(profile.size_y_mm, profile.size_z_mm),
        slot=profile.mouth_mm,
    )
    for index in range(MOST_HOLE_PLACES):
        sizes |= _sizes(BORED_MM, **{f"hole_{index + 1}": places[index] if index < len(places) else None})
    sizes |= _bores(holes)
    seen: dict[str, str | None] = {
        "ends": ("no thread in either end", "a thread in one end", "a thread in both ends")[
            len(part.tapped_ends)
        ],
        "any_hole": "holes" if holes else "no hole",
        "hole_count": _counted(len(holes)),
    }
    views = member_views(part)
    seen["faces"] = faces_words(views)
    if len(part.tapped_ends) == 1 and holes:
        first = part.tapped_ends[0] == "a"
        nearest = min((min(hole.at_mm[0], part.length_mm - hole.at_mm[0]), hole.at_mm[0]) for hole in holes)[
            1
        ]
        near_a = nearest <= part.length_mm / 2
        seen["end_with_hole"] = "near the threaded end" if near_a == first else "near the plain end"
    if part.hand:
        seen["hand"] = part.hand
    return Features(form="profile bar", sizes=sizes, seen=seen, views=views)


def _from_one_end(places: Sequence[float], length_mm: float) -> list[float]:
    """Places along a member counted from the end that gives the smaller ones, as a person would; holes in
    several faces at one place are one place."""
    ahead = sorted({round(place, 1) for place in places})
    back = sorted({round(length_mm - place, 1) for place in places})
    return min(ahead, back)


def member_views(part: PartType) -> tuple[View, ...]:
    """What each face of a member shows, in the order of `FACES`."""
    found = []
    for face in FACES:
        shown = []
        for hole in part.holes:
            normal = _NORMALS[face]
            along = sum(a * b for a, b in zip(hole.direction, normal, strict=True))
            # A hole right through opens on the far face as well.
            if along > 0.9 or (along < -0.9 and hole.through):
                across = hole.at_mm[2] if face.endswith("y") else hole.at_mm[1]
                sign = -1.0 if face in ("-y", "+z") else 1.0
                shown.append((hole.at_mm[0], across * sign, hole.diameter_mm))
        ahead = tuple(sorted(_tenths(x, y, d) for x, y, d in shown))
        back = tuple(sorted(_tenths(part.length_mm - x, -y, d) for x, y, d in shown))
        found.append(View(holes=min(ahead, back)))
    return tuple(found)


def _tenths(along: float, across: float, diameter: float) -> tuple[float, float, float]:
    return (round(along, 1) + 0.0, round(across, 1) + 0.0, round(diameter, 1))


def faces_words(views: Sequence[View]) -> str:
    """How many holes each face shows, going round: "2, 1, 2, 1". Started so that the word sorts last."""
    counts = [len(view) for view in views]
    turns = [
        [*ring[start:], *ring[:start]] for ring in (counts, counts[::-1]) for start in range(len(counts))
    ]
    return ", ".join(map(str, max(turns)))


# --- fasteners


_HEADS = {
    "cylinder": "cylinder head, flat on top",
    "button": "low round head",
    "countersunk": "cone under the head",
}


def _screw(screw: Screw) -> Features:
    spread = max(screw.length_plus_mm, screw.length_minus_mm)
    sizes = _sizes(spread, length=screw.length_mm)
    sizes |= _sizes(TURNED_MM, diameter=screw.thread.diameter_mm - TURNED_MM)
    seen: dict[str, str | None] = {"thread": screw.thread.name, "key": f"{screw.key_mm:g} mm"}
    if screw.strength:
        seen["marking"] = screw.strength
    if screw.head == "none":
        seen["head"] = f"{screw.point} point"
        return Features(form="set screw", sizes=sizes, seen=seen)
    seen["head"] = _HEADS[screw.head]
    sizes |= _sizes(BORED_MM, head_diameter=screw.head_diameter_mm)
    return Features(form="screw with a head", sizes=sizes, seen=seen)


def _small(part: Nut | Washer | Insert | SlotNut) -> Features:
    thread: dict[str, str | None] = {"thread": part.thread.name}
    if isinstance(part, Nut):
        sizes = _sizes(TURNED_MM, width=part.across_flats_mm, thickness=part.height_mm)
        return Features(form="nut", sizes=sizes, seen={**thread, "shape": str(part.shape)})
    if isinstance(part, Washer):
        sizes = _sizes(TURNED_MM, diameter=part.outer_mm, bore=part.inner_mm, thickness=part.thickness_mm)
        return Features(form="washer", sizes=sizes, seen=thread)
    if isinstance(part, Insert):
        sizes = _sizes(TURNED_MM, length=part.length_mm, diameter=part.outer_mm)
        return Features(form="heat-set insert", sizes=sizes, seen=thread)
    sizes = _sizes(BORED_MM, length=part.length_mm, width=part.width_mm, thickness=part.height_mm)
    return Features(form="slot nut", sizes=sizes, seen={**thread, "shape": f"{part.shape} nut"})


# --- rails, blocks, drives


def _guide_or_drive(part: RailSize | BlockSize | Pulley | LeadScrew) -> Features:
    if isinstance(part, RailSize):
        sizes = _sizes(CUT_MM, length=part.length_mm, width=part.width_mm, thickness=part.height_mm)
        sizes |= _sizes(BORED_MM, hole_1=min(part.first_hole_mm, part.last_hole_mm))
        return Features(form="rail", sizes=sizes, seen={"hole_count": _counted(part.hole_count)})
    if isinstance(part, BlockSize):
        sizes = _sizes(
            BORED_MM, length=part.length_mm, width=part.width_mm, thickness=part.height_mm - part.gap_mm
        )
        return Features(form="rail block", sizes=sizes, seen={"thread": part.thread})
    if isinstance(part, LeadScrew):
        sizes = _sizes(BOUGHT_MM, length=part.length_mm)
        sizes |= _sizes(TURNED_MM, diameter=part.diameter_mm)
        return Features(form="lead screw", sizes=sizes, seen={"starts": f"{part.starts} starts"})
    sizes = _sizes(
        BORED_MM, length=part.length_mm, diameter=part.flange_mm, running=part.running_mm, bore=part.bore_mm
    )
    seen: dict[str, str | None] = {
        "teeth": f"{part.teeth} teeth" if part.teeth else "smooth",
        "toothed": "toothed" if part.teeth else "smooth",
        "set_screws": "set screws in a hub" if part.set_screw else "turns on bearings",
    }
    return Features(form="pulley or idler", sizes=sizes, seen=seen)


# --- plates, printed and bought parts


_FORMS = {Kind.PLATE: "flat plate", Kind.PRINTED: "printed part"}
_SPREADS = {Kind.PLATE: OUTLINE_MM, Kind.PRINTED: PRINTED_MM}
_DENSITIES = (("steel", 7.85e-3), ("brass", 8.5e-3), ("aluminium", 2.7e-3), ("glass", 2.5e-3))
"""Gram for a cubic millimetre. Source: from memory, textbook values; to be confirmed."""


def _other(part: PartType, folder: str) -> Features:
    spread = _SPREADS.get(part.kind, BOUGHT_MM)
    sizes: dict[str, Size | None] = {}
    seen: dict[str, str | None] = {}
    solid = solid_of(part, folder) if makes_solid(part) else None
    if solid is not None:
        short, middle, long = sorted(float(size) for size in solid.high_mm - solid.low_mm)
        sizes |= _sizes(spread, length=long, width=middle, thickness=short)
    mass = mass_gram(part, solid)
    if mass:
        sizes["mass"] = Size(value=mass, spread=mass * MASS_SHARE)
    if solid is not None or part.holes:
        sizes |= _bores(part.holes)
        seen["any_hole"] = "holes" if part.holes else "no hole"
        seen["hole_count"] = _counted(len(part.holes))
        threads = Counter(hole.thread or hole.insert for hole in part.holes if hole.thread or hole.insert)
        seen["threaded"] = ", ".join(f"{n} {name}" for name, n in sorted(threads.items())) or "no thread"
    if part.hand:
        seen["hand"] = part.hand
    if part.material:
        seen["material"] = part.material
    return Features(form=_FORMS.get(part.kind, "bought part"), sizes=sizes, seen=seen)


def _bores(holes: Iterable[Hole]) -> dict[str, Size | None]:
    """The widest and the narrowest plain hole."""
    plain = [hole.diameter_mm for hole in holes if not hole.thread and not hole.insert]
    return _sizes(BORE_MM, bore=max(plain, default=None), least_bore=min(plain, default=None))


def _counted(holes: int) -> str:
    return "no hole" if not holes else f"{holes} hole" + ("" if holes == 1 else "s")


def mass_gram(part: PartType, solid: Solid | None) -> float:
    """Mass of one piece as said, else from its solid and what it is made of; 0 when neither is known.

    Printed parts are not solid inside, so nothing follows from their outside.
    """
    if part.mass_gram:
        return part.mass_gram
    if solid is None or part.kind is Kind.PRINTED:
        return 0.0
    material = part.material.lower()
    for word, density in _DENSITIES:
        if word in material and "composite" not in material and "laminate" not in material:
            return float(solid.volume_mm3) * density
    return 0.0

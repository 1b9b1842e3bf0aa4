"""Types of part that no standard describes, one for each different shape, and which types are standard.

Coordinates are the machine room's: a member's x along it, a plate's z through it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Profile, Pulley
from trysquare.ground.placement import Triple
from trysquare.intake import bodies
from trysquare.intake.bodies import Assembly, Recognition, Shape, Sort
from trysquare.intake.materials import guessed_material
from trysquare.intake.part_ids import Names, says_nothing, slug
from trysquare.intake.rounding import clean_direction, rounded
from trysquare.machine.standard_types import standard_type
from trysquare.machine.values import Hole, Kind, PartType, Shaft

LEAST_CONFIDENCE = 0.5  # below it a designation is not used, whoever was not asked
BY_DESIGNATION = frozenset(
    {
        Sort.SCREW, Sort.NUT, Sort.SLOT_NUT, Sort.WASHER, Sort.INSERT, Sort.RAIL, Sort.BLOCK, Sort.PULLEY,
        Sort.BEARING, Sort.LEAD_SCREW, Sort.SHAFT,
    }
)  # fmt: skip


@dataclass(slots=True, kw_only=True, eq=False)
class OwnType:
    """A type of part that no standard describes, while its holes are still being found.

    `rectangle_mm`: (x, y, thickness) of a plate that is a plain rectangle; None: its solid is the mesh.
    `standard`: of the catalogue, when only its holes are our own. `holes` are in the part's own coordinates
    and without names.
    """

    id: str
    name: str
    kind: Kind
    shape: Shape
    found: Recognition
    profile: Profile | None = None
    length_mm: float = 0.0
    tapped: tuple[str, ...] = ()
    tapped_depth_mm: float = 0.0  # 0: not drawn
    rectangle_mm: Triple | None = None
    standard: PartType | None = None
    holes: list[Hole] = field(default_factory=list)
    shafts: tuple[Shaft, ...] = ()
    holds_nuts: bool = False
    hand: str = ""
    material: str = ""
    material_why: str = ""  # what it was guessed from


def types_of(
    assembly: Assembly,
    recognitions: Mapping[int, Recognition],
    *,
    printed: frozenset[int],
    known: Mapping[str, str],
) -> dict[int, OwnType | PartType]:
    """The type of every shape, by its number: of the catalogue, or made here. Arguments as of `pieces_of`."""
    # a name whose shape is no longer drawn is free: a part with one hole moved is still that part
    drawn = {shape.digest for shape in assembly.shapes}
    names = Names({digest: name for digest, name in known.items() if digest in drawn})
    types: dict[int, OwnType | PartType] = {}
    for shape in assembly.shapes:
        found = recognitions[shape.number]
        standard = _standard_of(found)
        if standard is not None and isinstance(standard.standard, Pulley) and standard.standard.driven:
            types[shape.number] = _idler(shape, found, standard, names)
        else:
            types[shape.number] = standard or _own_type(shape, found, names, printed=shape.number in printed)
    _hands(assembly, types)
    _materials(assembly, types)
    return types


def _standard_of(found: Recognition) -> PartType | None:
    if found.sort not in BY_DESIGNATION or not found.designation or found.confidence < LEAST_CONFIDENCE:
        return None
    try:
        return standard_type(found.designation)
    except UnknownDesignation:
        return None


def _own_type(shape: Shape, found: Recognition, names: Names, *, printed: bool) -> OwnType:
    named = slug(shape.name)
    profile = _profile_of(found)
    if profile is not None:
        length = round(found.parameters["length_mm"], 4)
        wanted = f"member-{length:g}".replace(".", "-")
        kind = Kind.MEMBER
    elif found.sort is Sort.PLATE:
        wanted, kind, length = "plate", Kind.PLATE, 0.0
    else:
        wanted, kind, length = (
            slug(str(found.sort)) if found.sort is not Sort.OWN else "part",
            Kind.BOUGHT,
            0.0,
        )
    if printed or (shape.source in ("stl", "3mf") and kind is not Kind.MEMBER):
        kind = Kind.PRINTED
    own = OwnType(
        id=names.one_of(named if not says_nothing(named) else wanted, digest=shape.digest),
        name=shape.name.strip(),
        kind=kind,
        shape=shape,
        found=found,
        profile=profile,
        length_mm=length,
        tapped=found.tapped if profile else (),
        tapped_depth_mm=found.parameters.get("tapped_depth_mm", 0.0) if profile else 0.0,
        holes=[machine_hole(hole) for hole in found.holes],
    )
    if kind is not Kind.MEMBER and found.sort is Sort.PLATE:
        own.rectangle_mm = _rectangle(shape, found, own.holes)
    if found.sort is Sort.MOTOR:
        own.shafts = _motor_shaft(found)
    elif found.sort in (Sort.SHAFT, Sort.LEAD_SCREW):
        size = found.parameters
        own.shafts = (_shaft((0.0, 0.0, 0.0), size["diameter_mm"], size["length_mm"]),)
    return own


def _idler(shape: Shape, found: Recognition, standard: PartType, names: Names) -> OwnType:
    """An idler of the catalogue, with its bore as a hole for the screw it turns on."""
    size = standard.standard
    assert isinstance(size, Pulley)
    named = slug(shape.name)
    return OwnType(
        id=names.one_of(
            named if not says_nothing(named) else slug(size.designation), digest=shape.digest
        ),
        name=size.designation,
        kind=Kind.DRIVE,
        shape=shape,
        found=found,
        standard=standard,
        holes=[
            Hole(
                name="", at_mm=(0.0, 0.0, size.length_mm), direction=(0.0, 0.0, 1.0),
                diameter_mm=size.bore_mm, depth_mm=size.length_mm, through=True,
            )
        ],
    )  # fmt: skip


def _profile_of(found: Recognition) -> Profile | None:
    if found.sort is not Sort.MEMBER or not found.designation or found.confidence < LEAST_CONFIDENCE:
        return None
    try:
        profile = lookup(found.designation)
    except UnknownDesignation:
        return None
    return profile if isinstance(profile, Profile) else None


def machine_hole(hole: bodies.Hole) -> Hole:
    """A recognised hole as the machine room has it, its figures without the noise of the file."""
    counterbore, depth = hole.counterbore_mm or (0.0, 0.0)
    return Hole(
        name="",
        at_mm=rounded(hole.at_mm),
        direction=clean_direction(hole.direction),
        diameter_mm=round(hole.diameter_mm, 4),
        depth_mm=round(hole.depth_mm, 4),
        through=hole.through,
        thread=hole.thread,
        counterbore_mm=round(counterbore, 4),
        counterbore_depth_mm=round(depth, 4),
        countersunk=hole.countersink_mm is not None,
    )


def _rectangle(shape: Shape, found: Recognition, holes: list[Hole]) -> Triple | None:
    """The plate's sizes when it is a plain rectangle but for its holes: its box lacks nothing else."""
    size = found.parameters
    x, y, thick = (round(size[key], 4) for key in ("size_x_mm", "size_y_mm", "thickness_mm"))
    gone = 0.0
    for hole, seen in zip(holes, found.holes, strict=True):
        if abs(abs(hole.direction[2]) - 1) > 1e-6:
            return None  # a hole in its edge: the text would not cut it alike
        bore = np.pi / 4 * hole.diameter_mm**2
        gone += bore * hole.depth_mm
        gone += (
            (np.pi / 4 * hole.counterbore_mm**2 - bore) * hole.counterbore_depth_mm
            if hole.counterbore_mm
            else 0
        )
        if seen.countersink_mm:
            wide, narrow = seen.countersink_mm / 2, hole.diameter_mm / 2
            deep = wide - narrow  # 90°
            gone += np.pi / 3 * deep * (wide**2 + wide * narrow + narrow**2) - bore * deep
    missing = x * y * thick - shape.volume_mm3
    slack = (
        0.15 if any(seen.countersink_mm for seen in found.holes) else 0.02
    )  # a countersink's rim is drawn freely
    return (x, y, thick) if abs(missing - gone) < max(1.0, slack * gone) else None


def _motor_shaft(found: Recognition) -> tuple[Shaft, ...]:
    size = found.parameters
    if not size.get("shaft_mm") or not size.get("shaft_length_mm"):
        return ()
    return (_shaft((0.0, 0.0, 0.0), size["shaft_mm"], size["shaft_length_mm"]),)


def _shaft(at_mm: Triple, diameter_mm: float, length_mm: float) -> Shaft:
    return Shaft(
        name="shaft", at_mm=at_mm, direction=(0.0, 0.0, 1.0), diameter_mm=round(diameter_mm, 3),
        length_mm=round(length_mm, 4), flat=False,
    )  # fmt: skip


def _hands(assembly: Assembly, types: Mapping[int, OwnType | PartType]) -> None:
    """Mirror twins are told apart by hand: the name says which is which, else the first is the left one."""
    for shape in assembly.shapes:
        if shape.mirror_of is None:
            continue
        mine, other = types[shape.number], types[shape.mirror_of]
        if not isinstance(mine, OwnType) or not isinstance(other, OwnType) or mine.profile or other.hand:
            continue
        right = "right" in other.name.lower() or "left" in mine.name.lower()
        other.hand, mine.hand = ("right", "left") if right else ("left", "right")


def _materials(assembly: Assembly, types: Mapping[int, OwnType | PartType]) -> None:
    """Plates get the material that is guessed from name and colour, with the reason."""
    colours = {body.shape: body.colour for body in reversed(assembly.bodies)}
    for number, own in types.items():
        if isinstance(own, OwnType) and own.kind is Kind.PLATE and not own.material:
            guess = guessed_material(own.name, colours.get(number))
            own.material, own.material_why = guess.material, guess.why

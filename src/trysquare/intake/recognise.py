"""What a shape is: each reader is asked in turn, the surest answer is taken.

Names in the file are a hint only: `hinted` compares them with the answer, it never makes one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.intake.bodies import FaceKind, Recognition, Shape, Sort
from trysquare.intake.faces_meshed import faces_of_mesh, loose_flats
from trysquare.intake.recognise_guides import guide_of
from trysquare.intake.recognise_loose import loose_of
from trysquare.intake.recognise_members import member_of
from trysquare.intake.recognise_motors import motor_of
from trysquare.intake.recognise_nuts import nut_of
from trysquare.intake.recognise_others import (
    bearing_of,
    own_part,
    plate_of,
    pulley_of,
    shaft_of,
)
from trysquare.intake.recognise_screws import screw_of

MOST_FACES = 6000  # a shape with more faces is a drawing of something, not a machine element
FASTENER_FACES = 400  # a screw has some tens of faces, a modelled thread may add some hundreds
GOOD_ENOUGH = 0.9
LOOSE_AT_MOST = 0.7  # a ring that is nothing surely may be a belt
HINT_GAIN = 0.12
MESH_LOSS = 0.07  # a mesh's rounds are known to a hundredth or two
OPEN_AT_MOST = 0.7
MOST_LOOSE = 8  # a countersink or two leaves none, a hole drawn too roughly leaves more
LEAST_FACETS = 40  # a bar with two holes has more when it is drawn with triangles
THREE = 3
DRILLED = (Sort.MEMBER, Sort.PLATE, Sort.RAIL)
MESHES = ("stl", "3mf")

Reader = Callable[[Shape], Recognition | None]
_FASTENERS: tuple[Reader, ...] = (screw_of, nut_of)
_OTHERS: tuple[Reader, ...] = (member_of, guide_of, pulley_of, motor_of, bearing_of, shaft_of, plate_of)


def recognised(shape: Shape) -> Recognition:
    """What a shape is, from its faces alone; an own part when nothing is recognised.

    A mesh has no faces: flats and rounds are looked for among its triangles, and what they make is less sure.
    A shape whose skin is open is never sure: a face that is missing may have been a hole.
    """
    if shape.source in MESHES and not shape.faces:
        return _from_mesh(shape)
    found = _from_mesh(shape) if is_facetted(shape) else _from_faces(shape)
    if shape.closed or not found.is_sure:
        return found
    return replace(
        found, confidence=OPEN_AT_MOST,
        doubts=(*found.doubts, "its skin is open; what is missing may have been a hole"),
    )  # fmt: skip


def is_facetted(shape: Shape) -> bool:
    """Whether a solid of a CAD file is a mesh in truth: flats alone, and of the many some three-cornered."""
    return (
        len(shape.faces) >= LEAST_FACETS
        and all(face.kind is FaceKind.PLANE for face in shape.faces)
        and 2 * sum(len(face.corners_mm) == THREE for face in shape.faces) > len(shape.faces)
    )


def _from_mesh(shape: Shape) -> Recognition:
    faces = faces_of_mesh(shape.points_mm, shape.triangles)
    seen = replace(shape, faces=faces)
    found = _from_faces(seen)
    if found.sort is Sort.OWN:
        return found
    loose = loose_flats(faces) if found.sort in DRILLED else 0
    if loose > MOST_LOOSE:
        return replace(
            found, confidence=min(found.confidence - MESH_LOSS, OPEN_AT_MOST),
            evidence=(*found.evidence, "came as a mesh"),
            doubts=(*found.doubts, f"{loose} flats may be pieces of rounds: count its holes"),
        )  # fmt: skip
    if found.sort is Sort.PLATE:  # it is printed or cut as drawn, either way: nothing to ask
        return replace(found, evidence=(*found.evidence, "came as a mesh, as parts to be printed do"))
    rounds = sum(face.kind is not FaceKind.PLANE for face in faces)
    remark = f"came as a mesh: {len(faces) - rounds} flats and {rounds} rounds found among its triangles"
    return replace(
        found, confidence=max(0.05, found.confidence - MESH_LOSS), evidence=(*found.evidence, remark)
    )


def _from_faces(shape: Shape) -> Recognition:
    if not shape.faces or len(shape.faces) > MOST_FACES:
        return own_part(shape)
    readers = (*_FASTENERS, *_OTHERS) if len(shape.faces) <= FASTENER_FACES else _OTHERS
    best: Recognition | None = None
    for read in readers:
        found = read(shape)
        if found is None:
            continue
        if found.confidence >= GOOD_ENOUGH:
            return found
        if best is None or found.confidence > best.confidence:
            best = found
    loose = loose_of(shape) if best is None or best.confidence < LOOSE_AT_MOST else None
    return loose or best or own_part(shape)


def hinted(found: Recognition, names: Iterable[str]) -> Recognition:
    """The recognition with what the file's names say of it: a name that agrees makes it surer, and picks
    among alternatives that the solid cannot tell apart; a name that says another is a doubt, never more."""
    for name in names:
        said = _designation_in(name)
        if not said:
            continue
        if said == found.designation:
            return replace(
                found, confidence=min(0.99, found.confidence + HINT_GAIN),
                evidence=(*found.evidence, f"its name says {said}"),
            )  # fmt: skip
        if said in found.alternatives:
            others = (found.designation, *(each for each in found.alternatives if each != said))
            return replace(
                found,
                designation=said,
                sort=_SORTS.get(said.split()[0], found.sort) if found.sort is Sort.SHAFT else found.sort,
                alternatives=tuple(each for each in others if each),
                confidence=max(found.confidence, 0.85),
                evidence=(*found.evidence, f"its name says {said}, and its solid does not speak against it"),
            )
        if found.designation and said.split()[0] == found.designation.split()[0]:
            return replace(found, doubts=(*found.doubts, f"its name says {said}"))
    return found


_SORTS = {"lead": Sort.LEAD_SCREW}


def _designation_in(name: str) -> str:
    """The catalogue's designation that a name is, or begins with; "" when none."""
    text = re.sub(r"[_]+", " ", name).strip()
    for tried in (text, re.sub(r"[ :.#-]*[0-9]+$", "", text)):
        try:
            return lookup(tried).designation
        except UnknownDesignation:
            continue
    return ""

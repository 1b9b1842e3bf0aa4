"""Reads a STEP file (AP203, AP214, AP242) into an `Assembly`, by OpenCascade.

Call it in a child process: the kernel may crash, and takes what memory it likes (see the command).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Assembly, Body, FileFacts, Problem, Shape, Triangles
from trysquare.intake.limits import (
    FAR_FROM_ORIGIN_MM,
    FARTHEST_MM,
    THINNEST_MM,
    THINNEST_MM3,
    checked_size,
    digest_of,
    kind_of,
    trouble,
)
from trysquare.intake.shapes_apart import (
    Marks,
    could_be_same,
    digest_of_shape,
    marks_of,
    motion_of_marks,
)
from trysquare.intake.solids import Measured, drawn, measured
from trysquare.intake.step_tree import Leaf, leaves_of_file
from trysquare.intake.strays import strays
from trysquare.intake.together import put_together

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape

Numbers = TypeVar("Numbers", Array, Triangles)
HEAD_BYTES = 256 * 1024
TAIL_BYTES = 4096
_SCHEMAS = (
    ("AP242", "ap242", "10303 442"),
    ("AP214", "automotive_design"),
    ("AP203", "config_control_design", "ap203"),
)
_AGAIN = "Export it again as STEP AP214 or AP242, solids, in millimetres."


def read_step(
    path: Path, say: Callable[[str], None] = lambda _text: None, keep: list[object] | None = None
) -> Assembly:
    """All bodies of a STEP file in millimetres; a ReadingError when nothing can be made of it.

    `say` is told, in a word or two, what is being done. `keep` is given what the kernel made: a process that
    ends anyway need not take it apart piece by piece.
    """
    facts = facts_of_step(path)
    say("reading")
    leaves, unit, problems = leaves_of_file(path, _is_by_itself, keep)
    if not leaves:
        raise trouble(path.name, "no bodies", "at least one solid", _AGAIN)
    say("comparing")
    leaves = put_together(leaves, shape_of_solid, problems)
    gathered = _gather(leaves, path.name)
    if keep is not None:
        keep += [leaves, gathered]
    say("drawing")
    shapes, problems = _shapes(gathered, [*problems, *gathered.problems])
    bodies = tuple(gathered.bodies)
    if not shapes:
        raise trouble(
            path.name,
            "surfaces that enclose nothing" if gathered.problems else "no solids",
            "at least one closed solid",
            "In the CAD program, sew the surfaces into solids, then export again.",
        )
    facts = FileFacts(
        name=facts.name, kind=facts.kind, size_bytes=facts.size_bytes, digest=facts.digest,
        schema=facts.schema, unit=unit or facts.unit, system=facts.system,
    )  # fmt: skip
    problems += _problems_of_whole(facts, shapes, bodies)
    return Assembly(facts=facts, shapes=shapes, bodies=bodies, problems=tuple(problems))


def _is_by_itself(solid: TopoDS_Shape) -> bool:
    """Whether a solid among several of one part is a piece of the catalogue, as a block on its rail is."""
    from trysquare.intake.recognise import recognised  # few files need it, and its tables take a while

    try:
        found = recognised(shape_of_solid(solid))
    except ReadingError:
        return False
    return bool(found.designation) and found.is_sure


def shape_of_solid(solid: TopoDS_Shape, name: str = "") -> Shape:
    """One solid of the kernel as a shape, as if a file had held it alone. A ReadingError when it is none."""
    gathered = _gather([Leaf.alone(solid, name)], name or "solid")
    shapes, _problems = _shapes(gathered, [])
    if not shapes:
        raise trouble(name or "solid", "no solid", "a closed solid", _AGAIN)
    return shapes[0]


def facts_of_step(path: Path) -> FileFacts:
    """What a STEP file says at its beginning and end; a ReadingError when it is none, or cut short."""
    size = checked_size(path)
    kind = kind_of(path)
    if kind != "step":
        known = {"stl": "an STL mesh", "3mf": "a 3MF or other zip archive"}
        with path.open("rb") as file:
            start = file.read(40).decode("latin-1")
        raise trouble(
            path.name,
            known.get(kind, start),
            "a STEP file, which begins with ISO-10303-21",
            f"Give it its right extension, .{kind}, and import it as that." if kind else _AGAIN,
        )
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES).decode("latin-1")
        file.seek(max(0, size - TAIL_BYTES))
        tail = file.read().decode("latin-1")
    if "END-ISO-10303-21" not in tail.upper():
        raise trouble(
            path.name,
            f"a file of {size} bytes without END-ISO-10303-21 at its end",
            "a whole STEP file",
            "It was cut short: copy, download or export it again.",
        )
    schema_text = _first(r"FILE_SCHEMA\s*\((.*?)\)\s*;", head).lower()
    schema = next((name for name, *words in _SCHEMAS if any(word in schema_text for word in words)), "")
    strings = re.findall(r"'((?:[^']|'')*)'", _first(r"FILE_NAME\s*\((.*?)\)\s*;", head))
    return FileFacts(
        name=path.name,
        kind="step",
        size_bytes=size,
        digest=digest_of(path),
        schema=schema,
        system=strings[-2] if len(strings) >= 2 else "",
    )


def _first(pattern: str, text: str) -> str:
    found = re.search(pattern, text, re.DOTALL | re.IGNORECASE)
    return found[1] if found else ""


@dataclass(slots=True, eq=False)
class _Kind:
    """One different solid while they are gathered."""

    solid: TopoDS_Shape
    name: str
    figures: Measured
    marks: Marks


@dataclass(slots=True, eq=False)
class _Gathered:
    kinds: list[_Kind] = field(default_factory=list)
    bodies: list[Body] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def _gather(leaves: list[Leaf], file_name: str) -> _Gathered:
    """Bodies with the number of their kind; equal solids share one, however they stand in the file."""
    gathered = _Gathered()
    known: dict[int, tuple[int, Placement]] = {}
    for leaf in leaves:
        if leaf.solid is None:
            gathered.problems.append(
                Problem(code="surfaces-only", names=(leaf.name,),
                        says=f"'{leaf.name}' is made of surfaces that enclose nothing; it was left out.",
                        remedy="Sew it into a solid in the CAD program if it is a part of the machine.")
            )  # fmt: skip
            continue
        if leaf.key not in known:
            known[leaf.key] = _known_kind(leaf, gathered, file_name)
        number, inner = known[leaf.key]
        if number >= 0:
            gathered.bodies.append(
                Body(
                    name=leaf.name, path=leaf.path, shape=number,
                    placement=leaf.placement.then(inner), colour=leaf.colour,
                )
            )  # fmt: skip
    return gathered


def _known_kind(leaf: Leaf, gathered: _Gathered, file_name: str) -> tuple[int, Placement]:
    """The number of a solid's kind, and the motion from the kind's coordinates to its own; -1 for none."""
    assert leaf.solid is not None  # the caller looked
    from OCP.Standard import Standard_Failure

    try:
        figures = measured(leaf.solid)
    except Standard_Failure as error:
        gathered.problems.append(
            Problem(code="not-measured", names=(leaf.name,),
                    says=f"The CAD kernel cannot measure '{leaf.name}' ({error}); it was left out.",
                    remedy="Open and save that part with another CAD program.")
        )  # fmt: skip
        return -1, Placement()
    if not np.isfinite(figures.centroid_mm).all() or float(np.abs(figures.centroid_mm).max()) > FARTHEST_MM:
        raise trouble(
            file_name, f"'{leaf.name}' at {float(np.abs(figures.centroid_mm).max()):.3g} mm",
            f"bodies within {FARTHEST_MM / 1e6:g} km of the origin",
            "Move the assembly to the origin and export again.",
        )  # fmt: skip
    thin = 2 * figures.volume_mm3 < THINNEST_MM * figures.area_mm2
    if figures.volume_mm3 < THINNEST_MM3 or thin:
        what = "is less than a thousandth of a millimetre thick" if thin else "encloses no volume"
        gathered.problems.append(
            Problem(code="no-thickness", names=(leaf.name,), says=f"'{leaf.name}' {what}; it was left out.",
                    remedy="Give it its thickness in the CAD program, or ignore it if it is a sketch.")
        )  # fmt: skip
        return -1, Placement()
    marks = marks_of(figures)
    for number, kind in enumerate(gathered.kinds):
        if could_be_same(kind.figures, figures):
            motion = motion_of_marks(kind.marks, marks)
            if motion is not None:
                return number, motion
    gathered.kinds.append(_Kind(leaf.solid, leaf.part_name or leaf.name, figures, marks))
    return len(gathered.kinds) - 1, Placement()


def _shapes(gathered: _Gathered, problems: list[Problem]) -> tuple[tuple[Shape, ...], list[Problem]]:
    from OCP.Standard import Standard_Failure

    shapes = []
    for number, kind in enumerate(gathered.kinds):
        figures = kind.figures
        try:
            points, triangles, undrawn = drawn(kind.solid, inside_out=figures.inside_out)
        except Standard_Failure:
            points, triangles, undrawn = (
                np.zeros((0, 3)),
                np.zeros((0, 3), dtype=np.int64),
                len(figures.faces),
            )
        if undrawn:
            problems.append(
                Problem(code="no-mesh", names=(kind.name,),
                        says=f"{undrawn} of {len(figures.faces)} faces of '{kind.name}' could not be drawn.",
                        remedy="Look at its picture; repair it in the CAD program if a piece is missing.")
            )  # fmt: skip
        if figures.inside_out:
            problems.append(
                Problem(code="skin-inside-out", names=(kind.name,),
                        says=f"The faces of '{kind.name}' point inwards; it was read as if outwards.")
            )  # fmt: skip
        if figures.open_edges:
            problems.append(
                Problem(code="open-shell", names=(kind.name,),
                        says=f"The skin of '{kind.name}' is open at {figures.open_edges} edges:"
                             " its volume is a guess.",
                        remedy="Close it in the CAD program, then export again.")
            )  # fmt: skip
        mirror_of, handed = _mirror_of(number, gathered.kinds)
        low, high = (points.min(axis=0), points.max(axis=0)) if len(points) else (np.zeros(3), np.zeros(3))
        shapes.append(
            Shape(
                number=number,
                name=kind.name,
                faces=figures.faces,
                volume_mm3=figures.volume_mm3,
                area_mm2=figures.area_mm2,
                centroid_mm=figures.centroid_mm,
                moments_mm5=figures.moments_mm5,
                axes=figures.axes,
                box_mm=_read_only(np.stack([low, high])),
                points_mm=_read_only(points),
                triangles=_read_only(triangles),
                digest=digest_of_shape(figures, handed=handed),
                mirror_of=mirror_of,
                closed=not figures.open_edges,
            )
        )
    return tuple(shapes), problems


def _read_only(array: Numbers) -> Numbers:
    array.setflags(write=False)
    return array


def _mirror_of(number: int, kinds: list[_Kind]) -> tuple[int | None, bool]:
    """The earlier kind that this one is the mirror image of, and whether it is handed at all."""
    mine = kinds[number]
    handed = motion_of_marks(mine.marks.mirrored(), mine.marks) is None
    if not handed:
        return None, False
    for other, kind in enumerate(kinds[:number]):
        if (
            could_be_same(kind.figures, mine.figures)
            and motion_of_marks(kind.marks.mirrored(), mine.marks) is not None
        ):
            return other, True
    return None, True


def _problems_of_whole(
    facts: FileFacts, shapes: tuple[Shape, ...], bodies: tuple[Body, ...]
) -> list[Problem]:
    problems = []
    if facts.unit == "inch":
        problems.append(
            Problem(code="inch", says="The file is in inches; all lengths were taken to millimetres.")
        )
    elif facts.unit not in {"mm", ""}:
        problems.append(
            Problem(code="odd-unit", says=f"The file's unit is the {facts.unit}; it was read in millimetres.",
                    remedy="Compare one length that you know.")
        )  # fmt: skip
    places = np.array([body.placement.point(shapes[body.shape].centroid_mm) for body in bodies])
    away = float(np.linalg.norm(places, axis=1).min(initial=np.inf))
    if np.isfinite(away) and away > FAR_FROM_ORIGIN_MM:
        problems.append(
            Problem(code="far-from-origin", says=f"The assembly stands {away / 1000:.1f} m from the origin.",
                    remedy="It is moved to the origin when the machine folder is written.")
        )  # fmt: skip
    stray = strays(places)
    if stray:
        names = tuple(dict.fromkeys(bodies[number].name for number, _away in stray))
        problems.append(
            Problem(code="far-from-rest", names=names,
                    says=f"'{names[0]}' stands {stray[0][1] / 1000:.1f} m from the rest.",
                    remedy="Move it to its place in the CAD program, or delete it, and export again.")
        )  # fmt: skip
    return problems

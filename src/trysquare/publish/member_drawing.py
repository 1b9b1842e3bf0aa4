"""A member, a rail or a plate drawn small, so that its ends and faces can be told on the bench.

A member's faces lie one under the other as they come when it is rolled away from you: +z, -y, -z, +y, each
seen from outside with end a on the left. Only those from the first to the last with a stated hole are drawn.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import Profile, RailSize
from trysquare.ground.placement import Triple
from trysquare.machine.values import Hole, PartType
from trysquare.publish.drawing import (
    EDGE,
    HIDDEN,
    SOLID,
    THIN,
    WHITE,
    Circle,
    Drawing,
    Path,
    Shape,
    Word,
    box,
    line,
    outline,
)
from trysquare.publish.fitting import fitted

# Face, its way out and its way up on the paper; x is to the right on all of them.
FACES: tuple[tuple[str, Triple, Triple], ...] = (
    ("+z", (0, 0, 1), (0, 1, 0)),
    ("-y", (0, -1, 0), (0, 0, 1)),
    ("-z", (0, 0, -1), (0, -1, 0)),
    ("+y", (0, 1, 0), (0, 0, -1)),
)
END_MM = 3.2  # room left and right of a member for the letters of its ends
NAME_MM = 4.6  # further room for the faces' names
TAPPED_MM = 3.5  # how far the bar of a tapped end reaches in; not to scale
FIGURE_PT = 6.0
FIGURE_MM = 4.0  # width that a figure of three digits wants
LINE_MM = 2.6  # height of a line of figures
LEAST_HOLE_MM = 0.45  # drawn radius below which a hole is a dot nobody sees
_MOST_POINTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Where a hole of a member opens: on which face, how far from end a, how far up from the middle."""

    face: str
    x_mm: float
    up_mm: float
    diameter_mm: float
    thread: str
    through: bool


def openings(part_type: PartType) -> tuple[Opening, ...]:
    """All openings of a member's holes; a hole right through opens on two faces."""
    found: dict[Opening, None] = {}
    for hole in part_type.holes:
        for out, at in _ends_of(hole):
            for face, way, up in FACES:
                if _dot(out, way) > 0.99:
                    opening = Opening(
                        face=face,
                        x_mm=round(at[0], 3),
                        up_mm=round(_dot(at, up), 3) + 0.0,
                        diameter_mm=hole.diameter_mm,
                        thread=hole.thread,
                        through=hole.through,
                    )
                    found.setdefault(opening)
    return tuple(found)


def ends_alike(part_type: PartType) -> bool:
    """Whether a member can be turned end for end, rolled as needed, and then looks the same."""
    if set(part_type.tapped_ends) not in (set(), {"a", "b"}):
        return False
    profile = part_type.profile
    quarter = 1 if profile is not None and profile.cells_y == profile.cells_z else 2
    holes = {_mark(part_type, hole, 0, turned=False) for hole in part_type.holes}
    return any(
        {_mark(part_type, hole, roll, turned=True) for hole in part_type.holes} == holes
        for roll in range(0, 4, quarter)
    )


def ends_words(part_type: PartType) -> str:
    """Which end is which, in words: what is tapped, or that it does not matter."""
    thread = part_type.profile.core_thread if part_type.profile else ""
    tapped = part_type.tapped_ends
    if len(tapped) == 2:
        said = f"both ends tapped {thread}"
    elif tapped:
        said = f"end {tapped[0]} tapped {thread}"
    else:
        said = "ends not tapped"
    words = [said.strip()]
    if part_type.holes and all(hole.through for hole in part_type.holes):
        words.append("holes right through" if len(part_type.holes) > 1 else "hole right through")
    if ends_alike(part_type):
        words.append("ends alike")
    return "; ".join(words)


def member_drawing(part_type: PartType, width_mm: float, strip_mm: float, *, most_mm: float) -> Drawing:
    """A member `width_mm` wide over all, each face `strip_mm` high (more for a wide profile).

    Lengths along the member are to one scale; heights are not. Strips are made lower to stay within
    `most_mm` together.
    """
    profile = part_type.profile
    assert profile is not None
    opened = openings(part_type)
    faces = _faces_to_draw(stated_faces(part_type))
    named = len(faces) > 1
    heights = [strip_mm * cells_across(profile, face) for face in faces]
    figures = 0.0 if not opened else LINE_MM * min(2, len(faces))
    if sum(heights) + figures > most_mm:
        figures = 0.0
    if sum(heights) > most_mm:
        heights = [height * most_mm / sum(heights) for height in heights]
    left = END_MM
    right = width_mm - END_MM - (NAME_MM if named else 0.0)
    scale = (right - left) / part_type.length_mm
    shapes: list[Shape] = []
    first = top = 0.15 + (LINE_MM if figures else 0.0)
    for face, height in zip(faces, heights, strict=True):
        shapes += _strip(profile, face, opened, (left, top, right, top + height), scale)
        shapes += _tapped(part_type, left, right, top + height / 2, height)
        if named:
            shapes.append(Word(text=face, at=(width_mm, top + height / 2), size_pt=6, anchor="right"))
        top += height
    middle = first + sum(heights) / 2
    if figures:
        shapes += _distances(opened, faces[0], left, scale, first - LINE_MM / 2 - 0.1)
    if figures and named:
        shapes += _distances(opened, faces[-1], left, scale, top + LINE_MM / 2 + 0.2)
        top += LINE_MM
    for end, x in (("a", 1.1), ("b", right + END_MM - 1.1)):
        shapes.append(Word(text=end, at=(x, middle), size_pt=7.5, bold=True))
    return Drawing(
        width_mm=width_mm,
        height_mm=top + 0.15,
        shapes=tuple(shapes),
        says=_says(part_type, opened),
    )


def rail_ends_words(rail: RailSize) -> str:
    """Where a rail of unequal ends has its first hole: "5 mm from one end, 15 mm from the other"."""
    near, far = sorted((rail.first_hole_mm, rail.last_hole_mm))
    return f"{written(near)} mm from one end, {written(far)} mm from the other"


def rail_drawing(rail: RailSize, width_mm: float, strip_mm: float) -> Drawing:
    """A rail from above with its screw holes; unequal ends with the distance of the first hole at each."""
    left, right = END_MM, width_mm - END_MM
    scale = (right - left) / rail.length_mm
    top, bottom = 0.15, 0.15 + strip_mm
    middle = (top + bottom) / 2
    radius = max(LEAST_HOLE_MM, rail.hole_mm / 2 * scale)
    shapes: list[Shape] = [box(EDGE, left, top, right, bottom)]
    shapes += [Circle(pen=THIN, centre=(left + x * scale, middle), radius=radius) for x in rail.holes_mm]
    first = f"first at {written(rail.first_hole_mm)} mm"
    if rail.ends_differ:
        first = f"first hole {rail_ends_words(rail)}"
        ends = ((left - END_MM / 2, rail.first_hole_mm), (right + END_MM / 2, rail.last_hole_mm))
        shapes += [Word(text=written(mm), at=(x, middle), size_pt=5.5, bold=True) for x, mm in ends]
    return Drawing(
        width_mm=width_mm,
        height_mm=bottom + 0.15,
        shapes=tuple(shapes),
        says=f"Rail from above, {rail.hole_count} holes, {first}.",
    )


def plate_drawing(part_type: PartType, width_mm: float, height_mm: float) -> Drawing | None:
    """A plate from above (from +z), as large as fits; None when its outline is not known."""
    corners = part_type.outline_mm
    if not corners or len(corners) > _MOST_POINTS:
        return None
    low = (min(x for x, _ in corners), min(y for _, y in corners))
    high = (max(x for x, _ in corners), max(y for _, y in corners))
    laid = fitted(low, high, width_mm, height_mm)
    if laid is None:
        return None
    across, up = high[0] - low[0], high[1] - low[1]
    shapes: list[Shape] = [outline(EDGE, [[laid.at(x, y) for x, y in corners]])]
    for hole in part_type.holes:
        if abs(hole.direction[2]) > 0.99:
            pen = THIN if hole.through or hole.direction[2] > 0 else HIDDEN
            radius = max(0.3, hole.diameter_mm / 2 * laid.scale)
            shapes.append(Circle(pen=pen, centre=laid.at(hole.at_mm[0], hole.at_mm[1]), radius=radius))
    return Drawing(
        width_mm=laid.size_mm[0],
        height_mm=laid.size_mm[1],
        shapes=tuple(shapes),
        says=f"Plate from above, {written(across)} by {written(up)} mm, {len(part_type.holes)} holes.",
    )


# --- what is on a face


def stated_faces(part_type: PartType) -> frozenset[str]:
    """The faces on which a member's holes are stated, and from which they are drilled: labels, pictures and
    drilling drawings all name a hole right through by this one of its two faces."""
    return frozenset(
        face for hole in part_type.holes for face, way, _ in FACES if _dot(hole.direction, way) > 0.99
    )


def _faces_to_draw(have: frozenset[str]) -> list[str]:
    """The shortest row of neighbouring faces that has every stated one."""
    order = [face for face, _, _ in FACES]
    if not have:
        return ["+z"]
    rows = [
        [order[(first + step) % 4] for step in range(length)] for length in range(1, 5) for first in range(4)
    ]
    return next(row for row in rows if have <= set(row))


def _strip(
    profile: Profile,
    face: str,
    opened: tuple[Opening, ...],
    place: tuple[float, float, float, float],
    scale: float,
) -> list[Shape]:
    """One face: its edge, its slots, its holes."""
    left, top, right, bottom = place
    cells = cells_across(profile, face)
    across_mm = profile.cell_mm * cells
    height = bottom - top
    shapes: list[Shape] = [box(EDGE, left, top, right, bottom)]
    for cell in range(cells):
        middle = top + height * (cell + 0.5) / cells
        half = height / cells * profile.mouth_mm / profile.cell_mm / 2
        shapes += [
            line(THIN, (left, middle + side * half), (right, middle + side * half)) for side in (-1, 1)
        ]
    for one in opened:
        if one.face == face:
            at = (left + one.x_mm * scale, top + height * (0.5 - one.up_mm / across_mm))
            # Larger than to scale, so that it is seen; not so large that two become one.
            radius = max(LEAST_HOLE_MM, height / cells * one.diameter_mm / profile.cell_mm / 2 * 1.25)
            shapes.append(Circle(pen=WHITE, centre=at, radius=radius))
    return shapes


def _tapped(part_type: PartType, left: float, right: float, middle: float, height: float) -> list[Path]:
    """A black bar into each tapped end, where its thread is."""
    half = min(0.45, height / 6)
    bars = {"a": (left, left + TAPPED_MM), "b": (right - TAPPED_MM, right)}
    return [
        box(SOLID, begins, middle - half, ends, middle + half)
        for end, (begins, ends) in bars.items()
        if end in part_type.tapped_ends
    ]


def _distances(
    opened: tuple[Opening, ...], face: str, left: float, scale: float, y: float
) -> tuple[Word, ...]:
    """How far from end a each hole of a face is, in figures beside the strip; none where they would touch."""
    places = sorted({one.x_mm for one in opened if one.face == face})
    if any(after - before < FIGURE_MM / scale for before, after in itertools.pairwise(places)):
        return ()
    return tuple(Word(text=written(round(x, 1)), at=(left + x * scale, y), size_pt=FIGURE_PT) for x in places)


def _says(part_type: PartType, opened: tuple[Opening, ...]) -> str:
    """The drawing in words."""
    if not opened:
        return f"Member of {written(part_type.length_mm)} mm, no holes; {ends_words(part_type)}."
    rows = []
    for face, _, _ in FACES:
        places = sorted(one.x_mm for one in opened if one.face == face)
        if places:
            rows.append(f"face {face}: {', '.join(written(x) for x in places)} mm from end a")
    begin = f"Member of {written(part_type.length_mm)} mm, end a left"
    return f"{begin}; {ends_words(part_type)}; {'; '.join(rows)}."


def cells_across(profile: Profile, face: str) -> int:
    """How many cells, and so slots, lie side by side on a face."""
    return profile.cells_y if face.endswith("z") else profile.cells_z


# --- small geometry


def _ends_of(hole: Hole) -> list[tuple[Triple, Triple]]:
    """The way out and the place of each opening of a hole."""
    first = (hole.direction, hole.at_mm)
    if not hole.through:
        return [first]
    x, y, z = (at - way * hole.depth_mm for at, way in zip(hole.at_mm, hole.direction, strict=True))
    a, b, c = hole.direction
    return [first, ((-a, -b, -c), (x, y, z))]


def _mark(part_type: PartType, hole: Hole, roll: int, *, turned: bool) -> tuple[object, ...]:
    """All that can be seen of a hole, after turning the member end for end about z and rolling it."""
    ends = []
    for out, at in _ends_of(hole):
        spot, way = at, out
        if turned:
            spot, way = (part_type.length_mm - at[0], -at[1], at[2]), (-out[0], -out[1], out[2])
        for _ in range(roll):
            spot, way = (spot[0], -spot[2], spot[1]), (way[0], -way[2], way[1])
        ends.append(tuple(round(part, 3) + 0.0 for part in (*spot, *way)))
    # A plain hole right through has no head side; one with a counterbore has.
    sided = hole.countersunk or hole.counterbore_mm
    return (
        tuple(ends) if sided else frozenset(ends),
        hole.diameter_mm,
        hole.thread,
        hole.insert,
        hole.countersunk,
        hole.counterbore_mm,
        not hole.through and hole.depth_mm,
    )


def _dot(a: Triple, b: Triple) -> float:
    return math.fsum(first * second for first, second in zip(a, b, strict=True))

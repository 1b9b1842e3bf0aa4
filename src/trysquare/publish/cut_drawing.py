"""A member drawn for saw and drill: each face that is drilled, to scale, dimensioned from the stated end.

Faces lie as on labels: seen from outside, end a on the left. Heights are to the same scale as lengths.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from trysquare.catalogue.designation import written
from trysquare.machine.values import Hole, Machine, PartType
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
    arc,
    box,
    line,
)
from trysquare.publish.member_drawing import FACES, cells_across, openings
from trysquare.solid.primitives import countersink_mm, hole_diameter_mm, thread_mm

SCALES = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 25.0, 50.0)
WIDTH_MM = 182.0  # of the drawing on paper
_LEFT_MM, _RIGHT_MM = 4.5, 9.0  # room for the letters of the ends, and the face's name
_ROW_MM = 4.4  # from one dimension line to the next
_FIGURE_PT = 7.0
_ARROW_MM = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceHole:
    """A hole on the face from which it is drilled. `end`: "a" or "b", from which `from_end_mm` counts;
    `up_mm`: above the face's middle as drawn."""

    face: str
    end: str
    from_end_mm: float
    x_mm: float
    up_mm: float
    hole: Hole


def stated_ends(machine: Machine, part_type: PartType) -> dict[str, str]:
    """For each group of holes the end from which its places are stated; a where nothing is said."""
    if machine.tree is None:
        return {}
    raw = machine.tree.lines.get("part", {}).get(part_type.id, {})
    holes = raw.get("hole", ()) if isinstance(raw, Mapping) else ()
    return {
        str(row.get("name", "")): "b" if row.get("from") == "b" else "a"
        for row in holes
        if isinstance(row, Mapping)
    }


def face_holes(part_type: PartType, ends: Mapping[str, str]) -> tuple[FaceHole, ...]:
    """All holes of a member by the face from which they are drilled, by end and place."""
    found = []
    for hole in part_type.holes:
        for face, way, up in FACES:
            if sum(one * other for one, other in zip(hole.direction, way, strict=True)) > 0.99:
                end = ends.get(hole.group or hole.name, "a")
                x = hole.at_mm[0]
                above = sum(one * other for one, other in zip(hole.at_mm, up, strict=True))
                found.append(
                    FaceHole(
                        face=face, end=end, x_mm=x, up_mm=round(above, 3) + 0.0, hole=hole,
                        from_end_mm=round(x if end == "a" else part_type.length_mm - x, 3) + 0.0,
                    )
                )  # fmt: skip
    order = [face for face, _, _ in FACES]
    return tuple(sorted(found, key=lambda one: (order.index(one.face), one.end, one.from_end_mm, one.up_mm)))


def scale_of(length_mm: float) -> float:
    """How many times smaller than itself a member is drawn."""
    room = WIDTH_MM - _LEFT_MM - _RIGHT_MM
    return next((scale for scale in SCALES if length_mm / scale <= room), length_mm / room)


def face_drawing(part_type: PartType, face: str, holes: Sequence[FaceHole]) -> Drawing:
    """One face with what is drilled from it, what comes out there, and its dimensions."""
    profile = part_type.profile
    assert profile is not None
    scale = 1 / scale_of(part_type.length_mm)
    cells = cells_across(profile, face)
    high = profile.cell_mm * cells * scale
    left, top = _LEFT_MM, 0.2
    right, bottom = left + part_type.length_mm * scale, top + high
    middle = (top + bottom) / 2
    shapes: list[Shape] = [box(EDGE, left, top, right, bottom)]
    for cell in range(cells):
        centre = top + high * (cell + 0.5) / cells
        half = profile.mouth_mm * scale / 2
        shapes += [
            line(THIN, (left, centre + side * half), (right, centre + side * half)) for side in (-1, 1)
        ]
    shapes += _tapped(part_type, (left, right), [top + high * (n + 0.5) / cells for n in range(cells)], scale)
    own = {(round(one.x_mm, 3), one.up_mm) for one in holes}
    for out in openings(part_type):
        if out.face == face and (out.x_mm, out.up_mm) not in own:  # the far side of another face's hole
            at = (left + out.x_mm * scale, middle - out.up_mm * scale)
            shapes.append(Circle(pen=THIN, centre=at, radius=max(out.diameter_mm * scale / 2, 0.3)))
    for one in holes:
        shapes += _hole(one, (left + one.x_mm * scale, middle - one.up_mm * scale), scale)
    shapes += [
        Word(text="a", at=(left - 2.4, middle), size_pt=8, bold=True),
        Word(text="b", at=(right + 2.4, middle), size_pt=8, bold=True),
        Word(text=face, at=(right + 4.2, middle), size_pt=7, anchor="left"),
    ]
    drawn = _dimensions(holes, part_type.length_mm, left, bottom, scale)
    shapes += drawn[0]
    return Drawing(
        width_mm=WIDTH_MM, height_mm=drawn[1], shapes=tuple(shapes), says=f"Face {face}: {_spoken(holes)}."
    )


def hole_words(one: FaceHole) -> str:
    """What is drilled: diameter or thread, depth, head, in words for the bench."""
    hole = one.hole
    if hole.thread:
        words = f"tap {hole.thread}"
    elif hole.insert:
        words = f"Ø{written(hole_diameter_mm(hole))} for {hole.insert}"
    else:
        words = f"Ø{written(hole.diameter_mm)}"
    words += " right through" if hole.through else f", {written(hole.depth_mm)} deep"
    if hole.countersunk:
        wide = hole.counterbore_mm or countersink_mm(hole_diameter_mm(hole))
        words += f", countersunk 90° to Ø{written(round(wide, 2))}"
    elif hole.counterbore_mm > 0:
        words += f", counterbored Ø{written(hole.counterbore_mm)}, {written(hole.counterbore_depth_mm)} deep"
    if hole.access:
        words += ", for a key"
    if one.up_mm:
        words += f", {written(abs(one.up_mm))} {'above' if one.up_mm > 0 else 'below'} the middle as drawn"
    return words


def hole_rows(holes: Sequence[FaceHole]) -> list[dict[str, str]]:
    """What is drilled on one face: places from their end, and what, holes of one sort together."""
    rows = []
    for (end, words), group in groupby(
        sorted(holes, key=lambda one: (one.end, hole_words(one), one.from_end_mm)),
        key=lambda one: (one.end, hole_words(one)),
    ):
        places = [written(round(one.from_end_mm, 2)) for one in group]
        rows.append({"at": ", ".join(places), "end": end, "what": f"{len(places)} × {words}"})
    return rows


def _tapped(
    part_type: PartType, ends: tuple[float, float], middles: Sequence[float], scale: float
) -> list[Shape]:
    """Tapped cores as what lies behind the face: as deep and as wide as they are, in dashes."""
    profile = part_type.profile
    assert profile is not None
    half = thread_mm(profile.core_thread) * scale / 2
    deep = min(part_type.tapped_depth_mm, part_type.length_mm / 2) * scale
    shapes: list[Shape] = []
    for end, x, way in (("a", ends[0], 1.0), ("b", ends[1], -1.0)):
        if end in part_type.tapped_ends:
            inner = x + way * deep
            shapes += [
                line(HIDDEN, (x, y - half), (inner, y - half), (inner, y + half), (x, y + half))
                for y in middles
            ]
    return shapes


def _hole(one: FaceHole, at: tuple[float, float], scale: float) -> list[Shape]:
    radius = max(hole_diameter_mm(one.hole) * scale / 2, 0.3)
    hole = one.hole
    shapes: list[Shape] = []
    wide = hole.counterbore_mm
    if hole.countersunk and not wide:
        wide = countersink_mm(hole_diameter_mm(hole))
    if wide * scale / 2 > radius:
        shapes.append(Circle(pen=WHITE, centre=at, radius=wide * scale / 2))
    shapes.append(Circle(pen=WHITE, centre=at, radius=radius))
    if hole.thread:  # three quarters of a thin circle outside: a thread from above
        parts = arc(at, radius + 0.35, math.pi / 2, 2 * math.pi)
        shapes.append(Path(pen=THIN, parts=(("M", parts[0][1]), *parts[1:])))
    reach = max(radius, wide * scale / 2) + 0.7
    shapes += [
        line(THIN, (at[0] - reach, at[1]), (at[0] + reach, at[1])),
        line(THIN, (at[0], at[1] - reach), (at[0], at[1] + reach)),
    ]
    return shapes


def _dimensions(
    holes: Sequence[FaceHole], length_mm: float, left: float, bottom: float, scale: float
) -> tuple[list[Shape], float]:
    """Dimension lines below a face, from each hole's end to its middle; and how far down they reach.

    The nearest hole's line is the uppermost: none crosses another's extension line.
    """
    right = left + length_mm * scale
    shapes: list[Shape] = []
    lowest = bottom
    for end, from_x, way in (("a", left, 1.0), ("b", right, -1.0)):
        places = sorted({one.from_end_mm for one in holes if one.end == end})
        y = bottom + 0.4
        for place in places:
            y += _ROW_MM
            to_x = from_x + way * place * scale
            shapes += _dimension(from_x, to_x, y, written(round(place, 2)))
            shapes.append(line(THIN, (to_x, bottom + 0.6), (to_x, y + 0.8)))
        if places:
            shapes.append(line(THIN, (from_x, bottom + 0.6), (from_x, y + 0.8)))
        lowest = max(lowest, y)
    y = lowest + _ROW_MM + (0.4 if lowest == bottom else 0.0)
    shapes += _dimension(left, right, y, written(round(length_mm, 2)))
    shapes += [line(THIN, (x, bottom + 0.6), (x, y + 0.8)) for x in (left, right)]
    return shapes, y + 1.2


def _dimension(from_x: float, to_x: float, y: float, figure: str) -> list[Shape]:
    """A line with its arrows and its figure above it, or beside it where it is too short."""
    low, high = min(from_x, to_x), max(from_x, to_x)
    room = high - low
    shapes: list[Shape] = [line(THIN, (low, y), (high, y))]
    needed = 1.5 * len(figure) + 1.0
    inside = room > 2 * _ARROW_MM + 0.8
    for x, way in ((low, 1.0), (high, -1.0)):
        tip = way if inside else -way
        arrow = [(x, y), (x + tip * _ARROW_MM, y - 0.32), (x + tip * _ARROW_MM, y + 0.32)]
        shapes.append(line(SOLID, *arrow, closed=True))
    if room >= needed:
        shapes.append(Word(text=figure, at=((low + high) / 2, y - 1.5), size_pt=_FIGURE_PT))
    else:
        beyond = high + (0.8 if inside else _ARROW_MM + 0.8)
        shapes.append(Word(text=figure, at=(beyond, y - 0.1), size_pt=_FIGURE_PT, anchor="left"))
    return shapes


def _spoken(holes: Sequence[FaceHole]) -> str:
    """A face in words, for who cannot see it."""
    rows = [f"{row['what']} at {row['at']} mm from end {row['end']}" for row in hole_rows(holes)]
    return "; ".join(rows) or "nothing is drilled"

"""A small line drawing in millimetres, x to the right and y down, drawn on the page at its true size.

Five pens, told apart by weight and dash and never by colour: "edge" for what is seen, "thin" for threads,
slots and measures, "hidden" for what lies behind, "solid" filled black, "white" an edge filled with paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

Point = tuple[float, float]

EDGE, THIN, HIDDEN, SOLID, WHITE = "edge", "thin", "hidden", "solid", "white"


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One or more lines. `parts`: ("M", point), ("L", point), ("C", two controls and a point), ("Z",)."""

    pen: str
    parts: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A whole circle."""

    pen: str
    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A short text. `anchor`: which part of it lies at the point: "left", "centre" or "right"; its middle
    height always does."""

    text: str
    at: Point
    size_pt: float
    anchor: str = "centre"
    bold: bool = False


Shape = Path | Circle | Word


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Shapes on a piece of paper of this size. `says`: the drawing in words, for who cannot see it."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...] = field(default=())
    says: str = ""

    def facts(self) -> dict[str, Any]:
        """The drawing as typst reads it."""
        return {
            "width": _tidy(self.width_mm),
            "height": _tidy(self.height_mm),
            "says": self.says,
            "shapes": [_shape(shape) for shape in self.shapes],
        }


def line(pen: str, *points: Point, closed: bool = False) -> Path:
    """Straight lines from point to point."""
    parts: list[tuple[Any, ...]] = [("M", points[0]), *(("L", point) for point in points[1:])]
    if closed:
        parts.append(("Z",))
    return Path(pen=pen, parts=tuple(parts))


def box(pen: str, left: float, top: float, right: float, bottom: float) -> Path:
    """A rectangle."""
    return line(pen, (left, top), (right, top), (right, bottom), (left, bottom), closed=True)


def outline(pen: str, loops: Iterable[Sequence[Point]]) -> Path:
    """Closed loops as one area; a loop inside another is a hole."""
    parts: list[tuple[Any, ...]] = []
    for loop in loops:
        parts += [("M", loop[0]), *(("L", point) for point in loop[1:]), ("Z",)]
    return Path(pen=pen, parts=tuple(parts))


def arc(centre: Point, radius: float, from_rad: float, to_rad: float) -> list[tuple[Any, ...]]:
    """An arc as curves of at most a quarter turn each, for the parts of a path; begins with "L" to its start.

    Angles turn from +x towards +y. Equation: a control lies 4/3 · tan(angle/4) radii along the tangent.
    """
    steps = max(1, math.ceil(abs(to_rad - from_rad) / (math.pi / 2) - 1e-9))
    step = (to_rad - from_rad) / steps
    pull = radius * 4 / 3 * math.tan(step / 4)

    def at(angle: float) -> Point:
        return (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))

    parts: list[tuple[Any, ...]] = [("L", at(from_rad))]
    for index in range(steps):
        first, last = from_rad + index * step, from_rad + (index + 1) * step
        a, b = at(first), at(last)
        parts.append((
            "C",
            (a[0] - pull * math.sin(first), a[1] + pull * math.cos(first)),
            (b[0] + pull * math.sin(last), b[1] - pull * math.cos(last)),
            b,
        ))  # fmt: skip
    return parts


def polygon(centre: Point, across_flats: float, corners: int, turned_rad: float = 0.0) -> list[Point]:
    """Corners of a regular polygon; with `turned_rad` 0 the first corner lies towards +x."""
    radius = across_flats / 2 / math.cos(math.pi / corners)
    return [
        (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
        for angle in (turned_rad + 2 * math.pi * index / corners for index in range(corners))
    ]


def moved(shapes: Iterable[Shape], x: float, y: float) -> list[Shape]:
    """The same shapes elsewhere."""

    def shift(point: Point) -> Point:
        return (point[0] + x, point[1] + y)

    found: list[Shape] = []
    for shape in shapes:
        if isinstance(shape, Path):
            parts = tuple((part[0], *(shift(point) for point in part[1:])) for part in shape.parts)
            found.append(replace(shape, parts=parts))
        elif isinstance(shape, Circle):
            found.append(replace(shape, centre=shift(shape.centre)))
        else:
            found.append(replace(shape, at=shift(shape.at)))
    return found


def _shape(shape: Shape) -> dict[str, Any]:
    if isinstance(shape, Path):
        return {
            "pen": shape.pen,
            "path": [[part[0], *([_tidy(x), _tidy(y)] for x, y in part[1:])] for part in shape.parts],
        }
    if isinstance(shape, Circle):
        return {
            "pen": shape.pen,
            "circle": [_tidy(shape.centre[0]), _tidy(shape.centre[1]), _tidy(shape.radius)],
        }
    return {
        "word": shape.text,
        "at": [_tidy(shape.at[0]), _tidy(shape.at[1])],
        "size": shape.size_pt,
        "anchor": shape.anchor,
        "bold": shape.bold,
    }


def _tidy(value: float) -> float:
    """To a tenth of a micrometre: the last bits of rounding must not reach the page's bytes."""
    return round(value, 4) + 0.0

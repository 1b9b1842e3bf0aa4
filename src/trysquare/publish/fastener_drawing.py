"""Screws, nuts, washers and inserts drawn true to size from their catalogue dimensions.

A side view lies with its axis to the right: x = 0 is the bearing face, the shank runs to x = length. A face
view looks along the axis. Both are drawn with the middle of the axis at y = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import (
    Head,
    Insert,
    Nut,
    NutShape,
    Screw,
    SlotNut,
    SlotNutShape,
    Thread,
    Washer,
)
from trysquare.publish.drawing import (
    EDGE,
    HIDDEN,
    THIN,
    Circle,
    Drawing,
    Path,
    Shape,
    Word,
    arc,
    box,
    line,
    moved,
    outline,
    polygon,
)

Fastener = Screw | Nut | Washer | Insert | SlotNut

HEAD_WORDS = {
    Head.CYLINDER: "cylinder head",
    Head.BUTTON: "button head",
    Head.COUNTERSUNK: "countersunk, length over all",
    Head.NONE: "set screw",
}
NUT_WORDS = {
    NutShape.HEX: "hexagon nut",
    NutShape.SQUARE: "square nut",
    NutShape.SQUARE_THIN: "thin square nut",
}
GAP_MM = 2.5  # between two views
MARGIN_MM = 0.3  # half a pen and a little, so that no line is cut off


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view with its size: from `left_mm` to `right_mm` along x, `half_mm` to either side of the axis."""

    shapes: tuple[Shape, ...]
    left_mm: float
    right_mm: float
    half_mm: float
    says: str = field(default="")


def fastener_words(part: Fastener) -> str:
    """What a person calls it."""
    if isinstance(part, Screw):
        said = HEAD_WORDS[part.head]
        return f"{said}, {part.point} point" if part.point else said
    if isinstance(part, Nut):
        return NUT_WORDS[part.shape]
    if isinstance(part, Washer):
        return "washer"
    return (
        "heat-set insert" if isinstance(part, Insert) else f"{part.shape} nut, slot {written(part.slot_mm)}"
    )


# --- screws


def screw_side(screw: Screw) -> View:
    """The screw from the side, head to the left; the shank's path is exactly as long as the screw."""
    thread = screw.thread
    radius, core, length = thread.diameter_mm / 2, thread.root_diameter_mm / 2, screw.length_mm
    chamfer = min(radius - core, length / 4)
    tip = [
        (length - chamfer, -radius),
        (length, -(radius - chamfer)),
        (length, radius - chamfer),
        (length - chamfer, radius),
    ]
    rim, height = screw.head_diameter_mm / 2, screw.head_height_mm
    shapes: list[Shape] = []
    left, half, begins = 0.0, max(rim, radius), 0.0
    if screw.head is Head.CYLINDER:
        left = -height
        bevel = min(0.08 * screw.head_diameter_mm, height / 3)
        shapes.append(outline(EDGE, [[
            (0.0, -rim), (0.0, rim), (left + bevel, rim), (left, rim - bevel), (left, bevel - rim),
            (left + bevel, -rim),
        ]]))  # fmt: skip
    elif screw.head is Head.BUTTON:
        left = -height
        shapes.append(_dome(rim, height))
    if screw.head is Head.COUNTERSUNK:
        # A 90° cone to the largest head diameter, as our solid has it; the length counts from its top.
        begins = rim - radius
        shapes.append(outline(EDGE, [[(0.0, -rim), (begins, -radius), *tip, (begins, radius), (0.0, rim)]]))
        shapes.append(line(THIN, (begins, -radius), (begins, radius)))
    else:
        shapes.append(outline(EDGE, [[(0.0, -radius), *tip, (0.0, radius)]]))
    shapes += _thread_lines(screw, max(begins, length - _threaded_mm(screw)), core, chamfer)
    depth = min(screw.key_depth_mm, 0.8 * (length - left))
    if screw.key_mm and depth:
        for side in (-1, 1):
            y = side * screw.key_mm / 2
            shapes.append(line(HIDDEN, (left, y), (left + depth, y)))
        shapes.append(line(HIDDEN, (left + depth, -screw.key_mm / 2), (left + depth, screw.key_mm / 2)))
    return View(
        shapes=tuple(shapes),
        left_mm=left,
        right_mm=length,
        half_mm=half,
        says=f"{screw.designation}, {fastener_words(screw)}, from the side and from its head, true to size.",
    )


def screw_face(screw: Screw) -> View:
    """The screw seen from its key."""
    radius = max(screw.head_diameter_mm, screw.thread.diameter_mm) / 2
    shapes: list[Shape] = [Circle(pen=EDGE, centre=(0.0, 0.0), radius=radius)]
    if screw.key_mm:
        shapes.append(outline(EDGE, [polygon((0.0, 0.0), screw.key_mm, 6, math.pi / 6)]))
    return View(shapes=tuple(shapes), left_mm=-radius, right_mm=radius, half_mm=radius)


def _threaded_mm(screw: Screw) -> float:
    """How far the thread reaches from the tip. Equation: b = 2 d + 12.

    Source: ISO 4762:2004, table 1, reference length b of M2 to M6 within 2 mm; from memory. Longer than the
    screw: threaded to the head.
    """
    if screw.head is Head.NONE:
        return screw.length_mm
    threaded_mm = 2 * screw.thread.diameter_mm + 12
    # The plain part would be shorter than what the tool leaves unthreaded anyway.
    return threaded_mm if screw.length_mm > threaded_mm + 3 * screw.thread.pitch_mm else screw.length_mm


def _thread_lines(screw: Screw, begins: float, core: float, chamfer: float) -> list[Path]:
    """The thread as drawings show it: thin lines at its root. Source: ISO 6410-1, 3.2.1."""
    ends = screw.length_mm - chamfer / 2
    lines = [line(THIN, (begins, side * core), (ends, side * core)) for side in (-1, 1)]
    if begins > 0 and screw.head is not Head.COUNTERSUNK:
        radius = screw.thread.diameter_mm / 2
        lines.append(line(EDGE, (begins, -radius), (begins, radius)))
    return lines


def _dome(rim: float, height: float) -> Path:
    """A button head: the cap of a sphere over its rim."""
    sphere = (rim**2 + height**2) / (2 * height)
    half_angle = math.asin(min(1.0, rim / sphere))
    over = arc((sphere - height, 0.0), sphere, math.pi + half_angle, math.pi - half_angle)
    return Path(pen=EDGE, parts=(("M", (0.0, -rim)), *over[1:], ("Z",)))


# --- nuts, washers, inserts


def small_views(part: Nut | Washer | Insert | SlotNut) -> tuple[View, View]:
    """Face and side of what is no screw."""
    if isinstance(part, Nut):
        return _nut_face(part), _nut_side(part)
    if isinstance(part, Washer):
        outer, inner = part.outer_mm / 2, part.inner_mm / 2
        rings: tuple[Shape, ...] = tuple(
            Circle(pen=EDGE, centre=(0.0, 0.0), radius=radius) for radius in (outer, inner)
        )
        bore = tuple(line(HIDDEN, (0.0, side * inner), (part.thickness_mm, side * inner)) for side in (-1, 1))
        side = (box(EDGE, 0.0, -outer, part.thickness_mm, outer), *bore)
        return _view(rings, -outer, outer, outer), _view(side, 0.0, part.thickness_mm, outer)
    if isinstance(part, Insert):
        return _insert_face(part), _insert_side(part)
    return _slot_nut_face(part), _slot_nut_end(part)


def _view(shapes: tuple[Shape, ...], left: float, right: float, half: float) -> View:
    return View(shapes=shapes, left_mm=left, right_mm=right, half_mm=half)


def _threaded_hole(thread: Thread, centre: tuple[float, float] = (0.0, 0.0)) -> tuple[Shape, ...]:
    """A threaded hole from its face: the core drawn, the thread three quarters round. Source: ISO 6410-1."""
    ring = arc(centre, thread.diameter_mm / 2, -0.1, 1.5 * math.pi - 0.1)
    return (
        Circle(pen=EDGE, centre=centre, radius=thread.minor_diameter_mm / 2),
        Path(pen=THIN, parts=(("M", *ring[0][1:]), *ring[1:])),
    )


def _nut_face(nut: Nut) -> View:
    if nut.shape is NutShape.HEX:
        corners = polygon((0.0, 0.0), nut.across_flats_mm, 6)
        reach = nut.across_flats_mm / math.sqrt(3)
    else:
        corners = polygon((0.0, 0.0), nut.across_flats_mm, 4, math.pi / 4)
        reach = nut.across_flats_mm / 2
    return _view(
        (outline(EDGE, [corners]), *_threaded_hole(nut.thread)), -reach, reach, nut.across_flats_mm / 2
    )


def _nut_side(nut: Nut) -> View:
    half, height = nut.across_flats_mm / 2, nut.height_mm
    shapes: list[Shape] = [box(EDGE, 0.0, -half, height, half)]
    if nut.shape is NutShape.HEX:
        shapes.append(line(EDGE, (0.0, 0.0), (height, 0.0)))  # an edge between two flats
    return _view(tuple(shapes), 0.0, height, half)


def _insert_face(part: Insert) -> View:
    radius = part.outer_mm / 2
    knurl = Circle(pen=EDGE, centre=(0.0, 0.0), radius=radius)
    return _view((knurl, *_threaded_hole(part.thread)), -radius, radius, radius)


def _insert_side(part: Insert) -> View:
    radius, length = part.outer_mm / 2, part.length_mm
    shapes: list[Shape] = [box(EDGE, 0.0, -radius, length, radius)]
    count = 7
    shapes += [
        line(THIN, (0.0, y), (length, y))
        for y in (radius * math.sin(math.pi * (step / count - 0.5)) for step in range(1, count))
    ]
    return _view(tuple(shapes), 0.0, length, radius)


def _slot_nut_face(nut: SlotNut) -> View:
    """From above, as it lies in its slot: x along the slot."""
    half, across = nut.length_mm / 2, nut.width_mm / 2
    shapes: list[Shape] = []
    if nut.shape is SlotNutShape.HEX_IN_SLOT:
        shapes.append(outline(EDGE, [polygon((0.0, 0.0), nut.width_mm, 6)]))
        half = nut.width_mm / math.sqrt(3)
    else:
        shapes.append(box(EDGE, -half, -across, half, across))
    neck = nut.neck_width_mm / 2
    if 0 < neck < across:
        shapes += [line(THIN, (-half, side * neck), (half, side * neck)) for side in (-1, 1)]
    return _view((*shapes, *_threaded_hole(nut.thread)), -half, half, across)


def _slot_nut_end(nut: SlotNut) -> View:
    """From its end: the neck points to the left, out of the slot, towards the screw."""
    wide, neck = nut.width_mm / 2, nut.neck_width_mm / 2
    deep = nut.height_mm - nut.neck_mm
    shoulder = min(nut.shoulder_mm, deep) if nut.shape is not SlotNutShape.HEX_IN_SLOT else deep
    floor = max(wide - (deep - shoulder), 0.2)  # below the shoulder it narrows at 45°
    upper = [(0.0, wide), (shoulder, wide), (deep, floor)]
    if nut.neck_mm and neck:
        upper = [(-nut.neck_mm, neck), (0.0, neck), *upper]
    corners = [*upper, *((x, -y) for x, y in reversed(upper))]
    left = -nut.neck_mm if nut.neck_mm and neck else 0.0
    return _view((outline(EDGE, [corners]),), left, deep, wide)


# --- put together


def screw_drawing(
    screw: Screw, *, face_mm: float = 0.0, head_mm: float = 0.0, number: bool = True
) -> Drawing:
    """Face and side view side by side, and the length behind the tip.

    `face_mm` and `head_mm`: the largest head's diameter and height among screws drawn under one another,
    so that all their bearing faces stand on one line.
    """
    face, side = screw_face(screw), screw_side(screw)
    face_mm = max(face_mm, 2 * face.half_mm)
    zero = MARGIN_MM + face_mm + GAP_MM + max(head_mm, -side.left_mm)
    middle = max(face.half_mm, side.half_mm) + MARGIN_MM
    shapes = [*moved(face.shapes, MARGIN_MM + face_mm / 2, middle), *moved(side.shapes, zero, middle)]
    width = zero + side.right_mm + MARGIN_MM
    if number:
        text = written(screw.length_mm)
        shapes.append(Word(text=text, at=(width + 0.8, middle), size_pt=8, anchor="left", bold=True))
        width += 1.5 + 1.7 * len(text)
    return Drawing(width_mm=width, height_mm=2 * middle, shapes=tuple(shapes), says=side.says)


def small_drawing(part: Nut | Washer | Insert | SlotNut) -> Drawing:
    """Face and side view of what is no screw."""
    face, side = small_views(part)
    middle = max(face.half_mm, side.half_mm) + MARGIN_MM
    begins = MARGIN_MM + (face.right_mm - face.left_mm) + GAP_MM
    shapes = [
        *moved(face.shapes, MARGIN_MM - face.left_mm, middle),
        *moved(side.shapes, begins - side.left_mm, middle),
    ]
    return Drawing(
        width_mm=begins + side.right_mm - side.left_mm + MARGIN_MM,
        height_mm=2 * middle,
        shapes=tuple(shapes),
        says=f"{part.designation}, {fastener_words(part)}, from its face and from the side, true to size.",
    )


def fastener_drawing(part: Fastener) -> Drawing:
    """Any fastener by itself."""
    return screw_drawing(part, number=False) if isinstance(part, Screw) else small_drawing(part)

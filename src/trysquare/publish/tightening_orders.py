"""The book's tightening orders: rows from the middle outwards, faces crosswise, drawn with their turns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.machine.values import Fastening, Joint
from trysquare.publish.action_words import short
from trysquare.publish.drawing import EDGE, SOLID, THIN, WHITE, Circle, Drawing, Shape, Word, box, line
from trysquare.publish.known import Known
from trysquare.sequence.crosswise import Field, fields_of
from trysquare.sequence.row_orders import centre_outwards, rows_of

ROW_MM = 120.0  # width of a drawn row of screws
NEAREST_MM = 4.2  # numbers nearer than this would touch
FACE_MM = 60.0  # largest side of a drawn face
LEAST_FACE_MM = 9.0  # least side: two numbers stand beside each other
FACE_EDGE_MM = 5.0


def tightening(known: Known) -> list[dict[str, Any]]:
    """Joints whose screws have an order: rows, then faces."""
    return [*_rows_drawn(known), *_faces_drawn(known)]


def _rows_drawn(known: Known) -> list[dict[str, Any]]:
    """A drawn row with the turn of each screw, alike ones together."""
    rows: dict[tuple[Any, ...], dict[str, Joint]] = {}
    for joint in known.machine.joints:
        of_joint = rows_of(joint.fastenings) if joint.from_centre else {}
        for part, names in of_joint.items():
            row = [one for one in joint.fastenings if one.id in names]
            if len(row) > 2:
                order = tuple(name.rpartition(".")[2] for name in centre_outwards(row))
                numbers = tuple(name.rpartition(".")[2] for name in names)
                called = f"{joint.id}, {short(part, joint.unit)}" if len(of_joint) > 1 else joint.id
                rows.setdefault((numbers, order, _along(row)), {})[called] = joint
    return [
        _told(known, joints, ", ".join(order), _row_drawing(numbers, order, at))
        for (numbers, order, at), joints in rows.items()
    ]


def _faces_drawn(known: Known) -> list[dict[str, Any]]:
    """A drawn face with the turn of each screw, as the key sees it, alike ones together."""
    faces: dict[tuple[Any, ...], dict[str, Joint]] = {}
    for joint in known.machine.joints:
        fields = fields_of(joint)
        for face in fields:
            turns = tuple(face.order.index(name) + 1 for name in face.screws)
            called = f"{joint.id}, {short(face.part, joint.unit)}" if len(fields) > 1 else joint.id
            faces.setdefault((turns, _from_corner(face), face.words), {})[called] = joint
    return [
        _told(known, joints, words, _face_drawing(turns, at, words))
        for (turns, at, words), joints in faces.items()
    ]


def _told(known: Known, joints: dict[str, Joint], order: str, drawn: Drawing) -> dict[str, Any]:
    last = {known.number_of.get(known.timeline.step_id(_final(known, one)), 0) for one in joints.values()}
    return {"joints": list(joints), "order": order, "steps": sorted(last - {0}), "drawing": drawn.facts()}


def _from_corner(face: Field) -> tuple[tuple[float, float], ...]:
    """Where a face's screws lie from its lower left corner, in mm."""
    left, low = (min(values) for values in zip(*face.at_mm, strict=True))
    return tuple((round(x - left, 1), round(y - low, 1)) for x, y in face.at_mm)


def _face_drawing(turns: Sequence[int], at: Sequence[tuple[float, float]], words: str) -> Drawing:
    """A face as the key sees it, and in each screw its turn: 1 first."""
    wide, high = (max(values) for values in zip(*at, strict=True))
    scale = (FACE_MM - 2 * FACE_EDGE_MM) / max(wide, high)
    across, up = max(wide * scale, LEAST_FACE_MM), max(high * scale, LEAST_FACE_MM)
    width, height = across + 2 * FACE_EDGE_MM, up + 2 * FACE_EDGE_MM
    shapes: list[Shape] = [box(EDGE, 0.15, 0.15, width - 0.15, height - 0.15)]
    for turn, (x, y) in zip(turns, at, strict=True):
        place = (FACE_EDGE_MM + x / wide * across, FACE_EDGE_MM + (1 - y / high) * up)
        shapes.append(Circle(pen=WHITE, centre=place, radius=2.4))
        shapes.append(Word(text=str(turn), at=place, size_pt=7.5, bold=turn == 1))
    says = f"Face of {len(at)} screws, {words}; the number in each screw is its turn."
    return Drawing(width_mm=width, height_mm=height, shapes=tuple(shapes), says=says)


def _along(row: Sequence[Fastening]) -> tuple[float, ...]:
    """Where the screws lie along their row, from the first, in mm."""
    first, last = row[0].head_mm, row[-1].head_mm
    way = [b - a for a, b in zip(first, last, strict=True)]
    length = sum(part * part for part in way) ** 0.5 or 1.0
    return tuple(
        round(sum((x - a) * w for x, a, w in zip(one.head_mm, first, way, strict=True)) / length, 2)
        for one in row
    )


def _final(known: Known, joint: Joint) -> int | None:
    turns = [at for one in joint.fastenings for at, _ in known.timeline.turned.get(one.id, ())]
    return max(turns, default=None)


def _row_drawing(numbers: tuple[str, ...], order: tuple[str, ...], at: tuple[float, ...]) -> Drawing:
    """A rail from above, and at each screw its turn: 1 first. `numbers`: the screws' own, along the row."""
    turn = {name: number for number, name in enumerate(order, start=1)}
    length = max(at) or 1.0
    scale = (ROW_MM - 10.0) / length
    shapes: list[Shape] = [box(EDGE, 0.15, 0.15, ROW_MM - 0.15, 5.6)]
    for index, (number, place) in enumerate(zip(numbers, at, strict=True)):
        x = 5.0 + place * scale
        first = turn[number] == 1
        shapes.append(Circle(pen=SOLID if first else WHITE, centre=(x, 2.9), radius=1.1 if first else 0.9))
        far = index == 0 or (place - at[index - 1]) * scale >= NEAREST_MM
        shapes.append(line(THIN, (x, 5.6), (x, 6.4 if far else 8.8)))
        shapes.append(Word(text=str(turn[number]), at=(x, 7.8 if far else 10.2), size_pt=7.5, bold=first))
    says = f"Row of {len(at)} screws, tightened in this order, counted from one end: {', '.join(order)}."
    return Drawing(width_mm=ROW_MM, height_mm=11.6, shapes=tuple(shapes), says=says)

"""Meshes for the 3D view: all shapes and pieces of a machine once, and for each step which of them it shows.

`/solids/<name>.bin` (the address stands in a step's facts): little-endian. Bytes 0 to 3 "TSQ1", bytes 4 to 7
the length of the header as uint32, then the header as JSON in UTF-8, then the data; offsets count from the
data's begin, which is byte 8 + length of the header, and all are multiples of 4. The header:

shapes: [{"low": [x,y,z], "size": s, "points": n, "positions": offset, "triangles": m, "corners": offset,
"wide": false}, …]. Positions: n × 3 uint16; a coordinate in mm is low + value · size / 65535, with one `size`
for all three axes. Corners: m × 3 point numbers, uint16, or uint32 where `wide`. Faces are flat and
counter-clockwise from outside; there are no normals: compute them, or take derivatives in the shader.

pieces: [{"id", "shape": number in `shapes`, "letter", "name", "part": sort's ref, "matrix": 12 numbers, the
rows of a 3 × 4 matrix that takes a point of the shape to its place}, …]. Millimetres, machine frame, z up,
each where it ends up.

A step (`StepView.solid_href`) as JSON: {"meshes": address of the file above, "new": [piece numbers],
"old": […] (all others come later, or never: ghosts), "low": [..], "high": [..] (box of new and old),
"ways": [{"piece", "away": [x,y,z] from its place to where its way in begins, "path": [[x,y,z], …] of one of
its points}, …], "keys": [{"at": [..] the head, "axis": [..] out of it towards the key, "key_mm", "says"}, …],
"slots": [{"from": [..], "to": [..], "says"}, …], "turn": 9 numbers, the rows of the matrix that takes the
machine frame to the work as it lies in this step}. The picture's view is not in it, as it is drawn later: it
comes with the page, in the frame of the work as it lies.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array
from trysquare.machine.values import PlacedPart, Step
from trysquare.publish.known import Known
from trysquare.publish.step_scene import turn_of
from trysquare.publish.step_shown import StepScene
from trysquare.solid.shapes import Solid, makes_solid, solid_of

MAGIC = b"TSQ1"
MOST_KEYS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """All shapes and pieces of a machine. `number_of`: a placed part's piece number; `box_of`: its lowest and
    highest corner in the machine frame."""

    content: bytes
    number_of: Mapping[str, int]
    box_of: Mapping[str, tuple[Array, Array]]


def shapes_of(known: Known) -> Shapes:
    """Every different solid of the machine, quantised. Parts without a usable solid are left out."""
    numbers: dict[bytes, int] = {}
    solids: list[Solid] = []
    pieces: list[dict[str, Any]] = []
    number_of: dict[str, int] = {}
    box_of: dict[str, tuple[Array, Array]] = {}
    for part in known.machine.placed:
        if not makes_solid(part.type):
            continue
        try:
            solid = solid_of(part.type, known.machine.folder)
        except ReadingError:
            continue
        if not len(solid.triangles):
            continue
        if solid.digest not in numbers:
            numbers[solid.digest] = len(solids)
            solids.append(solid)
        number_of[part.id] = len(pieces)
        pieces.append(_piece(known, part, numbers[solid.digest]))
        placed = solid.points_mm @ np.asarray(part.placement.turn).T + part.placement.origin_mm
        box_of[part.id] = (placed.min(axis=0), placed.max(axis=0))
    return Shapes(content=_packed(solids, pieces), number_of=number_of, box_of=box_of)


def _piece(known: Known, part: PlacedPart, shape: int) -> dict[str, Any]:
    turn, origin = np.asarray(part.placement.turn), np.asarray(part.placement.origin_mm)
    matrix = np.column_stack([turn, origin]).ravel()
    return {
        "id": part.id, "shape": shape, "letter": known.letter(part.type.id), "name": part.type.name,
        "part": part.type.id, "matrix": [round(float(one), 5) + 0.0 for one in matrix],
    }  # fmt: skip


def _packed(solids: Sequence[Solid], pieces: Sequence[Mapping[str, Any]]) -> bytes:
    data = bytearray()
    rows = []

    def put(values: Any) -> int:
        at = len(data)
        data.extend(values.tobytes())
        data.extend(bytes(-len(data) % 4))
        return at

    for solid in solids:
        low = np.asarray(solid.low_mm)
        size = float(max(np.asarray(solid.high_mm) - low)) or 1.0
        positions = np.rint((solid.points_mm - low) * (65535.0 / size)).astype("<u2")
        wide = len(positions) > 65535
        rows.append({
            "low": [round(float(one), 6) for one in low], "size": round(size, 6), "points": len(positions),
            "positions": put(positions), "triangles": len(solid.triangles),
            "corners": put(solid.triangles.astype("<u4" if wide else "<u2")), "wide": wide,
        })  # fmt: skip
    header = _json({"shapes": rows, "pieces": list(pieces)})
    header += b" " * (-len(header) % 4)
    return MAGIC + struct.pack("<I", len(header)) + header + bytes(data)


def step_solids(known: Known, step: Step, scene: StepScene, shapes: Shapes, meshes: str) -> bytes:
    """One step's facts as JSON; empty when nothing that is there has a solid. `meshes`: their address."""
    events = known.events_of[step.id]
    first = events[0].at if events else 0
    comes = known.timeline.comes
    new = {piece.id for event in events for piece in event.pieces if piece.id in shapes.number_of}
    old = [
        name for name in shapes.number_of if name not in new and name in comes and comes[name] < first
    ]  # fmt: skip
    boxes = [shapes.box_of[name] for name in (*new, *old)]
    if not boxes:
        return b""
    return _json({
        "meshes": meshes,
        "new": sorted(shapes.number_of[name] for name in new),
        "old": [shapes.number_of[name] for name in old],
        "low": _tidy(np.min([box[0] for box in boxes], axis=0)),
        "high": _tidy(np.max([box[1] for box in boxes], axis=0)),
        "ways": _ways(known, scene, shapes, new),
        "keys": _keys(known, step),
        "slots": _slots(known, new),
        "turn": _tidy(turn_of(scene.up)),
    })  # fmt: skip


def _ways(known: Known, scene: StepScene, shapes: Shapes, new: set[str]) -> list[dict[str, Any]]:
    """The ways in, turned back from the work as it lies into the machine frame."""
    shown = {piece.id: piece.placement for piece in scene.scene.pieces}
    found = []
    for name, away in scene.away.items():
        if name not in new or name not in shown:
            continue
        turn = np.asarray(shown[name].turn) @ np.asarray(known.machine.part[name].placement.turn).T
        found.append({
            "piece": shapes.number_of[name],
            "away": _tidy(turn.T @ away.offset_mm),
            "path": [_tidy(turn.T @ point) for point in away.lead_mm],
        })  # fmt: skip
    return found


def _keys(known: Known, step: Step) -> list[dict[str, Any]]:
    """Where a key goes on the screws that the step turns."""
    found: dict[str, dict[str, Any]] = {}
    for event in known.events_of[step.id]:
        for one in event.screws:
            found.setdefault(one.id, {
                "at": _tidy(one.head_mm), "axis": _tidy(one.axis), "key_mm": one.screw_type.key_mm,
                "says": one.screw_type.designation,
            })  # fmt: skip
    return list(found.values())[:MOST_KEYS]


def _slots(known: Known, new: set[str]) -> list[dict[str, Any]]:
    """The slots in which the step puts something."""
    found = []
    channels = known.timeline.walk.reach.channels
    for row in known.ledger:
        if not any(piece.part in new for piece in row.pieces):
            continue
        channel = next(
            (one for one in channels.channels if (one.member, one.name) == (row.member, row.slot)), None
        )
        if channel is None:
            continue
        begin = np.asarray(channel.start_mm)
        end = channel.point(channel.length_mm)
        found.append({"from": _tidy(begin), "to": _tidy(end), "says": f"slot {row.slot} of {row.member}"})
    return found


def _json(facts: Mapping[str, Any]) -> bytes:
    text = json.dumps(facts, separators=(",", ":"), ensure_ascii=False)
    return text.encode("utf-8", "backslashreplace")  # a file's name may hold half a character


def _tidy(values: Any) -> list[float]:
    return [round(float(one), 3) + 0.0 for one in np.asarray(values).ravel()]

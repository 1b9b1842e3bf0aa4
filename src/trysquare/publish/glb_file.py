"""The machine as a GLB file, for looking at: triangles, colours, units one in the other.

A GLB is in metres with y up; one node at its root turns and scales, all below it is in millimetres as the
machine is. Source: Khronos glTF 2.0, 3.4 (coordinates and units), from memory.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from trysquare.ground.placement import Array, Placement
from trysquare.machine.values import PartType
from trysquare.publish.given_tree import GivenUnit, colour_of
from trysquare.solid.shapes import content_of, solid_of

METRES_Y_UP = np.array(
    [[0.001, 0.0, 0.0, 0.0], [0.0, 0.0, 0.001, 0.0], [0.0, -0.001, 0.0, 0.0], [0.0, 0.0, 0.0, 1.0]]
)
"""Takes the machine's millimetres, z up and y to the back, to a viewer's metres, y up and z to the front."""


def glb_bytes(whole: GivenUnit, folder: str | Path) -> bytes:
    """The GLB file; each part type's mesh is in it once. `folder`: that of the machine, for shape files."""
    import trimesh  # noqa: PLC0415  # heavy: loaded when a file is made
    from trimesh import visual as looks  # noqa: PLC0415

    scene: Any = trimesh.Scene(base_frame="world")
    scene.graph.update(frame_to="machine", frame_from="world", matrix=METRES_Y_UP)
    visual: Any = looks
    known: dict[tuple[object, ...], str] = {}

    def mesh_name(part_type: PartType) -> str:
        part_id = part_type.id
        key = (part_id, content_of(part_type, folder))
        if key not in known:
            name = part_id if part_id not in known.values() else f"{part_id} ({len(known)})"
            solid = solid_of(part_type, folder)
            colour = [*(round(255 * part) for part in _linear(colour_of(part_type))), 255]
            mesh = trimesh.Trimesh(solid.points_mm, solid.triangles, process=False)
            mesh.visual = visual.TextureVisuals(
                material=visual.material.PBRMaterial(
                    name=name, baseColorFactor=colour, metallicFactor=0.1, roughnessFactor=0.7
                )
            )
            scene.geometry[name] = mesh
            known[key] = name
        return known[key]

    def add(unit: GivenUnit, above: str) -> None:
        for piece in unit.pieces:
            scene.graph.update(
                frame_to=piece.id, frame_from=above, matrix=_matrix(piece.placement),
                geometry=mesh_name(piece.type),
            )  # fmt: skip
        for inner in unit.units:
            name = f"unit {inner.id}"
            scene.graph.update(frame_to=name, frame_from=above, matrix=np.eye(4))
            add(inner, name)

    add(whole, "machine")
    content = scene.export(file_type="glb")
    assert isinstance(content, bytes)
    return content


def _matrix(placement: Placement) -> Array:
    return np.vstack([placement.matrix(), [0.0, 0.0, 0.0, 1.0]])


def _linear(colour: tuple[float, float, float]) -> list[float]:
    """A screen's colour as light: what a GLB's factors are. Source: IEC 61966-2-1, from memory."""
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour]

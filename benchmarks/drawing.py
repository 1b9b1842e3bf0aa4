"""Our hidden-line drawing beside OpenCascade's two, on the same flat-faced bodies and in one run.

python -m benchmarks.drawing            ours, the polygonal one, and the exact one on merged faces
python -m benchmarks.drawing --exact    also the exact one on the very triangles, which takes minutes

Bodies are handed to OpenCascade twice: with the triangles of one plane merged into one face, which is kindest
to it, and as the triangles are. Ours begins with the bare meshes and finds their edges and flat faces itself,
which its cold seconds count. What OpenCascade needs to make faces of the same meshes is left out of the row
"faces merged" and counted in the one after it.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figures import row
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.solid.drawing import (
    ISOMETRIC,
    NEW,
    OLD,
    Piece,
    Scene,
    choose_view,
    draw,
    fitted,
    forget_drawings,
    scene_of,
    svg,
)
from trysquare.solid.drawing.edges import edges_of
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.bringing import bringing

LARCH = Path(__file__).resolve().parent.parent / "demo" / "larch"
PAPER_MM = (160.0, 160.0)  # 1600 px at ten to the millimetre


def step_scene(machine: Machine, step: int) -> Scene:
    """All solids that are there after a step, those it brings marked new."""
    pieces = []
    for entry in bringing(machine):
        if entry.step > step:
            continue
        role = NEW if entry.step == step else OLD
        pieces += [
            Piece(id=part.id, body=solid_of(part.type, LARCH), placement=part.placement, role=role)
            for part in entry.pieces
            if makes_solid(part.type)
        ]
    return scene_of(pieces)


def first_scene(machine: Machine, count: int) -> Scene:
    """So many solids of the finished machine in the order of its folder: first all that is no fastener."""
    parts = [part for part in machine.placed if makes_solid(part.type)][:count]
    return scene_of(
        Piece(id=part.id, body=solid_of(part.type, LARCH), placement=part.placement) for part in parts
    )


def seconds(action: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median wall and processor seconds of an action."""
    wall, own = [], []
    for _ in range(repeats):
        start, begun = time.perf_counter(), time.process_time()
        action()
        wall.append(time.perf_counter() - start)
        own.append(time.process_time() - begun)
    return statistics.median(wall), statistics.median(own)


def picture(scene: Scene) -> str:
    """One picture at its fitted scale, as SVG."""
    return svg(draw(scene, fitted(scene, ISOMETRIC, *PAPER_MM)), title="benchmark")


def cold(scene: Scene) -> str:
    """A picture with nothing kept from any other."""
    forget_drawings()
    return picture(scene)


# ── OpenCascade ──


def shapes_of(scene: Scene, *, merged: bool) -> Any:
    """The scene as one compound of flat-faced solids; each different body is sewn once and moved about."""
    from OCP.BRep import BRep_Builder
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Compound

    builder, compound = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(compound)
    made: dict[bytes, Any] = {}
    for piece in scene.pieces:
        if piece.body.digest not in made:
            made[piece.body.digest] = sewn(piece, merged=merged)
        move = gp_Trsf()
        rows = np.hstack([piece.placement.turn, piece.placement.origin_mm[:, None]])
        move.SetValues(*(float(value) for value in rows.reshape(-1)))
        builder.Add(compound, made[piece.body.digest].Moved(TopLoc_Location(move)))
    return compound


def sewn(piece: Piece, *, merged: bool) -> Any:
    """A body's triangles sewn; with `merged` those of one plane are made one face."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon, BRepBuilderAPI_Sewing
    from OCP.gp import gp_Pnt
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    edges = edges_of(piece.body)
    points = [gp_Pnt(*point) for point in edges.points_mm.tolist()]
    sewing = BRepBuilderAPI_Sewing(1e-6)
    for a, b, c in edges.triangles.tolist():
        wire = BRepBuilderAPI_MakePolygon(points[a], points[b], points[c], True)
        face = BRepBuilderAPI_MakeFace(wire.Wire(), True) if wire.IsDone() else None
        if face is not None and face.IsDone():
            sewing.Add(face.Face())
    sewing.Perform()
    if not merged:
        return sewing.SewedShape()
    unify = ShapeUpgrade_UnifySameDomain(sewing.SewedShape(), True, True, False)
    unify.Build()
    return unify.Shape()


def projector() -> Any:
    """The same isometric view for OpenCascade."""
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector

    right, _, away = ISOMETRIC.frame().tolist()
    return HLRAlgo_Projector(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*(-value for value in away)), gp_Dir(*right)))


def polygonal(compound: Any) -> Any:
    """Meshing and the polygonal algorithm."""
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.BRepTools import BRepTools
    from OCP.HLRBRep import HLRBRep_PolyAlgo, HLRBRep_PolyHLRToShape

    BRepTools.Clean_s(compound)
    BRepMesh_IncrementalMesh(compound, 0.1)
    algorithm = HLRBRep_PolyAlgo()
    algorithm.Load(compound)
    algorithm.Projector(projector())
    algorithm.Update()
    result = HLRBRep_PolyHLRToShape()
    result.Update(algorithm)
    return result.VCompound()


def exact(compound: Any) -> Any:
    """The exact algorithm."""
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    algorithm = HLRBRep_Algo()
    algorithm.Add(compound)
    algorithm.Projector(projector())
    algorithm.Update()
    algorithm.Hide()
    return HLRBRep_HLRToShape(algorithm).VCompound()


def length_of(shape: Any) -> float:
    """Length of all edges of a result, mm."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    if shape is None or shape.IsNull():
        return 0.0
    properties = GProp_GProps()
    BRepGProp.LinearProperties_s(shape, properties)
    return float(properties.Mass())


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--exact", action="store_true", help="measure the exact algorithm on the very triangles too"
    )
    parser.add_argument("--parts", type=int, default=250, help="how many parts OpenCascade draws [250]")
    asked = parser.parse_args()
    machine = load_machine(LARCH)
    for step in (5, 25, 35, 47, 53, 59, 61, 63):
        scene = step_scene(machine, step)
        first, _ = seconds(lambda scene=scene: cold(scene), 1)
        again, _ = seconds(lambda scene=scene: picture(scene), 3)
        kilobytes = len(picture(scene).encode()) / 1024
        what = f"lines of step {step} at 1600 px, {len(scene.pieces)} solids, nothing kept"
        row(what, "≤ 0.5 s", f"{first:.2f} s; next {again:.2f} s; {kilobytes:.0f} KB")
    scene = step_scene(machine, 35)
    took, _ = seconds(lambda: choose_view(scene, scene.ids(NEW)), 2)
    row("choosing among all views, step 35", "", f"{took:.2f} s")
    scene = first_scene(machine, asked.parts)
    made: list[Any] = []
    prepared = seconds(lambda: made.append(shapes_of(scene, merged=True)), 1)
    compound = made[0]
    picture(scene)
    whole, whole_own = seconds(lambda: cold(scene), 3)
    again, again_own = seconds(lambda: picture(scene), 3)
    row(f"the same {len(scene.pieces)} bodies: ours", "", f"{whole:.2f} s; next {again:.2f} s")
    compare("polygonal, meshing included", seconds(lambda: polygonal(compound), 2), whole_own, again_own, 3)
    alone = seconds(lambda: exact(compound), 1)
    compare("exact, faces merged", alone, whole_own, again_own, 50)
    both = (alone[0] + prepared[0], alone[1] + prepared[1])
    compare("exact, sewing and merging of the meshes counted too", both, whole_own, again_own, 50)
    if asked.exact:
        same = shapes_of(scene, merged=False)
        compare("exact, same triangles", seconds(lambda: exact(same), 1), whole_own, again_own, 50)


def compare(name: str, theirs: tuple[float, float], cold_own: float, again_own: float, wanted: int) -> None:
    """How many times our processor seconds another takes."""
    first, again = theirs[1] / cold_own, theirs[1] / again_own
    row(
        f"  OpenCascade {name}: {theirs[0]:.1f} s",
        f"≥ {wanted} times",
        f"{first:.0f} times; next {again:.0f}",
    )


if __name__ == "__main__":
    main()

"""Flat files, every solid by itself: a thread that is a solid counts with its screw, nothing else does."""

from __future__ import annotations

import gzip
import math
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from intake.made_step import Made, location, some_placement, write_step
from intake.test_together import compound, shifted
from trysquare.ground.placement import Placement
from trysquare.intake.rulings import Memory
from trysquare.intake.step_file import read_step
from trysquare.intake.taken_in import looked_at, taken_in

FILES = Path(__file__).parent / "files"
SCREW, NUT = "ISO 7380-1 M5x10", "ISO 4032 M3"
HEAD_MM, THREAD_MM = 2.75, 10.0  # of the screw: ISO 7380-1, from memory


def solids(name: str, folder: Path) -> list[Any]:
    """All solids of a file of another program, in their places."""
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    file = folder / f"{name}.step"
    file.write_bytes(gzip.decompress((FILES / f"{name}.step.gz").read_bytes()))
    reader = STEPControl_Reader()
    reader.ReadFile(str(file))
    reader.TransferRoots()
    found, explorer = [], TopExp_Explorer(reader.OneShape(), TopAbs_SOLID)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def placed(some: list[Any], placement: Placement) -> list[tuple[Any, Placement]]:
    """Solids moved together, each in a compound, in which it keeps its own place."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    found = []
    for each in some:
        builder, whole = BRep_Builder(), TopoDS_Compound()
        builder.MakeCompound(whole)
        builder.Add(whole, each)
        found.append((whole, placement))
    return found


def tube(inner_mm: float, outer_mm: float, length_mm: float, low_mm: float = 0.0) -> Any:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder

    outer = BRepPrimAPI_MakeCylinder(outer_mm / 2, length_mm).Shape()
    inner = BRepPrimAPI_MakeCylinder(inner_mm / 2, length_mm).Shape()
    return BRepAlgoAPI_Cut(outer, inner).Shape().Located(location(shifted(0, 0, low_mm)))


def capped(core_mm: float) -> Any:
    """A screw ISO 4762 M5x16, head up, its shank drawn at the core. Source: ISO 4762, from memory."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
    from OCP.gp import gp_Pnt, gp_Vec

    shank = BRepPrimAPI_MakeCylinder(core_mm / 2, 16).Shape().Located(location(shifted(0, 0, -16)))
    head = BRepPrimAPI_MakeCylinder(8.5 / 2, 5).Shape()
    outline = BRepBuilderAPI_MakePolygon()
    for number in range(6):
        angle = math.pi / 3 * number
        reach = 4 / math.sqrt(3)
        outline.Add(gp_Pnt(reach * math.cos(angle), reach * math.sin(angle), 2.5))
    outline.Close()
    socket = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire()).Face(), gp_Vec(0, 0, 5)).Shape()
    return BRepAlgoAPI_Cut(BRepAlgoAPI_Fuse(head, shank).Shape(), socket).Shape()


def looked(folder: Path, *some: tuple[Any, Placement]) -> tuple[Counter[str], list[str], Any]:
    """What a flat file of these solids holds: by designation or sort, its problems, and what was seen."""
    assembly = read_step(write_step(folder / "flat.step", Made("flat", compound(*some))))
    joined, seen = looked_at(assembly)
    count = Counter(seen[body.shape].designation or str(seen[body.shape].sort) for body in joined.bodies)
    assert [shape.number for shape in joined.shapes] == list(range(len(joined.shapes)))
    assert set(seen) == set(range(len(joined.shapes)))
    return count, [problem.code for problem in joined.problems], seen


def test_ridges_of_another_program_go_with_their_screws_and_nuts(tmp_path: Path) -> None:
    # Source: files/README.md, a screw and a nut of another program with their threads modelled
    screw, nut = solids("iso7380_1_M5x10_thread", tmp_path), solids("iso4032_M3_thread", tmp_path)
    assert (len(screw), len(nut)) == (15, 7)  # each turn of their threads is a solid
    some = [each for seed in (1, 2, 3) for each in placed(screw, some_placement(seed))]
    some += [each for seed in (4, 5) for each in placed(nut, some_placement(seed))]
    count, problems, seen = looked(tmp_path, *some)
    assert count == {SCREW: 3, NUT: 2}
    assert problems == ["thread-apart"]
    assert all("its thread is a body of its own" in one.evidence[-1] for one in seen.values())


def test_a_sleeve_drawn_for_a_thread_goes_with_its_screw(tmp_path: Path) -> None:
    some = placed([capped(4.13), tube(4.13, 5.0, 16, -16)], some_placement(1))
    count, problems, _ = looked(tmp_path, *some)
    assert count == {"ISO 4762 M5x16": 1}
    assert problems == ["thread-apart"]


@pytest.mark.parametrize(
    ("inner", "outer", "long", "low"),
    [
        (5.3, 10.0, 1.0, -1.0),  # a washer under the head
        (5.0, 8.0, 6.0, -8.0),  # a spacer that is drawn tight
        (4.13, 5.6, 9.0, -15.0),  # an insert that the screw bites, thread drawn at its core
        (4.13, 8.0, 4.0, -14.0),  # a round nut
        (5.0, 5.2, 4.0, -14.0),  # a thin foil round the shank
        (4.13, 5.0, 16.0, -30.0),  # a sleeve that is no longer on the screw
    ],
)
def test_what_is_wider_or_elsewhere_stays_a_piece(
    inner: float, outer: float, long: float, low: float, tmp_path: Path
) -> None:
    some = placed([capped(4.13), tube(inner, outer, long, low)], some_placement(1))
    count, problems, _ = looked(tmp_path, *some)
    assert count.total() == 2
    assert not problems


def test_a_pin_in_a_threaded_hole_and_a_chip_beside_the_shank_stay_pieces(tmp_path: Path) -> None:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder

    nut = solids("iso4032_M3_simple", tmp_path)
    pin = BRepPrimAPI_MakeCylinder(1.25, 2.4).Shape()
    middle = np.array([0.0, 0.0, -1.2])
    count, _, _ = looked(tmp_path, *placed(nut, Placement()), (pin, Placement(np.eye(3), middle)))
    assert count.total() == 2
    corner = BRepPrimAPI_MakeBox(9, 9, 40).Shape().Located(location(shifted(0, 0, -20)))
    quarter = BRepAlgoAPI_Common(tube(4.13, 5.0, 16, -16), corner).Shape()
    count, _, _ = looked(tmp_path, *placed([capped(4.13), quarter], some_placement(1)))
    assert count.total() == 2


def test_no_type_is_written_for_a_thread(tmp_path: Path) -> None:
    screw = solids("iso7380_1_M5x10_thread", tmp_path)
    made = Made("flat", compound(*placed([*screw, tube(5.5, 40, 4, -4)], some_placement(1))))
    taken = taken_in(read_step(write_step(tmp_path / "x.step", made)), Memory())
    assert len(taken.pieces.pieces) == 2
    assert len(taken.pieces.types) == 1

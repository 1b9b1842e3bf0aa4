"""Parts of several solids: a sink with its fan is one piece, a machine written as one part is many."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from intake.assembled import Assembled
from intake.made_step import Made, bored, box, location, some_placement, write_step
from trysquare.ground.placement import Placement
from trysquare.intake.recognise import recognised
from trysquare.intake.step_file import read_step


def compound(*solids: tuple[Any, Placement]) -> Any:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, whole = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(whole)
    for solid, placement in solids:
        builder.Add(whole, solid.Located(location(placement)))
    return whole


def shifted(x: float, y: float, z: float) -> Placement:
    return Placement(np.eye(3), np.array([x, y, z]))


def sink() -> Any:
    return box(40, 40, 11)


def fan() -> Any:
    return bored(box(40, 40, 10), (20, 20, 10), (0, 0, -1), 37, 10)


def cooler() -> Any:
    return compound((sink(), some_placement(2)), (fan(), some_placement(2).then(shifted(0, 0, 11))))


def test_a_part_of_two_solids_is_one_piece_with_both_volumes(tmp_path: Path) -> None:
    # Source: 40 × 40 × 11 and 40 × 40 × 10 less a hole of 37, by hand
    cooled, plate = Made("cooler", cooler()), Made("plate", box(100, 100, 3))
    inside = tuple((cooled, some_placement(seed), f"cooler {seed}") for seed in (4, 5))
    made = Made("machine", inside=(*inside, (plate, Placement(), "plate")))
    assembly = read_step(write_step(tmp_path / "x.step", made))
    assert [body.name for body in assembly.bodies] == ["cooler 4", "cooler 5", "plate"]
    one, other = assembly.bodies[:2]
    assert one.shape == other.shape
    shape = assembly.shapes[one.shape]
    assert shape.volume_mm3 == pytest.approx(40 * 40 * 21 - 10 * np.pi * 18.5**2, rel=1e-6)
    drawn = some_placement(4).then(some_placement(2)).point(np.array([[0, 0, 0], [40, 40, 21]]))
    points = one.placement.point(shape.points_mm)
    for corner in drawn:
        assert np.abs(points - corner).max(axis=1).min() < 1e-6


def test_a_machine_written_as_one_part_stays_many_pieces(tmp_path: Path) -> None:
    made = Made("machine", compound((sink(), Placement()), (fan(), shifted(0, 0, 11))))
    assert len(read_step(write_step(tmp_path / "x.step", made)).bodies) == 2


def test_a_part_that_holds_a_fastener_stays_several_pieces(tmp_path: Path) -> None:
    # Source: files/README.md, a washer of another program
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    washer = Path(__file__).parent / "files" / "iso7089_M3_simple.step.gz"
    (tmp_path / "washer.step").write_bytes(gzip.decompress(washer.read_bytes()))
    reader = STEPControl_Reader()
    reader.ReadFile(str(tmp_path / "washer.step"))
    reader.TransferRoots()
    solid = TopExp_Explorer(reader.OneShape(), TopAbs_SOLID).Current()
    kit = Made("kit", compound((sink(), Placement()), (solid, shifted(20, 20, 11))))
    plate = Made("plate", box(100, 100, 3))
    made = Made("machine", inside=((kit, Placement(), "kit"), (plate, Placement(), "plate")))
    assert len(read_step(write_step(tmp_path / "x.step", made)).bodies) == 3


def test_a_thread_drawn_as_a_body_of_its_own_goes_with_its_screw(tmp_path: Path) -> None:
    # Source: files/README.md, a screw of another program with its thread modelled
    packed = Path(__file__).parent / "files" / "iso7380_1_M5x10_thread.step.gz"
    (tmp_path / "screw.step").write_bytes(gzip.decompress(packed.read_bytes()))
    text = (tmp_path / "screw.step").read_text()
    whole = Assembled()
    part = whole.part(text)
    spots = [some_placement(1), some_placement(2)]
    (tmp_path / "x.step").write_text(whole.whole([(part, spot) for spot in spots]))
    assembly = read_step(tmp_path / "x.step")
    assert [problem.code for problem in assembly.problems] == ["thread-apart"]
    assert len(assembly.bodies) == 2
    assert recognised(assembly.shapes[0]).designation == "ISO 7380-1 M5x10"

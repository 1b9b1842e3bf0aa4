"""Assemblies of kernels and writers that are not ours: nameless, turned, drawn with flats for rounds."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from intake.made_step import Made, box, handed_bracket, some_placement, write_step
from intake.meshed import write_facetted, write_meshed
from intake.taken import DEMO, Back, counted, member_holes, members, rides, screws, written
from trysquare.ground.placement import Placement
from trysquare.intake.cad_file import read_cad
from trysquare.intake.folder_text import folder_files
from trysquare.intake.rulings import Memory
from trysquare.intake.taken_in import taken_in
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine


def come_back(name: str, path: Path, write: Callable[[Path, Machine], Placement]) -> Back:
    demo = load_machine(DEMO / name)
    standing = write(path, demo)
    taken = taken_in(read_cad(path), Memory())
    folder = path.with_suffix("")
    written(folder, taken)
    return Back(demo, taken, load_machine(folder), standing)


@pytest.mark.slow
def test_a_slider_of_meshes_comes_back_screw_by_screw(tmp_path: Path) -> None:
    # Source: the demo's own folder; drawn by manifold3d, written by trimesh
    back = come_back("reed-joints", tmp_path / "x.3mf", write_meshed)
    assert screws(back, back.machine) == screws(back, back.demo)
    assert counted(back.machine) == counted(back.demo)
    assert members(back, back.machine) == members(back, back.demo)
    assert rides(back, back.machine) == rides(back, back.demo)


@pytest.mark.slow
def test_a_slider_of_step_flats_comes_back_screw_by_screw(tmp_path: Path) -> None:
    # Source: the demo's own folder; drawn by manifold3d, written as STEP by text alone, in metres
    back = come_back("reed-joints", tmp_path / "x.step", write_facetted)
    assert screws(back, back.machine) == screws(back, back.demo)
    assert counted(back.machine) == counted(back.demo)
    assert rides(back, back.machine) == rides(back, back.demo)


@pytest.mark.slow
def test_a_printer_of_meshes_comes_back_screw_by_screw(tmp_path: Path) -> None:
    # Source: the demo's own folder; drawn by manifold3d, written by trimesh
    back = come_back("larch", tmp_path / "x.3mf", write_meshed)
    assert members(back, back.machine) == members(back, back.demo)
    assert member_holes(back, back.machine) == member_holes(back, back.demo)
    assert rides(back, back.machine) == rides(back, back.demo)
    assert screws(back, back.machine) == screws(back, back.demo)
    wanted = counted(back.demo)
    assert (counted(back.machine) & wanted).total() >= 0.95 * wanted.total()


def test_a_part_of_two_solids_is_one_body_with_both_volumes(tmp_path: Path) -> None:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, both = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(both)
    builder.Add(both, box(10, 20, 30))
    builder.Add(both, handed_bracket())
    sink = Made("sink with fan", both)
    plate = Made("plate", box(50, 40, 3))
    inside = ((sink, some_placement(1), "sink"), (plate, some_placement(2), "plate"))
    assembly = read_cad(write_step(tmp_path / "x.step", Made("whole", None, inside)))
    assert [body.name for body in assembly.bodies] == ["sink", "plate"]
    bracket = 40 * 20 * 8 - math.pi * (2**2 * 8 + 1.5**2 * 5)  # by hand
    assert assembly.shapes[0].volume_mm3 == pytest.approx(6000 + bracket, rel=1e-6)


def test_a_file_that_is_one_part_of_many_solids_is_taken_apart(tmp_path: Path) -> None:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, both = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(both)
    builder.Add(both, box(10, 20, 30))
    builder.Add(both, handed_bracket())
    assembly = read_cad(write_step(tmp_path / "x.step", Made("flat", both)))
    assert len(assembly.bodies) == 2


def test_units_within_units_stay_so(tmp_path: Path) -> None:
    plate = Made("plate", box(40, 30, 3))
    clamp = Made("clamp", None, ((plate, some_placement(1), "p"), (plate, some_placement(2), "q")))
    carriage = Made("carriage", None, ((clamp, some_placement(3), "clamp"),))
    inside = ((carriage, some_placement(4), "carriage"), (plate, some_placement(5), "base"))
    taken = taken_in(read_cad(write_step(tmp_path / "x.step", Made("mill", None, inside))), Memory())
    units = taken.result.lines.units
    assert units["carriage-clamp"]["unit"] == {"title": "clamp", "in": "carriage"}
    assert units["carriage"] == {"unit": {"title": "carriage"}, "place": {}, "joint": {}}
    written(tmp_path / "x", taken)
    assert set(load_machine(tmp_path / "x").units) == {"machine", "carriage", "carriage-clamp"}


def test_a_plates_material_says_that_it_is_a_guess(tmp_path: Path) -> None:
    made = Made("plate", box(40, 30, 3), colour=(0.7, 0.7, 0.72))
    taken = taken_in(read_cad(write_step(tmp_path / "x.step", made)), Memory())
    text = folder_files(taken.result.lines)["parts.toml"].decode()
    assert 'material = "aluminium"  # a guess: its colour is a metal\'s grey' in text

"""Fasteners are recognised from faces alone: turned anyhow, written anyhow, drawn by us or by others."""

from __future__ import annotations

import gzip
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from intake.made_step import as_splines, bored, in_halves, shape_of, turned
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut, Washer
from trysquare.intake.bodies import Recognition, Sort
from trysquare.intake.recognise import hinted, recognised
from trysquare.intake.step_file import read_step
from trysquare.solid import brep_bodies, brep_parts, shapes
from trysquare.solid.bodies import box as mesh_box

FILES = Path(__file__).parent / "files"
STANDARDS = {
    "iso4762": "ISO 4762", "iso7380": "ISO 7380-1", "iso10642": "ISO 10642", "iso4026": "ISO 4026",
    "iso4032": "ISO 4032", "iso4035": "ISO 4035", "iso7089": "ISO 7089", "din557": "DIN 557",
}  # fmt: skip
PARTS = (
    "ISO 4762 M3x8", "ISO 4762 M5x45", "ISO 4762 M2x12", "ISO 7380-1 M5x10", "ISO 7380-1 M3x6",
    "ISO 10642 M4x16",
    "DIN 7991 M3x10", "ISO 4026 M3x6", "ISO 4032 M5", "ISO 4035 M4", "DIN 934 M5", "DIN 562 M3", "DIN 557 M6",
    "ISO 7089 M4", "heat-set insert M3x5.7", "slide-in nut slot 6 M5", "slide-in nut slot 6 M3",
    "roll-in nut slot 6 M5",
    "quarter-turn nut slot 6 M4", "hex-in-slot nut slot 6 M4", "slide-in nut slot 8 M8",
)  # fmt: skip


def solid_of(designation: str) -> Any:
    part = lookup(designation)
    makers = {
        Screw: brep_parts.screw_shape, Nut: brep_parts.nut_shape, Washer: brep_parts.washer_shape,
        Insert: brep_parts.insert_shape, SlotNut: brep_parts.slot_nut_shape,
    }  # fmt: skip
    return makers[type(part)](part)


def seen(solid: Any) -> Recognition:
    return recognised(shape_of(solid))


@pytest.mark.slow
@pytest.mark.parametrize(("number", "designation"), [*enumerate(PARTS)])
@pytest.mark.parametrize(
    "written", [lambda solid: solid, as_splines, in_halves], ids=["plain", "splines", "halves"]
)
def test_a_fastener_is_recognised_however_it_is_turned_and_written(
    number: int, designation: str, written: Any
) -> None:
    found = seen(written(turned(solid_of(designation), number)))
    assert found.designation == designation
    assert found.is_sure


def mesh_of_part(designation: str) -> Any:
    part = lookup(designation)
    makers = {
        Screw: shapes.screw_body, Nut: shapes.nut_body, Washer: shapes.washer_body,
        Insert: shapes.insert_body, SlotNut: shapes.slot_nut_body,
    }  # fmt: skip
    return makers[type(part)](part)


@pytest.mark.parametrize(("number", "designation"), [*enumerate(PARTS)])
def test_the_frame_of_a_fastener_lays_the_catalogues_solid_upon_it(number: int, designation: str) -> None:
    shape = shape_of(turned(solid_of(designation), number))
    own = recognised(shape).frame.back(shape.points_mm)
    box = np.array(mesh_of_part(designation).bounding_box()).reshape(2, 3)
    # flats for rounds lie inside by their sagitta, in either drawing
    assert np.abs(np.stack([own.min(axis=0), own.max(axis=0)]) - box).max() < 0.1


@pytest.mark.slow
@pytest.mark.outside
@pytest.mark.parametrize("name", sorted(path.name for path in FILES.glob("*.gz")))
def test_fasteners_drawn_by_another_program_have_their_right_designation(name: str, tmp_path: Path) -> None:
    # Source: the file's name, which is what its maker was asked for; see files/README.md
    path = tmp_path / "part.step"
    path.write_bytes(gzip.decompress((FILES / name).read_bytes()))
    standard, size = name.replace("iso7380_1", "iso7380").split("_")[:2]
    found = recognised(read_step(path).shapes[0])
    assert found.designation == f"{STANDARDS[standard]} {size}"
    assert found.is_sure


def test_evidence_is_said_in_words_and_measures() -> None:
    found = seen(solid_of("ISO 4762 M3x8"))
    assert found.evidence[0] == "six-sided recess 2.5 across flats, 1.3 deep"
    assert found.evidence[1].startswith("head Ø5.68, 3 high")
    assert "nearest standard length 8, +0.00" in found.evidence


def test_a_length_that_is_not_made_is_asked_with_the_nearest_one_and_its_deviation() -> None:
    screw = lookup("ISO 4762 M3x20")
    assert isinstance(screw, Screw)
    sawn = brep_bodies.less(solid_of("ISO 4762 M3x20"), [brep_bodies.box((-9, -9, -30), (9, 9, -18.2))])
    found = seen(turned(sawn, 3))
    assert found.designation == "ISO 4762 M3x18"
    assert found.parameters["deviation_mm"] == pytest.approx(0.2, abs=1e-6)
    sawn = brep_bodies.less(solid_of("ISO 4762 M3x20"), [brep_bodies.box((-9, -9, -30), (9, 9, -13.0))])
    found = seen(sawn)
    assert not found.is_sure
    assert "13 long is no length that is made" in found.doubts[0]


def test_a_cup_point_tells_iso_4029_from_iso_4026() -> None:
    flat = seen(solid_of("ISO 4026 M4x8"))
    assert flat.alternatives == ("ISO 4029 M4x8",)
    cone = brep_bodies.spun([(0.0, -8.1), (1.35, -8.1), (0.0, -6.75)])
    cup = seen(turned(brep_bodies.less(solid_of("ISO 4026 M4x8"), [cone]), 4))
    assert cup.designation == "ISO 4029 M4x8"


def test_a_screw_with_chamfers_and_fillets_is_still_the_screw() -> None:
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
    from OCP.GeomAbs import GeomAbs_Circle
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    def ring(solid: Any, z_mm: float, radius_mm: float) -> Any:
        explorer = TopExp_Explorer(solid, TopAbs_EDGE)
        while explorer.More():
            edge = TopoDS.Edge(explorer.Current())
            curve = BRepAdaptor_Curve(edge)
            if curve.GetType() == GeomAbs_Circle:
                circle = curve.Circle()
                if abs(circle.Location().Z() - z_mm) < 1e-6 and abs(circle.Radius() - radius_mm) < 1e-6:
                    return edge
            explorer.Next()
        raise AssertionError("no such edge")

    solid = solid_of("ISO 4762 M5x16")
    for z_mm, radius_mm in ((-16, 2.5), (5, 4.36)):
        work = BRepFilletAPI_MakeChamfer(solid)
        work.Add(0.4, ring(solid, z_mm, radius_mm))
        solid = work.Shape()
    rounding = BRepFilletAPI_MakeFillet(solid)
    rounding.Add(0.2, ring(solid, 0.0, 2.5))
    found = seen(turned(rounding.Shape(), 8))
    assert found.designation == "ISO 4762 M5x16"
    assert found.is_sure


@pytest.mark.parametrize("designation", ["ISO 4762 M4x16", "ISO 10642 M5x20", "ISO 7380-1 M3x10"])
def test_a_screw_drawn_without_its_recess_is_named_but_asked(designation: str) -> None:
    screw = lookup(designation)
    assert isinstance(screw, Screw)
    found = seen(turned(brep_parts.screw_shape(replace(screw, key_mm=0.0)), 7))
    assert found.designation == designation
    assert not found.is_sure


def test_a_screw_with_a_six_sided_head_is_a_screw_that_the_tables_do_not_have() -> None:
    solid = brep_bodies.joined([brep_bodies.hexagon(8, 0, 3.5), brep_bodies.cylinder(5, -16, 0)])
    found = seen(turned(solid, 6))
    assert (found.sort, found.designation) == (Sort.SCREW, "")
    assert found.evidence[0] == "six-sided head 8 across flats"
    assert not found.is_sure


def test_a_hole_between_two_threads_is_asked() -> None:
    found = seen(solid_of("hex-in-slot nut slot 6 M5"))  # Ø5: nominal of M5, tap drill of M6
    assert found.designation == "hex-in-slot nut slot 6 M5"
    assert found.alternatives == ("hex-in-slot nut slot 6 M6",)
    assert not found.is_sure
    assert hinted(found, ["hex-in-slot nut slot 6 M5"]).is_sure


def test_a_name_picks_between_what_the_solid_cannot_tell_and_never_overrules_it() -> None:
    found = seen(solid_of("ISO 4032 M3"))
    assert found.designation == "ISO 4032 M3"
    assert hinted(found, ["DIN 934 M3"]).designation == "DIN 934 M3"
    wrong = hinted(seen(solid_of("ISO 4762 M3x8")), ["ISO 4762 M4x8"])
    assert wrong.designation == "ISO 4762 M3x8"
    assert wrong.doubts == ("its name says ISO 4762 M4x8",)


def test_a_block_with_a_six_sided_hole_is_no_screw() -> None:
    block = brep_bodies.less(brep_bodies.box((-20, -20, -20), (20, 20, 0)), [brep_bodies.hexagon(5, -8, 1)])
    assert seen(bored(block, (0, 0, -21), (0, 0, 1), 6, 8)).sort is not Sort.SCREW
    assert mesh_box((0, 0, 0), (1, 1, 1)).volume() == pytest.approx(1)

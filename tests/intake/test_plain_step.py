"""Files of a second writer, unlike the CAD kernel's own, are read and recognised as well."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from intake.made_step import some_placement
from intake.plain_step import step_text
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Profile
from trysquare.intake.bodies import Sort
from trysquare.intake.cad_file import read_cad
from trysquare.intake.recognise import recognised
from trysquare.solid.profiles import section

HEXAGON = [(4 / math.cos(math.pi / 6) * math.cos(a), 4 / math.cos(math.pi / 6) * math.sin(a))
           for a in (math.pi / 3 * n for n in range(6))]  # fmt: skip
PLATE = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)]


def member_outline() -> list[tuple[float, float]]:
    profile = lookup("profile 20x20 slot 6")
    assert isinstance(profile, Profile)
    (ring,) = section(profile, 0.0).to_polygons()
    return [(float(x), float(y)) for x, y in np.round(ring, 6)]


def test_prisms_of_a_second_writer_have_their_right_volume_and_place(tmp_path: Path) -> None:
    path = tmp_path / "plain.step"
    path.write_text(step_text([(PLATE, [(10, 10, 5.5), (50, 30, 5.5)], 5.0, some_placement(1))]))
    assembly = read_cad(path)
    assert assembly.facts.schema == "AP203"
    assert assembly.facts.unit == "metre"
    (shape,) = assembly.shapes
    (body,) = assembly.bodies
    assert shape.volume_mm3 == pytest.approx(5 * (60 * 40 - 2 * math.pi * 2.75**2), rel=1e-6)
    assert shape.closed
    corners = body.placement.point(np.concatenate([face.corners_mm for face in shape.faces]))
    for corner in ([0, 0, 0], [60, 40, 5]):
        place = some_placement(1).point([float(each) for each in corner])
        assert np.linalg.norm(corners - place, axis=1).min() < 1e-4


def test_a_member_a_nut_and_a_plate_of_a_second_writer_are_recognised(tmp_path: Path) -> None:
    path = tmp_path / "plain.step"
    solids = [
        (member_outline(), [(0.0, 0.0, 4.3)], 287.5, some_placement(1)),
        (HEXAGON, [(0.0, 0.0, 5.0)], 4.7, some_placement(2)),
        (PLATE, [(10, 10, 5.5), (50, 30, 5.5)], 5.0, some_placement(3)),
        (HEXAGON, [(0.0, 0.0, 5.0)], 4.7, some_placement(4)),
    ]
    path.write_text(step_text(solids))
    assembly = read_cad(path)
    assert [body.shape for body in assembly.bodies] == [0, 1, 2, 1]
    member, nut, plate = (recognised(shape) for shape in assembly.shapes)
    assert (member.sort, member.designation) == (Sort.MEMBER, "profile 20x20 slot 6")
    assert member.parameters["length_mm"] == pytest.approx(287.5, abs=1e-4)
    assert nut.designation == "ISO 4032 M5"
    assert plate.sort is Sort.PLATE
    assert [hole.diameter_mm for hole in plate.holes] == pytest.approx([5.5, 5.5], abs=1e-4)

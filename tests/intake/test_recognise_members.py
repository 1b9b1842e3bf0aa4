"""Members, with their length, tapped ends and drilled holes; rails and blocks; and what is none of these."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from intake.made_step import as_splines, bored, box, in_halves, shape_of, turned
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.profiles import profile_designations
from trysquare.catalogue.threads import thread
from trysquare.catalogue.values import BlockSize, LeadScrew, Profile, Pulley, RailSize
from trysquare.intake.bodies import Sort
from trysquare.intake.recognise import recognised
from trysquare.solid import brep_parts
from trysquare.solid.brep_bodies import aimed, cylinder, hole_shape, joined, less

WAYS = [lambda solid: solid, as_splines, in_halves]


def member(designation: str, length_mm: float, tapped: tuple[str, ...] = ()) -> Any:
    profile = lookup(designation)
    assert isinstance(profile, Profile)
    return brep_parts.member_shape(profile, length_mm, tapped, 15, thread(profile.core_thread).diameter_mm)


@pytest.mark.slow
@pytest.mark.parametrize(("number", "designation"), [*enumerate(profile_designations())])
def test_every_profile_of_the_tables_is_recognised_with_its_length(number: int, designation: str) -> None:
    length_mm = 61.25 + 37.5 * number
    found = recognised(shape_of(turned(member(designation, length_mm), number)))
    assert (found.sort, found.designation) == (Sort.MEMBER, designation)
    assert found.parameters["length_mm"] == pytest.approx(length_mm, abs=1e-6)
    assert found.is_sure
    assert not found.tapped


@pytest.mark.slow
@pytest.mark.parametrize("written", WAYS, ids=["plain", "splines", "halves"])
def test_tapped_ends_and_holes_are_measured_from_end_a(written: Any) -> None:
    solid = member("profile 20x20 slot 6", 380, ("a",))
    # blind through one wall, 25 from end a, on the face opposite to the second; through and through at 365
    solid = less(solid, [aimed(hole_shape(6, 10), (25, 0, 10), (0, 0, 1))])
    solid = less(solid, [aimed(hole_shape(5.5, 21, 9, 3), (365, -10, 0), (0, -1, 0))])
    shape = shape_of(written(turned(solid, 4)))
    found = recognised(shape)
    flipped = found.tapped == ("b",)  # which end is a is for us to choose
    blind = next(hole for hole in found.holes if abs(hole.diameter_mm - 6) < 1e-6)
    through = next(hole for hole in found.holes if abs(hole.diameter_mm - 5.5) < 1e-6)
    assert len(found.holes) == 2
    assert found.tapped in {("a",), ("b",)}
    assert blind.from_a_mm == pytest.approx(355 if flipped else 25, abs=1e-4)
    assert through.from_a_mm == pytest.approx(15 if flipped else 365, abs=1e-4)
    assert (blind.through, through.through) == (False, True)
    # 3 deep reaches into the slot, which is wider: what can be seen of it is the lip's 1.7
    assert through.counterbore_mm == pytest.approx((9, 1.7), abs=1e-4)
    assert {blind.face[1], through.face[1]} == {"y", "z"}
    opening = found.frame.point(through.at_mm)
    assert np.abs(shape.points_mm - opening).max() > 1


def test_a_member_with_a_slot_closed_is_named_and_the_closed_slot_is_a_doubt() -> None:
    filled = joined([member("profile 20x20 slot 6", 200), box_at((0, -3.1, 3.5), (200, 6.2, 6.5))])
    found = recognised(shape_of(turned(filled, 1)))
    assert found.designation == "profile 20x20 slot 6"
    assert found.doubts


def box_at(at: tuple[float, float, float], size: tuple[float, float, float]) -> Any:
    from trysquare.solid.brep_bodies import box as corner_box

    return corner_box(at, tuple(a + b for a, b in zip(at, size, strict=True)))


def test_a_square_tube_and_a_grooved_bar_are_no_members() -> None:
    tube = less(box_at((0, -10, -10), (200, 20, 20)), [box_at((-1, -8, -8), (202, 16, 16))])
    grooved = less(box_at((0, -10, -10), (200, 20, 20)), [box_at((-1, -3, 5), (202, 6, 6))])
    for solid in (tube, grooved):
        assert recognised(shape_of(turned(solid, 2))).sort is not Sort.MEMBER


GUIDES = (
    "rail 9x200",
    "rail 12x325",
    "rail 7x100",
    "block 9 standard",
    "block 9 long",
    "block 12 standard",
    "block 15 long",
)


@pytest.mark.parametrize("written", WAYS, ids=["plain", "splines", "halves"])
@pytest.mark.parametrize(("number", "designation"), [*enumerate(GUIDES)])
def test_rails_and_blocks_are_recognised_by_their_hole_patterns(
    number: int, designation: str, written: Any
) -> None:
    part = lookup(designation)
    assert isinstance(part, RailSize | BlockSize)
    solid = brep_parts.rail_shape(part) if isinstance(part, RailSize) else brep_parts.block_shape(part)
    found = recognised(shape_of(written(turned(solid, number))))
    assert found.designation == designation
    assert found.is_sure
    if isinstance(part, RailSize):
        assert found.parameters["first_hole_mm"] == pytest.approx(part.first_hole_mm, abs=1e-4)


@pytest.mark.parametrize("number", [1, 3, 4])
def test_a_rail_that_was_cut_at_one_end_is_named_by_the_first_hole_of_each_end(number: int) -> None:
    part = lookup("rail 9x200")
    assert isinstance(part, RailSize)
    cut = less(brep_parts.rail_shape(part), [box_at((194, -5, -1), (10, 10, 10))])
    found = recognised(shape_of(turned(cut, number)))
    # Source: by hand, 200 - 6 = 194 and 10 - 6 = 4.
    assert found.designation in ("rail 9x194 ends 10/4", "rail 9x194 ends 4/10")
    assert found.is_sure
    assert found.doubts == ()
    named = lookup(found.designation)
    assert isinstance(named, RailSize)
    # End a lies at the frame's origin.
    assert found.parameters["first_hole_mm"] == pytest.approx(named.first_hole_mm, abs=0.005)


def test_a_rail_whose_ends_no_rail_can_have_is_asked() -> None:
    part = lookup("rail 9x200")
    assert isinstance(part, RailSize)
    cut = less(brep_parts.rail_shape(part), [box_at((191.5, -5, -1), (10, 10, 10))])
    found = recognised(shape_of(turned(cut, 3)))
    assert found.sort is not Sort.RAIL or not found.is_sure


PULLEYS = ("pulley 2 mm pitch 20 teeth bore 5",
           "pulley 2 mm pitch 16 teeth bore 5", "idler 2 mm pitch 20 teeth bore 5",
           "idler smooth 12 bore 5", "pulley 3 mm pitch 24 teeth bore 8 belt 9")  # fmt: skip


@pytest.mark.parametrize(("number", "designation"), [*enumerate(PULLEYS)])
def test_pulleys_and_idlers_are_recognised_by_running_surface_and_bore(number: int, designation: str) -> None:
    part = lookup(designation)
    assert isinstance(part, Pulley)
    found = recognised(shape_of(turned(brep_parts.pulley_shape(part), number)))
    assert found.designation == designation
    assert found.is_sure


def test_a_plain_round_bar_is_a_shaft_that_could_be_a_lead_screw() -> None:
    part = lookup("lead screw 8x2 starts 4 length 250")
    assert isinstance(part, LeadScrew)
    found = recognised(shape_of(turned(brep_parts.lead_screw_shape(part), 2)))
    assert found.sort is Sort.SHAFT
    assert part.designation in found.alternatives
    assert not found.is_sure


def test_a_plate_has_its_size_thickness_and_holes() -> None:
    plate = box(60, 40, 5)
    for x, y in ((10, 10), (50, 10), (10, 30)):
        plate = bored(plate, (x, y, 6), (0, 0, -1), 5.5, 10)
    plate = bored(plate, (50, 30, 6), (0, 0, -1), 4.2, 10)
    found = recognised(shape_of(turned(plate, 6)))
    assert found.sort is Sort.PLATE
    assert found.parameters["thickness_mm"] == pytest.approx(5, abs=1e-6)
    assert sorted([found.parameters["size_x_mm"], found.parameters["size_y_mm"]]) == pytest.approx(
        [40, 60], abs=1e-6
    )
    assert [hole.thread for hole in found.holes] == ["M5", "", "", ""]
    assert all(hole.through for hole in found.holes)


def test_a_motor_is_recognised_by_its_face() -> None:
    body = box_at((-21.15, -21.15, -40), (42.3, 42.3, 40))
    parts = [body, cylinder(22, -0.5, 2), cylinder(5, -1, 24)]
    solid = joined(parts)
    for x in (-15.5, 15.5):
        for y in (-15.5, 15.5):
            solid = bored(solid, (x, y, 1), (0, 0, -1), 3, 5.5)
    found = recognised(shape_of(turned(solid, 5)))
    assert found.sort is Sort.MOTOR
    assert found.is_sure
    figures = {key: round(value, 3) for key, value in found.parameters.items()}
    assert figures == {
        "pattern_mm": 31.0, "face_mm": 42.3, "shaft_mm": 5.0, "shaft_length_mm": 24.0,
        "body_mm": 40.0, "boss_mm": 22.0,
    }  # fmt: skip


def test_a_ring_of_a_bearings_sizes_is_a_bearing_to_be_confirmed() -> None:
    ring = less(cylinder(16, 0, 5), [cylinder(5, -1, 6)])
    found = recognised(shape_of(turned(ring, 1)))
    assert found.sort is Sort.BEARING
    assert "625" in found.evidence[0]
    assert not found.is_sure


def test_anything_else_is_an_own_part_with_its_holes() -> None:
    angle = joined([box_at((0, 0, 0), (20, 18, 3)), box_at((0, 0, 0), (3, 18, 20))])
    angle = bored(angle, (12, 9, 4), (0, 0, -1), 5.5, 10)
    found = recognised(shape_of(turned(angle, 1)))
    assert found.sort is Sort.OWN
    assert [round(hole.diameter_mm, 6) for hole in found.holes] == [5.5]
    assert not found.is_sure

"""Profiles and slot nuts: what must fit where. Our outlines are neutral, so they must at least be sound."""

from __future__ import annotations

import math
from itertools import product

import pytest

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.profiles import profile_designations, slot_nut_designations
from trysquare.catalogue.screws import screw
from trysquare.catalogue.threads import thread
from trysquare.catalogue.values import Profile, SlotNut, SlotNutShape

LEAST_WEB_MM = 1.0
PLAY_MM = 0.2  # a nut slides when it has about this much on each side
PLAY_WITHIN_MM = (0.15, 0.55)


def profiles() -> list[Profile]:
    found = [lookup(name) for name in profile_designations()]
    assert all(isinstance(part, Profile) for part in found)
    return [part for part in found if isinstance(part, Profile)]


def nuts() -> list[SlotNut]:
    return [part for name in slot_nut_designations() if isinstance(part := lookup(name), SlotNut)]


def slot_half_width_mm(profile: Profile, depth_mm: float) -> float:
    """Half the slot's width at a depth below the face; 0 outside it."""
    if depth_mm < 0 or depth_mm > profile.depth_mm:
        return 0.0
    if depth_mm < profile.lip_mm:
        return profile.mouth_mm / 2
    return profile.inside_mm / 2 - max(0.0, depth_mm - profile.shoulder_mm)


def nut_half_width_mm(nut: SlotNut, below_mm: float) -> float:
    """Half the nut's width at a distance below its bearing shoulder (negative: in the neck)."""
    if below_mm < 0:
        return nut.neck_width_mm / 2
    return nut.width_mm / 2 - max(0.0, below_mm - nut.shoulder_mm)


def fits(nut: SlotNut, profile: Profile) -> bool:
    return nut.slot_mm == profile.slot_mm


PAIRS = [(nut, profile) for nut, profile in product(nuts(), profiles()) if fits(nut, profile)]


def pair_name(value: object) -> str:
    return getattr(value, "designation", "")


@pytest.mark.parametrize("profile", profiles(), ids=pair_name)
def test_the_slots_floor_is_where_its_45_degree_flanks_end(profile: Profile) -> None:
    narrowed_mm = profile.inside_mm - 2 * (profile.depth_mm - profile.shoulder_mm)
    assert profile.floor_mm == pytest.approx(narrowed_mm, abs=1e-9)
    assert profile.lip_mm < profile.shoulder_mm < profile.depth_mm
    assert profile.slot_mm < profile.mouth_mm < profile.inside_mm


@pytest.mark.parametrize("profile", profiles(), ids=pair_name)
def test_metal_is_left_between_neighbouring_slots(profile: Profile) -> None:
    half_mm = profile.cell_mm / 2
    # the flanks at 45° run along the diagonal: the web is as thick all along them
    web_mm = math.sqrt(2) * (half_mm - profile.shoulder_mm - profile.inside_mm / 2)
    assert web_mm >= LEAST_WEB_MM
    wall_mm = half_mm - profile.depth_mm - profile.core_mm / 2
    assert wall_mm >= LEAST_WEB_MM
    assert profile.cell_mm - profile.inside_mm >= LEAST_WEB_MM  # side by side on one face


@pytest.mark.parametrize("profile", profiles(), ids=pair_name)
def test_the_core_can_be_tapped_for_its_thread(profile: Profile) -> None:
    core = thread(profile.core_thread)
    assert core.minor_diameter_mm <= profile.core_mm <= core.tap_drill_mm + 0.1


@pytest.mark.parametrize(
    ("profile_name", "head_thread"),
    [
        ("profile 15x15 slot 3", "M3"),
        ("profile 20x20 slot 6", "M5"),
        ("profile 30x30 slot 6", "M6"),
        ("profile 30x30 slot 8", "M8"),
        ("profile 40x40 slot 8", "M8"),
    ],
)
def test_a_button_head_of_the_cores_thread_lies_under_the_lip(profile_name: str, head_thread: str) -> None:
    profile, head = lookup(profile_name), screw("ISO 7380-1", head_thread, 12)
    assert isinstance(profile, Profile)
    assert profile.core_thread == head_thread
    assert profile.mouth_mm > head.thread.diameter_mm
    # taken as a full cylinder, though the head is a dome
    lowest_mm = profile.lip_mm + head.head_height_mm
    assert slot_half_width_mm(profile, lowest_mm) >= head.head_diameter_mm / 2 + 0.05
    assert profile.depth_mm > lowest_mm


def test_the_cell_of_20_with_slot_6_takes_an_m5_head_with_half_a_millimetre_to_spare_across() -> None:
    profile = lookup("profile 20x20 slot 6")
    assert isinstance(profile, Profile)
    assert profile.inside_mm >= 10.5
    assert 6.0 <= profile.depth_mm <= 6.1


@pytest.mark.parametrize(("nut", "profile"), PAIRS, ids=pair_name)
def test_the_nuts_section_lies_in_the_slots_section(nut: SlotNut, profile: Profile) -> None:
    bottom_mm = nut.height_mm - nut.neck_mm
    assert nut.neck_mm <= profile.lip_mm
    steps = 400
    for step in range(steps + 1):
        below_mm = bottom_mm * step / steps
        slot_mm = slot_half_width_mm(profile, profile.lip_mm + below_mm)
        assert nut_half_width_mm(nut, below_mm) <= slot_mm - PLAY_MM + 1e-9
    if nut.neck_mm:
        assert nut.neck_width_mm / 2 <= profile.mouth_mm / 2 - PLAY_MM + 1e-9
    assert profile.lip_mm + bottom_mm <= profile.depth_mm - PLAY_MM + 1e-9


@pytest.mark.parametrize(("nut", "profile"), PAIRS, ids=pair_name)
def test_the_nut_bears_on_both_lips_and_cannot_be_pulled_through_the_mouth(
    nut: SlotNut, profile: Profile
) -> None:
    bearing_mm = (nut.width_mm - profile.mouth_mm) / 2
    assert bearing_mm >= 0.8
    play_mm = (profile.inside_mm - nut.width_mm) / 2
    assert PLAY_WITHIN_MM[0] <= play_mm <= (0.75 if nut.shape is SlotNutShape.ROLL_IN else PLAY_WITHIN_MM[1])


@pytest.mark.parametrize(("nut", "profile"), PAIRS, ids=pair_name)
def test_an_insertable_nut_passes_the_mouth_and_the_others_do_not(nut: SlotNut, profile: Profile) -> None:
    if nut.shape is SlotNutShape.QUARTER_TURN:
        assert nut.length_mm < profile.mouth_mm  # goes in turned: its length lies across the mouth
    elif nut.shape is SlotNutShape.ROLL_IN:
        assert nut.height_mm < profile.mouth_mm  # goes in on edge: its height lies across the mouth
    assert nut.insertable == (nut.shape in (SlotNutShape.QUARTER_TURN, SlotNutShape.ROLL_IN))


@pytest.mark.parametrize(("nut", "profile"), PAIRS, ids=pair_name)
def test_a_hexagon_in_the_slot_cannot_turn(nut: SlotNut, profile: Profile) -> None:
    if nut.shape is SlotNutShape.HEX_IN_SLOT:
        corners_mm = nut.width_mm * 2 / math.sqrt(3)
        assert nut.length_mm == pytest.approx(corners_mm, abs=0.01)
        assert corners_mm > profile.inside_mm


@pytest.mark.parametrize("nut", nuts(), ids=pair_name)
def test_the_thread_has_metal_round_it(nut: SlotNut) -> None:
    diameter_mm = nut.thread.diameter_mm
    narrowest_mm = 2 * nut_half_width_mm(nut, nut.height_mm - nut.neck_mm)
    assert min(nut.width_mm, nut.length_mm, narrowest_mm) >= diameter_mm + 0.5
    if nut.neck_mm:
        assert nut.neck_width_mm >= diameter_mm + 0.5
    assert nut.height_mm >= 0.64 * diameter_mm  # nearly two thirds of a diameter engaged


def test_every_slot_has_a_nut_for_the_end_and_every_wider_one_a_nut_for_anywhere() -> None:
    for slot_mm in {profile.slot_mm for profile in profiles()}:
        shapes = {nut.shape for nut in nuts() if nut.slot_mm == slot_mm}
        assert SlotNutShape.SLIDE_IN in shapes
        assert slot_mm < 5 or {SlotNutShape.ROLL_IN, SlotNutShape.QUARTER_TURN} <= shapes


def test_sizes_may_be_written_in_either_order_and_mean_one_bar() -> None:
    assert lookup("profile 40x20 slot 6") == lookup("profile 20x40 slot 6")
    bar = lookup("profile 20x40 slot 6")
    assert isinstance(bar, Profile)
    assert (bar.size_y_mm, bar.size_z_mm, bar.cells_y, bar.cells_z) == (20, 40, 1, 2)

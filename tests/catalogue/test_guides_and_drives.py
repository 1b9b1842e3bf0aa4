"""Rails, blocks, belts, pulleys, lead screws, wire and grease."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.catalogue.drives import belt, lead_screw, smooth_idler, toothed
from trysquare.catalogue.guides import block, rail
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.rows import numbers, rows
from trysquare.catalogue.supplies import wire_awg
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import RailSize, Screw, Wire

WIDTHS = [float(row["width_mm"]) for row in rows("rails")]


@given(width_mm=st.sampled_from(WIDTHS), thousandths=st.integers(0, 5_000_000))
def test_a_rail_of_any_length_has_centred_holes_as_many_as_the_ends_allow(
    width_mm: float, thousandths: int
) -> None:
    length_mm = thousandths / 1000
    (row,) = (row for row in rows("rails") if float(row["width_mm"]) == width_mm)
    pitch_mm, end_mm = float(row["hole_pitch_mm"]), float(row["least_end_mm"])
    if length_mm < pitch_mm + 2 * end_mm or length_mm > float(row["longest_mm"]):
        with pytest.raises(UnknownDesignation):
            rail(width_mm, length_mm)
        return
    size = rail(width_mm, length_mm)
    assert size.hole_count >= 2
    assert end_mm - 1e-4 <= size.first_hole_mm < end_mm + pitch_mm / 2 + 1e-4
    assert size.holes_mm[-1] == pytest.approx(length_mm - size.first_hole_mm, abs=1e-6)
    assert lookup(size.designation) == size


@given(
    width_mm=st.sampled_from(WIDTHS),
    ends=st.tuples(st.integers(2000, 60_000), st.integers(2000, 60_000)),
    pitches=st.integers(1, 40),
)
def test_a_rail_of_any_ends_has_whole_pitches_between_them_and_its_name_reads_back(
    width_mm: float, ends: tuple[int, int], pitches: int
) -> None:
    (row,) = (row for row in rows("rails") if float(row["width_mm"]) == width_mm)
    pitch_mm = float(row["hole_pitch_mm"])
    first_mm, last_mm = (end / 1000 for end in ends)
    size = rail(width_mm, round(first_mm + last_mm + pitches * pitch_mm, 3), (first_mm, last_mm))
    assert size.hole_count == pitches + 1
    # a rail whose ends are as good as the centred one's is that rail
    assert size.holes_mm[0] == pytest.approx(first_mm, abs=0.05)
    assert size.length_mm - size.holes_mm[-1] == pytest.approx(last_mm, abs=0.05)
    assert lookup(size.designation) == size
    assert 0 <= size.turned_off_mm <= pitch_mm / 2


def test_a_rail_turned_end_for_end_is_off_by_the_rest_of_its_ends_difference() -> None:
    # by hand, pitch 20: ends 5 and 15 differ by half a pitch, 5 and 25 by a whole one, 5 and 12 by 7
    assert [
        rail(9, sum(ends) + 260, ends).turned_off_mm for ends in ((5, 15), (5, 25), (5, 12), (12, 5))
    ] == [pytest.approx(off) for off in (10, 0, 7, 7)]


@pytest.mark.parametrize("width_mm", WIDTHS)
def test_the_rails_screw_fits_its_holes(width_mm: float) -> None:
    size = rail(width_mm, 200)
    head = lookup(f"ISO 4762 {size.thread}x10")
    assert isinstance(head, Screw)
    assert head.thread.diameter_mm < size.hole_mm < size.counterbore_mm <= size.width_mm
    assert size.counterbore_depth_mm < size.height_mm
    if width_mm > 7:  # the plain head goes in; a knurled one too, just
        assert size.counterbore_mm > head.head_diameter_mm


@pytest.mark.parametrize("width_mm", WIDTHS)
def test_a_block_goes_over_its_rail_and_the_long_one_is_longer(width_mm: float) -> None:
    standard, long, size = block(width_mm), block(width_mm, long=True), rail(width_mm, 300)
    assert standard.height_mm > size.height_mm > standard.gap_mm
    assert standard.width_mm > size.width_mm
    assert long.length_mm > standard.length_mm
    assert (long.height_mm, long.width_mm) == (standard.height_mm, standard.width_mm)
    for carriage in (standard, long):
        assert carriage.pattern_across_mm < carriage.width_mm
        assert carriage.pattern_along_mm < carriage.length_mm
        assert carriage.thread_depth_mm < carriage.height_mm - carriage.gap_mm
        assert thread(carriage.thread).name == carriage.thread


def test_block_thread_depths_are_those_of_maker_sheets() -> None:
    assert [block(width).thread_depth_mm for width in (7, 9, 12, 15)] == [2.5, 3, 3.5, 4]


def test_a_rail_of_200_in_size_9_begins_its_holes_at_10() -> None:
    size = lookup("rail 9x200")
    assert isinstance(size, RailSize)
    assert size.holes_mm == tuple(float(at) for at in range(10, 200, 20))


@pytest.mark.parametrize("teeth", [16, 20, 36, 60, 80])
@pytest.mark.parametrize(("pitch_mm", "offset_mm"), [(2, 0.254), (3, 0.381)])
def test_a_turn_of_a_pulley_moves_the_belt_by_its_teeth(
    teeth: int, pitch_mm: float, offset_mm: float
) -> None:
    wheel = toothed("pulley", pitch_mm, teeth, 5)
    assert math.pi * wheel.pitch_diameter_mm == pytest.approx(teeth * pitch_mm)
    assert wheel.running_mm == pytest.approx(wheel.pitch_diameter_mm - 2 * offset_mm)
    assert wheel.flange_mm > wheel.running_mm + 2 * (belt(pitch_mm, 6).thickness_mm - 0.75)


def test_the_belt_runs_between_the_flanges() -> None:
    for row in rows("pulleys"):
        wheel = toothed(row["kind"], float(row["pitch_mm"]), 40, 5, float(row["belt_width_mm"]))
        assert wheel.belt_centre_mm + wheel.belt_width_mm / 2 < wheel.length_mm
        assert wheel.belt_centre_mm - wheel.belt_width_mm / 2 > 0
        assert wheel.driven == (row["kind"] == "idler")
        assert bool(wheel.set_screw) == (not wheel.driven)
        if wheel.set_screw:
            assert isinstance(lookup(wheel.set_screw), Screw)


def test_smooth_idlers_have_metal_round_their_bore() -> None:
    for row in rows("smooth_idlers"):
        for bore_mm in numbers(row["bores_mm"]):
            wheel = smooth_idler(float(row["running_mm"]), bore_mm)
            assert wheel.teeth == 0
            assert wheel.running_mm >= wheel.bore_mm + 5  # room for balls and rings


def test_the_lead_is_pitch_times_starts() -> None:
    assert lead_screw(8, 2, 4, 250).lead_mm == 8
    assert lead_screw(8, 2, 1, 250).lead_mm == 2


def test_wire_resistances_are_those_of_maker_sheets() -> None:
    # trade sheets, Ω/km; one of them cuts its last digit off instead of rounding
    for gauge, ohm in ((16, 13.2), (18, 20.9), (20, 33.3), (22, 52.9), (24, 84.2)):
        assert wire_awg(gauge).resistance_ohm_per_km == pytest.approx(ohm, rel=0.003)


def test_design_currents_are_the_cautious_ones_and_rise_with_the_area() -> None:
    assert [wire_awg(gauge).design_ampere for gauge in (16, 18, 20, 22, 24)] == [10, 7, 5, 3, 2]
    for names in (
        [f"wire AWG {row['gauge']}" for row in rows("wires_awg")][::-1],
        [f"wire {row['area_mm2']} mm2" for row in rows("wires_metric")],
    ):
        wires = [part for name in names if isinstance(part := lookup(name), Wire)]
        for thin, thick in pairwise(wires):
            assert thin.area_mm2 < thick.area_mm2
            assert thin.design_ampere < thick.design_ampere
            assert thin.resistance_ohm_per_km > thick.resistance_ohm_per_km
            assert thin.insulation_mm < thick.insulation_mm
        assert all(wire.insulation_mm > 2 * math.sqrt(wire.area_mm2 / math.pi) for wire in wires)
        assert all("never a rating" in wire.source for wire in wires)


def test_grease_grades_leave_fifteen_tenths_between_neighbours() -> None:
    grades = [(int(row["penetration_low"]), int(row["penetration_high"])) for row in rows("greases")]
    for (low, high), (_, next_high) in pairwise(grades):
        assert high - low == 30
        assert low - next_high == 15

"""Counting by weight."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from small_frame import write_frame
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Screw
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.standard_types import standard_type
from trysquare.stock.counting import read_count
from trysquare.stock.need import need
from trysquare.stock.weighing import (
    PieceMass,
    decides_up_to,
    mass_of_one,
    screw_volume_mm3,
    thread_volume_mm3,
    weighed,
)


def screw(designation: str) -> Screw:
    part = lookup(designation)
    assert isinstance(part, Screw)
    return part


def test_a_thread_weighs_what_its_profile_turned_round_weighs() -> None:
    # The basic profile of ISO 68-1 integrated in small slices, against the closed form.
    thread = screw("ISO 4762 M5x20").thread
    pitch, outer, root = thread.pitch_mm, thread.diameter_mm / 2, thread.minor_diameter_mm / 2
    slices = 20_000
    volume = 0.0
    for at in range(slices):
        place = (at + 0.5) / slices * pitch
        if place < pitch / 8:
            radius = outer
        elif place < pitch * (1 / 8 + 5 / 16):
            radius = outer + (root - outer) * (place - pitch / 8) / (pitch * 5 / 16)
        elif place < pitch * (1 / 8 + 5 / 16 + 1 / 4):
            radius = root
        else:
            radius = root + (outer - root) * (place - pitch * 11 / 16) / (pitch * 5 / 16)
        volume += math.pi * radius**2 * pitch / slices
    assert thread_volume_mm3(thread, pitch) == pytest.approx(volume, rel=1e-6)


@pytest.mark.parametrize(
    ("short", "long"), [("ISO 4762 M3x8", "ISO 4762 M3x20"), ("ISO 7380-1 M5x8", "ISO 7380-1 M5x12")]
)
def test_a_longer_screw_weighs_more_by_its_thread(short: str, long: str) -> None:
    one, other = screw(short), screw(long)
    more = thread_volume_mm3(one.thread, other.length_mm - one.length_mm)
    assert screw_volume_mm3(other) - screw_volume_mm3(one) == pytest.approx(more)


def test_a_cap_screw_m3x8_weighs_some_eight_tenths_of_a_gram() -> None:
    # kilograms of 1000 pieces in dealers' tables: 0.8; from memory
    one = mass_of_one(standard_type("ISO 4762 M3x8"))
    assert one is not None
    assert one.gram == pytest.approx(0.8, abs=one.half_width_gram)


def test_a_printed_part_has_no_mass_that_anybody_knows(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path))
    assert mass_of_one(machine.types["foot"]) is None
    assert mass_of_one(machine.types["foot"], said_gram=12.0) is not None


def test_a_kitchen_scale_counts_members_singly_and_small_screws_never() -> None:
    beam = PieceMass(gram=150, half_width_gram=4.5, basis="")
    small = PieceMass(gram=0.8, half_width_gram=0.05, basis="")
    assert weighed(450, beam).decides
    assert weighed(450, beam).pieces == 3
    assert decides_up_to(small, 2.0) == 0
    reading = weighed(80, small)
    assert not reading.decides
    assert reading.low < 100 < reading.high
    assert reading.tells_apart >= 10  # count screws in tens


def test_a_reading_between_two_numbers_of_pieces_agrees_with_none() -> None:
    reading = weighed(225, PieceMass(gram=150, half_width_gram=4.5, basis=""))
    assert not reading.agrees
    assert not reading.decides


@given(
    pieces=st.integers(1, 300),
    gram=st.floats(0.3, 400),
    share=st.floats(0.001, 0.08),
    scale=st.floats(0.1, 2),
    off_piece=st.floats(-0.5, 0.5),
    off_scale=st.floats(-0.5, 0.5),
)
def test_the_true_number_lies_within_what_is_told(
    pieces: int, gram: float, share: float, scale: float, off_piece: float, off_scale: float
) -> None:
    # Half of the limits each: well within the expanded uncertainty.
    reading = pieces * gram * (1 + off_piece * share) + off_scale * scale
    if reading <= 0:
        return
    told = weighed(reading, PieceMass(gram=gram, half_width_gram=share * gram, basis=""), scale)
    assert told.low <= pieces <= told.high
    if told.decides:
        assert told.pieces == pieces


@pytest.mark.parametrize("reading", [0.0, -1.0, float("nan")])
def test_a_reading_that_weighs_nothing_is_refused(reading: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        weighed(reading, PieceMass(gram=1, half_width_gram=0.1, basis=""))


def test_a_row_that_was_only_weighed_counts_what_is_surely_there(tmp_path: Path) -> None:
    write_frame(tmp_path)
    (tmp_path / "boxes").mkdir()
    rows = "part,pieces,weighed (g)\nISO 4762 M3x6,,60\nbeam,,130\nfoot,,40\n"
    (tmp_path / "boxes" / "kit.csv").write_text(rows, encoding="utf-8")
    machine = load_machine(tmp_path)
    problems: list[ReadingError] = []
    screws, beam, foot = read_count(machine, need(machine), problems, half_width_gram=2).rows
    assert not problems
    assert screws.weighed is not None
    assert screws.pieces == screws.weighed.low
    assert "tells heaps apart" in screws.remarks[0]
    assert beam.weighed is not None
    assert foot.pieces == 0
    assert "count them" in foot.remarks[0]

"""What a line of a parts list means, against a corpus of many habits with the right answers."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.catalogue.lookup import designations, lookup
from trysquare.stock.habits import readings
from trysquare.stock.row_text import ASKED_FROM, understand

CORPUS = list(
    csv.DictReader(
        Path(__file__)
        .parent.parent.joinpath("intake", "designations.csv")
        .read_text(encoding="utf-8")
        .splitlines()
    )
)


@pytest.mark.parametrize("row", CORPUS, ids=lambda row: row["text"])
def test_a_text_means_what_a_reader_of_its_habit_says(row: dict[str, str]) -> None:
    # Source: beside each row of the corpus
    read = understand(row["text"])
    if row["outcome"] == "recognised":
        assert read.certain is not None, read
        assert read.certain.designation == row["part"]
    else:
        assert read.certain is None
        named = [one.designation for one in read.readings]
        assert row["part"] in named if row["outcome"] == "asked" else not named


def test_the_corpus_is_large_enough() -> None:
    assert len({row["text"] for row in CORPUS}) >= 150


def test_every_designation_of_the_catalogue_reads_as_itself() -> None:
    members = ("profile",)
    for name in list(designations())[::7]:
        if not name.startswith(members):
            read = understand(name)
            assert read.certain is not None, name
            assert read.certain.designation == name


def test_strength_coating_and_counts_are_told_beside_the_part() -> None:
    read = understand("M3x8 SHCS 12.9 zinc plated (pack of 50)")
    assert (read.strength, read.coating, read.pack_size) == ("12.9", "zinc plated", 50)
    assert understand("12x M3x8 BHCS").pieces == 12


def test_a_profile_cut_to_length_is_a_member() -> None:
    read = understand("profile 20x40 slot 6, L = 350")
    assert read.member is not None
    assert (read.member.profile, read.member.length_mm) == ("profile 20x40 slot 6", 350)
    open_slot = understand("2020 extrusion 400 mm").member
    assert open_slot is not None
    assert open_slot.profile == ""


def test_what_stands_against_a_reading_is_said() -> None:
    assert "inches" in understand("1/4-20 x 1/2 BHCS").obstacle
    assert "fine thread" in understand("M8x1x20 SHCS").obstacle
    assert "six lobes" in understand("M3x8 button head torx").obstacle


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text: str) -> None:
    for reading in understand(text).readings:
        assert lookup(reading.designation).designation == reading.designation


SCREWS = [name for name in designations() if name.startswith("ISO 4762 M")]


@given(
    st.sampled_from(SCREWS),
    st.sampled_from(
        ["{t}x{l} SHCS", "SHCS {t} x {l} mm", "screw, socket head cap, {t}×{l}", "DIN 912 {t}X{l}"]
    ),
    st.sampled_from(["", " zinc", " black", ", 12 pcs", " (pack of 100)"]),
    st.booleans(),
)
def test_a_screw_is_found_again_however_it_is_spelt(name: str, habit: str, more: str, loud: bool) -> None:
    thread, _, length = name.removeprefix("ISO 4762 ").partition("x")
    text = habit.format(t=thread, l=length) + more
    read = understand(text.upper() if loud else text)
    assert read.certain is not None
    assert read.certain.designation == name


@pytest.mark.parametrize("row", CORPUS, ids=lambda row: row["text"])
def test_a_packing_list_and_a_parts_list_read_a_name_alike(row: dict[str, str]) -> None:
    # what else a parts list's words say (a drive, a count, a material) stands before or beside the readings
    read = understand(row["text"])
    if read.readings and not read.pieces and read.material != "plastic":
        assert set(read.readings) == {one for one in readings(row["text"]) if one.confidence >= ASKED_FROM}

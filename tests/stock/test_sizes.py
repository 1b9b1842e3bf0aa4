"""Sizes in a text have one form, however they are written."""

import pytest

from trysquare.catalogue.designation import tidy
from trysquare.stock.sizes import plain_sizes, strength_in, thread_and_length, thread_in, with_length

# Source: common practice, no source
M3X8 = (
    "M3×8",
    "m3 x 8mm",
    "M3-8",
    "M3 x 0.5 x 8",
    "M3, length 8",
    "M3 L=8",
    "screw M3 8 mm long",
    "3x8 screw",
    "M3*8",
)


@pytest.mark.parametrize("text", M3X8)
def test_a_size_is_thread_and_length_however_it_is_written(text: str) -> None:
    plain, against = plain_sizes(tidy(text), [])
    assert against is None
    assert thread_and_length(plain) == ("M3", "8")
    assert thread_in(plain) == "M3"


def test_sizes_made_plain_once_stay_as_they_are() -> None:
    for text in M3X8:
        plain, _ = plain_sizes(tidy(text), [])
        assert plain_sizes(plain, []) == (plain, None)


def test_a_fine_thread_stands_against_every_reading() -> None:
    # Source: ISO 261:1998, M8 coarse 1.25, fine 1; from memory
    _, against = plain_sizes("m8x1x20 shcs", [])
    assert against is not None
    assert not against.asks
    assert "fine thread" in against.says


def test_what_is_put_in_is_said() -> None:
    says: list[str] = []
    plain_sizes("screw 4x20 mm", says)
    assert says == ["4 mm is read as M4."]


def test_a_fit_on_a_pin_and_a_word_that_ends_in_m_are_no_thread() -> None:
    assert thread_in("dowel pin 4m6 x 20") == ""
    assert thread_in("400mm 20x20") == ""


def test_another_length_goes_to_the_same_thread() -> None:
    assert with_length("shcs m3x7 black", "8") == "shcs m3x8 black"
    assert with_length("washer", "8") == "washer"


def test_a_strength_class_is_written_as_the_standards_write_it() -> None:
    # Source: ISO 898-1:2013 and ISO 3506-1:2020, designation of property classes; from memory
    assert [strength_in(text) for text in ("m3x8 12.9", "a2-70", "a4 80", "45h", "m3x8")] == [
        "12.9",
        "A2-70",
        "A4-80",
        "45H",
        "",
    ]

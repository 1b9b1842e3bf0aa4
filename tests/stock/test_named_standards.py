"""Fasteners whose standard the text names."""

import pytest

from trysquare.stock.habits import hear, readings
from trysquare.stock.named_standards import named, names_a_screw, standards_in
from trysquare.stock.row_text import understand


def test_a_standard_that_took_anothers_place_is_said() -> None:
    # Source: ISO 4762 took the place of DIN 912; from memory
    says: list[str] = []
    assert standards_in("din 912 m3x8", says) == (["ISO 4762"], "")
    assert says == ["ISO 4762 took the place of DIN 912."]


def test_a_standard_that_the_catalogue_lacks_is_named() -> None:
    assert standards_in("din 6912 m3x8", []) == ([], "DIN 6912")
    heard = hear("din 6912 m3x8")
    assert heard.readings == ()
    assert heard.against is not None
    assert "DIN 6912" in heard.against.says


def test_a_named_standard_goes_before_every_word() -> None:
    assert [one.designation for one in readings("button head DIN 912 M3x8")] == ["ISO 4762 M3x8"]
    assert [one.designation for one in readings("Mutter DIN 934-M5")] == ["DIN 934 M5"]


def test_a_washer_goes_by_its_hole_and_a_nut_by_its_class_as_well() -> None:
    # Source: ISO 7089:2000, table 1, M5: d1 = 5.3; from memory
    assert named("ISO 7089", "scheibe din 125 5.3") == ["ISO 7089 M5"]
    assert named("ISO 4032", "nut iso 4032 - m5 - 8") == ["ISO 4032 M5 8"]


def test_only_a_standard_of_screws_names_a_screw() -> None:
    assert names_a_screw("din 912 4x12")
    assert not names_a_screw("din 934 m4")
    assert [one.designation for one in readings("DIN 912 4x12")] == ["ISO 4762 M4x12"]


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("ISO 7090 M5", "ISO 7090 M5"),
        ("washer ISO 7090 - 6 - 200 HV", "ISO 7090 M6"),
        ("ISO 7089-8-200HV-A2", "ISO 7089 M8"),
        ("ISO 7090-M6", "ISO 7090 M6"),
        ("Scheibe DIN 125 B M8", "ISO 7090 M8"),
        ("Scheibe DIN 125 Form B 5.3", "ISO 7090 M5"),
        ("chamfered flat washer M5 zinc", "ISO 7090 M5"),
        ("Unterlegscheibe M6 mit Fase", "ISO 7090 M6"),
        ("DIN 125 A M5", "ISO 7089 M5"),
        ("flat washer M5", "ISO 7089 M5"),
    ],
)
def test_a_washer_with_a_chamfer_is_told_from_the_plain_one(text: str, part: str) -> None:
    # Source: ISO 7090:2000, table 1; DIN 125-1 forms A and B; from memory
    certain = understand(text).certain
    assert certain is not None
    assert certain.designation == part


def test_a_chamfered_washer_smaller_than_its_standard_begins_is_not_made_up() -> None:
    # Source: ISO 7090:2000, table 1 begins at 5 mm; from memory
    assert understand("ISO 7090 M3").readings == ()

"""Fasteners whose standard the text names."""

from trysquare.stock.habits import hear, readings
from trysquare.stock.named_standards import named, names_a_screw, standards_in


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

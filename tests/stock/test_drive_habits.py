"""Pulleys, idlers and belts in free words: what is not said is asked."""

import pytest

from trysquare.stock.habits import hear, readings
from trysquare.stock.row_text import understand

WITHOUT = (
    "pulley 16 teeth, bore 5, 2 mm pitch",
    "idler toothed 20T bore 5 2 mm pitch",
    "20T pulley 5 mm bore",
)
# Source: common practice, no source
SAID = (
    ("pulley 2 mm pitch, 20 teeth, 8 mm bore, for 9 mm belt", "pulley 2 mm pitch 20 teeth bore 8 belt 9"),
    ("pulley 20T bore 5 2mm pitch for 6mm belt", "pulley 2 mm pitch 20 teeth bore 5"),
    ("poulie pas 2 mm 20 dents alésage 5 courroie 6", "pulley 2 mm pitch 20 teeth bore 5"),
    ("Riemenrad 20 Zähne, Bohrung 8, Teilung 2, Riemen 10", "pulley 2 mm pitch 20 teeth bore 8 belt 10"),
    ("puleggia 16 denti foro 5 passo 2 cinghia 6 mm", "pulley 2 mm pitch 16 teeth bore 5"),
)


@pytest.mark.parametrize("text", WITHOUT)
def test_a_pulley_without_a_belts_width_is_asked_with_the_usual_width_first(text: str) -> None:
    read = understand(text)
    assert read.certain is None
    assert "belt's width is not said" in read.obstacle
    assert "belt" not in read.readings[0].designation
    assert [one.designation.rpartition(" belt ")[2] for one in read.readings[1:]] == ["9", "10", "15"]


@pytest.mark.parametrize(("text", "part"), SAID)
def test_a_pulley_whose_belt_is_said_is_for_that_belt_alone(text: str, part: str) -> None:
    read = understand(text)
    assert read.certain is not None
    assert [one.designation for one in read.readings] == [part]


def test_the_catalogues_own_designation_of_a_pulley_is_no_question() -> None:
    heard = hear("pulley 2 mm pitch 20 teeth bore 5")
    assert heard.against is None
    assert heard.readings[0].confidence == 1.0


def test_a_belt_that_no_pulley_is_made_for_gives_no_reading() -> None:
    assert not readings("pulley 20T bore 5 2 mm pitch belt width 12")

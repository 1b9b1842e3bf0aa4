"""Which pins of a motor are one coil, against the pin map."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.tuning.coil_pairs import coil_of, coils_part, parse_pairs, pin_of
from trysquare.tuning.report import Part
from trysquare.tuning.wiring import RunFigures, figures_of, runs_of

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
MOTORS = ("Motor A", "Motor B", "Motor Z left", "Motor Z right", "Motor feeder")
GOOD = "".join(f"{motor},A1,A2,1.7\n{motor},B1,B2,1.8\n" for motor in MOTORS)
HEAD = "run,pin,other,ohm\n"


@pytest.fixture(scope="module")
def figures() -> list[RunFigures]:
    return figures_of(runs_of(load_machine(LARCH, [])))


def told(figures: list[RunFigures], rows: str) -> Part:
    found = coils_part(figures, parse_pairs(HEAD + rows, "coils.csv"))
    assert found is not None
    return found


def test_pairs_that_read_as_mapped_are_good(figures: list[RunFigures]) -> None:
    assert told(figures, GOOD).verdict == "good"


def test_two_pins_of_two_mapped_coils_that_conduct_are_told_before_the_motor_shakes(
    figures: list[RunFigures],
) -> None:
    part = told(figures, GOOD + "Motor A,black,red,1.8\n")
    assert part.verdict == "bad"
    assert "A1 black and B1 red read 1.8 Ω, so they are one coil" in part.says[0]
    assert "power off" in part.says[0]


def test_a_mapped_coil_that_does_not_conduct_is_bad(figures: list[RunFigures]) -> None:
    part = told(figures, GOOD.replace("Motor B,A1,A2,1.7", "Motor B,1,2,OL"))
    assert part.verdict == "bad"
    assert "Motor B: A1 black and A2 green read open" in part.says[0]


def test_a_motor_whose_coils_are_not_read_yet_cannot_be_told(figures: list[RunFigures]) -> None:
    part = told(figures, "Motor A,A1,A2,1.7\n")
    assert part.verdict == "cannot tell"
    assert any("Motor A: both coils are not read yet" in says for says in part.says)


def test_coils_that_read_differently_are_read_again(figures: list[RunFigures]) -> None:
    part = told(figures, GOOD.replace("Motor A,A1,A2,1.7", "Motor A,A1,A2,4.7"))
    assert part.verdict == "cannot tell"
    assert "read again with good contact" in part.says[0]


def test_a_pin_nobody_has_is_said_and_judges_nothing(figures: list[RunFigures]) -> None:
    part = told(figures, GOOD + "Motor A,A9,B1,1.7\n")
    assert part.verdict == "cannot tell"
    assert "no such two pins" in part.says[0]


@pytest.mark.parametrize(
    ("pin", "coil"), [("A1 black", "A"), ("1B", "1"), ("B- red", "B"), ("b2", "B"), ("black", ""), ("", "")]
)
def test_a_pins_name_says_its_coil(pin: str, coil: str) -> None:
    assert coil_of(pin) == coil


def test_a_pin_is_found_by_number_name_or_colour_and_not_by_what_two_share(figures: list[RunFigures]) -> None:
    run = next(one.run for one in figures if one.run.label == "Motor A")
    assert [pin_of(run, word) for word in ("1", "B2", "red", "A1 black")] == [
        "A1 black",
        "B2 blue",
        "B1 red",
        "A1 black",
    ]
    assert pin_of(run, "5") == pin_of(run, "green blue") == ""


def test_rows_that_cannot_be_read_are_all_named() -> None:
    with pytest.raises(ReadingErrors) as caught:
        parse_pairs(HEAD + "Motor A,,B1,x\n,A1,A2,-3\n", "coils.csv")
    keys = [(problem.where.line, problem.where.key) for problem in caught.value.problems]
    assert sorted(keys) == [(2, "ohm"), (2, "pin"), (3, "ohm"), (3, "run")]


def test_two_coils_split_between_the_boards_pairs_name_the_two_wires_to_swap(
    figures: list[RunFigures],
) -> None:
    readings = parse_pairs(HEAD + "Motor A,black,red,1.8\n", "coils.csv")
    part = coils_part(figures, readings, load_machine(LARCH, []))
    assert part is not None
    # By hand: black and red are one coil, the board has pins 1 and 2 as one: 2 and 3 change places.
    assert (
        "Swap A2 green and B1 red in the plug at electronics/board:motor-a, power off: pins 2 and 3"
        in (part.says[0])
    )

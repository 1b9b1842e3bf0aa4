"""Readings said at the bench: what counts, what is asked back, which word is the last."""

from __future__ import annotations

from typing import Any

from trysquare.ground.errors import ReadingError
from trysquare.machine.values import Machine
from trysquare.truing.log_readings import EARLIER, LATER, SaidReading, said_readings
from trysquare.truing.readings import Reading

GAP = {"sort": "gap", "from": "front-base:+y", "to": "left-base:-y"}


def said(larch: Machine, *rows: SaidReading) -> tuple[tuple[Reading, ...], list[ReadingError]]:
    problems: list[ReadingError] = []
    return said_readings(larch, rows, {}, problems), problems


def row(number: int, value: float = 0.1, **more: Any) -> SaidReading:
    facts: dict[str, Any] = {
        "id": f"event-{number}", "number": number, "of": "gap", "value": value, "unit": "mm",
        "instrument": "square", "step": "base-true", "row": GAP,
    }  # fmt: skip
    return SaidReading(**{**facts, **more})


def test_a_reading_between_features_is_read_as_a_file_s_row_is(larch: Machine) -> None:
    (found,), problems = said(larch, row(3, row={**GAP, "turned": "yes", "round": "2"}))
    assert not problems
    assert (found.first, found.second, found.turned, found.round) == (
        "base/front-base:+y", "base/left-base:-y", True, 2,
    )  # fmt: skip
    assert (found.id, str(found.where)) == ("event-3", "log:3")


def test_of_a_characteristic_the_last_word_counts_and_earlier_ones_are_kept(larch: Machine) -> None:
    first = row(1, 2.5, of="bed-runs-free", unit="newton", instrument="", uncertainty=0.2, row={})
    second = row(2, 3.5, of="bed-runs-free", unit="newton", instrument="", uncertainty=0.2, row={})
    found, problems = said(larch, first, second)
    assert not problems
    assert [one.set_aside for one in found] == [LATER, ""]
    assert [one.sort for one in found] == ["direct", "direct"]


def test_what_was_bad_stays_so_until_a_reading_can_tell(larch: Machine) -> None:
    bad = row(1, 0.3, of="base-twist", row={}, instrument="", uncertainty=0.02)
    rough = row(2, 0.11, of="base-twist", row={}, instrument="", uncertainty=0.5)
    good = row(3, 0.02, of="base-twist", row={}, instrument="", uncertainty=0.02)
    assert [one.set_aside for one in said(larch, bad, rough)[0]] == ["", EARLIER]
    assert [one.set_aside for one in said(larch, bad, rough, good)[0]] == [LATER, LATER, ""]


def test_a_characteristic_belongs_to_the_round_its_step_is_in(larch: Machine) -> None:
    after = row(2, 0.05, of="base-square", unit="mm/100", row={}, uncertainty=0.02)
    found, _ = said(larch, row(1, row={**GAP, "round": "2"}), after)
    assert [one.round for one in found] == [2, 2]


def test_a_feature_that_does_not_exist_is_asked_back_and_hinders_no_other(larch: Machine) -> None:
    found, problems = said(larch, row(1, row={**GAP, "from": "front-bas:+y"}), row(2))
    assert [one.id for one in found] == ["event-2"]
    assert str(problems[0].where) == "log:1, from"
    assert "Did you mean" in problems[0].remedy


def test_what_was_set_aside_is_no_problem_any_more(larch: Machine) -> None:
    wrong = row(1, row={**GAP, "from": "front-bas:+y"}, set_aside="a slip")
    other = row(2, 3.0, of="base-square", unit="mm", row={}, set_aside="wrong unit")
    assert said(larch, wrong, other) == ((), [])


def test_another_unit_than_the_limit_s_is_asked_back(larch: Machine) -> None:
    found, problems = said(larch, row(4, 3.0, of="base-square", unit="mm", row={}))
    assert not found
    assert problems[0].expected == "a value in mm/100"


def test_what_is_neither_a_characteristic_nor_between_features_is_passed_over(larch: Machine) -> None:
    assert said(larch, row(1, of="tone of the left belt", unit="hertz", row={})) == ((), [])

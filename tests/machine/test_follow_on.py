"""Among the problems of a folder the cause stands first, and what only names what it lacks says so."""

from __future__ import annotations

from pathlib import Path

from machine.folders import GOOD, good, problems_of
from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.follow_on import causes_first


def problem(file: str, line: int, expected: str, read: str = "x", key: str = "") -> ReadingError:
    where = Where(file=file, line=line, key=key)
    return ReadingError(where=where, read=read, expected=expected, remedy="Check it.")


def test_a_line_that_is_wrong_in_itself_stands_before_those_that_name_what_it_lacks() -> None:
    found = causes_first(
        [
            problem("machine.toml", 3, "a pattern that some placed part fits", "frame/left"),
            problem("steps.toml", 9, "a placed part or a joint", "frame/left"),
            problem("units/frame.toml", 7, "a known key", key="placed"),
        ]
    )
    assert [one.where.file for one in found] == ["units/frame.toml", "machine.toml", "steps.toml"]
    assert found[1].remedy == "Mend units/frame.toml:7 first: this may follow from it. Check it."


def test_a_name_that_leads_to_nothing_broken_keeps_its_remedy() -> None:
    found = causes_first(
        [problem("a.toml", 1, "a number"), problem("steps.toml", 9, "a placed part", "gantry/left")]
    )
    assert [one.remedy for one in found] == ["Check it.", "Check it."]


def test_a_missing_hole_follows_from_its_part_when_that_has_a_problem() -> None:
    found = causes_first(
        [
            problem("aa.toml", 1, "a hole of part 'plate'", "m"),
            problem("parts.toml", 4, "a number", key="part.plate.hole.1.at_mm"),
        ]
    )
    assert [one.where.file for one in found] == ["parts.toml", "aa.toml"]
    assert found[1].remedy.startswith("Mend parts.toml:4 first")


def test_a_unit_whose_places_are_misspelt_is_told_before_all_that_misses_them(tmp_path: Path) -> None:
    text = GOOD["units/frame.toml"].replace("[place]", "[places]")
    first, *others = problems_of(good(tmp_path, {"units/frame.toml": text}))
    assert (first.where.file, first.read) == ("units/frame.toml", "places")
    assert any("may follow from it" in one.remedy for one in others)

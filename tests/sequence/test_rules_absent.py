"""What a characteristic speaks of must be there when it is read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sequence.folders import order_of
from sequence.test_rules_truth import TRUE

LATER = TRUE.but(("start corner; tighten corner", "start corner; tighten corner; place trim"))


def test_a_characteristic_of_a_part_that_comes_later_cannot_be_read_yet(tmp_path: Path) -> None:
    trim = replace(LATER, place=LATER.place + 'trim = { part = "corner", at_mm = [90, 0, 300] }\n')
    late = replace(trim, head=trim.head.replace('["w/beam", "w/left"]', '["w/[bt]*", "w/left"]'))
    told = [one for one in order_of(late, tmp_path) if one.code == "read-before-there"]
    assert [(one.step, one.parts) for one in told] == [("read", ("w/trim",))]
    assert told[0].remedy == (
        'If only what is there is meant, write of = ["w/beam", "w/left"]; else read it after step corner.'
    )
    named = {one.code for one in order_of(trim, tmp_path / "named")}
    assert "read-before-there" not in named


def test_only_the_list_that_names_absent_parts_is_to_be_written_anew(tmp_path: Path) -> None:
    place = LATER.place + 'trim = { part = "corner", at_mm = [90, 0, 300] }\n'
    against = replace(LATER, place=place, head=LATER.head + 'against = ["w/[rt]*"]\n')
    told = [one for one in order_of(against, tmp_path) if one.code == "read-before-there"]
    assert told[0].remedy.startswith('If only what is there is meant, write against = ["w/right"];')

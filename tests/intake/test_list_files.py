"""The texts a parts list leaves behind, and what a list issued again changes."""

import csv
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.intake.list_decide import OwnPart
from trysquare.intake.list_files import (
    ListLine,
    changes,
    list_text,
    machine_text,
    own_part_text,
    read_lines,
    with_own_parts,
)
from trysquare.machine.parts_list import read_list
from trysquare.machine.tree import SourceFile
from trysquare.stock.row_members import Member

FOOT = OwnPart(id="foot", name="foot", kind="printed")
BEAM = OwnPart(
    id="beam", name="beam", kind="member", member=Member(profile="profile 20x20 slot 6", length_mm=400)
)


def test_parts_are_added_and_what_stands_there_stays_to_the_letter() -> None:
    text = '# mine\n[part]\narm = { name = "arm",   kind = "plate" }\n'
    now = with_own_parts(text, [FOOT, BEAM])
    assert now.startswith(text)
    parts = tomllib.loads(now)["part"]
    assert parts["foot"] == {"name": "foot", "kind": "printed"}
    assert parts["beam"]["length_mm"] == 400
    assert with_own_parts(now, [FOOT, BEAM]) == now


def test_an_undecided_part_goes_only_where_nobody_has_touched_it() -> None:
    waiting = OwnPart(id="screw", name="M3 x 10", kind="fastener", undecided=True)
    text = with_own_parts(own_part_text(FOOT), [waiting])
    assert with_own_parts(text, [], [waiting]) == own_part_text(FOOT)
    touched = text.replace('kind = "fastener"', 'kind = "fastener"\nmass_gram = 1')
    assert tomllib.loads(with_own_parts(touched, [], [waiting]))["part"]["screw"]["mass_gram"] == 1


def test_a_decided_part_takes_the_place_of_the_undecided_one() -> None:
    waiting = OwnPart(id="screw", name="M3 x 10", kind="fastener", undecided=True)
    decided = OwnPart(id="screw", name="M3 x 10", kind="fastener")
    text = with_own_parts("", [waiting, FOOT])
    assert with_own_parts(text, [decided], [waiting]) == own_part_text(FOOT) + "\n" + own_part_text(decided)
    assert with_own_parts(text, [waiting, FOOT]) == text


def test_changes_are_told_by_part() -> None:
    before = [ListLine(part="a", pieces=1), ListLine(part="b", pieces=2), ListLine(part="c", pieces=3)]
    after = [
        ListLine(part="a", pieces=1),
        ListLine(part="b", pieces=3),
        ListLine(part="b", pieces=1),
        ListLine(part="d", pieces=0),
    ]
    told = {one.part: (one.before, one.after) for one in changes(before, after)}
    assert told == {"b": (2, 4), "c": (3, None), "d": (None, 0)}


WORDS = st.text(min_size=1, max_size=40).filter(lambda text: text == text.strip() and text.isprintable())


@given(
    st.lists(
        st.builds(
            ListLine,
            part=WORDS,
            pieces=st.integers(0, 10**8),
            state=WORDS,
            name=WORDS,
            quantity=WORDS,
            note=WORDS,
        ),
        max_size=8,
    )
)
@pytest.mark.slow
def test_a_list_reads_back_as_it_was_written(lines: list[ListLine]) -> None:
    text = list_text(lines)
    assert read_lines(text) == tuple(lines)
    problems: list[object] = []
    rows = read_list(SourceFile(name="list.csv", text=text), problems)  # type: ignore[arg-type]
    assert problems == []
    assert [(row.part, row.pieces) for row in rows] == [(line.part, line.pieces) for line in lines]


@given(st.text(max_size=80), st.text(max_size=80))
def test_any_name_makes_toml(name: str, source: str) -> None:
    assert tomllib.loads(machine_text(name, source))["name"] == name
    assert (
        tomllib.loads(own_part_text(OwnPart(id="x", name=name, kind="bought")))["part"]["x"]["name"] == name
    )


def test_no_text_of_a_list_becomes_a_formula() -> None:
    for text in ("=1+1", "'=1+1", " +2", "-3", "@x", "'plain", "2-3"):
        line = ListLine(part="a", pieces=1, state="own", name=text.strip(), quantity=text.strip())
        cells = next(csv.reader([list_text([line]).splitlines()[1]]))
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)
        assert read_lines(list_text([line])) == (line,)

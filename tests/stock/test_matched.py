"""Measured members and their places, against judges that are not ours."""

from __future__ import annotations

import itertools
import math
from functools import cache
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.key import sorts_of
from trysquare.stock.matched import Measured, best_places, match_members
from trysquare.stock.partners import BOTH_ENDS, ONE_END, Partners, partners
from trysquare.stock.sort_files import read_counts, read_lengths

LARCH = Path(__file__).parents[2] / "demo" / "larch"
LENGTHS = st.integers(-40, 40).map(lambda hundredths: 380 + hundredths / 100)


@cache
def larch() -> Machine:
    return load_machine(LARCH)


def measured(letter: str, *lengths: float) -> list[Measured]:
    return [
        Measured(letter=letter, piece=f"{letter}{at}", length_mm=length, half_width_mm=0.03)
        for at, length in enumerate(lengths, start=1)
    ]


def pair(one: str, other: str, apart_mm: float = 400.0) -> Partners:
    return Partners(one=one, other=other, apart_mm=apart_mm, held=BOTH_ENDS, between=())


# --- partners of the demo machine


def test_opposite_sides_of_the_base_and_the_top_ring_are_partners() -> None:
    found = {(one.one, one.other): one for one in partners(larch())}
    assert found["base/left-base", "base/right-base"].apart_mm == 400
    assert found["base/deck-front", "base/deck-back"].between == ("base/left-base", "base/right-base")
    assert ("top/front-top", "top/back-top") in found
    assert found["posts/left-post", "posts/right-post"].held == BOTH_ENDS


def test_members_across_a_corner_or_of_other_frames_are_no_partners() -> None:
    pairs = {frozenset((one.one, one.other)) for one in partners(larch())}
    assert frozenset(("uprights/left-front", "uprights/right-back")) not in pairs
    assert frozenset(("base/left-base", "top/left-top")) not in pairs
    assert frozenset(("base/left-base", "base/deck-front")) not in pairs


def test_uprights_whose_upper_ends_are_free_count_less() -> None:
    uprights = [one for one in partners(larch()) if one.one.startswith("uprights/")]
    assert {one.held for one in uprights} == {ONE_END}
    assert all(one.weight < 1 for one in uprights)


def test_the_lean_is_the_difference_over_the_distance() -> None:
    assert pair("a", "b", apart_mm=350).lean_mm_per_100(0.35) == pytest.approx(0.1)


# --- the assignment


@settings(max_examples=60)
@given(st.lists(LENGTHS, min_size=5, max_size=5), st.lists(LENGTHS, min_size=5, max_size=5))
def test_with_the_other_sides_given_it_is_the_linear_assignment(
    free: list[float], fixed: list[float]
) -> None:
    places = {"A": [f"a{i}" for i in range(5)], **{f"F{i}": [f"f{i}"] for i in range(5)}}
    pieces = {
        "A": measured("A", *free),
        **{f"F{i}": measured(f"F{i}", length) for i, length in enumerate(fixed)},
    }
    pairs = [pair(f"a{i}", f"f{i}", 100.0 * (i + 1)) for i in range(5)]
    chosen, optimal = best_places(places, pieces, pairs)
    cost = np.array(
        [
            [one.lean_mm_per_100(length - f) ** 2 for one, f in zip(pairs, fixed, strict=True)]
            for length in free
        ]
    )
    rows, columns = linear_sum_assignment(cost)
    ours = sum(
        one.lean_mm_per_100(chosen[one.one].length_mm - chosen[one.other].length_mm) ** 2 for one in pairs
    )
    assert optimal
    assert ours == pytest.approx(float(cost[rows, columns].sum()), abs=1e-12)


@pytest.mark.slow
@settings(max_examples=10)
@given(st.lists(LENGTHS, min_size=8, max_size=8))
def test_partners_of_one_sort_are_the_least_weight_matching(lengths: list[float]) -> None:
    pairs = [pair(f"p{i}", f"p{i + 1}") for i in range(0, 8, 2)]
    chosen, optimal = best_places({"A": [f"p{i}" for i in range(8)]}, {"A": measured("A", *lengths)}, pairs)
    graph = nx.Graph()
    for one, other in itertools.combinations(range(8), 2):
        graph.add_edge(one, other, weight=(lengths[one] - lengths[other]) ** 2)
    judged = nx.min_weight_matching(graph)
    least = sum((lengths[one] - lengths[other]) ** 2 for one, other in judged)
    ours = sum((chosen[one.one].length_mm - chosen[one.other].length_mm) ** 2 for one in pairs)
    assert optimal
    assert ours == pytest.approx(least, abs=1e-9)


@settings(max_examples=20)
@given(st.lists(LENGTHS, min_size=16, max_size=16))
def test_many_partners_of_one_sort_are_neighbours_by_length(lengths: list[float]) -> None:
    """Beyond what can be looked at, swaps still reach the least: for equal distances that is known."""
    pairs = [pair(f"p{i}", f"p{i + 1}") for i in range(0, 16, 2)]
    chosen, _ = best_places({"A": [f"p{i}" for i in range(16)]}, {"A": measured("A", *lengths)}, pairs)
    ordered = sorted(lengths)
    least = sum((ordered[at + 1] - ordered[at]) ** 2 for at in range(0, 16, 2))
    ours = sum((chosen[one.one].length_mm - chosen[one.other].length_mm) ** 2 for one in pairs)
    assert ours == pytest.approx(least, abs=1e-9)
    assert len({piece.piece for piece in chosen.values()}) == 16


def test_a_spare_piece_is_left_out_where_that_is_better() -> None:
    chosen, optimal = best_places(
        {"A": ["p", "q"]}, {"A": measured("A", 380.0, 380.3, 380.02)}, [pair("p", "q")]
    )
    assert optimal
    assert {piece.piece for piece in chosen.values()} == {"A1", "A3"}


# --- files


def lengths_csv(folder: Path, text: str) -> Path:
    path = folder / "lengths.csv"
    path.write_text(text, encoding="utf-8")
    return path


GOOD = (
    "part,piece,length_mm\nbeam-plain,1,380.2\nbeam-plain,2,379.8\nbeam-plain,3,380.2\nbeam-plain,4,379.8\n"
)


def test_measured_beams_go_to_their_places_with_the_lean_and_its_doubt(tmp_path: Path) -> None:
    sorts = sorts_of(larch())
    rows = read_lengths(lengths_csv(tmp_path, GOOD), larch(), sorts)
    assert {row.instrument for row in rows} == {"tape"}
    matching = match_members(larch(), sorts, rows)
    assert set(matching.places) == {"base/left-base", "base/right-base", "base/deck-front", "base/deck-back"}
    assert all(one.difference_mm == 0 for one in matching.pairs)
    assert matching.optimal
    assert matching.unsorted_rms_mm_per_100 > 0.1
    # Source: JCGM 100:2008, 4.3.7 and 5.1.2; two readings of ±0.5 over 400 mm, coverage 2
    base = next(one for one in matching.pairs if one.partners.one == "base/left-base")
    assert base.uncertainty_mm_per_100 == pytest.approx(2 * math.sqrt(2) * 0.5 / math.sqrt(3) / 4)
    assert base.limit_mm_per_100 == 0.1
    assert not base.can_tell


def test_a_reading_made_as_a_difference_has_less_doubt(tmp_path: Path) -> None:
    text = (
        GOOD.replace("length_mm\n", "length_mm,instrument\n")
        .replace("0.2\n", "0.2,pinch-rod\n")
        .replace("9.8\n", "9.8,pinch-rod\n")
    )
    rows = read_lengths(lengths_csv(tmp_path, text), larch(), sorts_of(larch()))
    base = match_members(larch(), sorts_of(larch()), rows).pairs[0]
    assert base.uncertainty_mm_per_100 == pytest.approx(2 * 0.1 / math.sqrt(3) / 4)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (GOOD.replace("380.2", "-380"), "a number of millimetres"),
        (GOOD.replace("379.8\n", "\n", 1), "a number of millimetres"),
        (GOOD.replace("380.2", "38.02"), "within 5 mm"),
        (GOOD.replace("beam-plain,4", "beem-plain,4"), "Did you mean 'beam-plain'"),
        (GOOD.replace("beam-plain,4", "beam-plain,3"), "each piece once"),
        (GOOD.replace("beam-plain,4,379.8\n", ""), "at least the 4"),
        (GOOD.replace("length_mm", "size"), "length_mm"),
        ("letter,length_mm\n", "one row for each member"),
        (
            GOOD.replace("length_mm\n", "length_mm,instrument\n").replace("0.2\n", "0.2,caliper\n"),
            "at most the 150 mm",
        ),
        (
            GOOD.replace("length_mm\n", "length_mm,instrument\n").replace("0.2\n", "0.2,ruler\n"),
            "an instrument of",
        ),
    ],
)
def test_lengths_that_are_none_are_named_with_their_line(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(ReadingErrors) as caught:
        read_lengths(lengths_csv(tmp_path, text), larch(), sorts_of(larch()))
    assert says in str(caught.value)
    assert all(problem.where.file == "lengths.csv" and problem.remedy for problem in caught.value.problems)


def test_a_file_that_is_not_there_is_an_answer(tmp_path: Path) -> None:
    with pytest.raises(ReadingErrors, match="a CSV or XLSX file"):
        read_lengths(tmp_path / "none.csv", larch(), sorts_of(larch()))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_counts_are_read_in_any_usual_encoding_and_separator(
    tmp_path: Path, encoding: str, separator: str
) -> None:
    path = tmp_path / "counts.csv"
    path.write_text("Letter,Name,Pieces\nA,Träger,3\nB,Füße,4\n".replace(",", separator), encoding=encoding)
    assert read_counts(path, ["A", "B"]) == {"A": 3, "B": 4}


def test_all_bad_counts_are_told_at_once_with_their_lines(tmp_path: Path) -> None:
    path = tmp_path / "counts.csv"
    path.write_text("letter,pieces\nA,3\nQ,4\nB,-1\nA,2\n", encoding="utf-8")
    with pytest.raises(ReadingErrors) as caught:
        read_counts(path, ["A", "B"])
    assert [problem.where.file for problem in caught.value.problems] == [
        "counts.csv:3",
        "counts.csv:4",
        "counts.csv:5",
    ]

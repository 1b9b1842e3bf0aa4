"""The look-alike key on the demo machine: what it tells, in which words, and as reliably as it says."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.features import features_of
from trysquare.stock.key import KeyNode, SortingSheet, identify, pile_name, sorting_sheet, sorts_of
from trysquare.stock.key_words import look_alikes, sheet_steps
from trysquare.stock.same_piece import same_piece

LARCH = Path(__file__).parents[2] / "demo" / "larch"


@cache
def larch() -> Machine:
    return load_machine(LARCH)


@cache
def sheet() -> SortingSheet:
    return sorting_sheet(larch())


def letter(part: str) -> str:
    return next(sort.letter for sort in sheet().sorts if part in sort.parts)


@pytest.mark.slow
def test_every_piece_that_is_needed_has_one_letter_and_one_end() -> None:
    sorts = sorts_of(larch())
    assert len({sort.letter for sort in sorts}) == len(sorts)
    for section in sheet().sections:
        ends = [name for leaf in section.key.root.leaves() for name in leaf.sorts]
        assert sorted(ends) == sorted(sort.letter for sort in section.key.sorts)


def test_the_keys_of_larch_are_proven_to_take_the_least_work_and_leave_nothing_apart() -> None:
    assert all(section.key.optimal for section in sheet().sections)
    assert [section.key.untold for section in sheet().sections if section.key.untold] == []


def test_a_beam_with_a_hole_near_one_end_is_the_same_piece_whichever_end_the_paper_names() -> None:
    beams = [
        placed.type for placed in larch().placed if placed.id in ("carry/left-carry", "carry/right-carry")
    ]
    near_a, other = beams
    assert not same_piece(near_a, other)
    assert letter(near_a.id) != letter(other.id)
    at_a = near_a.holes[0].at_mm
    at_b = (near_a.length_mm - at_a[0], at_a[1], at_a[2])
    near_b = replace(near_a, id="beam-hole-near-b", holes=(replace(near_a.holes[0], at_mm=at_b),))
    assert same_piece(near_a, near_b)
    uprights = {placed.type.id: placed.type for placed in larch().placed if placed.unit == "uprights"}
    assert not same_piece(uprights["upright-front"], uprights["upright-back"])


def test_mirror_images_are_two_sorts() -> None:
    assert letter("front-bracket-left") != letter("front-bracket-right")


def test_beams_of_one_length_are_told_by_ends_and_holes() -> None:
    (bars,) = [section.key for section in sheet().sections if section.form == "profile bar"]
    steps = sheet_steps(bars)
    assert steps[0].ask == "Lay them by length"
    (beams,) = [answer for answer in steps[0].answers if answer.says == "380 mm"]
    assert beams.pieces == 11
    assert steps[beams.then - 1].ask == "Look at both ends"
    assert [answer.says for answer in steps[beams.then - 1].answers] == [
        "no thread in either end",
        "a thread in both ends",
    ]


def test_uprights_look_the_same_from_the_face_with_two_holes_and_the_next_face_tells() -> None:
    (bars,) = [section.key for section in sheet().sections if section.form == "profile bar"]
    front, back = letter("upright-front"), letter("upright-back")
    (pair,) = [pair for pair in look_alikes(bars.sorts) if pair.letters == (front, back)]
    assert pair.same == "from a face with two holes"
    assert (
        f"{front} has two holes at 10 and 80 mm, on one face and one hole at 10 mm, on the next" in pair.tells
    )
    # So they are confused more often than any two others.
    assert bars.confusion[front][back] == max(
        p for one, ends in bars.confusion.items() for end, p in ends.items() if one != end
    )


def test_beams_without_a_hole_look_the_same_from_every_face_and_the_ends_tell() -> None:
    (bars,) = [section.key for section in sheet().sections if section.form == "profile bar"]
    pair = next(
        pair
        for pair in look_alikes(bars.sorts)
        if {*pair.letters} == {letter("beam-plain"), letter("beam-tapped")}
    )
    assert pair.same == "from every face"
    assert "look at the ends" in pair.tells


def test_a_view_does_not_depend_on_the_end_from_which_it_is_seen() -> None:
    part = next(placed.type for placed in larch().placed if placed.type.id == "upright-front")
    views = features_of(part).views
    assert [len(view) for view in views] == [2, 1, 2, 1]
    assert views[0] == views[2]
    assert views[1] == views[3]


def test_a_piece_read_as_drawn_comes_to_its_own_letter() -> None:
    rows = [(one.key, number, sort) for one in sheet().sections for number, sort in enumerate(one.key.sorts)]
    for key, number, sort in rows:
        end = identify(key.root, lambda look, n=number: look.values[n] if look.readable(n) else look.shows[n])
        assert end is not None
        assert end.sorts == (sort.letter,)


def test_an_answer_that_nothing_here_gives_is_noticed() -> None:
    (bars,) = [section.key for section in sheet().sections if section.form == "profile bar"]
    assert (
        identify(bars.root, lambda look: 380.0 if look.feature == "length" else "a thread in one end") is None
    )


def drawn(node: KeyNode, sort: int, chance: np.random.Generator) -> str:
    """The pile to which a piece comes when its readings are drawn by their declared uncertainties and
    slips; "" when the answer is odd."""
    while node.look is not None:
        look = node.look
        shown = look.shows[sort]
        if shown is None:
            return ""
        label: str | None = shown
        value = math.nan
        if look.readable(sort):
            label, value = None, chance.normal(look.values[sort], look.uncertainties[sort])
        others = [
            branch
            for branch in node.branches
            if branch.label != label and (branch.label is not None or label is not None)
        ]
        draw, slipped = chance.random(), None
        for branch in others:
            mistaken = look.mistaken.get((shown, branch.label)) if branch.label is not None else None
            draw -= look.slips / len(others) if mistaken is None else mistaken
            if draw < 0:
                slipped = branch
                break
        right = [
            branch
            for branch in node.branches
            if (branch.label == label if label is not None else branch.low <= value < branch.high)
            and (label is not None or branch.label is None)
        ]
        if slipped is None and not right:
            return ""
        node = (slipped or right[0]).node
    return pile_name(node.sorts)


@pytest.mark.slow
@pytest.mark.parametrize("tell_by", [3.0, 1.0, 0.5])
def test_ten_thousand_drawn_pieces_go_astray_as_often_as_the_key_says(
    tell_by: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With less than three uncertainties between sorts the key dares more and errs more; it must say so."""
    monkeypatch.setattr("trysquare.stock.looks.TELL_BY", tell_by)
    made = sorting_sheet(larch())
    rows = [
        (section.key, number, sort)
        for section in made.sections
        for number, sort in enumerate(section.key.sorts)
    ]
    pieces = np.array([sort.pieces for _, _, sort in rows], dtype=float)
    promised = (
        sum(section.key.wrong * sum(sort.pieces for sort in section.key.sorts) for section in made.sections)
        / pieces.sum()
    )
    chance = np.random.default_rng(1)
    draws = 10_000
    wrong = 0
    for row in chance.choice(len(rows), size=draws, p=pieces / pieces.sum()):
        key, number, sort = rows[row]
        end = drawn(key.root, number, chance)
        wrong += bool(end) and sort.letter not in end.split("+")
    sampling = math.sqrt(promised * (1 - promised) / draws)
    print(f"promised {promised:.5f}, drawn {wrong / draws:.5f}, sampling error {sampling:.5f}")
    assert abs(wrong / draws - promised) < 3 * sampling
    if tell_by == 3.0:
        assert promised < 0.01

"""Laws of the catalogue's lookup, for any text."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.catalogue.designation import tidy
from trysquare.catalogue.lookup import UnknownDesignation, designations, lookup

NAMES = sorted(designations())
WORDS = sorted({word for name in NAMES for word in name.split()})
PIECES = st.one_of(
    st.sampled_from(WORDS),
    st.sampled_from(
        ["x", "×", ",", ".", "-", "–", " ", "M", "mm", "A2", "0", "999999", "1e9", "²", "\n", "\x00"]
    ),
    st.text(max_size=4),
)


def stands_or_is_refused(text: str) -> None:
    """The only two outcomes: a part that its own designation finds again, or our error with a remedy."""
    try:
        part = lookup(text)
    except UnknownDesignation as unknown:
        refused = unknown
    else:
        assert lookup(part.designation) == part
        return
    assert refused.remedy
    assert refused.expected


@pytest.mark.slow
@given(st.text(min_size=1, max_size=300))
def test_any_text_is_a_part_or_an_unknown_designation(text: str) -> None:
    stands_or_is_refused(text)


@pytest.mark.slow
@given(
    st.lists(PIECES, min_size=1, max_size=9).map(" ".join)
    | st.lists(PIECES, min_size=1, max_size=6).map("".join)
)
def test_shuffled_pieces_of_designations_are_a_part_or_an_unknown_designation(text: str) -> None:
    stands_or_is_refused(text)


@st.composite
def broken(draw: st.DrawFn) -> str:
    """A true designation with one character taken out, put in or changed."""
    name = draw(st.sampled_from(NAMES))
    at = draw(st.integers(0, len(name) - 1))
    put = draw(st.sampled_from(["", *string.printable]))
    taken: int = draw(st.integers(0, 1))
    return f"{name[:at]}{put}{name[at + taken :]}"


@pytest.mark.slow
@given(broken())
def test_one_slip_gives_a_part_or_an_unknown_designation(text: str) -> None:
    stands_or_is_refused(text)


@st.composite
def sloppy(draw: st.DrawFn) -> tuple[str, str]:
    """A designation and the same as a hurried hand would write it."""
    name = draw(st.sampled_from(NAMES))
    written = draw(st.sampled_from([str.upper, str.lower, str.title]))(name)
    written = written.replace(".", ",") if draw(st.booleans()) else written
    written = written.replace(" ", draw(st.sampled_from([" ", "  ", "\t", "\u00a0"])))
    return name, draw(st.sampled_from(["", " "])) + written


@given(sloppy())
def test_a_hurried_hand_still_names_the_part(pair: tuple[str, str]) -> None:
    name, written = pair
    assert lookup(written).designation == name


@given(st.text(max_size=200))
def test_tidying_twice_changes_nothing_more(text: str) -> None:
    assert tidy(tidy(text)) == tidy(text)

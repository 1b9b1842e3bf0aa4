"""What hangs together while links go, against networkx's connected components."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.sequence.together import Together

NAMES = "abcdefgh"
LINKS = st.lists(st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)), max_size=3), max_size=8)


def components(links: dict[int, list[tuple[str, str]]], present: set[str]) -> set[frozenset[str]]:
    graph = nx.Graph()
    graph.add_nodes_from(present)
    pairs = [pair for several in links.values() for pair in several]
    graph.add_edges_from((one, other) for one, other in pairs if {one, other} <= present)
    return {frozenset(group) for group in nx.connected_components(graph)}


def groups(together: Together, present: set[str]) -> set[frozenset[str]]:
    return {frozenset(together.group(piece)) for piece in present}


@given(LINKS, st.lists(st.sampled_from(NAMES), max_size=8), st.randoms())
@pytest.mark.slow
def test_groups_stay_the_connected_components_whatever_goes(
    links: list[list[tuple[str, str]]], going: list[str], chance: object
) -> None:
    left = dict(enumerate(links))
    present = set(NAMES)
    together = Together(left, present)
    pieces = iter(going)
    while left:
        number = min(left, key=lambda one: hash((one, str(chance))) % 7)
        gone = {piece for piece in (next(pieces, ""),) if piece in present}
        together.remove(number, gone)
        del left[number]
        present -= gone
        assert groups(together, present) == components(left, present)


@given(LINKS.filter(bool))
def test_what_would_come_apart_is_told_before_it_does(links: list[list[tuple[str, str]]]) -> None:
    whole = dict(enumerate(links))
    together = Together(whole, NAMES)
    rest = {number: pairs for number, pairs in whole.items() if number > 0}
    for group in components(whole, set(NAMES)):
        parted = together.parted(0, (), sorted(group))
        assert {frozenset(one) for one in parted} == {
            one for one in components(rest, set(NAMES)) if one <= group
        }


def test_two_pieces_of_one_group_are_not_apart() -> None:
    together = Together({0: [("a", "b")], 1: [("b", "c")]}, "abcd")
    assert not together.apart("a", "c")
    assert together.apart("a", "d")
    together.remove(1, ())
    assert together.apart("a", "c")

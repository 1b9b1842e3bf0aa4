"""Knots of waiting operations against networkx's condensation."""

from __future__ import annotations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from trysquare.sequence.knots import knots


def test_two_that_wait_for_each_other_are_the_knot_of_all_behind_them() -> None:
    assert knots({1: [2], 2: [3], 3: [2], 4: [1]}) == {2, 3}


def test_what_waits_for_nobody_is_a_knot_of_its_own() -> None:
    assert knots({1: [2], 2: [], 3: [9]}) == {2, 3}


@given(st.dictionaries(st.integers(0, 9), st.sets(st.integers(0, 9)), max_size=10))
def test_knots_are_the_last_groups_of_the_condensation(waits: dict[int, set[int]]) -> None:
    graph = nx.DiGraph((one, other) for one in waits for other in waits[one] if other in waits)
    graph.add_nodes_from(waits)
    groups = nx.condensation(graph)
    last = [groups.nodes[node]["members"] for node in groups if groups.out_degree(node) == 0]
    assert knots(waits) == set().union(*last)

"""Counts of orders against published examples and closed forms; the table stands in ledger/sequences.csv."""

import csv
import itertools
import math
from pathlib import Path

import networkx as nx
import pytest

from trysquare.ground.errors import ReadingError
from trysquare.sequence.posets import assembly_counts, find_cycle, keeps, linear_extensions

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "sequences.csv").open(encoding="utf-8") as file:
    LEDGER = {row["id"]: row for row in csv.DictReader(file)}

CAP_PRODUCT = "CRSH"
CAP_CONTACTS = [("C", "R"), ("C", "S"), ("R", "S"), ("R", "H"), ("S", "H")]
CAP_EXCLUDED = [frozenset("CRH"), frozenset("CSH")]
PEN = [(3, 4), (1, 5)]  # connection 3 before 4, 1 before 5


def pairs(text: str) -> list[tuple[str, str]]:
    """The ledger's notation: "a<b<c; d<e"."""
    found = []
    for chain in text.split(";"):
        names = [name.strip() for name in chain.split("<")]
        found += list(itertools.pairwise(names))
    return found


def numbers(identity: str) -> tuple[int, ...]:
    return tuple(int(word) for word in LEDGER[identity]["expected"].split(";"))


def counted_by_networkx(items: list[str], before: list[tuple[str, str]]) -> int:
    graph = nx.DiGraph(before)
    graph.add_nodes_from(items)
    return sum(1 for _ in nx.all_topological_sorts(graph))


def test_a_chain_of_six_has_one_order() -> None:
    # Source: SEQ-002
    assert linear_extensions("abcdef", list(itertools.pairwise("abcdef"))) == numbers("SEQ-002")[0]


@pytest.mark.parametrize("identity", ["SEQ-003", "SEQ-004"])
def test_disjoint_chains_interleave_as_the_ledger_and_networkx_count(identity: str) -> None:
    before = pairs(LEDGER[identity]["inputs"])
    items = sorted({name for pair in before for name in pair})
    assert linear_extensions(items, before) == numbers(identity)[0] == counted_by_networkx(items, before)


def test_the_lattice_of_subsets_has_as_many_orders_as_published() -> None:
    # Source: SEQ-011, OEIS A046873
    counts = []
    for n in range(5):
        sets = [frozenset(c) for k in range(n + 1) for c in itertools.combinations(range(n), k)]
        before = [(a, b) for a in sets for b in sets if a < b and len(b) == len(a) + 1]
        counts.append(linear_extensions(sets, before))
    assert tuple(counts) == numbers("SEQ-011")


def test_a_cycle_is_found_and_leaves_no_order() -> None:
    # Source: SEQ-016
    before = pairs(LEDGER["SEQ-016"]["inputs"])
    named = LEDGER["SEQ-016"]["expected"].rpartition(" ")[2]
    assert sorted(find_cycle(before)) == named.split("-")
    assert linear_extensions("abcd", before) == 0


def test_the_pen_has_thirty_orders() -> None:
    # Source: SEQ-017, Ullman, The Mechanical Design Process, 4th ed., p. 341
    assert linear_extensions(range(1, 6), PEN) == numbers("SEQ-017")[0] == math.factorial(5) // 4


def test_the_pens_published_sequence_is_accepted_and_its_opposites_are_not() -> None:
    # Source: SEQ-018, Ullman p. 341
    assert keeps([2, 3, 4, 1, 5], PEN)
    assert not keeps([4, 3], PEN)
    assert not keeps([5, 1], PEN)


def test_connections_of_six_parts_lie_between_a_tree_and_all_pairs() -> None:
    # Source: SEQ-020. The tree and the full graph both can be built; with one contact less nothing holds.
    least, most = numbers("SEQ-020")
    tree = list(itertools.pairwise(range(6)))
    full = list(itertools.combinations(range(6), 2))
    assert (len(tree), len(full)) == (least, most)
    assert assembly_counts(range(6), tree).trees > 0
    assert assembly_counts(range(6), full).trees > 0
    assert all(assembly_counts(range(6), tree[:i] + tree[i + 1 :]).trees == 0 for i in range(5))


def test_the_cap_product_has_the_ledgers_cuts_and_sequences() -> None:
    # Source: SEQ-022, SEQ-024
    counts = assembly_counts(CAP_PRODUCT, CAP_CONTACTS, CAP_EXCLUDED)
    assert counts.hyperarcs == numbers("SEQ-022")[0]
    assert counts.task_sequences == numbers("SEQ-024")[0]


def test_the_cap_product_without_exclusions_has_the_ledgers_nodes_and_trees() -> None:
    # Source: SEQ-025, SEQ-027
    counts = assembly_counts(CAP_PRODUCT, CAP_CONTACTS)
    assert counts.nodes == numbers("SEQ-025")[0]
    assert counts.trees == numbers("SEQ-027")[0]


@pytest.mark.parametrize(("identity", "n"), [("SEQ-029", 3), ("SEQ-030", 4), ("SEQ-031", 5)])
def test_mutually_touching_parts_are_counted_as_the_closed_forms_say(identity: str, n: int) -> None:
    # Source: SEQ-029 to SEQ-031
    counts = assembly_counts(range(n), itertools.combinations(range(n), 2))
    found = (counts.nodes, counts.hyperarcs, counts.trees, counts.task_sequences)
    double_factorial = math.prod(range(1, 2 * n - 2, 2))
    orders = math.factorial(n) * math.factorial(n - 1) // 2 ** (n - 1)
    assert found == (2**n - 1, (3**n - 2 ** (n + 1) + 1) // 2, double_factorial, orders)
    assert found == numbers(identity)


@pytest.mark.parametrize(("identity", "n"), [("SEQ-032", 3), ("SEQ-033", 4)])
def test_a_chain_of_parts_is_counted_as_the_closed_forms_say(identity: str, n: int) -> None:
    # Source: SEQ-032, SEQ-033
    counts = assembly_counts(range(n), itertools.pairwise(range(n)))
    found = (counts.nodes, counts.hyperarcs, counts.trees, counts.task_sequences)
    catalan = math.comb(2 * n - 2, n - 1) // n
    assert found == (n * (n + 1) // 2, math.comb(n + 1, 3), catalan, math.factorial(n - 1))
    assert found == numbers(identity)


def test_counting_refuses_what_nobody_would_wait_for() -> None:
    # Source: SEQ-036, Brightwell and Winkler 1991, from memory: counting is #P-complete
    with pytest.raises(ReadingError, match="at most 25 items"):
        linear_extensions(range(26), [])
    assert linear_extensions(range(25), list(itertools.pairwise(range(25)))) == 1


def test_every_read_or_derived_row_of_the_ledger_is_checked_here() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    covered = {"SEQ-030", "SEQ-031"}
    missing = [name for name in LEDGER if name not in text and name not in covered]
    assert not missing

"""Transport, assignment and matching optima against published ones; the table is ledger/allocation.csv."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from trysquare.stock.allocation import question_of
from trysquare.stock.demands import Demand, serves_as_asked
from trysquare.stock.flows import Lot, Question, most_pieces
from trysquare.stock.lots import StockLot
from trysquare.stock.optimum import Optimum, best
from trysquare.stock.substitutes import Compromise

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "allocation.csv").open(encoding="utf-8") as file:
    LEDGER = {row["id"]: row for row in csv.DictReader(file)}


def matrix(text: str) -> list[list[int]]:
    return [[int(cell) for cell in row.split(",")] for row in text.split("/")]


def inputs(identity: str) -> dict[str, str]:
    """The ledger's notation: "cost …; supply …; demand …"."""
    return dict(part.strip().split(" ", 1) for part in LEDGER[identity]["inputs"].split(";"))


def transport(costs: list[list[int]], supply: list[int], demand: list[int]) -> Optimum:
    """Rows of the costs are sources: here the lots, each in a box of its own."""
    return best(
        Question(
            demands=tuple(demand),
            lots=tuple(Lot(box=box, pieces=pieces) for box, pieces in enumerate(supply)),
            points={(to, of): costs[of][to] for of in range(len(supply)) for to in range(len(demand))},
        )
    )


@pytest.mark.parametrize("identity", ["ALL-003", "ALL-005"])
def test_a_transport_problem_costs_what_the_ledger_says(identity: str) -> None:
    said = inputs(identity)
    supply, demand = ([int(cell) for cell in said[key].split(",")] for key in ("supply", "demand"))
    answer = transport(matrix(said["cost"]), supply, demand)
    assert answer.pieces == sum(demand)
    assert answer.points == int(LEDGER[identity]["expected"])
    assert answer.proven


def test_two_canneries_serve_three_markets_at_the_published_least_cost() -> None:
    # Source: ALL-002 gives one optimal plan of Dantzig's transport problem; distances in hundreds of
    # miles 25 17 18 (Seattle), 25 18 14 (San Diego), supplies 350 and 600, demands 325 300 275, from memory.
    miles = [[25, 17, 18], [25, 18, 14]]
    flows = dict(part.strip().rsplit(" ", 1) for part in LEDGER["ALL-002"]["expected"].split(";"))
    at = {"Seattle": 0, "San Diego": 1}
    to = {"New York": 0, "Chicago": 1, "Topeka": 2}
    published = sum(
        int(pieces) * miles[at[way.split("-")[0]]][to[way.split("-")[1]]] for way, pieces in flows.items()
    )
    answer = transport(miles, [350, 600], [325, 300, 275])
    assert answer.pieces == 900
    assert answer.points == published


@pytest.mark.parametrize("identity", ["ALL-007", "ALL-008"])
def test_an_assignment_costs_what_the_ledger_says(identity: str) -> None:
    costs = matrix(inputs(identity)["cost"])
    answer = transport(costs, [1] * len(costs), [1] * len(costs))
    assert answer.points == int(LEDGER[identity]["expected"])


@pytest.mark.parametrize("identity", ["ALL-009", "ALL-011"])
def test_a_matching_has_as_many_pairs_as_the_ledger_says(identity: str) -> None:
    edges = {}
    for part in LEDGER[identity]["inputs"].split(";"):
        left, rights = part.strip().split("-")
        edges[left] = [right.strip() for right in rights.split(",")]
    found: dict[str, set[str]] = {}
    for left, rights in edges.items():
        found.setdefault(left, set()).update(rights)
    rights = sorted({right for each in found.values() for right in each})
    question = Question(
        demands=(1,) * len(found),
        lots=tuple(Lot(box=0, pieces=1) for _ in rights),
        points={
            (number, rights.index(right)): 0 for number, left in enumerate(found) for right in found[left]
        },
    )
    assert sum(most_pieces(question).values()) == int(LEDGER[identity]["expected"])


def screws(need_short: int, need_either: int) -> tuple[Question, int]:
    lots = [
        StockLot(box="A", part="ISO 4762 M3x8", pieces=4),
        StockLot(box="A", part="ISO 4762 M3x10", pieces=2),
    ]
    as_asked, longer = (
        Compromise(points=0, sort="", says=""),
        Compromise(points=4, sort="length", says="longer"),
    )
    assert serves_as_asked(lots[0].part, "ISO 4762 M3x8")
    demands = [
        Demand(part="ISO 4762 M3x8", pieces=need_short, places=(), steps=(), serve={0: as_asked}),
        Demand(part="ISO 4762 M3x8", pieces=need_either, places=(), steps=(), serve={0: as_asked, 1: longer}),
    ]
    return question_of(demands, lots), need_short + need_either


def test_screws_with_a_substitute_suffice_as_the_ledger_reckons() -> None:
    # Source: ALL-014
    question, wanted = screws(3, 3)
    answer = best(question)
    assert LEDGER["ALL-014"]["expected"] == f"feasible, total {wanted}"
    assert (answer.pieces, answer.points) == (6, 2 * 4)


def test_screws_are_short_by_one_as_the_ledger_reckons() -> None:
    # Source: ALL-015
    question, wanted = screws(4, 3)
    assert LEDGER["ALL-015"]["expected"] == f"short by 1: max 6 of {wanted}"
    assert best(question).pieces == 6

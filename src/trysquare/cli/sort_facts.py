"""The sorting sheet, counts and matched members as facts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from trysquare.cli.facts import rounded
from trysquare.stock.key import Branch, Key, KeyNode, Section, Sort, SortingSheet, pile_name
from trysquare.stock.key_words import branch_words, how_words, look_alikes, sheet_steps
from trysquare.stock.matched import MatchedPair, Matching, Measured
from trysquare.stock.miscount import Explanation, PileCount, explain_counts, off_by_one


def section_fact(section: Section) -> dict[str, Any]:
    """One form's sorts, its key as a tree and as numbered looks, look-alikes and miscounts."""
    key = section.key
    return {
        "form": section.form,
        "pieces": sum(sort.pieces for sort in key.sorts),
        "sorts": [sort_fact(sort) for sort in key.sorts],
        "key": node_fact(key.root),
        "looks": [
            {
                "number": step.number,
                "ask": step.ask,
                "how": step.how,
                "effort_seconds": step.effort_seconds,
                "pieces": step.pieces,
                "answers": [
                    {"says": one.says, "pieces": one.pieces, "then": one.then, "letters": list(one.letters)}
                    for one in step.answers
                ],
            }
            for step in sheet_steps(key)
        ],
        "look_alikes": [
            {"letters": list(pair.letters), "same": pair.same, "tells": pair.tells, "says": pair.says}
            for pair in look_alikes(key.sorts)
        ],
        "cannot_be_told": [list(letters) for letters in key.untold],
        "work_seconds": rounded(key.work_seconds, 1),
        "least_seconds": rounded(key.least_seconds, 1),
        "least_possible": key.optimal,
        "wrong_share": rounded(key.wrong, 6),
        "off_by_one": [
            {
                "pile": one.pile,
                "too_few": [explanation_fact(each) for each in one.too_few],
                "too_many": [explanation_fact(each) for each in one.too_many],
            }
            for one in off_by_one(key)
        ],
    }


def sort_fact(sort: Sort) -> dict[str, Any]:
    """One letter."""
    return {
        "letter": sort.letter,
        "name": sort.name,
        "pieces": sort.pieces,
        "parts": dict(sort.parts),
        "also_called": list(sort.also_called),
    }


def node_fact(node: KeyNode) -> dict[str, Any]:
    """A look with all that follows, or an end."""
    fact: dict[str, Any] = {"letters": list(node.sorts), "pieces": node.pieces}
    if node.look is not None:
        look = node.look
        fact |= {
            "feature": look.feature,
            "ask": look.words.ask,
            "how": how_words(look),
            "instrument": look.instrument,
            "effort_seconds": look.effort_seconds,
            "unit": look.words.unit if look.measured else "",
            "answers": [_branch_fact(node, branch) for branch in node.branches],
        }
    return fact


def _branch_fact(node: KeyNode, branch: Branch) -> dict[str, Any]:
    assert node.look is not None
    measured = branch.label is None
    return {
        "says": branch_words(node.look, branch),
        "from": rounded(branch.low) if measured else None,
        "to": rounded(branch.high) if measured else None,
        "smallest": rounded(branch.least) if measured else None,
        "largest": rounded(branch.most) if measured else None,
        "then": node_fact(branch.node),
    }


def explanation_fact(one: Explanation) -> dict[str, Any]:
    """One explanation of a count."""
    return {
        "sort": one.sort,
        "other": one.other,
        "says": one.says,
        "probability": rounded(one.probability, 6),
    }


def count_facts(sheet: SortingSheet, found: Mapping[str, int]) -> list[dict[str, Any]]:
    """Every pile that was counted, and those that may hold what is missing. Raises ReadingError."""
    rows: list[dict[str, Any]] = []
    for section in sheet.sections:
        letters = {sort.letter for sort in section.key.sorts}
        given = {pile: count for pile, count in found.items() if letters & set(pile.split("+"))}
        if not given:
            continue
        rows += [
            _count_fact(section.key, pile)
            for pile in explain_counts(section.key, given)
            if pile.found is not None
        ]
    return rows


def _count_fact(key: Key, pile: PileCount) -> dict[str, Any]:
    return {
        "pile": pile.pile,
        "expected": pile.expected,
        "found": pile.found,
        "difference": pile.difference,
        "explanations": [explanation_fact(one) for one in pile.explanations],
        "look": _look_between(key, pile.pile, pile.explanations),
    }


def _look_between(key: Key, pile: str, explanations: tuple[Explanation, ...]) -> str:
    """The look that tells a pile from the one that it was most likely confused with; "" for none."""
    if not explanations or not explanations[0].other:
        return ""
    node: KeyNode | None = key.root
    while node is not None and node.look is not None:
        ends = [{pile_name(leaf.sorts) for leaf in branch.node.leaves()} for branch in node.branches]
        together = [at for at, names in enumerate(ends) if {pile, explanations[0].other} <= names]
        if not together:
            return node.look.words.ask
        node = node.branches[together[0]].node
    return ""


def matching_fact(matching: Matching) -> dict[str, Any]:
    """The matched members."""
    return {
        "places": {place: _piece(piece) for place, piece in matching.places.items()},
        "pairs": [_pair(pair) for pair in matching.pairs],
        "spare": [_piece(piece) for piece in matching.spare],
        "rms_mm_per_100": rounded(matching.rms_mm_per_100),
        "unsorted_rms_mm_per_100": rounded(matching.unsorted_rms_mm_per_100),
        "least_possible": matching.optimal,
    }


def _piece(piece: Measured) -> dict[str, Any]:
    return {
        "letter": piece.letter,
        "piece": piece.piece,
        "length_mm": rounded(piece.length_mm),
        "half_width_mm": rounded(piece.half_width_mm),
        "instrument": piece.instrument,
    }


def _pair(pair: MatchedPair) -> dict[str, Any]:
    limit = pair.limit_mm_per_100
    return {
        "one": pair.partners.one,
        "other": pair.partners.other,
        "pieces": [pair.one.piece, pair.other.piece],
        "apart_mm": rounded(pair.partners.apart_mm, 2),
        "held": pair.partners.held,
        "between": list(pair.partners.between),
        "difference_mm": rounded(pair.difference_mm),
        "lean_mm_per_100": rounded(pair.lean_mm_per_100),
        "uncertainty_mm_per_100": rounded(pair.uncertainty_mm_per_100),
        "limit_mm_per_100": None if limit is None or math.isinf(limit) else rounded(limit),
        "can_tell": pair.can_tell,
    }

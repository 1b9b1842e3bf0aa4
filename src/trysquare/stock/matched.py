"""Measured members sorted to their places, so that partners in a frame are as equal as can be.

Pieces of one sort may go to any place of that sort. The best assignment has the least sum, over all pairs
of partners, of the squared lean that their difference makes. It is exact where all assignments can be
looked at; beyond, swaps are made until none helps, and the answer says so.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from trysquare.machine.values import Machine
from trysquare.stock.key import Sort
from trysquare.stock.partners import Partners, partners
from trysquare.stock.readings import standard_uncertainty

MOST_ASSIGNMENTS = 50_000
COVERAGE = 2.0  # expanded uncertainty, about 95 %. Source: JCGM 100:2008, 6.3.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One measured piece. `half_width_mm`: error limits of the reading; with `as_difference` those of the
    difference of two pieces read the same way (a pinch rod)."""

    letter: str
    piece: str
    length_mm: float
    half_width_mm: float
    instrument: str = ""
    as_difference: bool = False

    @property
    def uncertainty_mm(self) -> float:
        """Standard uncertainty of this piece's share in a difference."""
        return standard_uncertainty(self.half_width_mm) / (math.sqrt(2) if self.as_difference else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedPair:
    """Two partners with the pieces chosen for them. `lean_mm_per_100`: by how much the side across is out of
    square from their difference, with its expanded uncertainty; `limit` of the characteristic that both
    belong to, None when there is none."""

    partners: Partners
    one: Measured
    other: Measured
    lean_mm_per_100: float
    uncertainty_mm_per_100: float
    limit_mm_per_100: float | None = None

    @property
    def difference_mm(self) -> float:
        return self.one.length_mm - self.other.length_mm

    @property
    def can_tell(self) -> bool:
        """Whether the difference is more than the readings' own doubt."""
        return abs(self.lean_mm_per_100) > self.uncertainty_mm_per_100


@dataclass(frozen=True, slots=True, kw_only=True)
class Matching:
    """The assignment. `places`: placed member to piece; `spare`: pieces left over. `rms_mm_per_100`: root
    mean square lean of the pairs; `unsorted_rms_mm_per_100`: the same, on the average, when pieces are taken
    as they come. `optimal`: proven to be the least."""

    places: Mapping[str, Measured]
    pairs: tuple[MatchedPair, ...]
    spare: tuple[Measured, ...]
    rms_mm_per_100: float
    unsorted_rms_mm_per_100: float
    optimal: bool


def match_members(machine: Machine, sorts: Iterable[Sort], measured: Sequence[Measured]) -> Matching:
    """The best places for the measured pieces. Of each letter at least as many pieces as it has places must
    have been measured: `sort_files.read_lengths` sees to that."""
    letter_of = {part: sort.letter for sort in sorts for part in sort.parts}
    letters = {piece.letter for piece in measured}
    places: dict[str, list[str]] = {}
    for placed in machine.placed:
        letter = letter_of.get(placed.type.id)
        if letter in letters and not placed.joint:
            places.setdefault(letter, []).append(placed.id)
    here = {place for rows in places.values() for place in rows}
    pairs = [pair for pair in partners(machine) if pair.one in here and pair.other in here]
    pieces = {letter: [piece for piece in measured if piece.letter == letter] for letter in places}
    chosen, optimal = best_places(places, pieces, pairs)
    limits = _limits(machine)
    matched = tuple(_matched(pair, chosen, limits) for pair in pairs)
    used = {id(piece) for piece in chosen.values()}
    return Matching(
        places=chosen,
        pairs=matched,
        spare=tuple(piece for piece in measured if id(piece) not in used),
        rms_mm_per_100=_rms([pair.lean_mm_per_100**2 for pair in matched]),
        unsorted_rms_mm_per_100=_rms([_expected_square(pair, places, pieces) for pair in pairs]),
        optimal=optimal,
    )


def _matched(
    pair: Partners, chosen: Mapping[str, Measured], limits: Sequence[tuple[frozenset[str], float]]
) -> MatchedPair:
    one, other = chosen[pair.one], chosen[pair.other]
    doubt = COVERAGE * math.hypot(one.uncertainty_mm, other.uncertainty_mm)
    return MatchedPair(
        partners=pair,
        one=one,
        other=other,
        lean_mm_per_100=pair.lean_mm_per_100(one.length_mm - other.length_mm),
        uncertainty_mm_per_100=pair.lean_mm_per_100(doubt),
        limit_mm_per_100=min((limit for of, limit in limits if {pair.one, pair.other} <= of), default=None),
    )


def _limits(machine: Machine) -> list[tuple[frozenset[str], float]]:
    """What each squareness is about, and its limit in mm over 100 mm."""
    return [
        (frozenset(one.of), one.limit)
        for one in machine.characteristics
        if one.sort == "squareness" and one.unit == "mm/100"
    ]


def _rms(squares: Sequence[float]) -> float:
    return math.sqrt(sum(squares) / len(squares)) if squares else 0.0


def _expected_square(
    pair: Partners, places: Mapping[str, Sequence[str]], pieces: Mapping[str, Sequence[Measured]]
) -> float:
    """The mean squared lean of a pair when any two different pieces are as likely."""
    one, other = (
        pieces[letter] for place in (pair.one, pair.other) for letter, rows in places.items() if place in rows
    )
    squares = [
        pair.lean_mm_per_100(first.length_mm - second.length_mm) ** 2
        for first in one
        for second in other
        if first is not second
    ]
    return sum(squares) / len(squares) if squares else 0.0


# --- the assignment


def best_places(
    places: Mapping[str, Sequence[str]],
    pieces: Mapping[str, Sequence[Measured]],
    pairs: Sequence[Partners],
) -> tuple[dict[str, Measured], bool]:
    """Each place's piece, and whether no other choice is better. `places` and `pieces` by letter; each letter
    has at least as many pieces as places. Letters that share no pair are solved apart."""
    chosen: dict[str, Measured] = {}
    optimal = True
    for letters in _together(places, pairs):
        mine = [pair for pair in pairs if any(pair.one in places[letter] for letter in letters)]
        found, exact = _solve(
            {letter: places[letter] for letter in letters},
            {letter: sorted(pieces[letter], key=lambda one: one.length_mm) for letter in letters},
            mine,
        )
        chosen |= found
        optimal = optimal and exact
    return chosen, optimal


def _together(places: Mapping[str, Sequence[str]], pairs: Sequence[Partners]) -> list[list[str]]:
    """Letters in groups that no pair joins."""
    of = {place: letter for letter, rows in places.items() for place in rows}
    group = {letter: {letter} for letter in places}
    for pair in pairs:
        one, other = group[of[pair.one]], group[of[pair.other]]
        if one is not other:
            one |= other
            for letter in other:
                group[letter] = one
    found: list[list[str]] = []
    for letter in places:
        members = sorted(group[letter])
        if members not in found:
            found.append(members)
    return found


def _solve(
    places: Mapping[str, Sequence[str]], pieces: Mapping[str, Sequence[Measured]], pairs: Sequence[Partners]
) -> tuple[dict[str, Measured], bool]:
    count = math.prod(math.perm(len(pieces[letter]), len(places[letter])) for letter in places)
    if count <= MOST_ASSIGNMENTS:
        # The first of equals, in the order of the places: the same answer every time.
        best = min(_all(places, pieces), key=lambda chosen: _work(chosen, pairs))
        return best, True
    starts = [
        {
            place: piece
            for letter in places
            for place, piece in zip(places[letter], pieces[letter], strict=False)
        },
        _neighbours(places, pieces, pairs),
    ]
    return min((_swapped(start, pieces, pairs) for start in starts), key=lambda one: _work(one, pairs)), False


def _all(
    places: Mapping[str, Sequence[str]], pieces: Mapping[str, Sequence[Measured]]
) -> Iterator[dict[str, Measured]]:
    """Every assignment."""
    orders = [itertools.permutations(pieces[letter], len(places[letter])) for letter in places]
    names = [place for letter in places for place in places[letter]]
    for order in itertools.product(*orders):
        yield dict(zip(names, itertools.chain(*order), strict=True))


def _work(chosen: Mapping[str, Measured], pairs: Sequence[Partners]) -> float:
    return sum(
        pair.weight * pair.lean_mm_per_100(chosen[pair.one].length_mm - chosen[pair.other].length_mm) ** 2
        for pair in pairs
    )


def _neighbours(
    places: Mapping[str, Sequence[str]], pieces: Mapping[str, Sequence[Measured]], pairs: Sequence[Partners]
) -> dict[str, Measured]:
    """A start: partners of one letter take neighbours by length, the nearest partners first."""
    chosen: dict[str, Measured] = {}
    for letter, rows in places.items():
        left = list(pieces[letter])
        for pair in sorted(pairs, key=lambda pair: pair.apart_mm):
            if {pair.one, pair.other} <= {*rows} and not {pair.one, pair.other} & chosen.keys():
                gaps = [left[at + 1].length_mm - left[at].length_mm for at in range(len(left) - 1)]
                at = min(range(len(gaps)), key=lambda index: gaps[index])
                chosen[pair.one], chosen[pair.other] = left.pop(at), left.pop(at)
        for place in rows:
            if place not in chosen:
                chosen[place] = left.pop(0)
    return chosen


def _swapped(
    start: dict[str, Measured], pieces: Mapping[str, Sequence[Measured]], pairs: Sequence[Partners]
) -> dict[str, Measured]:
    """Two pieces of a letter change places, or one with a spare piece, as long as that helps."""
    chosen = dict(start)
    work = _work(chosen, pairs)
    improved = True
    while improved:
        improved = False
        for letter, rows in pieces.items():
            mine = [place for place, piece in chosen.items() if piece.letter == letter]
            moves = [
                {one: chosen[other], other: chosen[one]} for one, other in itertools.combinations(mine, 2)
            ]
            spare = [piece for piece in rows if all(piece is not used for used in chosen.values())]
            moves += [{place: piece} for place in mine for piece in spare]
            for move in moves:
                tried = {**chosen, **move}
                if (less := _work(tried, pairs)) < work - 1e-12:
                    chosen, work, improved = tried, less, True
                    break
    return chosen

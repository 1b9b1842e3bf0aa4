"""What a wrong count means: laid in another pile, truly missing, or miscounted, each with its probability.

Events are rare and independent: each piece may be laid at another end of its key (as often as the key
says), be missing from its bag, or be counted once too few or too many; and a bag may hold one too many.
How often each happened is Poisson; what was counted leaves some combinations of events possible, and their
probabilities say where a piece most likely is (Bayes' theorem).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from trysquare.ground.errors import ReadingError, nearest
from trysquare.stock.key import Key, pile_name

MISSING = 0.004  # a piece is not in its bag; common practice, no source
TOO_MANY = 0.004  # for each expected piece, one more than the list says; common practice, no source
COUNTED_WRONG = (
    0.002  # of the pieces counted, one is skipped, as many counted twice; common practice, no source
)
LEAST_COUNTED_WRONG = 0.002  # even a small pile; common practice, no source

MOST_STATES = 20_000  # combinations of piles with too many that are weighed exactly
LARGEST_COUNT = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One way in which a count may have come about. `sort`: "in pile" (a piece of `pile` lies in `other`),
    "from pile" (a piece of `other` lies in `pile`), "missing", "too many", "counted wrong".
    `probability` that it happened at least once, given the counts."""

    sort: str
    pile: str
    other: str = ""
    probability: float = 0.0

    @property
    def says(self) -> str:
        """In words, without the probability."""
        return {
            "in pile": f"one of {self.pile} lies in {self.other}",
            "from pile": f"one of {self.other} lies in {self.pile}",
            "missing": f"one {self.pile} is truly missing",
            "too many": f"one {self.pile} more than listed came",
            "counted wrong": f"{self.pile} was counted wrong",
        }[self.sort]


@dataclass(frozen=True, slots=True, kw_only=True)
class PileCount:
    """One pile: what was expected, what was found (None: not counted), and what explains a difference, the
    most probable first."""

    pile: str
    letters: tuple[str, ...]
    expected: int
    found: int | None
    explanations: tuple[Explanation, ...] = ()

    @property
    def difference(self) -> int:
        """Found less expected; 0 where nothing was counted."""
        return 0 if self.found is None else self.found - self.expected


@dataclass(frozen=True, slots=True, kw_only=True)
class OffByOne:
    """What it means if a pile's count, as the only one known, is one too few or one too many."""

    pile: str
    too_few: tuple[Explanation, ...]
    too_many: tuple[Explanation, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rates:
    """Expected numbers of events of one key: pieces of one pile in another, missing, too many, counted wrong
    (either way) of each pile."""

    piles: tuple[str, ...]
    letters: tuple[tuple[str, ...], ...]
    expected: tuple[int, ...]
    moved: Mapping[tuple[int, int], float]
    missing: tuple[float, ...]
    too_many: tuple[float, ...]
    wrong: tuple[float, ...]


def _rates(key: Key) -> _Rates:
    piles = key.piles
    names = tuple(pile_name(pile) for pile in piles)
    number = {name: index for index, name in enumerate(names)}
    expected = tuple(sum(key.sort(letter).pieces for letter in pile) for pile in piles)
    moved: dict[tuple[int, int], float] = {}
    for index, pile in enumerate(piles):
        for letter in pile:
            for end, probability in key.confusion[letter].items():
                if number[end] != index and probability > 0:
                    at = (index, number[end])
                    moved[at] = moved.get(at, 0.0) + key.sort(letter).pieces * probability
    return _Rates(
        piles=names,
        letters=piles,
        expected=expected,
        moved=moved,
        missing=tuple(MISSING * count for count in expected),
        too_many=tuple(TOO_MANY * count for count in expected),
        wrong=tuple(max(LEAST_COUNTED_WRONG, COUNTED_WRONG * count) for count in expected),
    )


# --- one pile off by one


def off_by_one(key: Key) -> tuple[OffByOne, ...]:
    """For every pile what one too few and one too many would mean, if no other pile were counted."""
    rates = _rates(key)
    found = []
    for pile in range(len(rates.piles)):
        name = rates.piles[pile]
        few = [("in pile", rates.piles[j], rate) for (i, j), rate in rates.moved.items() if i == pile]
        few += [("missing", "", rates.missing[pile]), ("counted wrong", "", rates.wrong[pile])]
        many = [("from pile", rates.piles[i], rate) for (i, j), rate in rates.moved.items() if j == pile]
        many += [("too many", "", rates.too_many[pile]), ("counted wrong", "", rates.wrong[pile])]
        found.append(OffByOne(pile=name, too_few=_ranked(name, few), too_many=_ranked(name, many)))
    return tuple(found)


def _ranked(pile: str, rows: Iterable[tuple[str, str, float]]) -> tuple[Explanation, ...]:
    rows = [row for row in rows if row[2] > 0]
    whole = sum(rate for _, _, rate in rows)
    told = [
        Explanation(sort=sort, pile=pile, other=other, probability=rate / whole) for sort, other, rate in rows
    ]
    return tuple(sorted(told, key=lambda one: -one.probability))


# --- what was found


def explain_counts(key: Key, found: Mapping[str, int]) -> tuple[PileCount, ...]:
    """Every pile with what was found and what explains it. `found`: letters of this key and their counts;
    letters that cannot be told may be given as one pile ("A+B"). Raises ReadingError for a pile of several
    letters of which only some were given."""
    rates = _rates(key)
    counted = [_found(letters, found) for letters in rates.letters]
    piles = range(len(rates.piles))
    lack = {
        i: rates.expected[i] - n for i in piles if (n := counted[i]) is not None and n < rates.expected[i]
    }
    extra = {
        i: n - rates.expected[i] for i in piles if (n := counted[i]) is not None and n > rates.expected[i]
    }
    odds = _Odds(rates, counted, lack, extra)
    return tuple(
        PileCount(
            pile=rates.piles[i],
            letters=rates.letters[i],
            expected=rates.expected[i],
            found=counted[i],
            explanations=odds.of(i),
        )
        for i in piles
    )


def _found(letters: Sequence[str], found: Mapping[str, int]) -> int | None:
    """The count of a pile; None when it was not counted."""
    whole = found.get(pile_name(letters))
    if whole is not None:
        return whole
    given = [letter for letter in letters if letter in found]
    if not given:
        return None
    if len(given) < len(letters):
        raise ReadingError(
            where="found",
            read=", ".join(given),
            expected=f"all of {', '.join(letters)}, which cannot be told from each other",
            remedy=f"Count them together and write {pile_name(letters)}=…",
        )
    return sum(found[letter] for letter in letters)


class _Odds:
    """Weighs all combinations of events that give the counts."""

    def __init__(
        self, rates: _Rates, counted: Sequence[int | None], lack: Mapping[int, int], extra: Mapping[int, int]
    ) -> None:
        self.rates, self.lack, self.extra = rates, dict(lack), dict(extra)
        self.free = frozenset(i for i, count in enumerate(counted) if count is None)
        states = math.prod(count + 1 for count in extra.values())
        # With very many piles wrong at once the whole table is not what was counted; then each pile is
        # explained as if the others' surplus had no end.
        self.exact = states <= MOST_STATES
        self.whole = self._weight(rates)

    def of(self, pile: int) -> tuple[Explanation, ...]:
        """What explains this pile's difference, the most probable first; nothing where there is none."""
        name = self.rates.piles[pile]
        told: list[Explanation] = []

        def tell(sort: str, other: str, without: _Rates) -> None:
            probability = 1 - self._weight(without) / self.whole if self.whole > 0 else 0.0
            if probability > 1e-9:
                told.append(Explanation(sort=sort, pile=name, other=other, probability=min(1.0, probability)))

        if pile in self.lack:
            for i, j in self.rates.moved:
                if i == pile and (j in self.extra or j in self.free):
                    tell("in pile", self.rates.piles[j], _without_move(self.rates, i, j))
            tell("missing", "", replace(self.rates, missing=_zero(self.rates.missing, pile)))
        elif pile in self.extra:
            for i, j in self.rates.moved:
                if j == pile and (i in self.lack or i in self.free):
                    tell("from pile", self.rates.piles[i], _without_move(self.rates, i, j))
            tell("too many", "", replace(self.rates, too_many=_zero(self.rates.too_many, pile)))
        else:
            return ()
        tell("counted wrong", "", replace(self.rates, wrong=_zero(self.rates.wrong, pile)))
        return tuple(sorted(told, key=lambda one: -one.probability))

    def _weight(self, rates: _Rates) -> float:
        """The sum, over all combinations of events that give the counts, of rate^n / n! of each event.

        Source: Poisson counts; the events' own zero terms cancel in the ratio of two such sums.
        """
        piles = sorted(self.extra)
        start = tuple(self.extra[pile] for pile in piles) if self.exact else ()
        table = {start: 1.0}
        for pile, lacking in self.lack.items():
            sinks = [(at, rates.moved.get((pile, sink), 0.0)) for at, sink in enumerate(piles) if self.exact]
            alone = rates.missing[pile] + rates.wrong[pile]
            alone += sum(rates.moved.get((pile, free), 0.0) for free in self.free)
            if not self.exact:
                alone += sum(rates.moved.get((pile, sink), 0.0) for sink in piles)
            table = _spread(table, lacking, [sink for sink in sinks if sink[1] > 0], alone)
        whole = 0.0
        for left, weight in table.items():
            for pile, count in zip(piles, left, strict=False):
                alone = rates.too_many[pile] + rates.wrong[pile]
                alone += sum(rates.moved.get((free, pile), 0.0) for free in self.free)
                weight *= _poisson(alone, count)  # noqa: PLW2901  # a product over the piles
            whole += weight
        if not self.exact:
            for pile, count in self.extra.items():
                alone = rates.too_many[pile] + rates.wrong[pile]
                alone += sum(rates.moved.get((other, pile), 0.0) for other in (*self.free, *self.lack))
                whole *= _poisson(alone, count)
        return whole


State = tuple[int, ...]


def _spread(
    table: Mapping[State, float], lacking: int, sinks: Sequence[tuple[int, float]], alone: float
) -> dict[State, float]:
    """The table of what is left over in each pile, after the pieces one pile lacks were laid into them."""
    spread = {(state, lacking): weight for state, weight in table.items()}
    for at, rate in sinks:
        after: dict[tuple[State, int], float] = {}
        for (state, left), weight in spread.items():
            for count in range(min(left, state[at]) + 1):
                rest = (*state[:at], state[at] - count, *state[at + 1 :])
                where = (rest, left - count)
                after[where] = after.get(where, 0.0) + weight * _poisson(rate, count)
        spread = after
    found: dict[State, float] = {}
    for (state, left), weight in spread.items():
        found[state] = found.get(state, 0.0) + weight * _poisson(alone, left)
    return found


def _poisson(rate: float, count: int) -> float:
    """rate^count / count!, without the factor exp(-rate), which is common to all combinations."""
    if count == 0:
        return 1.0
    if rate <= 0:
        return 0.0
    return math.exp(count * math.log(rate) - math.lgamma(count + 1))


def _without_move(rates: _Rates, i: int, j: int) -> _Rates:
    return replace(rates, moved={at: rate for at, rate in rates.moved.items() if at != (i, j)})


def _zero(values: Sequence[float], at: int) -> tuple[float, ...]:
    return tuple(0.0 if index == at else value for index, value in enumerate(values))


# --- reading what was found

_PAIR = re.compile(r"\s*([A-Za-z]+(?:\s*\+\s*[A-Za-z]+)*)\s*=\s*(\S.*?)\s*")


def read_found(text: str, known: Iterable[str]) -> dict[str, int]:
    """Counts from "A=3,B=4" or "A+B=7"; `known` are the letters there are. Raises ReadingError."""
    found: dict[str, int] = {}
    for item in text.replace(";", ",").split(","):
        pair = _PAIR.fullmatch(item)
        if pair is None:
            expected = "a letter and a count, as A=3"
            raise ReadingError(where="found", read=item, expected=expected, remedy="Write --found A=3,B=4.")
        add_found(found, pair[1], pair[2], known)
    return found


def add_found(
    found: dict[str, int], letters: str, count: object, known: Iterable[str], where: str = "found"
) -> None:
    """Adds one counted pile after checking letters and count. Raises ReadingError."""
    known = list(known)
    names = [name.strip().upper() for name in letters.split("+")]
    for name in names:
        if name not in known:
            remedy = nearest(name, known) if len(known) > 40 else f"Known: {', '.join(known)}."
            raise ReadingError(where=where, read=name, expected="a letter of this machine", remedy=remedy)
    words = str(count).strip()
    if not (words.isascii() and words.isdigit() and int(words) <= LARGEST_COUNT):
        raise ReadingError(
            where=where,
            read=words,
            expected="a whole number of pieces, 0 or more",
            remedy="Write the number alone: no sign, no fraction, no thousands mark.",
        )
    name = pile_name(sorted(names, key=known.index))
    if name in found:
        raise ReadingError(where=where, read=name, expected="each pile once", remedy="Add the two counts.")
    found[name] = int(words)

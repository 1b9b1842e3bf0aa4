"""The key in words: a sheet of numbered looks, and which sorts look the same from one side."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.stock.features import Features, View
from trysquare.stock.key import Branch, Key, KeyNode, Sort
from trysquare.stock.looks import ABSENT, Look
from trysquare.stock.readings import standard_uncertainty, ways

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetAnswer:
    """One answer on the sheet: what is seen, how many pieces are expected, and then either the number of the
    next look or the letters of the pile (several: they cannot be told)."""

    says: str
    pieces: int
    then: int = 0
    letters: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetStep:
    """One look on the sheet: what to do, how, how long it takes for one piece, and the answers."""

    number: int
    ask: str
    how: str
    effort_seconds: float
    pieces: int
    answers: tuple[SheetAnswer, ...]


def sheet_steps(key: Key) -> tuple[SheetStep, ...]:
    """The whole key as numbered looks, each before those that it leads to; empty with a single sort."""
    found: list[SheetStep] = []
    waiting: list[KeyNode] = [key.root] if key.root.look is not None else []
    number = len(waiting)
    # Pile after pile, as one works on the table: what lies together is told before the next pile.
    while waiting:
        node = waiting.pop(0)
        assert node.look is not None
        answers: list[SheetAnswer] = []
        later: list[KeyNode] = []
        for branch in node.branches:
            then = 0
            if branch.node.look is not None:
                number += 1
                then = number
                later.append(branch.node)
            letters = branch.node.sorts if not then else ()
            says = branch_words(node.look, branch)
            answers.append(SheetAnswer(says=says, pieces=branch.node.pieces, then=then, letters=letters))
        waiting += later
        found.append(
            SheetStep(
                number=len(found) + 1,
                ask=node.look.words.ask,
                how=how_words(node.look),
                effort_seconds=node.look.effort_seconds,
                pieces=node.pieces,
                answers=tuple(answers),
            )
        )
    return tuple(found)


def how_words(look: Look) -> str:
    """With what a look is made; an owned instrument by its name where that says more."""
    words = look.way.words
    if look.instrument and look.instrument != look.way.id:
        words += f" ({look.instrument})"
    return words


def branch_words(look: Look, branch: Branch) -> str:
    """An answer in words: a label, or the sizes that should turn up, with the line to the next pile."""
    if branch.label is not None:
        return look.words.absent if branch.label == ABSENT else branch.label
    unit = f" {look.words.unit}"
    if branch.most - branch.least > 0.05:
        sizes = f"{_size(branch.least)} to {_size(branch.most)}{unit}"
    else:
        sizes = f"{_size(branch.least)}{unit}"
    if look.way.id != "eye":
        return sizes
    if math.isinf(branch.high):
        return f"about {sizes}" if math.isinf(branch.low) else f"about {sizes}, over {branch.low:.0f}"
    return f"about {sizes}, under {branch.high:.0f}"


def _size(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


# --- which sorts look the same from one side


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAlikes:
    """Two sorts that look the same from one side. `same`: from where; `tells`: what to look at instead."""

    letters: tuple[str, str]
    same: str
    tells: str

    @property
    def says(self) -> str:
        """Both in one sentence."""
        return f"{self.letters[0]} and {self.letters[1]} look the same {self.same}; {self.tells}."


def look_alikes(sorts: Sequence[Sort]) -> tuple[LookAlikes, ...]:
    """All pairs that look the same from one side: bars of one section and length that share a face, and
    mirror images."""
    found = []
    for one, other in itertools.combinations(sorts, 2):
        pair = _bars(one, other) if one.features.views and other.features.views else _hands(one, other)
        if pair is not None:
            found.append(pair)
    return tuple(found)


def _bars(one: Sort, other: Sort) -> LookAlikes | None:
    first, second = one.features, other.features
    if not all(_by_hand_the_same(first, second, name) for name in ("length", "width", "thickness", "slot")):
        return None
    letters = (one.letter, other.letter)
    shared = sorted({view for view in first.views if view in second.views}, key=len, reverse=True)
    if not shared:
        return None
    if sorted(first.views) == sorted(second.views):
        ends = first.seen.get("ends"), second.seen.get("ends")
        if ends[0] == ends[1]:
            return None
        tells = f"look at the ends: {one.letter} has {ends[0]}, {other.letter} has {ends[1]}"
        return LookAlikes(letters=letters, same="from every face", tells=tells)
    view = shared[0]
    same = f"from a face with {_count(len(view))}" if len(view) else "from a blank face"
    tells = f"turn them round: {one.letter} has {holes_words(first)}, {other.letter} {holes_words(second)}"
    return LookAlikes(letters=letters, same=same, tells=tells)


def _by_hand_the_same(one: Features, other: Features, name: str) -> bool:
    """Whether two sizes are the same to who lays the pieces side by side."""
    first, second = one.sizes.get(name), other.sizes.get(name)
    if first is None or second is None:
        return first is second
    half_width = ways()["side-by-side"].half_width or 0.0
    apart = standard_uncertainty(half_width, first.spread) + standard_uncertainty(half_width, second.spread)
    return abs(first.value - second.value) <= 3 * apart


def _hands(one: Sort, other: Sort) -> LookAlikes | None:
    hands = one.features.seen.get("hand"), other.features.seen.get("hand")
    if {*hands} != {"left", "right"} or one.features.sizes != other.features.sizes:
        return None
    which = f"{one.letter} is the {hands[0]} one, {other.letter} the {hands[1]} one"
    return LookAlikes(
        letters=(one.letter, other.letter),
        same="in every size, as they are mirror images",
        tells=f"lay both the same way up: {which}",
    )


def holes_words(features: Features) -> str:
    """The holes of a bar, going round: "two holes, 10 and 80 mm from an end, and one on the next face"."""
    views = features.views
    if not any(map(len, views)):
        return "no hole on any face"
    if views[0] == views[2] and views[1] == views[3]:
        ways_through = sorted({view for view in views[:2] if len(view)}, key=len, reverse=True)
        if len([view for view in views[:2] if len(view)]) == 1:
            return f"{_holes(ways_through[0])}, right through"
        if views[0] == views[1]:
            return f"{_holes(views[0])} on every face"
        return f"{_holes(ways_through[0])}, on one face and {_holes(ways_through[-1])}, on the next"
    several = Counter(view for view in views if len(view))
    return " and ".join(
        f"{_holes(view)}, on {_NUMBERS[faces]} face{'s' if faces > 1 else ''}"
        for view, faces in several.items()
    )


def _holes(view: View) -> str:
    places = [_size(along) for along, _, _ in view.holes]
    listed = places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"
    return f"{_count(len(view))} at {listed} mm"


def _count(holes: int) -> str:
    number = _NUMBERS[holes] if holes < len(_NUMBERS) else str(holes)
    return f"{number} hole" + ("" if holes == 1 else "s")

"""The look-alike key: which look to make first, and which after each answer, until each piece has its letter.

`sorting_sheet` makes a key for each form of part (bars, plates, screws …) of a machine; `sorting_key` one for
any sorts. Both are plain values that a page or a sheet of paper can show.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from trysquare.machine.values import Instrument, Kind, Machine, PartType
from trysquare.stock.features import Features, features_of
from trysquare.stock.key_tree import Plan, Tree, bits, least_work
from trysquare.stock.letters import KeptLetter, give_letters
from trysquare.stock.looks import ABSENT, Look, looks_at
from trysquare.stock.need import Need, need
from trysquare.stock.readings import UNTOLD_SECONDS
from trysquare.stock.same_piece import same_piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Sort:
    """One physical piece under one letter. `parts`: how many of each part that it may be; several parts are
    several names of the same piece, and either serves."""

    letter: str
    name: str
    parts: Mapping[str, int]
    features: Features
    also_called: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        return sum(self.parts.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One answer of a look and what follows. A measured answer lies between `low` and `high` (infinite at
    the ends of the row); a seen one is `label`, `ABSENT` where there is nothing to measure.
    `least`, `most`: the smallest and the largest size that should turn up here."""

    node: KeyNode
    label: str | None = None
    low: float = -math.inf
    high: float = math.inf
    least: float = math.nan
    most: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyNode:
    """A look with its answers; or, without a look, the end: a letter, or several that cannot be told.

    `sorts`: the letters that arrive here, `pieces` how many pieces are expected."""

    sorts: tuple[str, ...]
    pieces: int
    look: Look | None = None
    branches: tuple[Branch, ...] = ()

    def leaves(self) -> Iterator[KeyNode]:
        """All ends, from left to right."""
        if self.look is None:
            yield self
        for branch in self.branches:
            yield from branch.node.leaves()


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """The key of some sorts. Work is in seconds for all expected pieces, slips' redoing included; `least_
    seconds` is a bound that no key goes below. `confusion`: for each letter the probability of each end
    (its letters joined with "+") that its piece is laid at; what is missing to 1 is noticed as odd.
    `wrong`: the share of all pieces that come to a wrong end unnoticed."""

    sorts: tuple[Sort, ...]
    looks: tuple[Look, ...]
    root: KeyNode
    work_seconds: float
    least_seconds: float
    optimal: bool
    confusion: Mapping[str, Mapping[str, float]]
    wrong: float

    @property
    def untold(self) -> tuple[tuple[str, ...], ...]:
        """Letters that no look tells apart with these instruments."""
        return tuple(leaf.sorts for leaf in self.root.leaves() if len(leaf.sorts) > 1)

    @property
    def piles(self) -> tuple[tuple[str, ...], ...]:
        """The piles that one ends with."""
        return tuple(leaf.sorts for leaf in self.root.leaves())

    def sort(self, letter: str) -> Sort:
        """The sort of a letter of this key."""
        return next(sort for sort in self.sorts if sort.letter == letter)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """All sorts of one form with their key."""

    form: str
    key: Key


@dataclass(frozen=True, slots=True, kw_only=True)
class SortingSheet:
    """A machine's parts to be sorted: sections by form, and what is not sorted but counted by length."""

    sections: tuple[Section, ...]
    letters: tuple[KeptLetter, ...]
    rolls: tuple[str, ...] = ()

    @property
    def sorts(self) -> tuple[Sort, ...]:
        return tuple(sort for section in self.sections for sort in section.key.sorts)


def pile_name(letters: Sequence[str]) -> str:
    """An end by its letters: "A", or "A+B" where the two cannot be told."""
    return "+".join(letters)


# --- a machine's sorts


def sorting_sheet(
    machine: Machine,
    kept: Iterable[KeptLetter] = (),
    *,
    whole: Need | None = None,
    wanted: Callable[[Sort], bool] = lambda _sort: True,
) -> SortingSheet:
    """The keys of a machine by form. `wanted` picks sorts; letters are given to all first, so that they do
    not depend on what is picked. `whole`: the machine's need, if it is known already."""
    whole = need(machine) if whole is None else whole
    sorts = sorts_of(machine, kept, whole)
    by_form: dict[str, list[Sort]] = {}
    for sort in sorts:
        if wanted(sort):
            by_form.setdefault(sort.features.form, []).append(sort)
    return SortingSheet(
        sections=tuple(
            Section(form=form, key=sorting_key(rows, machine.instruments)) for form, rows in by_form.items()
        ),
        letters=tuple(
            KeptLetter(letter=sort.letter, parts=tuple(sort.parts), also_called=sort.also_called)
            for sort in sorts
        ),
        rolls=tuple(line.part for line in whole.lines if line.cuts_mm or line.kind is Kind.WIRE),
    )


def sorts_of(machine: Machine, kept: Iterable[KeptLetter] = (), whole: Need | None = None) -> list[Sort]:
    """All sorts that the machine needs in pieces, each with its letter, in the order of the need."""
    whole = need(machine) if whole is None else whole
    types: dict[str, PartType] = {placed.type.id: placed.type for placed in machine.placed}
    rows: list[tuple[Features, dict[str, int], str, PartType]] = []
    also: dict[str, tuple[str, ...]] = {}
    for line in whole.lines:
        part = types.get(line.part) or machine.types.get(line.part)
        if line.cuts_mm or line.kind is Kind.WIRE or part is None:
            continue
        features = features_of(part, machine.folder)
        also[line.part] = line.aliases
        for known, parts, _, other in rows:
            if known == features and same_piece(part, other, machine.folder):
                parts[line.part] = line.pieces
                break
        else:
            rows.append((features, {line.part: line.pieces}, line.name, part))
    letters = give_letters([tuple(parts) for _, parts, _, _ in rows], kept, also)
    return [
        Sort(
            letter=letter,
            name=name,
            parts=parts,
            features=features,
            also_called=tuple(dict.fromkeys(alias for part in parts for alias in also[part])),
        )
        for letter, (features, parts, name, _) in zip(letters, rows, strict=True)
    ]


# --- the key of some sorts


def sorting_key(sorts: Sequence[Sort], instruments: Iterable[Instrument] = ()) -> Key:
    """The key with the least expected work over the expected pieces."""
    looks = looks_at([sort.features for sort in sorts], instruments)
    plan = least_work(
        [float(sort.pieces) for sort in sorts], [look.split for look in looks], untold=UNTOLD_SECONDS
    )
    root = _node(plan.tree, sorts, looks)
    untold = sum(UNTOLD_SECONDS * leaf.pieces for leaf in root.leaves() if len(leaf.sorts) > 1)
    confusion = {sort.letter: _ends(root, index) for index, sort in enumerate(sorts)}
    return Key(
        sorts=tuple(sorts),
        looks=looks,
        root=root,
        work_seconds=plan.work - untold,
        least_seconds=_least(plan, untold),
        optimal=plan.optimal,
        confusion=confusion,
        wrong=_wrong(sorts, root, confusion),
    )


def _least(plan: Plan, untold: float) -> float:
    return max(0.0, min(plan.least - untold, plan.work - untold))


def _wrong(sorts: Sequence[Sort], root: KeyNode, confusion: Mapping[str, Mapping[str, float]]) -> float:
    own = {letter: pile_name(leaf.sorts) for leaf in root.leaves() for letter in leaf.sorts}
    pieces = sum(sort.pieces for sort in sorts)
    astray = sum(
        sort.pieces * sum(p for end, p in confusion[sort.letter].items() if end != own[sort.letter])
        for sort in sorts
    )
    return astray / pieces if pieces else 0.0


def _node(tree: Tree, sorts: Sequence[Sort], looks: Sequence[Look]) -> KeyNode:
    here = [sorts[index] for index in bits(tree.mask)]
    letters, pieces = tuple(sort.letter for sort in here), sum(sort.pieces for sort in here)
    if tree.look < 0:
        return KeyNode(sorts=letters, pieces=pieces)
    look = looks[tree.look]
    labelled: list[Branch] = []
    sized: list[tuple[float, float, float, float, KeyNode]] = []
    for cell in tree.cells:
        node = _node(cell, sorts, looks)
        members = list(bits(cell.mask))
        if not look.readable(members[0]):
            labelled.append(Branch(node=node, label=look.shows[members[0]]))
            continue
        values = [look.values[index] for index in members]
        ends = [look.interval(index) for index in members]
        sized.append(
            (min(low for low, _ in ends), max(high for _, high in ends), min(values), max(values), node)
        )
    branches: list[Branch] = []
    for at, (_, high, least, most, node) in enumerate(sized):
        # The line between two neighbours lies halfway between what either may show.
        below = -math.inf if at == 0 else branches[-1].high
        above = math.inf if at == len(sized) - 1 else (high + sized[at + 1][0]) / 2
        branches.append(Branch(node=node, low=below, high=above, least=least, most=most))
    labelled.sort(key=_label_order)
    return KeyNode(sorts=letters, pieces=pieces, look=look, branches=(*labelled, *branches))


def _label_order(branch: Branch) -> tuple[bool, float, str]:
    """Nothing first, then "3 holes" before "12 holes"; words by the alphabet."""
    label = branch.label or ""
    number = re.match(r"[0-9]+", label)
    return (bool(label) and not label.startswith("no "), float(number[0]) if number else 0.0, label)


# --- going through the key


Reader = Callable[[Look], "str | float | None"]
"""Answers a look at one piece: a label, a size, `ABSENT` where there is nothing to measure, or None."""


def identify(root: KeyNode, read: Reader) -> KeyNode | None:
    """The end that a piece comes to when its looks are answered by `read`; None when an answer is none of
    those that the key knows: then something is odd, and the piece is laid aside."""
    node = root
    while node.look is not None:
        answer = read(node.look)
        found = next((branch for branch in node.branches if answers(branch, answer)), None)
        if found is None:
            return None
        node = found.node
    return node


def answers(branch: Branch, answer: str | float | None) -> bool:
    """Whether an answer leads into this branch."""
    if branch.label is not None:
        return answer == branch.label
    # Whole numbers count too: a length asked for as 8 is kept as it came.
    return isinstance(answer, int | float) and branch.low <= answer < branch.high


def _ends(root: KeyNode, sort: int) -> dict[str, float]:
    """The probability of every end for a piece of one sort; readings taken as independent."""
    found: dict[str, float] = {}
    _follow(root, sort, 1.0, found)
    return found


def _follow(node: KeyNode, sort: int, arrives: float, found: dict[str, float]) -> None:
    if node.look is None:
        end = pile_name(node.sorts)
        found[end] = found.get(end, 0.0) + arrives
        return
    for branch, share in zip(node.branches, shares(node, sort), strict=True):
        if arrives * share > 1e-12:
            _follow(branch.node, sort, arrives * share, found)


def shares(node: KeyNode, sort: int) -> list[float]:
    """How probable each branch of a node is for a piece of the sort with this number.

    A size falls to either side of a line by the normal law. A label is mistaken for another that may stand
    here: as often as the look says of the pair, else by an even share of the look's slips. A label or a size
    that is none of those here, and was not mistaken, is noticed; so is what nobody knows.
    """
    look = node.look
    assert look is not None
    shown = look.shows[sort]
    if shown is None:
        return [0.0] * len(node.branches)
    own = [branch.label == shown and not look.readable(sort) for branch in node.branches]
    if look.readable(sort):
        value, uncertainty = look.values[sort], look.uncertainties[sort]
        sized = [
            0.0
            if branch.label is not None
            else _normal((branch.high - value) / uncertainty) - _normal((branch.low - value) / uncertainty)
            for branch in node.branches
        ]
    else:
        sized = [float(mine) for mine in own]
    others = [
        index
        for index, branch in enumerate(node.branches)
        if not own[index] and (branch.label is not None or not look.readable(sort))
    ]
    slips = {index: look.slip(shown, node.branches[index].label, len(others)) for index in others}
    kept = max(0.0, 1.0 - sum(slips.values()))
    return [share * kept + slips.get(index, 0.0) for index, share in enumerate(sized)]


def _normal(z: float) -> float:
    """Standard normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


__all__ = [
    "ABSENT", "Branch", "Key", "KeyNode", "Section", "Sort", "SortingSheet", "answers", "identify",
    "pile_name", "shares", "sorting_key", "sorting_sheet", "sorts_of",
]  # fmt: skip

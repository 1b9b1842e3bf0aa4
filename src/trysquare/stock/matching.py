"""Which part a vendor's name means: remembered, plainly written, or guessed, and a guess is never taken.

What is certain: a name that `names.toml` remembers, a part's own id, its name or another paper's name for
it, a canonical designation, and words that leave no doubt, by the same rule as in parts lists
(`row_text.understand`). All else is a guess with its confidence, and waits for the builder.
"""

from __future__ import annotations

import difflib
import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from trysquare.catalogue.values import Profile
from trysquare.machine.values import Machine
from trysquare.stock.habits import readings
from trysquare.stock.need import other_names
from trysquare.stock.quantities import without_pack
from trysquare.stock.remembered import plain_name
from trysquare.stock.row_text import understand
from trysquare.stock.standard_parts import standard_of

LEAST_CONFIDENCE = 0.35  # below it a guess is noise
MOST_GUESSES = 3
FREE_NAME_SHARE = 0.85  # two names alike in every letter are still two people's names
IN_NEED_BONUS = 0.04  # between two readings alike, the one the machine asks for
_NEAR = 12  # names compared letter by letter, out of those that share letters in threes


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A part that a name may mean, and how sure the words make it, from 0 to 1."""

    part: str
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What is known of a name. `parts`: what it certainly means, with `how`; () with `how` "not of this
    machine" if that was confirmed. Without `how` it waits, and `guesses` stand, the likeliest first."""

    name: str
    how: str = ""
    parts: tuple[str, ...] = ()
    guesses: tuple[Guess, ...] = ()


class Matcher:
    """Names to parts of one machine."""

    def __init__(
        self,
        machine: Machine,
        needed: Iterable[str],
        names: Mapping[str, tuple[str, ...]],
        extra: Iterable[str] = (),
    ) -> None:
        """`names` are remembered; `extra` are further plain words, of what is used up."""
        self.needed = frozenset(needed)
        extra = tuple(extra)
        self.names = names
        self.certain: dict[str, tuple[str, str]] = {}
        aliases = other_names(machine)
        twice: set[str] = set()
        for part_type in machine.types.values():
            spelt = plain_name(part_type.name)
            if self.certain.get(spelt, (part_type.id, ""))[0] != part_type.id:
                twice.add(spelt)
            self.certain[spelt] = (part_type.id, "its name in the papers")
        for spelt in twice:
            del self.certain[spelt]
        for part, others in aliases.items():
            self.certain |= {plain_name(other): (part, "another paper's name") for other in others}
        self.certain |= {plain_name(word): (word, "its name in the steps") for word in extra}
        self.certain |= {plain_name(name): (name, "its id") for name in machine.types}
        self.free = _FreeNames(
            [
                (text, part_type.id)
                for part_type in machine.types.values()
                for text in _texts(part_type.id, part_type.name)
            ]
            + [(other, part) for part, others in aliases.items() for other in others]
            + [(word, word) for word in extra]
        )

    def match(self, name: str) -> Match:
        """What a vendor's name means."""
        spelt = plain_name(name)
        if spelt in self.names:
            parts = self.names[spelt]
            return Match(name=name, how="confirmed" if parts else "not of this machine", parts=parts)
        if spelt in self.certain:
            part, how = self.certain[spelt]
            return Match(name=name, how=how, parts=(part,))
        standard = standard_of(without_pack(name))
        if standard is not None and not isinstance(standard, Profile):
            return Match(name=name, how="its designation", parts=(standard.designation,))
        certain = understand(name).certain
        if certain is not None:
            return Match(name=name, how="read from its words", parts=(self._part_of(certain.designation),))
        return Match(name=name, guesses=self.guesses(name))

    def guesses(self, name: str) -> tuple[Guess, ...]:
        """The likeliest parts for a name nobody knows yet."""
        found: dict[str, float] = {}
        for reading in readings(name):
            part = self._part_of(reading.designation)
            bonus = IN_NEED_BONUS if part in self.needed else 0.0
            found[part] = max(found.get(part, 0.0), min(0.99, reading.confidence + bonus))
        for part, likeness in self.free.near(without_pack(name)):
            found[part] = max(found.get(part, 0.0), FREE_NAME_SHARE * likeness)
        best = sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))
        return tuple(
            Guess(part=part, confidence=round(sure, 2)) for part, sure in best if sure >= LEAST_CONFIDENCE
        )[:MOST_GUESSES]

    def _part_of(self, designation: str) -> str:
        """The designation, or the own part that the machine describes by that standard."""
        return self.certain.get(plain_name(designation), (designation, ""))[0]


def is_part(machine: Machine, word: str) -> str | None:
    """The canonical name of a part of the machine or a designation; None for what is neither."""
    if word in machine.types:
        return word
    if word in machine.aliases:
        word = machine.aliases[word]
        if word in machine.types:
            return word
    standard = standard_of(word)
    return standard.designation if standard is not None else None


def _texts(identity: str, name: str) -> tuple[str, ...]:
    return (name,) if name == identity else (name, identity.replace("-", " "))


class _FreeNames:
    """Names by likeness: letters in threes weighed by how rare they are, then letter by letter."""

    def __init__(self, names: Sequence[tuple[str, str]]) -> None:
        self.names = [(plain_name(text), part) for text, part in names]
        grams = [_threes(text) for text, _ in self.names]
        often = Counter(gram for each in grams for gram in set(each))
        self.rare = {gram: math.log(1 + len(grams) / count) for gram, count in often.items()}
        self.by_gram: dict[str, list[tuple[int, float]]] = {}
        for number, each in enumerate(grams):
            weights = {gram: count * self.rare[gram] for gram, count in each.items()}
            length = math.sqrt(sum(weight**2 for weight in weights.values())) or 1.0
            for gram, weight in weights.items():
                self.by_gram.setdefault(gram, []).append((number, weight / length))

    def near(self, name: str) -> list[tuple[str, float]]:
        """Parts with the likeness of their nearest name, 0 to 1."""
        spelt = plain_name(name)
        weights = {gram: count * self.rare.get(gram, 3.0) for gram, count in _threes(spelt).items()}
        length = math.sqrt(sum(weight**2 for weight in weights.values())) or 1.0
        alike: Counter[int] = Counter()
        for gram, weight in weights.items():
            for number, share in self.by_gram.get(gram, ()):
                alike[number] += weight * share / length  # type: ignore[assignment]  # a counter of floats
        found: dict[str, float] = {}
        for number, cosine in alike.most_common(_NEAR):
            text, part = self.names[number]
            letters = difflib.SequenceMatcher(None, _in_order(spelt), _in_order(text), autojunk=False).ratio()
            likeness = (cosine + letters) / 2 - 0.15 * _numbers_differ(spelt, text)
            found[part] = max(found.get(part, 0.0), likeness)
        return sorted(found.items(), key=lambda pair: -pair[1])


@lru_cache(maxsize=4096)
def _threes(text: str) -> Counter[str]:
    return Counter(f" {word} "[at : at + 3] for word in re.findall(r"\w+", text) for at in range(len(word)))


@lru_cache(maxsize=4096)
def _in_order(text: str) -> str:
    """The words in one order, for vendors put the noun first or last."""
    return " ".join(sorted(re.findall(r"\w+", text)))


def _numbers_differ(one: str, other: str) -> int:
    """How many of the first's numbers the second has not: a 30 mm fan is no 60 mm fan."""
    numbers = [set(re.findall(r"[0-9]+(?:\.[0-9]+)?", text)) for text in (one, other)]
    return min(3, len(numbers[0] - numbers[1])) if numbers[1] else 0

"""What becomes of each row of a list: recognised, asked or an own part. None is dropped.

Recognised: remembered, a part of the machine by its name, or read from the words without a doubt. Asked: the
words leave a choice, or the pieces cannot be read; until it is decided the row counts as an own part.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from trysquare.intake.list_rows import ListedRow
from trysquare.stock.habits import Reading
from trysquare.stock.matching import Guess
from trysquare.stock.quantities import pack_size_in
from trysquare.stock.remembered import plain_name
from trysquare.stock.row_members import Member
from trysquare.stock.row_text import Understood, understand
from trysquare.stock.sureness import MAYBE, POOR

MOST_CHOICES = 4
LIKE_AN_OWN_PART = 0.75  # below it, two own names that look alike are two parts
LONGEST_ID = 40

_PIECES_ASKED, _PIECES_DECIDED = ", pieces asked", ", pieces decided"

Outcome = Literal["recognised", "asked", "own", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the folder knows, by plain names.

    `names`: remembered, with the parts they mean, () for no part of this machine. `own`: the machine's own
    parts, with their ids. `ids`: all ids that are taken. `waiting`: asked and not decided. `own_by_word`:
    what the builder now calls own parts. `alike`: own parts with like names. `pieces`: pieces that the
    builder decided, by `pieces_key`. `profiles`: what the builder now says of members without a slot.
    """

    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    own: Mapping[str, str] = field(default_factory=dict)
    ids: frozenset[str] = frozenset()
    waiting: frozenset[str] = frozenset()
    own_by_word: frozenset[str] = frozenset()
    pieces: Mapping[tuple[str, str], int] = field(default_factory=dict)
    alike: Mapping[str, tuple[Guess, ...]] = field(default_factory=dict)
    profiles: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnPart:
    """An own part that the folder has not yet. `undecided`: it stands for a row that is still asked."""

    id: str
    name: str
    kind: str
    member: Member | None = None
    undecided: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """One row with what it became. `parts`: what it counts as. `pieces`: 0 where they are asked.

    `state`: the outcome of its part, and whether its pieces are asked or decided, for list.csv.
    `how`: why it is so; `says`: what else was understood; `choices` and `question`: what is asked.
    """

    row: ListedRow
    outcome: Outcome
    parts: tuple[str, ...]
    pieces: int
    how: str
    understood: Understood | None = None
    says: tuple[str, ...] = ()
    choices: tuple[Reading, ...] = ()
    question: str = ""
    state: str = ""
    own: OwnPart | None = None


def decide(rows: Sequence[ListedRow], known: Known) -> tuple[Decided, ...]:
    """All rows, in their order, each with its outcome. Rows of one name become one part."""
    decider = _Decider(known)
    return tuple(decider.decide(row) for row in rows)


class _Decider:
    def __init__(self, known: Known) -> None:
        self.known = known
        self.taken = set(known.ids)
        self.made: dict[str, OwnPart] = {}

    def decide(self, row: ListedRow) -> Decided:
        plain = plain_name(row.text)
        pieces, why, says = self._pieces(row)
        settled = pieces_key(row.text, row.quantity) in self.known.pieces
        found = self._part(row, plain)
        words = [*says, *found.says]
        outcome, question = found.outcome, found.question
        if why and outcome != "left out":
            outcome, question = "asked", f"{question} {why}".strip()
        return Decided(
            row=row,
            outcome=outcome,
            parts=found.parts,
            pieces=pieces,
            how=found.how,
            understood=found.understood,
            says=tuple(dict.fromkeys(words)),
            choices=found.choices,
            question=question,
            state=f"{found.outcome}{_PIECES_ASKED if why else _PIECES_DECIDED if settled else ''}",
            own=found.own,
        )

    def _pieces(self, row: ListedRow) -> tuple[int, str, list[str]]:
        """Pieces, what must be asked about them, and what is said of packs."""
        decided = self.known.pieces.get(pieces_key(row.text, row.quantity))
        if decided is not None:
            return decided, "", []
        read = understand(row.text)
        in_pack = read.pack_size or pack_size_in(row.note)
        if row.pieces is None:
            if row.packs and in_pack:
                many = row.packs * in_pack
                return many, "", [f"{row.packs} packs of {in_pack} are {many} pieces."]
            if not row.quantity and read.pieces:
                return read.pieces, "", [f"Its own words say {read.pieces} pieces."]
            return 0, f"How many pieces? {row.why_not}", []
        if read.pieces and read.pieces != row.pieces:
            why = f"How many pieces? The words say {read.pieces}, the quantity {row.quantity}."
            return row.pieces, why, []
        size = row.pack_size or in_pack
        if row.packs and row.pack_size:
            return row.pieces, "", [f"{row.packs} packs of {row.pack_size} are {row.pieces} pieces."]
        if in_pack and not row.packs and row.pieces % in_pack:
            many = row.pieces * in_pack
            packs = "1 pack" if row.pieces == 1 else f"{row.pieces} packs"
            why = f"How many pieces: {row.pieces}, or {packs} of {size}, {many}?"
            return row.pieces, why, []
        return row.pieces, "", []

    def _part(self, row: ListedRow, plain: str) -> Decided:
        def answer(outcome: Outcome, parts: Iterable[str], how: str, **more: object) -> Decided:
            return Decided(row=row, outcome=outcome, parts=tuple(parts), pieces=0, how=how, **more)  # type: ignore[arg-type]

        if plain in self.known.names:
            parts = self.known.names[plain]
            if not parts:
                return answer("left out", (), "You said that it is no part of this machine.")
            are_own = set(parts) <= set(self.known.own.values())
            return answer("own" if are_own else "recognised", parts, "remembered: you decided it")
        if plain in self.known.own and plain not in self.known.waiting | self.known.own_by_word:
            return answer("own", (self.known.own[plain],), "its name in the folder")
        read = understand(row.text)
        says = _says(read)
        if read.certain is not None and plain not in self.known.own_by_word:
            how = "its designation" if read.certain.confidence == 1.0 else "read from its words"
            return answer("recognised", (read.certain.designation,), how, understood=read, says=says)
        by_word = plain in self.known.own_by_word
        profile = self.known.profiles.get(plain, "")
        if profile and read.member is not None:
            member = replace(read.member, profile=profile, choices=())
            read = replace(read, member=member)
        settled = by_word or profile
        choices = () if settled else _choices(read, self.known.alike.get(plain, ()))
        own = self._own(row, plain, read, undecided=bool(choices))
        if choices:
            return answer(
                "asked", (own.id,), "not decided; counted as an own part", understood=read, says=says,
                choices=choices, question=read.obstacle or _question(read), own=own,
            )  # fmt: skip
        how = (
            "you said so"
            if by_word
            else read.obstacle
            or ("a profile cut to length" if read.member else "no standard part has such words")
        )
        return answer("own", (own.id,), how, understood=read, says=says, own=own)

    def _own(self, row: ListedRow, plain: str, read: Understood, *, undecided: bool) -> OwnPart:
        if plain in self.made:
            return self.made[plain]
        identity = self.known.own.get(plain, "")
        if not identity:
            identity = id_for(row.text, self.taken)
            self.taken.add(identity)
        own = OwnPart(id=identity, name=row.text, kind=read.kind, member=read.member, undecided=undecided)
        self.made[plain] = own
        return own


def pieces_key(name: str, quantity: str) -> tuple[str, str]:
    """By what a decision on pieces is remembered; unlike in a plain name, what is said of packs counts."""
    return " ".join(name.casefold().split()), quantity


def id_for(name: str, taken: Iterable[str]) -> str:
    """An id from a name: its letters and digits in small, words joined by hyphens, none given twice."""
    spelt = name.casefold().replace("ß", "ss").replace("×", "x")
    plain = unicodedata.normalize("NFKD", spelt).encode("ascii", "ignore").decode()
    slug = "-".join(re.findall(r"[a-z0-9]+", plain))[:LONGEST_ID].strip("-") or "part"
    used = taken if isinstance(taken, set | frozenset) else set(taken)  # no copy for each of many rows
    number, found = 2, slug
    while found in used:
        found = f"{slug}-{number}"
        number += 1
    return found


def _choices(read: Understood, alike: Sequence[Guess]) -> tuple[Reading, ...]:
    own = [
        Reading(designation=guess.part, confidence=guess.confidence)
        for guess in alike
        if guess.confidence >= LIKE_AN_OWN_PART
    ]
    slots = read.member.choices if read.member is not None and not read.member.profile else ()
    members = [
        Reading(designation=name, confidence=POOR if number else MAYBE) for number, name in enumerate(slots)
    ]
    found = {one.designation: one for one in (*read.readings, *members, *own)}
    return tuple(sorted(found.values(), key=lambda one: -one.confidence)[:MOST_CHOICES])


def _question(read: Understood) -> str:
    if read.member is not None and read.member.choices:
        return f"Its slot is not said; the usual one of this size: {read.member.choices[0]}."
    if len(read.readings) > 1:
        return "The words leave a choice."
    return "Its words fit this one part, and leave something unsaid: is it this?"


def _says(read: Understood) -> tuple[str, ...]:
    extra = [f"strength class {read.strength}"] if read.strength else []
    extra += [one for one in (read.coating, read.material) if one]
    return (*read.says, *([f"Said as well: {', '.join(dict.fromkeys(extra))}."] if extra else []))

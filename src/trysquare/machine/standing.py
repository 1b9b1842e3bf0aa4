"""Which paper's word stands on each line, and laying those words into the machine."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trysquare.ground.errors import ReadingError, nearest
from trysquare.machine.claims import MISSING, Claim
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Origin, Tree


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Conflict:
    """Two papers that cannot both be right, without precedence and without a ruling."""

    path: Path
    one: Claim
    other: Claim


@dataclass(slots=True, kw_only=True)
class Standing:
    """Settles all claims. `rank` orders the papers so that each follows those it takes precedence of."""

    tree: Tree
    claims: Sequence[Claim]
    over: Mapping[str, set[str]]
    rank: Mapping[str, int]
    ruled: Mapping[Path, str]
    conflicts: list[Conflict] = field(default_factory=list)
    voided: dict[str, str] = field(default_factory=dict)
    _stands: dict[int, bool] = field(default_factory=dict)  # by id of the claim
    _says: dict[Path, Claim] = field(default_factory=dict)  # the folder's own word where papers speak

    def settle(self) -> None:
        """Decides every line, units first, and lays what stands into the tree."""
        by_entry: dict[Path, list[Claim]] = {}
        for claim in self.claims:
            by_entry.setdefault(claim.entry, []).append(claim)
        for claim in self.claims:
            self._own_word(claim.path, claim.entry)
        for entry in sorted(by_entry, key=len):
            self._entry(entry, by_entry[entry], by_entry)

    def verdicts(self) -> Iterator[tuple[Claim, bool]]:
        """Each claim and whether it stands; the folder's own word too, where it comes from a paper."""
        for claim in (*self._says.values(), *self.claims):
            if claim.paper:
                yield claim, self._stands.get(id(claim), False)

    def speaking_on(self, path: Path) -> set[str]:
        """The papers that say something of a line or of a key of it ("": the folder without a paper)."""
        found = [claim for claim in self.claims if _related(claim.path, path)]
        own = [claim for claim in self._says.values() if _related(claim.path, path)]
        return {claim.paper for claim in (*found, *own)} if found else set()

    def _own_word(self, path: Path, entry: Path) -> None:
        value = self.tree.get(path)
        origin = self.tree.origin(path)
        if value is not None and origin is not None and path not in self._says:
            self._says[path] = Claim(
                paper=origin.paper, does="says", path=path, entry=entry, value=copy.deepcopy(value),
                reason="", page="", origin=origin,
            )  # fmt: skip

    def _entry(self, entry: Path, claims: Sequence[Claim], by_entry: Mapping[Path, Sequence[Claim]]) -> None:
        if len(entry) == 4 and self.tree.get(entry[:2]) is None:
            return  # its unit has gone: none of this stands
        whole = [claim for claim in claims if claim.whole]
        keys = [claim for claim in claims if not claim.whole]
        own = self._says.get(entry)
        if whole:
            within = [row for path, rows in by_entry.items() if path[:2] == entry != path for row in rows]
            self._whole(entry, whole, [*keys, *(within if entry[0] == "unit" else ())], own)
        if self.tree.get(entry) is None:
            return
        for path in dict.fromkeys(claim.path for claim in keys):
            self._key(path, [claim for claim in keys if claim.path == path], whole)

    def _whole(self, entry: Path, whole: Sequence[Claim], within: Sequence[Claim], own: Claim | None) -> None:
        """Whether a line is there, and in whose words."""
        saying = [*([own] if own else ()), *whole]
        gone = [claim for claim in saying if claim.gone]
        # Whoever changes a key of a line, or adds to a unit, wants it to be there.
        wanting = [*(claim for claim in saying if not claim.gone), *(within if gone else ())]
        top = max((*gone, *wanting), key=self._weight)
        if not self._weight(top)[0]:  # a ruling settles it
            for one in gone:
                self._note_conflicts(entry, one, wanting, once=True)
        self._note_all(entry, [claim for claim in saying if not claim.gone])
        if top.gone:
            for claim in gone:
                self._stands[id(claim)] = True
            self._take_out(entry, top)
            return
        stands = max((claim for claim in saying if not claim.gone), key=self._weight)
        for claim in saying:
            self._stands[id(claim)] = not claim.gone and (claim is stands or _same(claim.value, stands.value))
        if stands is not own:
            self._put_in(entry, stands)

    def _key(self, path: Path, claims: Sequence[Claim], whole: Sequence[Claim]) -> None:
        """Whose word stands on one key of a line that is there."""
        line = next((claim for claim in whole if self._stands.get(id(claim))), None)
        own = self._says.get(path)
        saying = list(claims)
        if line is not None:
            # The line is in some paper's words as a whole: that paper speaks on the key as well.
            value = line.value.get(path[-1], MISSING)
            if value is not MISSING or line.does == "replaces":
                spoken = Claim(
                    paper=line.paper, does="says", path=path, entry=line.entry, value=value,
                    reason=line.reason, page=line.page, origin=line.origin,
                )  # fmt: skip
                saying = [spoken, *saying]
        if own is not None and (line is None or self._ruling(path) == own.paper):
            saying = [own, *saying]
        self._note_all(path, saying)
        stands = max(saying, key=self._weight)
        for claim in saying:
            self._stands[id(claim)] = claim is stands or _same(claim.value, stands.value)
        if stands.does != "says" or stands is own:
            self._put_in(path, stands)

    def _ruling(self, path: Path) -> str:
        """The paper that a ruling takes for a path: the ruling on the key, else that on its line."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.ruled:
                return self.ruled[path[:end]]
        return ""

    def _weight(self, claim: Claim) -> tuple[bool, int, bool]:
        """The claim with the greatest weight stands: the ruled one, else that of the paper latest in order.

        What a paper changes goes before what the same paper (or the file that is its word) has there.
        """
        take = self._ruling(claim.path)
        ruled = bool(take) and take == claim.paper
        if claim.whole:  # ruled on a key of the line: the paper's word on the line is meant too
            ruled = any(
                paper == claim.paper for path, paper in self.ruled.items() if _related(path, claim.path)
            )
        return ruled, self.rank.get(claim.paper, -1), claim.does != "says"

    def _note_all(self, path: Path, saying: Sequence[Claim]) -> None:
        for index, one in enumerate(saying):
            self._note_conflicts(path, one, saying[index + 1 :])

    def _note_conflicts(self, path: Path, one: Claim, others: Sequence[Claim], *, once: bool = False) -> None:
        noted: set[str] = set()
        for other in others:
            if one.paper == other.paper or not one.paper or not other.paper or _same(one.value, other.value):
                continue
            if other.paper in self.over.get(one.paper, ()) or one.paper in self.over.get(other.paper, ()):
                continue
            if self._ruling(path) or self._ruling(other.path):
                continue
            if not once or other.paper not in noted:
                noted.add(other.paper)
                self.conflicts.append(Conflict(path=path, one=one, other=other))

    def _take_out(self, entry: Path, claim: Claim) -> None:
        parent = self.tree.get(entry[:-1])
        if isinstance(parent, dict):
            parent.pop(entry[-1], None)
        if entry[0] == "step":
            self.voided[str(entry[1])] = claim.paper

    def _put_in(self, path: Path, claim: Claim) -> None:
        value: Any = copy.deepcopy(claim.value)
        if path[0] == "unit" and len(path) == 2:
            value = {"unit": value, "place": {}, "joint": {}}
        if path[0] == "machine" and len(path) == 3:
            self.tree.lines["machine"].setdefault(path[1], {})
        parent = self.tree.get(path[:-1])
        if not isinstance(parent, dict):
            return  # the folder's own line is no table; its reading says so
        parent[path[-1]] = value
        if claim.whole:  # the origins of the words that this one takes the place of
            size = len(path)
            for old in [known for known in self.tree.origins if len(known) > size and known[:size] == path]:
                del self.tree.origins[old]
        self.tree.origins[path] = claim.origin
        if path[0] == "unit" and len(path) == 2:
            self.tree.origins[(*path, "unit")] = claim.origin


def _same(one: object, other: object) -> bool:
    """Whether two values say the same; a single text and a list of one are the same to the reader."""
    if isinstance(one, list) != isinstance(other, list) and not isinstance(one, dict):
        one, other = (row if isinstance(row, list) else [row] for row in (one, other))
    return bool(one == other)


def _related(one: Path, other: Path) -> bool:
    short = min(len(one), len(other))
    return one[:short] == other[:short]


def order_steps(tree: Tree, claims: Sequence[Claim], problems: list[ReadingError]) -> list[str]:
    """All steps in order, those included that some paper takes out: others may be anchored to them.

    Several steps added after one step follow each other in the order in which they are added. A step
    without an anchor comes last.
    """
    order = list(tree.step_order)
    waiting: list[tuple[str, Claim]] = []
    for claim in claims:
        if claim.entry[0] == "step" and claim.whole and not claim.gone:
            step = str(claim.entry[1])
            if claim.does == "replaces" and (claim.after or claim.before) and step in order:
                order.remove(step)
            if step not in order and all(step != name for name, _ in waiting):
                waiting.append((step, claim))
    known = {*order, *(step for step, _ in waiting)}
    last_after: dict[str, str] = {}
    while waiting:
        left: list[tuple[str, Claim]] = []
        for step, claim in waiting:
            anchor = claim.before or claim.after
            if not anchor or anchor not in known:
                if anchor:
                    problems.append(_anchor_problem(claim, anchor, nearest(anchor, known)))
                order.append(step)
            elif anchor not in order:
                left.append((step, claim))
            elif claim.before:
                order.insert(order.index(anchor), step)
            else:
                order.insert(order.index(last_after.get(anchor, anchor)) + 1, step)
                last_after[anchor] = step
        if len(left) == len(waiting):
            step, claim = left.pop(0)
            anchor = claim.before or claim.after
            problems.append(
                _anchor_problem(claim, anchor, "These steps are anchored to each other in a circle.")
            )
            order.append(step)
        waiting = left
    return order


def _anchor_problem(claim: Claim, anchor: str, remedy: str) -> ReadingError:
    key = "before" if claim.before else "after"
    origin = Origin(
        paper=claim.paper, file=claim.origin.file, path=(*claim.origin.path[:-1], key)
    )  # beside `with`
    return ReadingError(
        where=origin.file.where(origin.path), read=anchor, expected="the id of a step", remedy=remedy
    )

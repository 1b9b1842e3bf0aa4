"""What each paper says, line by line and key by key, as seen from that paper.

A paper sees the folder's own lines as changed by the papers it takes precedence of, and nothing of the
others: it can only change what is there for it. So the answer never depends on the files' names.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from trysquare.ground.errors import ReadingError, nearest
from trysquare.machine.folder import PaperFile
from trysquare.machine.schema import ID
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Origin, Raw, Tree, line_name

MISSING = object()
"""The value of what is taken away, or is not there."""

_SORTS = (("remove", "removes"), ("void", "voids"), ("add", "adds"), ("replace", "replaces"))
_DEPTH = {"part": 2, "step": 2, "machine": 3}
_IN_MACHINE = ("axis", "instrument", "characteristic")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Claim:
    """One paper's word on a whole line or on one key; `value` is MISSING where it removes or voids."""

    paper: str
    does: str  # adds, replaces, removes, voids; says: the folder's own line
    path: Path
    entry: Path  # the whole line that the path lies in
    value: Any
    reason: str
    page: str
    origin: Origin
    after: str = ""
    before: str = ""

    @property
    def whole(self) -> bool:
        """Whether it speaks of a whole line, not of one key."""
        return self.path == self.entry

    @property
    def gone(self) -> bool:
        return self.value is MISSING


@dataclass(slots=True)
class Claims:
    """All that is claimed so far, in the papers' order."""

    tree: Tree
    over: Mapping[str, set[str]]
    problems: list[ReadingError]
    reasons: Mapping[str, str]  # each paper's own reason, for rows that give none
    added_by: Mapping[str, Sequence[str]]  # line -> the papers that add it, read already or not
    rows: list[Claim] = field(default_factory=list)
    by_entry: dict[Path, list[Claim]] = field(default_factory=dict)  # of whole lines only
    said: set[tuple[str, Path]] = field(default_factory=set)  # keys that each paper has replaced

    def read(self, paper: PaperFile) -> None:
        """Adds all that a paper says; lines that are not there for it become problems."""
        for sort, does in _SORTS:
            for index, row in enumerate(paper.raw.get(sort, [])):
                self._row(paper, does, row, (sort, index))

    def _row(self, paper: PaperFile, does: str, row: Raw, at: Path) -> None:
        line = row.get("line") or (f"step.{row['step']}" if "step" in row else "")
        if not line:
            return  # said already
        origin = Origin(paper=paper.id, file=paper.file, path=(*at, "step" if does == "voids" else "line"))
        entry = self._entry(line, origin)
        if entry is None or not self._fits(entry, line, does, paper.id, origin):
            return
        if does in ("removes", "voids"):
            self._keep(self._claim(row, does, entry, entry, MISSING, origin))
            return
        value = row.get("with")
        origin = Origin(paper=paper.id, file=paper.file, path=(*at, "with"))
        if not isinstance(value, dict) or not value:
            if "with" in row:
                self._problem(origin, value, "a table of keys", "Write with = { key = value, … }.")
            return
        if entry[0] == "step" and value.get("id", entry[1]) != entry[1]:
            self._problem(origin, value["id"], f"the id '{entry[1]}', as in line", "An id is kept for ever.")
        elif does == "adds":
            self._keep(self._add(row, entry, value, origin))
        else:
            for key, one in value.items():
                self._replace(
                    row, entry, key, one, Origin(paper=paper.id, file=paper.file, path=(*at, "with", key))
                )

    def _add(self, row: Raw, entry: Path, value: Raw, origin: Origin) -> Claim:
        """A new line; after a removal by the same paper it takes the old line's place."""
        own = [claim for claim in self.by_entry.get(entry, ()) if claim.paper == origin.paper]
        for claim in own:
            self.rows.remove(claim)
            self.by_entry[entry].remove(claim)
        if entry[0] == "step":
            value = {"id": entry[1], **value}
        anchors = [key for key in ("after", "before") if key in row]
        if anchors and (entry[0] != "step" or len(anchors) == 2):
            expected = "after or before, and only with a step"
            self._problem(origin, " and ".join(anchors), expected, "Keep one of the two, for a step only.")
        return self._claim(row, "replaces" if own else "adds", entry, entry, value, origin)

    def _replace(self, row: Raw, entry: Path, key: str, value: Any, origin: Origin) -> None:
        path = (*entry, "unit", key) if entry[0] == "unit" and len(entry) == 2 else (*entry, key)
        if (origin.paper, path) in self.said:
            self._problem(origin, line_name(path), "each key once in a paper", "Keep one of the two.")
            return
        self.said.add((origin.paper, path))
        self._keep(self._claim(row, "replaces", path, entry, value, origin))

    def _claim(self, row: Raw, does: str, path: Path, entry: Path, value: Any, origin: Origin) -> Claim:
        return Claim(
            paper=origin.paper,
            does=does,
            path=path,
            entry=entry,
            value=value,
            reason=row.get("reason", "") or self.reasons.get(origin.paper, ""),
            page=row.get("page", ""),
            origin=origin,
            after=row.get("after", ""),
            before=row.get("before", ""),
        )

    def _keep(self, claim: Claim) -> None:
        self.rows.append(claim)
        if claim.whole:
            self.by_entry.setdefault(claim.entry, []).append(claim)

    def _entry(self, line: str, origin: Origin) -> Path | None:
        """The path of a whole line."""
        words = tuple(line.split("."))
        good = all(ID.fullmatch(word) for word in words) and (
            len(words) == _DEPTH.get(words[0], 0)
            or (
                words[0] == "unit"
                and (len(words) == 2 or (len(words) == 4 and words[2] in ("place", "joint")))
            )
        )
        if good and (words[0] != "machine" or words[1] in _IN_MACHINE):
            return words
        self._problem(
            origin,
            line,
            "a line such as part.beam, step.feet, unit.frame, unit.frame.place.beam, "
            "unit.frame.joint.corners or machine.axis.x",
            "Name the whole line; keys go under with.",
        )
        return None

    def _is_there(self, entry: Path, papers: Iterable[str]) -> bool:
        """Whether a line is there once these papers have spoken."""
        there = self.tree.get(entry) is not None
        claims = self.by_entry.get(entry, [])
        if entry[0] == "unit" and len(entry) == 4 and self.by_entry.get(entry[:2]):
            both = {id(claim) for claim in (*claims, *self.by_entry[entry[:2]])}
            claims = [claim for claim in self.rows if id(claim) in both]
        for claim in claims:
            if claim.paper in papers:
                # A unit that is added, or put in another's place, begins empty.
                there = claim.entry == entry and not claim.gone
        return there

    def _fits(self, entry: Path, line: str, does: str, paper: str, origin: Origin) -> bool:
        seen = {paper, *self.over.get(paper, ())}
        there = self._is_there(entry, seen)
        if does == "adds" and there:
            remedy = "Use replace to change its keys, or remove it in the same paper."
            self._problem(origin, line, "a line that is not there yet", remedy)
            return False
        if does == "adds" and len(entry) == 4 and not self._is_there(entry[:2], seen):
            known = [name for name in self._names(("unit",)) if self._is_there(("unit", name), seen)]
            remedy = nearest(str(entry[1]), known)
            self._problem(origin, line, f"a unit '{entry[1]}' that is there", remedy)
            return False
        if does != "adds" and not there:
            self._problem(origin, line, "a line that is there", self._why_not(entry, line, seen))
            return False
        return True

    def _names(self, above: Path) -> set[str]:
        here = self.tree.get(above)
        names = set(here) if isinstance(here, dict) else set()
        return names | {str(path[-1]) for path in self.by_entry if path[:-1] == above}

    def _why_not(self, entry: Path, line: str, seen: set[str]) -> str:
        for path in (entry, entry[:2]):
            for claim in reversed(self.by_entry.get(path, [])):
                if claim.paper in seen and claim.gone:
                    return f"Paper '{claim.paper}' {claim.does} it; this paper comes after it."
        for paper in self.added_by.get(line, ()):
            if paper not in seen:
                return f"Paper '{paper}' adds it; if this paper follows it, name it under over."
        known = (line_name((*entry[:-1], name)) for name in self._names(entry[:-1]))
        return nearest(line, known)

    def _problem(self, origin: Origin, read: object, expected: str, remedy: str) -> None:
        where = origin.file.where(origin.path)
        self.problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

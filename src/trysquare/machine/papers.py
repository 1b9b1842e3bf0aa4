"""Papers laid over the machine: who says so, who overrules whom, and where they contradict.

A paper takes precedence of the papers it is written `over` (and of those they are over); every
upgrade, modification and erratum takes precedence of base papers. Two papers neither of which takes
precedence of the other contradict each other when they say different things of one line; that is a
finding until a ruling names the one that is right.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from trysquare.ground.errors import ReadingError, Where, nearest, shown
from trysquare.ground.findings import Finding
from trysquare.machine.folder import Folder, PaperFile
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Origin, Tree
from trysquare.machine.values import Paper, PaperKind, Ruling, Saying

_RANK = {kind: rank for rank, kind in enumerate(PaperKind)}
_GONE = object()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Claim:
    """One paper's word on one path; `value` is _GONE where it removes or voids."""

    paper: str
    does: str
    path: Path
    value: Any
    reason: str
    origin: Origin
    after: str = ""
    before: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """The effective lines and everything the papers said on the way."""

    tree: Tree
    papers: tuple[Paper, ...]
    sayings: tuple[Saying, ...]
    rulings: tuple[Ruling, ...]
    aliases: Mapping[str, str]
    voided: Mapping[str, str]  # step id -> paper that voids it
    findings: tuple[Finding, ...]


def merge_papers(folder: Folder) -> Merged:
    """Lays all papers over the folder's lines. Problems go to `folder.problems`."""
    papers = _papers(folder)
    precedence = _precedence(papers, folder)
    rulings = _rulings(folder, papers)
    ordered = _in_order(folder.papers, papers, precedence)
    tree = folder.tree
    claims: dict[Path, list[_Claim]] = {}
    sayings: list[Saying] = []
    aliases: dict[str, str] = {}
    voided: dict[str, str] = {}
    for paper in ordered:
        for claim in _claims(paper, folder, claims):
            claims.setdefault(claim.path, []).append(claim)
        for row in paper.raw.get("rename", []):
            if "part" in row and "to" in row:
                aliases[row["to"]] = row["part"]
    findings = _contradictions(claims, precedence, rulings, papers, tree)
    ruled = {ruling.line: ruling.take for ruling in rulings}
    for path in sorted(claims, key=lambda path: (len(path), claims[path][0].does != "adds")):
        winner = _winner(claims[path], precedence, ruled)
        for claim in claims[path]:
            sayings.append(_saying(claim, stands=claim is winner))
        if winner is not None and _apply(tree, winner) and winner.does == "voids":
            voided[str(path[1])] = winner.paper
    for ruling in rulings:
        path = tuple(ruling.line.split("."))
        if not any(_related(path, claimed) for claimed in claims):
            folder.problems.append(
                ReadingError(
                    where=ruling.where or Where(file="rulings.toml"),
                    read=ruling.line,
                    expected="a line on which papers have something to say",
                    remedy=nearest(ruling.line, (".".join(map(str, claimed)) for claimed in claims)),
                )
            )
    return Merged(
        tree=tree,
        papers=tuple(papers.values()),
        sayings=tuple(sayings),
        rulings=rulings,
        aliases=aliases,
        voided=voided,
        findings=findings,
    )


def _papers(folder: Folder) -> dict[str, Paper]:
    papers: dict[str, Paper] = {}
    for file in folder.papers:
        raw = file.raw
        if "kind" not in raw:
            continue
        papers[file.id] = Paper(
            id=file.id,
            title=raw.get("title", file.id),
            kind=PaperKind(raw["kind"]),
            edition=raw.get("edition", ""),
            over=tuple(raw.get("over", ())),
            reason=raw.get("reason", ""),
            where=Where(file=file.file.name),
        )
    for origin in folder.tree.origins.values():
        if origin.paper and origin.paper not in papers:
            folder.problems.append(
                ReadingError(
                    where=Where(file=origin.file.name, line=origin.file.line(("paper",)), key="paper"),
                    read=origin.paper,
                    expected="the id of a paper under papers/",
                    remedy=nearest(origin.paper, papers),
                )
            )
            papers[origin.paper] = Paper(
                id=origin.paper, title=origin.paper, kind=PaperKind.BASE, edition="", over=()
            )
    return papers


def _precedence(papers: Mapping[str, Paper], folder: Folder) -> dict[str, set[str]]:
    """For each paper, the papers it takes precedence of. Circles become problems and are cut."""
    over: dict[str, set[str]] = {}
    for paper in papers.values():
        for below in paper.over:
            if below not in papers:
                folder.problems.append(
                    ReadingError(
                        where=Where(file=f"papers/{paper.id}.toml", key="over"),
                        read=below,
                        expected="the id of a paper under papers/",
                        remedy=nearest(below, papers),
                    )
                )
    for paper in papers.values():
        seen: set[str] = set()
        todo = [below for below in paper.over if below in papers]
        while todo:
            below = todo.pop()
            if below in seen:
                continue
            seen.add(below)
            todo.extend(further for further in papers[below].over if further in papers)
        if paper.id in seen:
            folder.problems.append(
                ReadingError(
                    where=Where(file=f"papers/{paper.id}.toml", key="over"),
                    read=", ".join(paper.over),
                    expected="papers that are not themselves over this one",
                    remedy="Take one 'over' out of the circle.",
                )
            )
            seen.discard(paper.id)
        if paper.kind is not PaperKind.BASE:
            seen |= {other.id for other in papers.values() if other.kind is PaperKind.BASE}
        over[paper.id] = seen
    return over


def _in_order(
    files: Iterable[PaperFile], papers: Mapping[str, Paper], over: Mapping[str, set[str]]
) -> list[PaperFile]:
    """Papers so that each comes after those it takes precedence of."""
    known = [file for file in files if file.id in papers]
    return sorted(known, key=lambda file: (len(over[file.id]), _RANK[papers[file.id].kind], file.id))


def _rulings(folder: Folder, papers: Mapping[str, Paper]) -> tuple[Ruling, ...]:
    rulings: list[Ruling] = []
    for row, where in folder.rulings:
        if "line" not in row or "take" not in row:
            continue
        if row["take"] not in papers:
            folder.problems.append(
                ReadingError(
                    where=where,
                    read=row["take"],
                    expected="the id of a paper under papers/",
                    remedy=nearest(row["take"], papers),
                )
            )
            continue
        rulings.append(Ruling(line=row["line"], take=row["take"], reason=row.get("reason", ""), where=where))
    return tuple(rulings)


def _claims(paper: PaperFile, folder: Folder, earlier: Mapping[Path, list[_Claim]]) -> list[_Claim]:
    """What a paper says, line by line and key by key; lines that are not there become problems."""
    claims: list[_Claim] = []
    tree = folder.tree
    for sort, does in (("add", "adds"), ("replace", "replaces"), ("remove", "removes"), ("void", "voids")):
        for index, row in enumerate(paper.raw.get(sort, [])):
            line = row.get("line") or (f"step.{row['step']}" if "step" in row else "")
            if not line:
                continue
            at: Path = (sort, index)
            origin = Origin(paper=paper.id, file=paper.file, path=at)
            path = _entry_path(line, folder, origin)
            if path is None or not _line_fits(
                path, line, does, folder, origin, [*earlier, *(c.path for c in claims)]
            ):
                continue
            reason = row.get("reason", "")
            if does in ("removes", "voids"):
                claims.append(
                    _Claim(paper=paper.id, does=does, path=path, value=_GONE, reason=reason, origin=origin)
                )
                continue
            if not isinstance(row.get("with"), dict) or not row["with"]:
                folder.problems.append(
                    _problem(origin, row.get("with"), "a table of keys", "Write with = { key = value, … }.")
                )
                continue
            if does == "adds":
                claims.append(
                    _Claim(
                        paper=paper.id,
                        does=does,
                        path=path,
                        value=row["with"],
                        reason=reason,
                        origin=Origin(paper=paper.id, file=paper.file, path=(*at, "with")),
                        after=row.get("after", ""),
                        before=row.get("before", ""),
                    )
                )
                continue
            for key, value in row["with"].items():
                claims.append(
                    _Claim(
                        paper=paper.id,
                        does=does,
                        path=(*path, key),
                        value=value,
                        reason=reason,
                        origin=Origin(paper=paper.id, file=paper.file, path=(*at, "with", key)),
                    )
                )
    _check_step_anchors(claims, earlier, tree, folder)
    return claims


def _check_step_anchors(
    claims: list[_Claim], earlier: Mapping[Path, list[_Claim]], tree: Tree, folder: Folder
) -> None:
    known = set(tree.step_order) | {str(path[1]) for path in earlier if path[0] == "step"}
    known |= {str(claim.path[1]) for claim in claims if claim.path[0] == "step" and claim.does == "adds"}
    for claim in claims:
        for anchor in (claim.after, claim.before):
            if anchor and anchor not in known:
                folder.problems.append(
                    _problem(claim.origin, anchor, "the id of a step", nearest(anchor, known))
                )


def _problem(origin: Origin, read: object, expected: str, remedy: str) -> ReadingError:
    return ReadingError(
        where=Where(
            file=origin.file.name,
            line=origin.file.line(origin.path),
            key=".".join(str(part) for part in origin.path if not isinstance(part, int)),
        ),
        read=read,
        expected=expected,
        remedy=remedy,
    )


_DEPTH = {"part": 2, "step": 2, "machine": 3}


def _entry_path(line: str, folder: Folder, origin: Origin) -> Path | None:
    """The path of a whole entry; unit heads are ("unit", name, "unit")."""
    words = tuple(line.split("."))
    if words[0] in _DEPTH and len(words) == _DEPTH[words[0]] and all(words):
        return words
    if words[0] == "unit" and len(words) == 2:
        return words
    if words[0] == "unit" and len(words) == 4 and words[2] in ("place", "joint"):
        return words
    folder.problems.append(
        _problem(
            origin,
            line,
            "a line such as part.beam, step.feet, unit.frame, unit.frame.place.beam, unit.frame.joint.corners "
            "or machine.axis.x",
            "Name the whole entry; the keys go under with.",
        )
    )
    return None


def _line_fits(path: Path, line: str, does: str, folder: Folder, origin: Origin, others: list[Path]) -> bool:
    there = folder.tree.get(path) is not None or any(other[: len(path)] == path for other in others)
    if does == "adds" and there and folder.tree.get(path) is not None:
        folder.problems.append(
            _problem(origin, line, "a line that is not there yet", "Use replace to change its keys.")
        )
        return False
    if does != "adds" and not there:
        siblings = folder.tree.get(path[:-1]) or {}
        names = (
            [".".join(map(str, (*path[:-1], name))) for name in siblings]
            if isinstance(siblings, dict)
            else []
        )
        names += [
            ".".join(map(str, other[: len(path)])) for other in others if other[: len(path) - 1] == path[:-1]
        ]
        folder.problems.append(_problem(origin, line, "a line that is there", nearest(line, names)))
        return False
    if does == "adds" and path[0] == "unit" and len(path) == 4:
        unit = path[:2]
        if folder.tree.get(unit) is None and not any(other == unit for other in others):
            folder.problems.append(
                _problem(
                    origin,
                    line,
                    f"a unit '{path[1]}' that is there",
                    nearest(str(path[1]), folder.tree.lines["unit"]),
                )
            )
            return False
    return True


def _related(one: Path, other: Path) -> bool:
    short = min(len(one), len(other))
    return one[:short] == other[:short]


def _contradictions(
    claims: Mapping[Path, list[_Claim]],
    over: Mapping[str, set[str]],
    rulings: tuple[Ruling, ...],
    papers: Mapping[str, Paper],
    tree: Tree,
) -> tuple[Finding, ...]:
    """Pairs of claims that cannot both stand, without precedence and without a ruling."""
    findings: list[Finding] = []
    ruled = [tuple(ruling.line.split(".")) for ruling in rulings]
    flat = [claim for rows in claims.values() for claim in rows]
    by_entry: dict[Path, list[_Claim]] = {}
    for claim in flat:
        by_entry.setdefault(claim.path[: 4 if claim.path[0] == "unit" else 2], []).append(claim)
    for rows in by_entry.values():
        for index, one in enumerate(rows):
            for other in rows[index + 1 :]:
                if one.paper == other.paper or not _related(one.path, other.path):
                    continue
                if one.path == other.path and one.value == other.value:
                    continue
                if one.path != other.path and _GONE not in (one.value, other.value):
                    continue  # a key replaced on a line that another paper adds
                if other.paper in over.get(one.paper, ()) or one.paper in over.get(other.paper, ()):
                    continue
                line = max(one.path, other.path, key=len)
                if any(_related(line, path) and len(path) <= len(line) for path in ruled):
                    continue
                says = f"{_titled(papers, one.paper)} {_word(one)}, {_titled(papers, other.paper)} {_word(other)}"
                findings.append(
                    Finding(
                        code="papers-contradict",
                        says=f"{'.'.join(map(str, line))}: {says}.",
                        remedy="Write a [[ruling]] in rulings.toml: line, take (the paper that is right), reason.",
                        step=str(line[1]) if line[0] == "step" else "",
                        where=Where(
                            file=other.origin.file.name,
                            line=other.origin.file.line(other.origin.path),
                            key=".".join(map(str, line)),
                        ),
                    )
                )
    return tuple(findings)


def _titled(papers: Mapping[str, Paper], paper: str) -> str:
    found = papers.get(paper)
    return f"“{found.title}” (edition {found.edition})" if found else paper


def _word(claim: _Claim) -> str:
    if claim.value is _GONE:
        return claim.does + " it"
    return f"says {shown(claim.value, 40)}"


def _winner(rows: list[_Claim], over: Mapping[str, set[str]], ruled: Mapping[str, str]) -> _Claim | None:
    """The claim that stands; None when a ruling gives the line back to a paper that made no claim."""
    for end in range(len(rows[0].path), 0, -1):
        take = ruled.get(".".join(map(str, rows[0].path[:end])))
        if take is not None:
            chosen = [claim for claim in rows if claim.paper == take]
            return chosen[-1] if chosen else None
    best = rows[0]
    for claim in rows[1:]:
        if best.paper not in over or claim.paper not in over or claim.paper not in over[best.paper]:
            best = claim
    return best


def _saying(claim: _Claim, *, stands: bool) -> Saying:
    return Saying(
        line=".".join(map(str, claim.path)),
        paper=claim.paper,
        does=claim.does,
        reason=claim.reason,
        read="" if claim.value is _GONE else shown(claim.value),
        stands=stands,
        where=Where(file=claim.origin.file.name, line=claim.origin.file.line(claim.origin.path)),
    )


def _apply(tree: Tree, claim: _Claim) -> bool:
    """Lays one claim into the tree; False when its line has gone meanwhile."""
    path = claim.path
    if claim.value is _GONE:
        parent = tree.get(path[:-1])
        if isinstance(parent, dict):
            parent.pop(path[-1], None)
        if path[0] == "step" and len(path) == 2 and path[1] in tree.step_order:
            tree.step_order.remove(str(path[1]))
        return True
    if claim.does == "adds" and path[0] == "unit" and len(path) == 2:
        value: Any = {"unit": copy.deepcopy(claim.value), "place": {}, "joint": {}}
    else:
        value = copy.deepcopy(claim.value)
    parent = tree.get(path[:-1])
    if not isinstance(parent, dict):
        if path[0] == "machine" and claim.does == "adds":
            parent = tree.lines["machine"].setdefault(path[1], {})
        else:
            return False  # the line itself was removed by a paper that takes precedence
    parent[path[-1]] = value
    tree.origins[path] = claim.origin
    if path[0] == "step" and len(path) == 2:
        value.setdefault("id", path[1])
        _put_step(tree, str(path[1]), claim)
    return True


def _put_step(tree: Tree, step: str, claim: _Claim) -> None:
    order = tree.step_order
    if step in order:
        return
    if claim.before in order:
        order.insert(order.index(claim.before), step)
    elif claim.after in order:
        order.insert(order.index(claim.after) + 1, step)
    else:
        order.append(step)

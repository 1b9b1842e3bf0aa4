"""Papers laid over the machine: who says so, who overrules whom, and where they contradict.

A paper takes precedence of the papers it is written `over` (and of those they are over); every
upgrade, modification and erratum takes precedence of base papers. What a file says without naming a
paper gives way to any paper. Two papers neither of which takes precedence of the other contradict
each other when they say different things of one line; that is a finding until a ruling names the
one that is right. Until then the one later in the order stands, so that the rest can be checked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trysquare.ground.errors import ReadingError, Where, nearest, shown
from trysquare.ground.findings import Finding
from trysquare.machine.claims import Claim, Claims
from trysquare.machine.folder import Folder, PaperFile
from trysquare.machine.standing import Conflict, Standing, order_steps
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Tree, line_name, line_path
from trysquare.machine.values import Paper, PaperKind, Ruling, Saying

_RANK = {kind: rank for rank, kind in enumerate(PaperKind)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """Another name that a paper, or a part itself, gives to a part."""

    name: str
    part: str
    paper: str
    where: Where


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """The effective lines and everything the papers said on the way."""

    tree: Tree
    papers: tuple[Paper, ...]
    sayings: tuple[Saying, ...]
    rulings: tuple[Ruling, ...]
    aliases: Mapping[str, str]
    alias_rows: tuple[Alias, ...]
    voided: Mapping[str, str]  # step id -> paper that takes it out
    findings: tuple[Finding, ...]


def merge_papers(folder: Folder) -> Merged:
    """Lays all papers over the folder's lines. Problems go to `folder.problems`."""
    papers = _papers(folder)
    over = _precedence(papers, folder)
    rulings = _rulings(folder, papers)
    ordered = _in_order(folder.papers, papers, over)
    reasons = {paper.id: paper.reason for paper in papers.values()}
    claims = Claims(folder.tree, over, folder.problems, reasons, _added_by(ordered))
    renames: list[Alias] = []
    for paper in ordered:
        claims.read(paper)
        renames += _renames(paper)
    standing = Standing(
        tree=folder.tree,
        claims=claims.rows,
        over=over,
        rank={paper.id: rank for rank, paper in enumerate(ordered)},
        ruled={line_path(ruling.line): ruling.take for ruling in rulings},
    )
    steps = order_steps(folder.tree, claims.rows, folder.problems)
    standing.settle()
    folder.tree.step_order = [step for step in steps if step in folder.tree.lines["step"]]
    _check_rulings(rulings, standing, folder)
    return Merged(
        tree=folder.tree,
        papers=tuple(papers.values()),
        sayings=(
            *(_saying(claim, stands=stands) for claim, stands in standing.verdicts()),
            *(_renaming(alias) for alias in renames),
        ),
        rulings=rulings,
        aliases={alias.name: alias.part for alias in renames},
        alias_rows=tuple(renames),
        voided=standing.voided,
        findings=tuple(_finding(conflict, papers) for conflict in standing.conflicts),
    )


def _papers(folder: Folder) -> dict[str, Paper]:
    papers: dict[str, Paper] = {}
    for file in folder.papers:
        raw = file.raw
        papers[file.id] = Paper(
            id=file.id,
            title=raw.get("title", file.id),
            kind=PaperKind(raw.get("kind", PaperKind.BASE)),  # its absence is a problem already
            edition=raw.get("edition", ""),
            over=tuple(raw.get("over", ())),
            reason=raw.get("reason", ""),
            where=Where(file=file.file.name),
        )
    for name, source in folder.said_by:
        if name not in papers:
            folder.problems.append(_unknown_paper(name, source.where(("paper",)), papers))
    return papers


def _unknown_paper(name: str, where: Where, papers: Iterable[str]) -> ReadingError:
    expected = "the id of a paper under papers/"
    return ReadingError(where=where, read=name, expected=expected, remedy=nearest(name, papers))


def _precedence(papers: Mapping[str, Paper], folder: Folder) -> dict[str, set[str]]:
    """For each paper, the papers it takes precedence of. Circles become problems and are cut."""
    files = {file.id: file.file for file in folder.papers}
    over: dict[str, set[str]] = {}
    in_circle: set[str] = set()
    for paper in papers.values():

        def problem(read: str, expected: str, remedy: str, paper: Paper = paper) -> None:
            where = files[paper.id].where(("over",))
            folder.problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

        for below in paper.over:
            if below not in papers:
                folder.problems.append(_unknown_paper(below, files[paper.id].where(("over",)), papers))
            elif paper.kind is PaperKind.BASE and papers[below].kind is not PaperKind.BASE:
                remedy = "Correct the kind of one of the two papers."
                problem(below, "base papers only, as this paper's kind is base", remedy)
        seen: set[str] = set()
        todo = [below for below in paper.over if below in papers]
        while todo:
            below = todo.pop()
            if below not in seen:
                seen.add(below)
                todo.extend(further for further in papers[below].over if further in papers)
        if paper.id in seen:
            seen.discard(paper.id)
            if paper.id not in in_circle:  # one problem for the whole circle
                expected = "papers that are not themselves over this one"
                problem(", ".join(paper.over), expected, "Take one 'over' out of the circle.")
            in_circle |= {paper.id, *(other for other in seen if paper.id in papers[other].over), *seen}
        if paper.kind is not PaperKind.BASE:
            seen |= {other.id for other in papers.values() if other.kind is PaperKind.BASE}
        over[paper.id] = seen
    return over


def _in_order(
    files: Iterable[PaperFile], papers: Mapping[str, Paper], over: Mapping[str, set[str]]
) -> list[PaperFile]:
    """Papers so that each comes after those it takes precedence of."""
    return sorted(files, key=lambda file: (len(over[file.id]), _RANK[papers[file.id].kind], file.id))


def _rulings(folder: Folder, papers: Mapping[str, Paper]) -> tuple[Ruling, ...]:
    rulings: dict[str, Ruling] = {}
    for row, where in folder.rulings:
        if "line" not in row or "take" not in row:
            continue
        line = line_name(line_path(row["line"]))
        if row["take"] not in papers:
            folder.problems.append(_unknown_paper(row["take"], where, papers))
        elif line in rulings:
            expected = f"one ruling for each line; '{line}' is ruled on already"
            remedy = "Keep one of the two."
            folder.problems.append(
                ReadingError(where=where, read=row["take"], expected=expected, remedy=remedy)
            )
        else:
            rulings[line] = Ruling(line=line, take=row["take"], reason=row.get("reason", ""), where=where)
    return tuple(rulings.values())


def _check_rulings(rulings: Iterable[Ruling], standing: Standing, folder: Folder) -> None:
    """A ruling must be about a line on which papers speak, and for one of the papers that do."""
    for ruling in rulings:
        path = line_path(ruling.line)
        speaking = standing.speaking_on(path)
        if not speaking:
            read, expected = ruling.line, "a line on which papers have something to say"
            remedy = nearest(ruling.line, (line_name(claim.path) for claim in standing.claims))
        elif ruling.take not in speaking:
            read, expected = ruling.take, "a paper that says something of this line"
            remedy = nearest(ruling.take, (paper for paper in speaking if paper))
        else:
            continue
        where = ruling.where or Where(file="rulings.toml")
        folder.problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))


def _added_by(papers: Iterable[PaperFile]) -> dict[str, list[str]]:
    added: dict[str, list[str]] = {}
    for paper in papers:
        for row in paper.raw.get("add", []):
            added.setdefault(row.get("line", ""), []).append(paper.id)
    return added


def _renames(paper: PaperFile) -> list[Alias]:
    return [
        Alias(name=row["to"], part=row["part"], paper=paper.id, where=paper.file.where(("rename", index)))
        for index, row in enumerate(paper.raw.get("rename", []))
        if "part" in row and "to" in row
    ]


def _renaming(alias: Alias) -> Saying:
    return Saying(
        line=f"part.{alias.part}",
        paper=alias.paper,
        does="renames",
        reason="",
        read=shown(alias.name),
        stands=True,
        where=alias.where,
    )


def _finding(conflict: Conflict, papers: Mapping[str, Paper]) -> Finding:
    one, other = conflict.one, conflict.other
    line = line_name(conflict.path)
    says = ", ".join(f"{_titled(papers, claim.paper)} {_word(claim)}" for claim in (one, other))
    return Finding(
        code="papers-contradict",
        says=f"{line}: {says}.",
        remedy="Write a [[ruling]] in rulings.toml: line, take (the paper that is right), reason.",
        step=str(conflict.path[1]) if conflict.path[0] == "step" else "",
        where=_where_said(other, line),
    )


def _where_said(claim: Claim, line: str) -> Where:
    origin = claim.origin
    return Where(file=origin.file.name, line=origin.file.line(origin.path), key=line)


def _titled(papers: Mapping[str, Paper], paper: str) -> str:
    found = papers.get(paper)
    return f"“{found.title}” (edition {found.edition})" if found else paper


def _word(claim: Claim) -> str:
    if claim.gone:
        return claim.does + " it"
    if claim.whole and claim.does == "says":
        return "has it"
    return f"says {shown(claim.value, 40)}"


def _saying(claim: Claim, *, stands: bool) -> Saying:
    line = line_name(claim.path)
    return Saying(
        line=line,
        paper=claim.paper,
        does=claim.does,
        reason=claim.reason,
        read="" if claim.gone else shown(claim.value),
        stands=stands,
        page=claim.page,
        where=_where_said(claim, line),
    )


def sayings_on(sayings: Sequence[Saying], path: Path) -> tuple[Saying, ...]:
    """The sayings about a line, about what it lies in, or about a key of it."""
    found = []
    for saying in sayings:
        other = line_path(saying.line)
        short = min(len(path), len(other))
        if path[:short] == other[:short]:
            found.append(saying)
    return tuple(found)

"""Other names of a part: what papers call it. A name is never a second part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.ground.errors import ReadingError, nearest
from trysquare.machine.papers import Alias
from trysquare.machine.tree import Tree


def resolve_aliases(tree: Tree, renames: Sequence[Alias], problems: list[ReadingError]) -> dict[str, str]:
    """Each other name with the part it means: an own id, or a designation as the catalogue writes it.

    Names come from the papers' renames and from `also_called`. A name that is a part itself, or that
    means two parts, is a problem.
    """
    own = tree.lines["part"]
    rows = [*renames, *_also_called(tree)]
    names = {row.name: row.part for row in rows}
    found: dict[str, str] = {}
    for row in rows:

        def problem(read: str, expected: str, remedy: str, row: Alias = row) -> None:
            problems.append(ReadingError(where=row.where, read=read, expected=expected, remedy=remedy))

        part = _end(row.part, names, own)
        if row.name in own:
            if part != row.name:
                remedy = f"'{row.name}' is a part of parts.toml; another name stands for one part only."
                problem(row.name, "a name that is not itself a part's id", remedy)
        elif part not in own and _designation(part) is None:
            remedy = nearest(row.part, [*own, *names])
            problem(row.part, "a part of parts.toml or a designation of the catalogue", remedy)
        elif _designation(row.name) not in (None, _designation(part)):
            remedy = f"'{row.name}' is a part of the catalogue; to use it instead, replace the part."
            problem(row.name, "a name that is not itself a part's designation", remedy)
        elif found.get(row.name, part) != part:
            remedy = "Papers that use one name for two parts: leave this one out and write the part's id."
            problem(row.name, f"a name of one part; it means '{found[row.name]}' already", remedy)
        else:
            found[row.name] = part if part in own else _designation(part) or part
    return found


def _also_called(tree: Tree) -> list[Alias]:
    rows: list[Alias] = []
    for part, raw in tree.lines["part"].items():
        words = raw.get("also_called", ()) if isinstance(raw, dict) else ()
        for word in [words] if isinstance(words, str) else words if isinstance(words, list) else ():
            if isinstance(word, str) and word.strip():
                path = ("part", part, "also_called")
                rows.append(Alias(name=word, part=part, paper=tree.paper(path), where=tree.where(path)))
    return rows


def _end(word: str, names: Mapping[str, str], own: Mapping[str, object]) -> str:
    """The part at the end of a chain of names; a circle ends where it is met again."""
    seen: set[str] = set()
    while word not in own and word in names and word not in seen:
        seen.add(word)
        word = names[word]
    return word


def _designation(word: str) -> str | None:
    try:
        return lookup(word).designation
    except UnknownDesignation:
        return None

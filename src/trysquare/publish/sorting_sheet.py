"""The look-alike key on paper: questions and answers down the page, a drawing and a box for each letter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from trysquare.machine.values import Kind, Machine
from trysquare.publish.drawing import Drawing
from trysquare.publish.sorts import Labelled, labelled_sorts, sort_drawing
from trysquare.publish.typst_page import Pages, breakable, set_pages
from trysquare.stock.key import Key, KeyNode, Section, pile_name, sorting_sheet
from trysquare.stock.key_words import branch_words, how_words, look_alikes
from trysquare.stock.letters import KeptLetter
from trysquare.stock.miscount import Explanation, off_by_one

DRAWN_MM = (62.0, 9.0)  # room of a drawing on its row
FASTENER_MM = (72.0, 20.0)  # a fastener is drawn true to size, and most fit this
LIKELY = 0.05  # what is less probable is not worth a word on paper
MOST_LIKELY = 3  # so many explanations of a wrong count


def sorting_sheet_pdf(
    machine: Machine, paper: str, kept: Iterable[KeptLetter] = (), kinds: Iterable[Kind] = ()
) -> Pages:
    """The whole key of a machine, one part a form. `kinds`: only these parts; none: all."""
    facts = {"machine": machine.name, "paper": paper, **sorting_facts(machine, kept, kinds)}
    return set_pages("sorting_sheet", facts, title=f"{machine.name}: sorting sheet")


def sorting_facts(
    machine: Machine, kept: Iterable[KeptLetter] = (), kinds: Iterable[Kind] = ()
) -> dict[str, Any]:
    """The key as the templates read it."""
    kept, wanted = tuple(kept), frozenset(kinds) or frozenset(Kind)
    sorts = {sort.letter: sort for sort in labelled_sorts(machine, kept) if sort.letter}
    sheet = sorting_sheet(machine, kept, wanted=lambda sort: sorts[sort.letter].kind in wanted)
    return {
        "sections": [_section(machine, section, sorts) for section in sheet.sections],
        "rolls": list(sheet.rolls) if wanted & {Kind.WIRE, Kind.DRIVE} else [],
        "minutes": round(sum(section.key.work_seconds for section in sheet.sections) / 60),
    }


def _section(machine: Machine, section: Section, sorts: Mapping[str, Labelled]) -> dict[str, Any]:
    key = section.key
    return {
        "form": section.form[:1].upper() + section.form[1:],
        "sorts": len(key.sorts),
        "pieces": key.root.pieces,
        "wrong": _share(key.wrong),
        "groups": _groups(_node(machine, key.root, sorts, 0, "")),
        "alike": [pair.says for pair in look_alikes(key.sorts)],
        "missing": _missing(key) if len(key.piles) > 1 else [],
    }


def _share(wrong: float) -> str:
    """How many of all pieces end in a wrong pile unnoticed, as a person says it; "" for next to none."""
    if wrong < 1e-4:
        return ""
    return f"about 1 piece in {round(1 / wrong)}" if wrong < 0.5 else "most pieces"


# --- the tree as rows


def _groups(rows: Iterable[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Questions, answers that lead on, and ends, from top to bottom: a group for each end, with all that
    stands between it and the end before."""
    groups: list[list[dict[str, Any]]] = [[]]
    for row in rows:
        groups[-1].append(row)
        if row["row"] == "end":
            groups.append([])
    return groups[:-1]


def _node(
    machine: Machine, node: KeyNode, sorts: Mapping[str, Labelled], depth: int, answer: str
) -> Iterable[dict[str, Any]]:
    if node.look is None:
        yield {
            "row": "end",
            "depth": max(depth - 1, 0),
            "answer": answer,
            "pile": pile_name(node.sorts),
            "pieces": node.pieces,
            "sorts": [_sort(machine, sorts[letter]) for letter in node.sorts],
        }
        return
    if answer:
        yield {"row": "answer", "depth": depth - 1, "answer": answer, "pieces": node.pieces}
    yield {"row": "question", "depth": depth, "ask": node.look.words.ask, "how": how_words(node.look)}
    for branch in node.branches:
        yield from _node(machine, branch.node, sorts, depth + 1, branch_words(node.look, branch))


def _sort(machine: Machine, sort: Labelled) -> dict[str, Any]:
    room = FASTENER_MM if sort.kind is Kind.FASTENER else DRAWN_MM
    drawn: Drawing | None = sort_drawing(sort, machine.folder, *room, strip_mm=2.6)
    return {
        "letter": sort.letter,
        "part": sort.part,
        "name": breakable(sort.name),
        "also": [breakable(name) for name in (*sort.parts[1:], *sort.also_called)],
        "drawing": drawn.facts() if drawn is not None else None,
    }


# --- what a wrong count means


def _missing(key: Key) -> list[dict[str, Any]]:
    """For each pile that is easily mixed up, where a missing piece most likely is."""
    found = []
    for one in off_by_one(key):
        likely = [why for why in one.too_few if why.probability >= LIKELY][:MOST_LIKELY]
        if any(why.sort == "in pile" for why in likely):
            found.append({"pile": one.pile, "letters": one.pile.split("+"), "why": _whys(likely)})
    return found


def _whys(likely: Sequence[Explanation]) -> list[dict[str, Any]]:
    words = {"missing": "it is truly missing", "counted wrong": "it was counted wrong"}
    return [
        {
            "says": words.get(why.sort, "it lies in"),
            "in": why.other if why.sort == "in pile" else "",
            "share": f"{round(100 * why.probability)} %",
        }
        for why in likely
    ]

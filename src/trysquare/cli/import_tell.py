"""What an import found and did, as text for people."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from trysquare.cli import words
from trysquare.cli.page import QUIET, STRONG, Page

MOST = 12  # lines of one kind; --all tells the rest
MOST_DIFF = 40
NO_END = 10**9
_FILE_WORDS = {
    "new": "new",
    "updated": "updated",
    "merged": "merged with your changes",
    "conflict": "yours gave way",
    "retired": "taken out",
    "left": "no longer in the file; yours stays",
}


def tell(facts: dict[str, Any], *, whole: bool = False) -> None:
    """What was read, what it became, what to look at, what was written, what to do next. `whole`: long
    lists to their ends."""
    page = Page()
    most = NO_END if whole else MOST
    page.title(facts["machine"], f"{facts['file']} → {facts['folder']}")
    _tell_found(page, facts, most)
    _tell_unsure(page, facts["unsure"], most)
    _tell_materials(page, facts["materials"], most)
    _tell_findings(page, facts, most)
    _tell_files(page, facts, NO_END if whole else MOST_DIFF)
    tell_changes(page, facts.get("changes"), most)
    _tell_next(page, facts)
    page.print()


def _tell_found(page: Page, facts: dict[str, Any], most: int) -> None:
    read = facts["read"]
    what = " ".join(word for word in (read["schema"] or read["kind"].upper(), "in", read["unit"]) if word)
    page.line(
        f"{what}: {words.count(read['bodies'], 'piece')} of {words.count(read['shapes'], 'shape')}, "
        f"{words.count(sum(facts['joints'].values()), 'joint')} with "
        f"{facts['screws_in_joints']} of {words.count(facts['screws'], 'screw')}."
    )
    for problem in facts["problems"][:most]:
        page.line(f"{problem['says']} {problem['remedy']}".strip(), indent=2)
    by_sort: Counter[str] = Counter()
    for part in facts["parts"]:
        by_sort[part["sort"]] += part["pieces"]
    page.heading("Found")
    shown = 4 if most == MOST else 0
    rows = [
        (str(number), sort, words.listed(_names(facts["parts"], sort), shown))
        for sort, number in by_sort.most_common()
    ]
    page.table(("", "", ""), rows, right=frozenset({0}))
    if facts["joints"]:
        page.heading("Joints")
        page.table(
            ("", ""),
            [(str(number), recipe) for recipe, number in facts["joints"].items()],
            right=frozenset({0}),
        )


def _names(parts: Sequence[dict[str, Any]], sort: str) -> list[str]:
    rows = sorted((part for part in parts if part["sort"] == sort), key=lambda part: -part["pieces"])
    return [f"{part['pieces']} × {part['part']}" for part in rows]


def _tell_unsure(page: Page, unsure: list[dict[str, Any]], most: int) -> None:
    asked = [one for one in unsure if one["about"] == "designation"]
    printed = [one for one in unsure if one["about"] == "printed"]
    if asked:
        page.heading("Not sure; taken as the likeliest until you say otherwise")
        for one in asked[:most]:
            page.line(f"{one['called']}, {words.count(one['pieces'], 'piece')}", indent=2, style=STRONG)
            page.pairs(
                (
                    ("taken as", f"{one['choices'][0]} ({one['confidence']:.0%})"),
                    ("or", words.listed(one["choices"][1:])),
                    ("seen", "; ".join(one["evidence"])),
                ),
                indent=4,
            )
    if printed:
        page.heading("Printed? Taken as bought until you say so")
        page.line(words.listed((one["called"] for one in printed), 0 if most == NO_END else most), indent=2)
    if unsure or printed:
        page.line(
            "Answer with pictures at the bench, page Unsure parts, or yes or no at a terminal; then import "
            "again.",
            style=QUIET,
        )


def _tell_materials(page: Page, guessed: list[dict[str, Any]], most: int) -> None:
    if guessed:
        page.heading("Materials guessed; is it so? Correct them in parts.toml")
        for one in guessed[:most]:
            page.line(f"{one['part']}: {one['material']}? {one['guessed_from']}", indent=2)
        if len(guessed) > most:
            page.line(f"and {len(guessed) - most} more; --all names them", indent=2, style=QUIET)


def _tell_findings(page: Page, facts: dict[str, Any], most: int) -> None:
    if facts["findings"]:
        page.heading("To look at")
        for one in facts["findings"][:most]:
            spot = f" At {words.point(one['at_mm'])}." if one["at_mm"] else ""
            page.line(f"{one['code']}: {one['says']}{spot}", indent=2)
        more = len(facts["findings"]) - most
        if more > 0:
            page.line(f"and {more} more; --all names them", indent=2, style=QUIET)
    if facts["moved"]:
        most_mm = words.number(max(one["by_mm"] for one in facts["moved"]))
        screws = words.count(len(facts["moved"]), "screw")
        page.line(
            f"{screws} drawn beside the hole; the joint's place is written, up to {most_mm} mm off.", indent=2
        )
    if facts["plain_fasteners"]:
        page.heading("Screws that stand as drawn, in no joint")
        for one in facts["plain_fasteners"][:most]:
            page.line(f"{one['screw']}: {one['why']}", indent=2)


def _tell_files(page: Page, facts: dict[str, Any], most: int) -> None:
    does = Counter(facts["files"].values())
    if facts["diff"]:
        page.heading("What gives way" if facts["written"] else "What would give way")
        for line in facts["diff"][:most]:
            page.line(line, indent=2)
        if len(facts["diff"]) > most:
            page.line(f"and {len(facts['diff']) - most} more lines", indent=2, style=QUIET)
    page.heading("Files")
    if not facts["written"] and not facts["look"]:
        names = [name for name, what in facts["files"].items() if what == "conflict"]
        page.line(
            f"Nothing was written: {words.listed(names, 6)} would lose what you wrote. The new files are in "
            f"{facts['folder']}/{facts['waits_in']}; --yes lets yours give way after a backup.",
            indent=2,
        )
        return
    for what, said in _FILE_WORDS.items():
        names = [name for name, one in facts["files"].items() if one == what]
        if names:
            page.line(f"{said}: {words.listed(names, 6)}", indent=2)
    if facts["look"]:
        page.line("nothing was written: --look", indent=2, style=QUIET)
    if does["same"]:
        page.line(f"as before: {words.count(does['same'], 'file')}", indent=2, style=QUIET)
    if facts["backup"]:
        page.line(f"what gave way is kept in {facts['folder']}/{facts['backup']}", indent=2)


def tell_changes(
    page: Page, changes: dict[str, Any] | None, most: int, same: str = "the machine is the same"
) -> None:
    """What a re-issued file changed in the machine, and what a follower must redo. `same`: when nothing."""
    if changes is None:
        return
    page.heading("Against what was there before")
    if not changes["changes"]:
        page.line(same, indent=2)
        return
    for change in changes["changes"][:most]:
        page.line(f"{change['id']}: {change['does']}", indent=2, style=STRONG if change["matters"] else "")
        page.pairs(tuple(("", says) for says in change["says"][:3]), indent=4, label_width=2)
    if len(changes["changes"]) > most:
        page.line(f"and {len(changes['changes']) - most} more", indent=2, style=QUIET)
    for title, rows in (("Undo first", changes["undo"]), ("Then do", changes["do_now"])):
        if rows:
            page.line(
                f"{title}: {words.listed((row.get('says') or row.get('title', '') for row in rows), 6)}",
                indent=2,
            )
    if changes["read_again"]:
        page.line(
            f"Read again: {words.listed(row['characteristic'] for row in changes['read_again'])}", indent=2
        )


def _tell_next(page: Page, facts: dict[str, Any]) -> None:
    unreadable = facts.get("unreadable", [])
    if unreadable:
        page.heading(
            "Lines of your own that no longer fit; until they are mended nobody can say what to redo"
        )
    for problem in unreadable[:MOST]:
        page.line(
            f"{problem['file']}:{problem['line']} {problem['key']}: read {problem['read']!r}, expected "
            f"{problem['expected']}. {problem['remedy']}",
            indent=2,
        )
    if not facts["written"]:
        return
    page.gap()
    shown = words.quoted(facts["folder"])
    page.line("Go on so:")
    page.pairs(
        (
            ("judge", f"trysquare check {shown}"),
            ("parts", f"trysquare need {shown}"),
            ("order", f"trysquare order {shown}"),
            ("see it", f"trysquare bench {shown}"),
        )
    )

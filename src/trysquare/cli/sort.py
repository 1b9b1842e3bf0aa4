"""`trysquare sort`: which part is which, what a wrong count means, and which member goes where."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import (
    CLEAN,
    FOUND,
    NotThere,
    print_json,
    talk,
    unreadable,
)
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.stock.key import Sort, SortingSheet
    from trysquare.stock.letters import KeptLetter

SEVERAL = 0.1  # explanations less probable than this are left to --json


@click.command(
    "sort",
    cls=Taught,
    learns="Tell parts apart that look alike, and know what a wrong count means and which member goes where.",
    inputs=(
        FOLDER_INPUT,
        ("--found", "A=3,B=4, or a CSV or XLSX with the columns letter and pieces"),
        ("--lengths", "a CSV or XLSX with the columns letter, length_mm and, if wanted, piece, instrument"),
    ),
    examples=(
        'trysquare sort demo/larch --of "profile bar"',
        'trysquare sort demo/larch --of "upright-*" --found M=1,N=3',
        'trysquare sort demo/larch --of "ISO 4762 *" --json',
    ),
    exits=((0, "told; all counts agree"), (1, "a count is off"), *COMMON_EXITS),
)  # fmt: skip
@folder_argument
@click.option(
    "--of",
    "wanted",
    metavar="WORD",
    multiple=True,
    help="Only parts with this letter, id, name or form; * stands for anything.  [default: all parts]",
)
@click.option("--found", metavar="COUNTS", help="What you counted.  [default: nothing counted]")
@click.option("--lengths", metavar="FILE", help="What you measured.  [default: nothing measured]")
@click.option(
    "--keep", is_flag=True, help="Keep the letters in letters.toml.  [default: given anew, as kept before]"
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    wanted: tuple[str, ...],
    found: str | None,
    lengths: str | None,
    keep: bool,
    as_json: bool,
) -> int:
    """Makes the sorting sheet, explains counts and matches members."""
    from trysquare.ground.errors import ReadingError, ReadingErrors

    try:
        facts = _facts(folder, papers, wanted, found, lengths, keep=keep)
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, folder, as_json=as_json)
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return FOUND if any(row["difference"] for row in facts.get("counts", ())) else CLEAN


def _facts(
    folder: str,
    papers: Sequence[str],
    wanted: Sequence[str],
    found: str | None,
    lengths: str | None,
    *,
    keep: bool,
) -> dict[str, Any]:
    """All that was asked for, as facts. Raises ReadingError, ReadingErrors and NotThere."""
    from trysquare.cli.facts import read_machine
    from trysquare.cli.sort_facts import count_facts, matching_fact, section_fact
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.stock.key import sorting_sheet
    from trysquare.stock.letters import read_letters

    machine = read_machine(folder, papers)
    problems: list[ReadingError] = []
    kept = read_letters(Path(folder), problems)
    if problems:
        raise ReadingErrors(problems)
    sheet = sorting_sheet(machine, kept, wanted=chooser(wanted))
    if wanted and not sheet.sections:
        _nothing_like(machine, wanted)
    counted = _counted(found, sheet) if found is not None else None
    facts: dict[str, Any] = {"folder": folder, "machine": machine.name}
    if counted is not None:
        facts["counts"] = count_facts(sheet, counted)
    if lengths is not None:
        from trysquare.stock.matched import match_members
        from trysquare.stock.sort_files import read_lengths

        measured = read_lengths(Path(lengths), machine, sheet.sorts)
        facts["matched"] = matching_fact(match_members(machine, sheet.sorts, measured))
    facts["sections"] = [section_fact(section) for section in sheet.sections]
    facts["by_length"] = list(sheet.rolls)
    facts["letters_kept"] = keep or bool(kept)
    if keep:
        _keep(Path(folder), sheet.letters, kept)
    return facts


def chooser(wanted: Sequence[str]) -> Callable[[Sort], bool]:
    """Whether a sort has one of these letters, ids, names or forms; everything when nothing is asked."""
    patterns = [word.casefold() for word in wanted]

    def chosen(sort: Sort) -> bool:
        names = (sort.letter, sort.name, sort.features.form, *sort.parts, *sort.also_called)
        return not patterns or any(
            fnmatchcase(name.casefold(), pattern) for name in names for pattern in patterns
        )

    return chosen


def _nothing_like(machine: Machine, wanted: Sequence[str]) -> None:
    from trysquare.ground.errors import nearest

    known = [*(part.type.id for part in machine.placed), "profile bar", "screw with a head", "flat plate"]
    raise NotThere(f"Nothing to sort is called '{words.one_line(wanted[0])}'. {nearest(wanted[0], known)}")


def _counted(found: str, sheet: SortingSheet) -> dict[str, int]:
    """Counts as written on the command line, or in a file."""
    from trysquare.stock.miscount import read_found
    from trysquare.stock.sort_files import read_counts

    letters = [sort.letter for sort in sheet.sorts]
    if "=" in found and not Path(found).is_file():
        return read_found(found, letters)
    return read_counts(Path(found), letters)


def _keep(folder: Path, given: Iterable[KeptLetter], kept: Iterable[KeptLetter]) -> None:
    """Writes letters.toml whole or not at all."""
    from trysquare.stock.letters import FILE_NAME, kept_after, letters_text

    text = letters_text(kept_after(tuple(given), kept))
    path = folder / FILE_NAME
    if path.is_file() and path.read_text(encoding="utf-8") == text:
        return
    handle, written = tempfile.mkstemp(dir=folder, prefix=".letters-", suffix=".tmp")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        Path(written).chmod(0o644)
        Path(written).replace(path)
    finally:
        with contextlib.suppress(OSError):
            Path(written).unlink(missing_ok=True)
    talk(f"Kept the letters in {FILE_NAME}.")


# --- text


def tell(facts: dict[str, Any]) -> None:
    """What was asked for: counts, matched members, else the sheets."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if "counts" in facts:
        _tell_counts(page, facts["counts"])
    if "matched" in facts:
        _tell_matched(page, facts["matched"])
    if not {"counts", "matched"} & facts.keys():
        for section in facts["sections"]:
            _tell_section(page, section)
        if facts["by_length"]:
            page.gap()
            page.line(f"Cut to length, not sorted: {words.listed(facts['by_length'])}.", style=QUIET)
        if not facts["letters_kept"]:
            page.line("--keep keeps these letters when papers change.", style=QUIET)
    page.print()


def _tell_section(page: Page, section: dict[str, Any]) -> None:
    sorts = section["sorts"]
    pieces = words.count(section["pieces"], "piece")
    page.heading(f"{section['form'].capitalize()}: {pieces} of {words.count(len(sorts), 'sort')}")
    page.table(
        ("", "", ""),
        [(sort["letter"], str(sort["pieces"]), sort_words(sort)) for sort in sorts],
        right=frozenset({1}),
    )
    for look in section["looks"]:
        page.gap()
        page.line(f"{look['number']}  {look['ask']}, {look['how']}", indent=2)
        page.table(
            ("", "", ""),
            [(one["says"], _goes(one), words.count(one["pieces"], "piece")) for one in look["answers"]],
            indent=5,
        )
    _tell_doubts(page, section)


def sort_words(sort: dict[str, Any]) -> str:
    """A sort by its names; several parts that are one piece with their counts."""
    text = str(sort["name"])
    parts = sort["parts"]
    if len(parts) > 1:
        each = words.listed(f"{count} {part}" for part, count in parts.items())
        text = f"one and the same piece: {each}"
    elif next(iter(parts)) not in (text, text.casefold()):
        text = f"{next(iter(parts))} ({text})"
    return text + (f", also called {words.listed(sort['also_called'])}" if sort["also_called"] else "")


def _goes(answer: dict[str, Any]) -> str:
    if answer["then"]:
        return f"go to {answer['then']}"
    letters = " or ".join(answer["letters"])
    return f"is {letters}" + (" (cannot be told)" if len(answer["letters"]) > 1 else "")


def _tell_doubts(page: Page, section: dict[str, Any]) -> None:
    for letters in section["cannot_be_told"]:
        page.gap()
        page.line(
            f"{words.listed(letters)} cannot be told by what is known of them: keep their bags apart, or say "
            "their sizes and holes in parts.toml.",
            indent=2,
        )
    if section["look_alikes"]:
        page.gap()
        page.line("Look the same from one side", indent=2)
        for pair in section["look_alikes"]:
            page.line(pair["says"], indent=5)
    doubtful = [
        (one["pile"], _ranked(one["too_few"]))
        for one in section["off_by_one"]
        if any(each["other"] and each["probability"] >= SEVERAL for each in one["too_few"])
    ]
    if doubtful:
        page.gap()
        page.line("If one is missing from a pile, and only this pile was counted", indent=2)
        page.table(("", ""), doubtful, indent=5)
    if section["looks"]:
        page.gap()
        page.line(_work(section), indent=2, style=QUIET)


def _ranked(explanations: Sequence[dict[str, Any]]) -> str:
    told = [one for one in explanations if one["probability"] >= SEVERAL] or list(explanations[:1])
    return "; ".join(f"{one['says']} {one['probability']:.0%}" for one in told)


def _work(section: dict[str, Any]) -> str:
    minutes = section["work_seconds"] / 60
    text = f"About {minutes:.0f} min" if minutes >= 1.5 else f"About {section['work_seconds']:.0f} s"
    if section["least_possible"]:
        text += ", the least that any order of these looks takes"
    elif section["work_seconds"]:
        text += f"; no order of these looks takes less than {section['least_seconds'] / 60:.0f} min"
    return f"{text}. {100 * section['wrong_share']:.2g} % of the pieces go astray unnoticed."


def _tell_counts(page: Page, counts: Sequence[dict[str, Any]]) -> None:
    page.heading("Counted")
    page.table(
        ("", "expected", "found", ""),
        [(row["pile"], str(row["expected"]), str(row["found"]), _off(row["difference"])) for row in counts],
        right=frozenset({1, 2}),
    )
    off = [row for row in counts if row["difference"]]
    for row in off:
        page.gap()
        page.line(f"{row['pile']}: {_off(row['difference'])}", indent=2, style="bold")
        page.table(
            ("", ""),
            [
                (f"{one['probability']:.0%}", one["says"])
                for one in row["explanations"]
                if one["probability"] >= 0.005
            ],
            indent=4,
            right=frozenset({0}),
        )
        if row["look"]:
            page.line(f"To see: {row['look'][0].lower()}{row['look'][1:]}.", indent=4, style=QUIET)
    if not off:
        page.gap()
        page.line("All counts agree.", style="bold")


def _off(difference: int) -> str:
    if not difference:
        return ""
    return f"{abs(difference)} too {'few' if difference < 0 else 'many'}"


def _tell_matched(page: Page, matched: dict[str, Any]) -> None:
    page.heading("Members in their places")
    page.table(
        ("", "", ""),
        [
            (place, piece["piece"], f"{piece['length_mm']:.2f} mm")
            for place, piece in matched["places"].items()
        ],
        right=frozenset({2}),
    )
    if matched["pairs"]:
        page.heading("What their differences do")
        for pair in matched["pairs"]:
            names = " and ".join(pair["pieces"])
            page.line(f"{pair['one']} and {pair['other']}: {names}", indent=2)
            lean = f"{pair['lean_mm_per_100']:+.3f} ± {pair['uncertainty_mm_per_100']:.3f} mm per 100 mm"
            verdict = _verdict(pair)
            page.line(
                f"differ by {pair['difference_mm']:+.2f} mm over {pair['apart_mm']:.0f} mm: out of square by "
                f"{lean}" + (f"; {verdict}" if verdict else ""),
                indent=5,
                style=QUIET,
            )
    page.gap()
    best = "the best of all assignments" if matched["least_possible"] else "no swap of two pieces is better"
    page.line(
        f"On the average {matched['rms_mm_per_100']:.3f} mm per 100 mm, {best}; taken as they come "
        f"{matched['unsorted_rms_mm_per_100']:.3f} mm.",
        style="bold",
    )
    if any(not pair["can_tell"] for pair in matched["pairs"]):
        page.line(
            "Where the doubt is larger than the difference, compare the two side by side against a stop.",
            style=QUIET,
        )
    if matched["spare"]:
        page.line(f"Left over: {words.listed(piece['piece'] for piece in matched['spare'])}.", style=QUIET)


def _verdict(pair: dict[str, Any]) -> str:
    text = "" if pair["can_tell"] else "within the doubt of the reading"
    if pair["held"] == "one end":
        text = f"other ends free{'; ' + text if text else ''}"
    limit = pair["limit_mm_per_100"]
    if limit is not None and abs(pair["lean_mm_per_100"]) > limit:
        text = f"over the limit of {limit:g}" + (f"; {text}" if text else "")
    return text

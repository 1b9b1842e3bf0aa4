"""`trysquare state`: the part-built machine after a step."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine


@click.command(
    "state",
    cls=Taught,
    learns="See the part-built machine after a step: what is held, what can still move, which ends are open.",
    inputs=(
        FOLDER_INPUT,
        ("STEP", "the id of a step; the state is that after its last action"),
    ),
    examples=(
        "trysquare state demo/reed-joints rail",
        "trysquare state demo/reed-joints block --json",
    ),
    exits=((0, "told"), *COMMON_EXITS),
)
@folder_argument
@click.argument("step", metavar="STEP")
@json_option
def command(folder: str, papers: tuple[str, ...], step: str, as_json: bool) -> int:
    """Walks the order up to a step and tells what stands there."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingErrors

    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    facts = {"folder": folder, **state_facts(machine, step)}
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return CLEAN


def state_facts(machine: Machine, step: str) -> dict[str, Any]:
    """The state after a step as plain facts; raises NotThere when there is no such step."""
    from trysquare.ground.errors import ReadingError
    from trysquare.sequence.freedom import state_after

    try:
        report = state_after(machine, step)
    except ReadingError as error:
        raise NotThere(f"No step is called '{words.one_line(step)}'. {error.remedy}") from error
    return {"machine": machine.name, **_plain(asdict(report))}


def _plain(value: Any) -> Any:
    """Tuples as lists, as JSON reads them back."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def tell(facts: dict[str, Any]) -> None:
    """What lies apart, what can move, slots with something in them, rails, alignments, joints under way."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.line(f"After step {facts['step']}, with {facts['up']} up.")
    _works(page, facts["works"])
    _parts(page, facts["parts"])
    _slots(page, facts["slots"])
    _rails(page, facts["rails"])
    _alignments(page, facts["alignments"])
    _joints(page, facts["joints"])
    page.print()


def _works(page: Page, works: list[list[str]]) -> None:
    if not works:
        page.heading("Nothing is built yet")
        return
    page.heading(f"{words.count(len(works), 'piece')} of work")
    for work in works:
        page.line(f"{words.count(len(work), 'part')}: {words.listed(work, 6)}", indent=2)


def _parts(page: Page, parts: list[dict[str, Any]]) -> None:
    held = sum(part["state"] == "held" for part in parts)
    loose = [part for part in parts if part["state"] != "held"]
    page.heading(f"{held} held, {len(loose)} not")
    alike: dict[tuple[str, ...], list[str]] = {}
    for part in loose:
        alike.setdefault((_group(part["part"]), *_row(part)), []).append(part["part"])
    page.table(
        ("part", "", "can go", "started"),
        [
            (group if len(names) > 1 else names[0], *row)
            for (group, *row), names in alike.items()
            for group in [f"{len(names)} × {group}"]
        ],
    )


def _group(name: str) -> str:
    """Several nuts of one joint that move alike are told in one row."""
    return name.rpartition(".")[0] or name


def _row(part: dict[str, Any]) -> tuple[str, str, str]:
    apart = "lies apart" if part["state"] == "free" else "nowhere"
    return part["state"], _ways(part["ways"]) or apart, words.listed(part["by"], 2)


def _ways(ways: list[dict[str, Any]]) -> str:
    """Directions with what guides them, those along one thing together."""
    by_guide: dict[str, list[str]] = {}
    for way in ways:
        where = {"top": "up", "bottom": "down"}.get(way["looks"], way["looks"])
        where = where or words.listed(words.number(number) for number in way["direction"])
        by_guide.setdefault(way["along"], []).append(f"{where} and out" if way["out"] else where)
    return "; ".join(f"{', '.join(where)} {along}".strip() for along, where in by_guide.items())


def _slots(page: Page, slots: list[dict[str, Any]]) -> None:
    filled = [slot for slot in slots if slot["pieces"]]
    if not slots:
        return
    page.heading(f"{words.count(len(slots), 'slot')}, {len(filled)} with something in")
    page.table(
        ("slot", "open ends", "holds, from end a"),
        [
            (
                f"{slot['member']} {slot['slot']}",
                " and ".join(slot["open_ends"]) or "none",
                _held(slot["pieces"]),
            )
            for slot in filled
        ],
    )
    shut = sum(not slot["open_ends"] for slot in slots if not slot["pieces"])
    if shut:
        page.line(f"{shut} of the empty ones have both ends shut.", indent=2, style=QUIET)


def _held(pieces: list[str]) -> str:
    """Pieces by joint and sort, in the order in which the first of each lies."""
    counts: dict[str, int] = {}
    for name in pieces:
        counts[_group(name)] = counts.get(_group(name), 0) + 1
    return ", ".join(f"{number} × {group}" for group, number in counts.items())


def _rails(page: Page, rails: list[dict[str, Any]]) -> None:
    if not rails:
        return
    page.heading(words.count(len(rails), "rail"))
    page.table(
        ("rail", "carriages", "open ends", "kept by"),
        [
            (
                rail["rail"],
                words.listed(rail["blocks"]) or "none yet",
                " and ".join(rail["open_ends"]) or "none",
                rail["kept"],
            )
            for rail in rails
        ],
    )


def _alignments(page: Page, alignments: list[dict[str, Any]]) -> None:
    if not alignments:
        return
    page.heading("Alignments")
    page.table(
        ("", "read in", ""),
        [(one["characteristic"], one["read_in"] or "not read", _holds(one)) for one in alignments],
    )


def _holds(one: dict[str, Any]) -> str:
    if one["waits"]:
        return f"not yet snug: {words.listed(one['waits'], 3)}"
    if one["read_in"]:
        return "holds" if one["holds"] else "no longer holds"
    return "can be read"


def _joints(page: Page, joints: list[dict[str, Any]]) -> None:
    under_way = [joint for joint in joints if joint["level"] in ("started", "snug")]
    under_way += [
        joint for joint in joints if joint["level"] == "absent" and set(joint["screws"]) - {"absent"}
    ]
    done = sum(joint["level"] in ("final", "laid") for joint in joints)
    page.heading(f"{words.count(done, 'joint')} done, {len(under_way)} under way")
    page.table(
        ("joint", "screws"),
        [
            (joint["joint"], ", ".join(f"{pieces} {level}" for level, pieces in joint["screws"].items()))
            for joint in under_way
        ],
    )

"""`trysquare true`: how true it is, how sure that is, what to push, and what to read next."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option

_MARKS = {"good": "bold green", "bad": "bold red", "cannot tell": "bold yellow", "not read": "dim"}


@click.command(
    "true",
    cls=Taught,
    learns="Know how true it is and how sure that is, which corner to push, and what to read next.",
    inputs=(
        ("FOLDER", "a machine folder; its readings/*.csv are read. None with --rectangle"),
        ("readings", "CSV: sort, from, to, value_mm, instrument; also at_mm, turned, setting, round, step"),
    ),
    examples=(
        "trysquare true demo/larch",
        "trysquare true demo/larch --before",
        "trysquare true demo/larch --hot 60 --json",
        "trysquare true --rectangle 350x350 --diagonals 494.6,495.2 --instrument tape",
    ),
    exits=((0, "all that was read is good"), (1, "something is bad, or cannot be told"), *COMMON_EXITS),
)
@click.argument("folder", metavar="[FOLDER]", required=False)
@click.option(
    "--paper",
    "papers",
    metavar="FILE",
    multiple=True,
    help="Lay a paper from outside the folder over it; may be given several times.  [default: none]",
)
@click.option(
    "--readings",
    "files",
    metavar="FILE",
    multiple=True,
    help="Read this file instead; may be given several times.  [default: readings/*.csv]",
)
@click.option(
    "--step",
    metavar="STEP",
    default="",
    help="What stands, and what is snug.  [default: as at the last step that a reading names]",
)
@click.option(
    "--ask",
    is_flag=True,
    help="Ask for the next reading, again and again, and keep what you type in "
    "readings/typed.csv.  [default: no questions]",
)
@click.option(
    "--before",
    is_flag=True,
    help="Before the build: which cuts matter, and can it be trued?  [default: not asked]",
)
@click.option(
    "--hot",
    metavar="CELSIUS",
    type=click.FloatRange(-100, 400),
    help="What changes when it is warm.  [default: not asked; cold is 20 °C]",
)
@click.option(
    "--bed",
    metavar="CELSIUS",
    type=click.FloatRange(-100, 400),
    help="How hot heated plates are.  [default: as the frame]",
)
@click.option(
    "--plot", metavar="FILE", help="Draw the frame with its error enlarged, as SVG.  [default: none]"
)
@click.option(
    "--rectangle",
    metavar="XxY",
    help="Two sides of a frame, in mm; no machine is needed.  [default: a machine's folder]",
)
@click.option(
    "--diagonals", metavar="AC,BD", help="Its two diagonals, in mm.  [default: none, said with --rectangle]"
)
@click.option(
    "--instrument", metavar="SORT", default="tape", help="What they were read with.  [default: tape]"
)
@click.option(
    "--limit",
    metavar="MM",
    type=click.FloatRange(0.001, 100),
    default=0.1,
    help="Limit of a rectangle's lean, mm per 100 mm.  [default: 0.1]",
)
@json_option
def command(
    folder: str | None, papers: tuple[str, ...], files: tuple[str, ...], step: str, ask: bool, before: bool,
    hot: float | None, bed: float | None, plot: str | None, rectangle: str | None, diagonals: str | None,
    instrument: str, limit: float, as_json: bool,
) -> int:  # fmt: skip
    """Reads, adjusts, judges and advises."""
    # matrices of a frame are small: several threads on them only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from trysquare.ground.errors import ReadingError, ReadingErrors

    if rectangle is not None or diagonals is not None:
        return _rectangle(rectangle, diagonals, instrument, limit, as_json=as_json)
    if folder is None:
        raise click.UsageError("Name a machine folder, or give --rectangle and --diagonals.")
    try:
        if before or hot is not None:
            return _without_readings(folder, papers, before=before, hot=hot, bed=bed, as_json=as_json)
        return _with_readings(folder, papers, files, step, ask=ask, plot=plot, as_json=as_json)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
    except ReadingError as problem:
        tell_problems(ReadingErrors([problem]), folder, as_json=as_json)
    return UNREADABLE


def _with_readings(
    folder: str, papers: Sequence[str], files: Sequence[str], step: str, *,
    ask: bool, plot: str | None, as_json: bool,
) -> int:  # fmt: skip
    from trysquare.cli.facts import read_machine
    from trysquare.cli.true_facts import has_readings, report_facts, truing_report

    machine = read_machine(folder, papers)
    if not ask and not has_readings(machine, files):
        raise NotThere(
            f"{words.one_line(folder)} has no readings yet. Write readings/frame.csv with the columns sort, "
            "from, to, value_mm, instrument, or let --ask ask you."
        )
    found = truing_report(machine, files, step)
    if ask:
        from trysquare.cli.true_ask import ask_on

        found = ask_on(machine, files, step, found)
    facts = {"folder": folder, **report_facts(found)}
    if plot is not None:
        from trysquare.cli.files_out import look_at, write
        from trysquare.publish.truing_plot import truing_plot

        look_at(Path(plot), b"<svg", "SVG", ".svg")
        write(Path(plot), truing_plot(found).encode())
        facts["plot"] = plot
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    verdicts = {one["verdict"] for one in facts["characteristics"]}
    return FOUND if verdicts & {"bad", "cannot tell"} else CLEAN


def _without_readings(
    folder: str, papers: Sequence[str], *, before: bool, hot: float | None, bed: float | None, as_json: bool
) -> int:
    from trysquare.cli.facts import read_machine
    from trysquare.cli.true_facts import stack_facts, thermal_facts

    machine = read_machine(folder, papers)
    facts: dict[str, Any] = {"folder": folder, "machine": machine.name}
    if before:
        from trysquare.truing.stack import stack

        facts["before"] = stack_facts(stack(machine, workers=os.cpu_count() or 1))
    if hot is not None:
        from trysquare.truing.thermal import when_hot

        facts["hot"] = thermal_facts(when_hot(machine, hot, bed_celsius=bed))
    if as_json:
        print_json(facts)
    else:
        page = Page()
        page.title(facts["machine"], folder)
        if before:
            _tell_before(page, facts["before"])
        if hot is not None:
            _tell_hot(page, facts["hot"])
        page.print()
    return CLEAN


def _rectangle(
    sides: str | None, diagonals: str | None, instrument: str, limit: float, *, as_json: bool
) -> int:
    """The quick form without a machine."""
    from trysquare.cli.true_facts import rectangle_facts
    from trysquare.ground.errors import nearest
    from trysquare.truing.instruments import instrument_kinds, usual_gauge
    from trysquare.truing.rectangle import rectangle

    x, y = _pair(sides, "--rectangle", "350x350")
    first, second = _pair(diagonals, "--diagonals", "494.6,495.2")
    known = [sort for sort, kind in instrument_kinds().items() if "diagonal" in kind.reads]
    if instrument not in known:
        raise click.UsageError(f"--instrument: '{words.one_line(instrument)}' reads no diagonal. "
                               f"{nearest(instrument, known)}")  # fmt: skip
    gauge = usual_gauge(instrument)
    if not gauge.spans(max(first, second)):
        raise click.UsageError(
            f"--instrument: {max(first, second):g} mm is beyond the {gauge.reach_mm:g} mm of {gauge.words}."
        )
    fits = (x * x + y * y) ** 0.5
    for value in (first, second):
        if abs(value - fits) > max(10.0, 0.05 * fits):
            raise click.UsageError(
                f"--diagonals: {value:g} mm is no diagonal of {x:g} by {y:g} mm, which is {fits:.1f}. In mm?"
            )
    facts = rectangle_facts(rectangle(x, y, first, second, gauge, limit_mm_per_100=limit))
    if as_json:
        print_json(facts)
    else:
        _tell_rectangle(facts)
    return CLEAN if facts["lean_mm_per_100"]["verdict"] == "good" else FOUND


def _pair(text: str | None, option: str, example: str) -> tuple[float, float]:
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*[x×,;]\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*", text or "")
    if found is None:
        read = f"read '{words.one_line(text)}'" if text else "is missing"
        raise click.UsageError(f"{option} {read}; expected two numbers of millimetres, such as {example}.")
    values = float(found[1]), float(found[2])
    if not all(1 <= value <= 1e5 for value in values):
        raise click.UsageError(f"{option}: sizes from 1 to 100000 mm are meant.")
    return values


# --- text


def tell(facts: dict[str, Any]) -> None:
    """Verdicts first, then what is doubtful, what to do, and what to read next."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if facts["step"]:
        page.line(f"As at step {facts['step']}; {words.count(facts['readings_counted'], 'reading')} count.")
    _tell_verdicts(page, facts["characteristics"])
    _tell_doubts(page, facts)
    _tell_advice(page, facts)
    _tell_next(page, facts["next"])
    for name, one in facts["own_errors"].items():
        page.line(
            f"{name}: its own error is {one['value_mm']:+.3f} ± {one['expanded_mm']:.3f} at full reach.",
            style=QUIET,
        )
    for sentence in facts["unseen"][:6]:
        page.line(sentence[0].upper() + sentence[1:] + ".", style=QUIET)
    if len(facts["unseen"]) > 6:
        page.line(f"{len(facts['unseen']) - 6} more of the kind in --json.", style=QUIET)
    page.print()


def _tell_verdicts(page: Page, characteristics: Sequence[dict[str, Any]]) -> None:
    for verdict in ("bad", "cannot tell", "good"):
        mine = [one for one in characteristics if one["verdict"] == verdict]
        if mine:
            page.heading(verdict.capitalize(), _MARKS[verdict])
        for one in mine:
            worst = one["components"][one["worst"]]
            page.line(
                f"{one['characteristic']}  {worst['value']:+.3f} ± {worst['expanded']:.3f} {one['unit']}, "
                f"limit {words.number(one['limit'])}",
                indent=2,
                style=STRONG if verdict == "bad" else "",
            )
            page.line(worst["says"], indent=5, style=QUIET)
            if worst["meaning"] and verdict != "good":
                page.line(f"{worst['meaning']}.", indent=5, style=QUIET)
    unread = [one["characteristic"] for one in characteristics if one["verdict"] == "not read"]
    if unread:
        page.heading("Not read", _MARKS["not read"])
        page.line(words.listed(unread), indent=2, style=QUIET)


def _tell_doubts(page: Page, facts: dict[str, Any]) -> None:
    doubtful = [one for one in facts["readings"] if one["blunder"] or one["doubt"]]
    if doubtful:
        page.heading("Readings to be asked about", "bold yellow")
    for one in doubtful:
        page.line(_spot(one), indent=2, style=STRONG)
        if one["blunder"]:
            page.line(
                f"{one['what']}: read {one['value']:g}, the others say {one['blunder']['expected']:.2f} ± "
                f"{one['blunder']['expanded']:.2f} {one['unit']}; it is set aside.",
                indent=5,
            )
        else:
            page.line(one["doubt"], indent=5)
        for cause in one["causes"][:2]:
            page.line(f"Likely: {cause['says']}.", indent=5)


def _spot(one: dict[str, Any]) -> str:
    return words.place(one["where"]) or words.listed(one["reading"])


def _tell_advice(page: Page, facts: dict[str, Any]) -> None:
    advice = facts["advice"]
    if advice is None:
        return
    page.heading("What to do")
    number = 0
    for sentence in [f"Loosen {one}" for one in advice["loosen"]] + [one["says"] for one in advice["pushes"]]:
        number += 1
        page.line(f"{number}  {sentence[0].upper()}{sentence[1:]}.", indent=2)
    for one in advice["expects"]:
        number += 1
        page.line(
            f"{number}  Read {one['what']} again: expect {one['value']:.2f} ± {one['expanded']:.2f} "
            f"{one['unit']}.",
            indent=2,
        )
    if not advice["enough"]:
        page.line(
            "That does not bring everything within its limit; read again after it.", indent=2, style=QUIET
        )
    if not advice["within_play"]:
        page.line("It is more than the joints' play: loosen them a turn further.", indent=2, style=QUIET)


def _tell_next(page: Page, coming: dict[str, Any]) -> None:
    if not coming["owned"] and not coming["borrowed"]:
        return
    useful = [one for one in coming["owned"] if one["decides"] >= 0.05]
    page.heading("Worth reading next")
    for one in useful[:3]:
        chances = "; ".join(
            f"{name} {chance:.0%}" for name, chance in one["chances"].items() if chance >= 0.05
        )
        page.line(one["says"][0].upper() + one["says"][1:], indent=2)
        page.line(f"settles {chances}", indent=5, style=QUIET)
    if not useful:
        page.line("No single reading with what you own settles what is open.", indent=2)
        for one in coming["borrowed"][:2]:
            page.line(f"This would: {one['says']}", indent=2)
        if not coming["borrowed"] and coming["owned"]:
            page.line(f"It narrows most: {coming['owned'][0]['says']}", indent=2)


def _tell_before(page: Page, facts: dict[str, Any]) -> None:
    page.heading("Before the build")
    page.line(
        f"Of {facts['draws']:,} frames from such saws and joints {facts['can_be_trued']:.1%} can be trued "
        f"within the joints' play; untouched {facts['all_as_it_comes']:.1%} would be true.".replace(",", " "),
        indent=2,
    )
    page.table(
        ("characteristic", "± U as it comes", "limit", "within", "what matters most"),
        [
            (
                f"{one['characteristic']}: {one['says']}",
                f"{one['expanded']:.2f}",
                f"{words.number(one['limit'])} {one['unit']}",
                f"{one['as_it_comes']:.0%}",
                "; ".join(
                    f"{each['source']} ({each['kind']}) {each['share']:.0%}"
                    for each in one["contributions"][:2]
                ),
            )
            for one in _one_each(facts["components"])
        ],
        right=frozenset({1, 3}),
    )
    page.heading("Do your instruments suffice?")
    told: set[str] = set()
    for one in facts["suffices"]:
        if one["characteristic"] not in told:
            told.add(one["characteristic"])
            page.line(
                f"{one['characteristic']}: {one['instrument']}, to ± {one['expanded']:.3f}, decides "
                f"{one['chance']:.0%} of such frames ({one['how']})",
                indent=2,
            )


def _one_each(components: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of each characteristic the component with the widest spread."""
    widest: dict[str, dict[str, Any]] = {}
    for one in components:
        known = widest.get(one["characteristic"])
        if known is None or one["expanded"] > known["expanded"]:
            widest[one["characteristic"]] = one
    return list(widest.values())


def _tell_hot(page: Page, facts: dict[str, Any]) -> None:
    page.heading(f"From {words.number(facts['cold_celsius'])} to {words.number(facts['hot_celsius'])} °C")
    for one in facts["changes"]:
        page.line(f"{one['says']}.", indent=2)
    if not facts["changes"]:
        page.line("Nothing changes that anybody could read.", indent=2)
    for sentence in facts["advice"]:
        page.line(sentence, indent=2, style=QUIET)


def _tell_rectangle(facts: dict[str, Any]) -> None:
    page = Page()
    lean = facts["lean_mm_per_100"]
    page.line(
        f"{lean['verdict'].capitalize()}: out of square by {abs(lean['value']):.2f} ± {lean['expanded']:.2f} "
        f"mm per 100 mm, limit {words.number(lean['limit'])}; {abs(facts['across_mm']):.2f} mm in all.",
        style=_MARKS[lean["verdict"]],
    )
    page.line("Corners in order A, B, C, D; the first diagonal is A–C.", style=QUIET)
    if lean["verdict"] != "good":
        page.line(facts["says"])
    if facts["decides"]:
        page.line(facts["decides"])
    if abs(facts["misfit_mm"]) > facts["misfit_expanded_mm"]:
        page.line(
            f"Together the diagonals are {abs(facts['misfit_mm']):.1f} mm too "
            f"{'long' if facts['misfit_mm'] > 0 else 'short'} for these sides: measure the sides.",
        )
    page.print()

"""`trysquare order`: an order of work that goes, why it must be so, and what an author's order lacks."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.ground.findings import Finding
    from trysquare.machine.values import Action, Machine, Step
    from trysquare.sequence.propose import Proposal

SECONDS = 30.0


@click.command(
    "order",
    cls=Taught,
    learns="Find an order in which everything goes in, and why it must be so.",
    inputs=(
        FOLDER_INPUT,
        ("A, B", "a placed part, a joint, a characteristic, or a verb and a joint: 'tighten frame/corners'"),
        ("FILE", "a paper that adds an accessory's parts and joints"),
    ),
    examples=(
        "trysquare order demo/reed-joints",
        "trysquare order demo/reed-joints --toml",
        "trysquare order demo/reed-joints --mend",
        "trysquare order demo/reed-joints --why carriage/camera-screw carriage/camera-plate",
    ),
    exits=(
        (0, "there is an order; nothing is left to mend; the accessory goes on"),
        (1, "there is none; something is left; something must be taken back first"),
        *COMMON_EXITS,
    ),
)
@folder_argument
@json_option
@click.option(
    "--toml", "as_toml", is_flag=True, help="Print the steps as the text of a steps.toml.  [default: a list]"
)
@click.option(
    "--seconds",
    type=click.FloatRange(min=0.0),
    default=SECONDS,
    help=f"Look for a better order this long; Ctrl-C ends it earlier.  [default: {SECONDS:g} s]",
)
@click.option(
    "--mend",
    is_flag=True,
    help="Keep the author's order and change only what does not go.  [default: propose a whole order]",
)
@click.option("--why", nargs=2, metavar="A B", help="Say why A must come before B.  [default: not asked]")
@click.option(
    "--add", "accessory", metavar="FILE", help="Say whether an accessory still goes on.  [default: none]"
)
def command(
    folder: str,
    papers: tuple[str, ...],
    as_json: bool,
    as_toml: bool,
    seconds: float,
    mend: bool,
    why: tuple[str, str] | None,
    accessory: str | None,
) -> int:
    """Asks one of four questions of the machine's order."""
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.machine.load import load_machine

    if sum((mend, bool(why), bool(accessory))) > 1:
        raise click.UsageError("--mend, --why and --add are different questions. Ask one at a time.")
    if as_json and as_toml:
        raise click.UsageError("--json and --toml are two forms of one answer. Choose one.")
    try:
        machine = load_machine(folder, papers)
        if why:
            return _why(machine, *why, as_json=as_json)
        if accessory:
            return _add(machine, accessory, as_json=as_json)
        if mend:
            return _mend(machine, folder, as_json=as_json, as_toml=as_toml)
        return _propose(machine, folder, seconds, as_json=as_json, as_toml=as_toml)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    except ReadingError as error:
        raise NotThere(
            f"{error.where}: '{error.read}' is not there; expected {error.expected}. {error.remedy}"
        ) from None


@contextmanager
def stopped_by_keyboard() -> Iterator[Callable[[], bool]]:
    """While it lasts, the first Ctrl-C only asks to stop; the second ends the program."""
    asked = False

    def heard(*_: Any) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        print("Stopping; the best so far follows. Once more Ctrl-C ends at once.", file=sys.stderr)

    try:
        before = signal.signal(signal.SIGINT, heard)
    except ValueError:  # not the main thread: nobody presses keys here
        yield lambda: False
        return
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)


# -- a whole order ------------------------------------------------------------------------------------


def _propose(machine: Machine, folder: str, seconds: float, *, as_json: bool, as_toml: bool) -> int:
    import time

    from trysquare.cli.order_memory import keep_for_next, recalled
    from trysquare.sequence.propose import propose_order
    from trysquare.sequence.steps_text import steps_text

    begin = time.monotonic()

    def progress(says: str, _: float) -> None:
        if sys.stderr.isatty():
            print(f"\r{time.monotonic() - begin:5.1f} s  {says:<70.70}", end="", file=sys.stderr, flush=True)

    reach = recalled(machine) if machine.placed else None
    with stopped_by_keyboard() as stop:
        found = propose_order(
            machine, seconds=seconds, progress=progress, stop=stop, clock=time.monotonic, reach=reach
        )
    if reach is not None:
        keep_for_next(machine, reach)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    if as_json:
        print_json({"folder": folder, **proposal_facts(found)})
    elif as_toml and found.steps:
        sys.stdout.write(steps_text(machine, found.steps, heading=_summary(found)))
        sys.stdout.flush()
    else:
        _tell_proposal(machine, folder, found)
    return CLEAN if found.feasible and (found.steps or not found.stopped) else FOUND


def proposal_facts(found: Proposal) -> dict[str, Any]:
    """A proposed order as plain facts."""
    return {
        "feasible": found.feasible,
        "steps": [step_facts(step) for step in found.steps],
        "turns": found.turns,
        "tool_changes": found.tool_changes,
        "optimal": found.optimal,
        "gap": round(found.gap, 4),
        "stopped": found.stopped,
        "stuck": [{"operation": one.name, "parts": list(one.parts), "says": one.says} for one in found.stuck],
        "findings": [_finding(one) for one in found.findings],
        "says": list(found.says),
    }


def step_facts(step: Step) -> dict[str, Any]:
    """A step as plain facts."""
    return {
        "id": step.id,
        "title": step.title,
        "unit": step.unit,
        "actions": [action_facts(action) for action in step.actions],
    }


def action_facts(action: Action) -> dict[str, Any]:
    """An action as plain facts; keys that say nothing are left out."""
    facts: dict[str, Any] = {"verb": action.verb}
    for key in ("parts", "joints", "fastenings", "reads", "using", "order"):
        if getattr(action, key):
            facts[key] = list(getattr(action, key))
    for key in ("says", "toward", "means"):
        if getattr(action, key):
            facts[key] = getattr(action, key)
    if action.gap_mm is not None:
        facts["gap_mm"] = action.gap_mm
    return facts


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "says": finding.says,
        "parts": list(finding.parts),
        "joint": finding.joint,
        "step": finding.step,
        "remedy": finding.remedy,
    }


def _summary(found: Proposal) -> str:
    """What the order is worth, in one sentence or two."""
    if not found.steps:
        if found.stopped:
            return "No order yet."
        return "No order." if found.stuck else "Nothing to order."
    if found.optimal:
        worth = "No arrangement is better."
    elif found.cost:
        worth = f"The best conceivable arrangement could cost {found.gap:.0%} less."
    else:
        worth = "The first order found; nothing better was looked for."
    return (
        f"{words.count(len(found.steps), 'step')}, the work turned over {words.count(found.turns, 'time')}, "
        f"{words.count(found.tool_changes, 'tool')} taken in the hand. {worth}"
    )


def _tell_proposal(machine: Machine, folder: str, found: Proposal) -> None:
    page = Page()
    page.title(machine.name, folder)
    for index, step in enumerate(found.steps, 1):
        page.heading(f"{index}. {step.title}")
        page.line(f"in {step.unit}" if step.unit else "in the machine", indent=3, style=QUIET)
        page.pairs(((action.verb, action_words(action, step.unit)) for action in step.actions), indent=3)
    if found.stuck:
        page.heading("No order builds this machine", "bold red")
        for one in found.stuck[:12]:
            page.line(one.says, indent=2)
        if len(found.stuck) > 12:
            page.line(f"{len(found.stuck) - 12} more; --json tells them.", indent=2, style=QUIET)
    _tell_findings(page, found.findings, "What no order settles")
    page.gap()
    page.line(_summary(found), style=STRONG)
    for says in found.says:
        page.line(says, style=QUIET)
    if found.stopped and found.steps and not found.optimal:
        page.line("Stopped before the search had ended: this is the best so far.", style=QUIET)
    page.print()


def action_words(action: Action, unit: str) -> str:
    """What an action is done to, with names short inside their unit."""
    names = [name.removeprefix(f"{unit}/") for name in (*action.parts, *action.joints, *action.fastenings)]
    more = [
        f"reads {', '.join(action.reads)}" if action.reads else "",
        f"leave {words.number(action.gap_mm)} mm under the head" if action.gap_mm is not None else "",
        f"with {action.means}" if action.means else "",
        f"using {', '.join(action.using)}" if action.using else "",
        _order_words(action, unit),
        action.says,
    ]
    return "; ".join(word for word in (", ".join(names), *more) if word)


def _order_words(action: Action, unit: str) -> str:
    """The stated order of screws: for several joints each its own, under its name."""
    from trysquare.sequence.row_orders import order_by_joint

    rows = order_by_joint(action.order)
    several = len({*action.joints, *(name.rpartition(".")[0] for name in action.fastenings)}) > 1
    return "; ".join(
        f"{joint.removeprefix(f'{unit}/') + ' ' if several else ''}in the order {', '.join(numbers)}"
        for joint, numbers in rows.items()
    )


def _tell_findings(page: Page, findings: tuple[Finding, ...], heading: str) -> None:
    if not findings:
        return
    page.heading(heading, "bold yellow")
    for one in findings:
        page.line(f"{one.code}{f' in step {one.step}' if one.step else ''}", indent=2, style=STRONG)
        page.line(one.says, indent=4)
        page.line(one.remedy, indent=4, style=QUIET)


# -- the other questions --------------------------------------------------------------------------------


def _mend(machine: Machine, folder: str, *, as_json: bool, as_toml: bool) -> int:
    from trysquare.sequence.mend import mend_order
    from trysquare.sequence.steps_text import steps_text

    if not machine.steps:
        raise NotThere(f"{folder} has no steps to mend. Leave --mend out: a whole order is proposed then.")
    with stopped_by_keyboard() as stop:
        mended = mend_order(machine, stop=stop)
    if as_json:
        print_json(
            {
                "folder": folder,
                "edits": [{"step": one.step, "says": one.says, "mends": one.mends} for one in mended.edits],
                "left": [_finding(one) for one in mended.left],
                "steps": [step_facts(step) for step in mended.steps],
                "stopped": mended.stopped,
            }
        )
    elif as_toml:
        sys.stdout.write(steps_text(machine, mended.steps))
        sys.stdout.flush()
    else:
        page = Page()
        page.title(machine.name, folder)
        for edit in mended.edits:
            page.heading(f"In step {edit.step}" if edit.step else "In the order")
            page.line(edit.says, indent=2)
            page.line(f"mends {edit.mends}", indent=2, style=QUIET)
        _tell_findings(page, mended.left, "Not mended")
        page.gap()
        page.line(
            f"{words.count(len(mended.edits), 'edit')}; {words.count(len(mended.left), 'finding')} left.",
            style=STRONG,
        )
        if mended.stopped:
            page.line("Stopped before all was tried.", style=QUIET)
        page.print()
    return FOUND if mended.left else CLEAN


def _why(machine: Machine, a: str, b: str, *, as_json: bool) -> int:
    from trysquare.sequence.explain import why_before

    answer = why_before(machine, a, b)
    if as_json:
        chain = [{"first": one.first, "after": one.after, "because": one.because} for one in answer.chain]
        print_json({"a": a, "b": b, "must": answer.must, "says": answer.says, "chain": chain})
        return CLEAN
    page = Page()
    page.line(answer.says, style=STRONG)
    for one in answer.chain:
        page.line(f"{one.first}  →  {one.after}", indent=2)
        page.line(one.because, indent=4, style=QUIET)
    page.print()
    return CLEAN


def _add(machine: Machine, accessory: str, *, as_json: bool) -> int:
    from trysquare.sequence.accessory import can_still_go_on

    with stopped_by_keyboard() as stop:
        answer = can_still_go_on(machine, accessory, stop=stop)
    if as_json:
        print_json(
            {
                "now": answer.now,
                "possible": answer.possible,
                "order": list(answer.order),
                "take_back": list(answer.take_back),
                "steps": list(answer.steps),
                "nuts": [
                    {
                        "nut": one.nut,
                        "type": one.type,
                        "slot": one.slot,
                        "ways": list(one.ways),
                        "instead": one.instead,
                    }
                    for one in answer.nuts
                ],
            }
        )
        return CLEAN if answer.now else FOUND
    page = Page()
    if answer.now:
        page.line("It still goes on; nothing has to be taken back.", style=STRONG)
    elif answer.possible:
        page.line("It goes on after something is taken back.", style=STRONG)
    else:
        page.line("It cannot go on this machine as it is drawn.", style=STRONG)
    for nut in answer.nuts:
        page.heading(f"{nut.nut} ({nut.type})")
        if nut.ways:
            page.line(f"goes in {' or '.join(nut.ways)}", indent=2)
        else:
            page.line(f"does not get into slot {nut.slot} any more", indent=2)
        if nut.instead:
            page.line(f"a {nut.instead} would go in through the mouth", indent=2)
    told = (
        ("Take back", answer.take_back),
        ("Of these steps", answer.steps),
        ("Do" if answer.now else "Then", answer.order),
    )
    for heading, rows in told:
        if rows:
            page.heading(heading)
            for row in rows:
                page.line(row, indent=2)
    if not answer.possible and answer.obstacles:
        page.heading("In the way")
        for one in answer.obstacles[:6]:
            page.line(f"{one.asks}, {one.choice}: {one.by}", indent=2)
    page.print()
    return CLEAN if answer.now else FOUND

"""`trysquare log verify`, `export`, `take-in` and `undo`: the care of the build log itself."""

from __future__ import annotations

import uuid
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, tell_problems, unreadable
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import FOLDER_INPUT, Taught, json_option

if TYPE_CHECKING:
    from trysquare.record.log import BuildLog, Head

BEGINS = "There is no build log yet: it begins at the bench, or with 'trysquare log take-in'."
_EXITS = ((0, "done"), (2, "the log, the folder or the file could not be read or written; it says why"))


@click.command(
    "verify",
    cls=Taught,
    learns="Know whether the log is still what was written: every entry, the chain between them, every file.",
    inputs=(FOLDER_INPUT,),
    examples=("trysquare log verify demo/larch", "trysquare log verify demo/larch --json"),
    exits=(
        (0, "all as it was written"),
        (1, "some entry or file is not"),
        (2, "there is no log, or it cannot be opened; it says why"),
    ),
)
@click.argument("folder", metavar="FOLDER")
@click.option(
    "--noted",
    metavar="ENTRY:HASH",
    help="The last entry as an earlier run told it: it must still be there.  [default: none]",
)
@json_option
def verify(folder: str, noted: str | None, as_json: bool) -> int:
    """Reads everything again. Nothing is changed."""
    from trysquare.cli.log_facts import fault_facts, head_fact
    from trysquare.ground.errors import ReadingError
    from trysquare.record.keeping import check_files

    known = _noted(noted)
    try:
        with opened_log(folder) as log:
            faults = log.verify(known)
            facts: dict[str, Any] = {"folder": folder, "head": None}
            if not any(fault.code in ("database", "unreadable", "changed") for fault in faults):
                faults += check_files(Path(folder), (entry.event for entry in log.events()))
                facts["head"] = head_fact(log.head())
            facts["faults"] = fault_facts(faults)
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    if as_json:
        print_json(facts)
        return FOUND if faults else CLEAN
    _tell_check(facts)
    return FOUND if faults else CLEAN


def _tell_check(facts: dict[str, Any]) -> None:
    page = Page()
    page.title("Build log", str(log_file(facts["folder"])))
    page.gap()
    for fault in facts["faults"]:
        head = f"entry {fault['entry']} · {fault['code']}" if fault["entry"] else fault["code"]
        page.line(head, style=STRONG)
        page.line(fault["says"], indent=2)
        page.line(fault["remedy"], indent=2, style=QUIET)
    if facts["faults"]:
        page.line(f"{words.count(len(facts['faults']), 'fault')}. Nothing was changed.")
    if facts["head"]:
        entries = words.count(facts["head"]["entry"], "entry", "entries")
        if not facts["faults"]:
            page.line(f"All as it was written: {entries}.", style=STRONG)
        page.line(
            f"Note {head_words(facts['head'])}; --noted tells later whether it is still there.", style=QUIET
        )
    page.print()


@click.command(
    "export",
    cls=Taught,
    learns="Take the log along as JSON lines, one entry a line; of a damaged log whatever can be read.",
    inputs=(FOLDER_INPUT, ("FILE", "what to write; a file that is there is only replaced by another log")),
    examples=(
        "trysquare log export my-machine log.jsonl",
        "trysquare log export my-machine log.jsonl --json",
    ),
    exits=_EXITS,
)
@click.argument("folder", metavar="FOLDER")
@click.argument("file", metavar="FILE")
@json_option
def export(folder: str, file: str, as_json: bool) -> int:
    """The same log gives the same bytes. Photos and files stay in log-files/: copy that folder too."""
    from trysquare.cli.files_out import look_at
    from trysquare.ground.errors import ReadingError

    target = Path(file)
    look_at(target, b'{"entries":', "build log in JSON lines")
    try:
        with opened_log(folder) as log:
            entries = log.export(target)
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    if as_json:
        print_json({"folder": folder, "file": file, "entries": entries})
    else:
        page = Page()
        page.line(f"{file}: {words.count(entries, 'entry', 'entries')}.")
        if (Path(folder) / "log-files").is_dir():
            page.line("Photos and files stay in log-files/: copy that folder too.", style=QUIET)
        page.print()
    return CLEAN


@click.command(
    "take-in",
    cls=Taught,
    learns="Join another log to this one: of another computer, or an export to begin with.",
    inputs=(FOLDER_INPUT, ("FILE", "JSON lines that 'trysquare log export' wrote")),
    examples=(
        "trysquare log take-in my-machine log.jsonl",
        "trysquare log take-in my-machine log.jsonl --json",
    ),
    exits=_EXITS,
)
@click.argument("folder", metavar="FOLDER")
@click.argument("file", metavar="FILE")
@json_option
def take_in(folder: str, file: str, as_json: bool) -> int:
    """What is here already is not added again; what contradicts is kept beside it and shown."""
    from dataclasses import asdict

    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingError, ReadingErrors

    try:
        name = read_machine(folder, ()).name
        with opened_log(folder, name, read_only=False) as log:
            taken = log.take_in(Path(file))
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    if as_json:
        print_json({"folder": folder, "file": file, **asdict(taken)})
        return CLEAN
    page = Page()
    added = words.count(taken.added, "entry", "entries")
    page.line(f"{added} added, {taken.known} known before.", style=STRONG)
    if taken.machine != name:
        page.line(f"The file is the log of '{taken.machine}'; this machine is '{name}'.")
    if taken.added and not taken.as_it_stood:
        page.line("They have new numbers here; what their devices said is kept as it was.", style=QUIET)
    if taken.altered:
        page.line(f"Not what was once written, taken as they read: lines {words.listed(taken.altered, 10)}.")
    if taken.differing:
        page.line(f"Here with other words, which stand: {words.listed(taken.differing, 10)}.")
    page.print()
    return CLEAN


@click.command(
    "undo",
    cls=Taught,
    learns="Take back what one entry said. It stays in the log, and undoing the undo puts it in force again.",
    inputs=(FOLDER_INPUT, ("ENTRY", "the entry's number or id, as 'trysquare log FOLDER' tells it")),
    examples=("trysquare log undo my-machine 12", "trysquare log undo my-machine 12 --json"),
    exits=_EXITS,
)
@click.argument("folder", metavar="FOLDER")
@click.argument("entry", metavar="ENTRY")
@json_option
def undo(folder: str, entry: str, as_json: bool) -> int:
    """Adds an undo to the log."""
    from trysquare.cli.log_facts import entry_fact
    from trysquare.ground.errors import ReadingError
    from trysquare.record.events import Event, time_text
    from trysquare.record.log import now_utc
    from trysquare.record.replay import replay_on

    try:
        with opened_log(folder, read_only=False) as log:
            state = log.state()
            meant = next((one for one in log.events() if entry in (str(one.seq), one.event.id)), None)
            if meant is None:
                raise NotThere(
                    f"The log has no entry {words.one_line(entry)}; it has {state.seq}. "
                    f"trysquare log {words.quoted(folder)} --last 20 tells the last ones."
                )
            if meant.event.id in state.undone:
                raise NotThere(
                    f"Entry {meant.seq} is undone already. To put it in force again, undo its undo."
                )
            event = Event(
                id=str(uuid.uuid4()),
                kind="undo",
                step=meant.event.step,
                at=time_text(now_utc()),
                device="command line",
                data={"of": meant.event.id},
                seen=state.seq,
            )
            (logged,) = log.append([event])
            state = replay_on(state, [logged])
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    if as_json:
        print_json({"folder": folder, "undone": entry_fact(meant, state), "undo": entry_fact(logged, state)})
    else:
        page = Page()
        page.line(f"Entry {meant.seq} ({meant.event.kind}) is undone, by entry {logged.seq}.")
        page.print()
    return CLEAN


def _noted(said: str | None) -> Head | None:
    from trysquare.record.log import Head

    if said is None:
        return None
    entry, _, digest = said.partition(":")
    if not (entry.isascii() and entry.isdigit() and len(digest) == 64):
        raise click.UsageError("--noted takes ENTRY:HASH, as verify tells it.", click.get_current_context())
    return Head(seq=int(entry), hash=digest)


# --- what all of `trysquare log` shares


def log_file(folder: str) -> Path:
    """Where a folder's log is, or would be."""
    from trysquare.record.log import FILE_NAME

    return Path(folder) / FILE_NAME


def opened_log(folder: str, machine: str = "", *, read_only: bool = True) -> BuildLog:
    """The folder's log; raises NotThere when there is none and none is to be begun."""
    from trysquare.record.log import open_log

    if not Path(folder).is_dir():
        raise NotThere(f"{words.one_line(folder)} is no folder. Name a machine folder.")
    if not log_file(folder).is_file() and not machine:
        raise NotThere(BEGINS)
    return open_log(Path(folder), machine=machine, read_only=read_only)


def head_words(head: dict[str, Any]) -> str:
    """The last entry as --noted takes it."""
    return f"the last one {head['entry']}:{head['hash']}"

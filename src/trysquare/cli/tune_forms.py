"""The tuning commands' options as the forms of the bench's pages: said once, in the commands themselves."""

from __future__ import annotations

import importlib
import re
import sys
from collections.abc import Sequence

import click

from trysquare.bench.tuning_tools import (
    CHOICE,
    FILE,
    NUMBER,
    TOOL_TITLES,
    TRUTH,
    WORDS,
    Form,
    Made,
    Question,
    Tools,
)  # fmt: skip
from trysquare.cli.teaching import Taught
from trysquare.cli.typed import UNITS

_NOT_ASKED = frozenset({"signs", "folder", "place", "papers", "plot", "into_log", "as_json", "help", "plane"})
_WRITES = frozenset({"OUT", "PLACE", "OUTFILE"})
"""Placeholders of what a command writes or keeps elsewhere: no page may say where."""
_SOUND, _TABLE = "sound", "table"
_FIRST = {
    "belt": ("belts", "length_mm", "at", "tones"),
    "homing": (),
}
"""Options that a page shows at once, by command; of the others the first four."""
_SHOWN_AT_ONCE = 4
_PATTERN = re.compile(r"[,:;=/-]")
"""A placeholder with one of these says how to write a thing: X,Y; a plain word only repeats the label."""
_PLANES = (("xy", "lying"), ("xz", "standing along x"), ("yz", "standing along y"))
_MAKES = {
    "skew": tuple(
        made
        for plane, stands in _PLANES
        for made in (
            Made(name=f"piece-{plane}.stl", says=f"Test piece {plane.upper()}, {stands} (STL)",
                 arguments=("--piece", f"piece-{plane}.stl", "--plane", plane)),
            Made(name=f"piece-{plane}.svg", says=f"What to read on it, {plane.upper()}",
                 arguments=("--piece", f"piece-{plane}.stl", "--plane", plane)),
        )
    )
}  # fmt: skip
_DEFAULT = re.compile(r"\s*\[default: (?P<default>.*)\]\s*$", re.DOTALL)


def tools(folder: str, papers: Sequence[str]) -> Tools:
    """The way to `trysquare tune` for a bench of this machine."""
    from pathlib import Path

    machine = ["--machine", str(Path(folder).resolve())]
    machine += [part for paper in papers for part in ("--paper", str(Path(paper).resolve()))]
    return Tools(
        forms=forms,
        command=lambda said: [sys.executable, "-m", "trysquare.cli.main", "tune", *said],
        machine=tuple(machine),
    )


def forms() -> list[Form]:
    """The form of every tuning command."""
    from trysquare.cli.tune import WHAT

    return [_form(what, importlib.import_module(module).command) for what, module, _ in WHAT]


def _form(what: str, command: click.Command) -> Form:
    assert isinstance(command, Taught)
    asked = [
        each
        for each in command.params
        if each.name not in _NOT_ASKED and not _writes(each) and not getattr(each, "hidden", False)
    ]
    options = [each.name for each in asked if isinstance(each, click.Option)]
    first = _FIRST.get(what, tuple(options[:_SHOWN_AT_ONCE]))
    questions = tuple(_question(each, main=each.name in first) for each in asked)
    alone = [each for each in questions if each.kind == FILE and not each.option]
    sort = (_SOUND if what == "belt" else _TABLE) if alone else ""
    return Form(
        what=what,
        title=TOOL_TITLES.get(what, what),
        learns=command.learns,
        sort=sort,
        draws=any(each.name == "plot" for each in command.params),
        inputs=tuple(command.inputs),
        questions=questions,
        makes=_MAKES.get(what, ()),
    )


def _writes(each: click.Parameter) -> bool:
    return (each.metavar or "").strip("[]…") in _WRITES


def _question(each: click.Parameter, *, main: bool) -> Question:
    if isinstance(each, click.Argument):
        return Question(option="", label="File", kind=FILE, several=each.nargs != 1, main=True)
    assert isinstance(each, click.Option)
    said = _DEFAULT.search(each.help or "")
    label = _DEFAULT.sub("", each.help or "").strip().rstrip(".")
    metavar = each.metavar or ""
    choices: tuple[str, ...] = ()
    unit = ""
    if each.is_flag:
        kind = TRUTH
    elif isinstance(each.type, click.Choice):
        kind, choices = CHOICE, tuple(str(one) for one in each.type.choices)
    elif metavar == "FILE":
        kind = FILE
    elif isinstance(each.type, click.types.FloatParamType | click.types.IntParamType):
        kind, unit = NUMBER, _unit(metavar)
    else:
        kind, unit = WORDS, metavar if _PATTERN.search(metavar) else ""
    return Question(
        option=max(each.opts, key=len),
        label=label,
        kind=kind,
        unit=unit,
        default=said["default"] if said else "",
        choices=choices,
        several=each.multiple,
        main=main,
    )


def _unit(metavar: str) -> str:
    return UNITS.get(metavar, metavar.lower() if metavar.isascii() else metavar)

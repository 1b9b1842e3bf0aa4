"""What the Tab key offers: files and folders, and the names that the machine folder of the line holds."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from trysquare.machine.values import Machine

MOST_OFFERED = 400
"""More names than these help nobody to choose."""

FOLDERS = frozenset({"FOLDER", "PLACE"})
FILES = frozenset({"FILE", "MAP", "SHAKE", "TOUCHES", "READINGS", "RECORDING", "RECORD", "OUT", "OLD", "NEW"})


def offered(ctx: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """What fits a parameter, as its metavar calls it. Whatever cannot be read offers nothing."""
    wanted = (parameter.metavar or "").strip("[]…")
    if wanted in FOLDERS:
        return [CompletionItem(incomplete, type="dir")]
    if wanted in FILES:
        return [CompletionItem(incomplete, type="file")]
    if parameter.name == "code":
        from trysquare.ground.findings import finding_kinds

        return _beginning(incomplete, finding_kinds())
    names = _NAMES.get("STEP" if "step" in (parameter.name or "") else wanted)
    machine = _machine(ctx) if names else None
    return _beginning(incomplete, names(machine)) if names and machine else []


def _beginning(incomplete: str, names: Iterable[str]) -> list[CompletionItem]:
    """Names with a blank are left out: shells differ in how they would have to be quoted."""
    found = [name for name in dict.fromkeys(names) if name.startswith(incomplete) and " " not in name]
    return [CompletionItem(name) for name in found[:MOST_OFFERED]]


def _machine(ctx: click.Context) -> Machine | None:
    """The machine of the line so far; None when it is not named yet or cannot be read."""
    folder = ctx.params.get("folder") or _folder_typed()
    if not isinstance(folder, str):
        return None
    with contextlib.suppress(Exception):  # a half-written line is no time for messages
        from trysquare.cli.facts import read_machine

        return read_machine(folder, [paper for paper in ctx.params.get("papers") or () if paper])
    return None


def _folder_typed() -> str | None:
    """The first word that is a machine folder: nothing is parsed while an option lacks its value."""
    words = os.environ.get("COMP_WORDS", "").split()
    return next((word for word in words if (Path(word) / "machine.toml").is_file()), None)


def _steps(machine: Machine) -> Iterable[str]:
    return (step.id for step in machine.steps)


def _members(machine: Machine) -> Iterable[str]:
    return (part.id for part in machine.placed if part.type.profile is not None)


def _parts(machine: Machine) -> Iterable[str]:
    return machine.types


def _things(machine: Machine) -> Iterable[str]:
    """What `show` knows, screws and nuts of the joints left out until their joint is typed."""
    yield from machine.units
    yield from _steps(machine)
    yield from (joint.id for joint in machine.joints)
    yield from (part.id for part in machine.placed if not part.joint)
    yield from (paper.id for paper in machine.papers)
    yield from _parts(machine)
    yield from (part.id for part in machine.placed if part.joint)


_NAMES: dict[str, Callable[[Machine], Iterable[str]]] = {
    "STEP": _steps,
    "MEMBER": _members,
    "PART": _parts,
    "WHAT": _things,
}

"""What a parts list changes in a machine folder: planned first, then written, with what was kept beside."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from trysquare.cli.answers import talk
from trysquare.cli.import_list_read import COLUMNS_FILE, Imported
from trysquare.ground.errors import ReadingErrors
from trysquare.intake.list_decide import OwnPart
from trysquare.intake.list_files import (
    LIST_FILE,
    MACHINE_FILE,
    PARTS_FILE,
    ListChange,
    changes,
    is_waiting,
    list_lines,
    list_text,
    machine_text,
    with_own_parts,
)
from trysquare.stock.remembered import FILE_NAME as NAMES_FILE
from trysquare.stock.remembered import plain_name, with_names
from trysquare.stock.row_text import understand


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What an import leaves. `texts`: files that become otherwise, whole; `diffs`: how; `changes` against the
    list before."""

    texts: Mapping[str, str]
    diffs: Mapping[str, tuple[str, ...]]
    changes: tuple[ListChange, ...]
    reissued: bool


def planned(found: Imported) -> Written:
    """The files as they will be, nothing written yet."""
    place = found.place
    lines = list_lines(found.decided)
    used = {line.part for line in lines}
    placed = {part.type.id for part in place.machine.placed}
    own = {one.own.id: one.own for one in found.decided if one.own is not None}
    settled: list[OwnPart] = []
    kept = used | placed | own.keys()
    for line in place.lines:
        if line.state == "own" and line.part not in kept and line.part in place.machine.types:
            settled.append(OwnPart(id=line.part, name=line.name, kind=understand(line.name).kind))
        still = line.part in own and own[line.part].undecided
        if is_waiting(line) and line.part in place.machine.types and not still:
            read = understand(line.name)
            before = OwnPart(id=line.part, name=line.name, kind=read.kind, member=read.member)
            settled.append(before)
            if line.part not in own and (line.part in used or line.part in placed):
                own[line.part] = before
    texts = {LIST_FILE: list_text(lines)}
    parts = with_own_parts(place.texts.get(PARTS_FILE, ""), list(own.values()), settled)
    if not place.exists:
        texts[MACHINE_FILE] = machine_text(found.name or place.path.resolve().name, found.file.name)
    if parts or PARTS_FILE in place.texts:
        texts[PARTS_FILE] = parts
    confirmed = dict(found.confirmed)
    for plain in found.known.own_by_word:  # remembered by the id that it now has
        for one in found.decided:
            if plain_name(one.row.text) == plain and one.parts:
                confirmed[one.row.text] = one.parts
    if confirmed:
        texts[NAMES_FILE] = with_names(place.texts.get(NAMES_FILE, ""), confirmed)
    if found.said_columns:
        texts[COLUMNS_FILE] = _with_columns(place.texts.get(COLUMNS_FILE, ""), found.said_columns)
    differ = {name: text for name, text in texts.items() if place.texts.get(name) != text}
    diffs = {
        name: tuple(
            difflib.unified_diff(
                place.texts[name].splitlines(),
                text.splitlines(),
                f"{name} before",
                f"{name} now",
                lineterm="",
                n=0,
            )
        )
        for name, text in differ.items()
        if name in place.texts
    }
    reissued = LIST_FILE in place.texts
    return Written(
        texts=differ, diffs=diffs, changes=changes(place.lines, lines) if reissued else (), reissued=reissued
    )


def _with_columns(text: str, said: Mapping[str, str]) -> str:
    import tomlkit

    document = tomlkit.parse(text if text.strip() else "# What was said when lists were brought in.\n")
    table = document.setdefault("columns", tomlkit.table())
    for sort, word in said.items():
        table[sort] = word
    return tomlkit.dumps(document)


def write_planned(found: Imported, plan: Written) -> tuple[list[str], list[str]]:
    """Writes the files, each kept under another name before; gives the written and the kept files.

    When the folder cannot be read afterwards, everything is put back and the problems are raised.
    """
    from trysquare.cli.files_out import look_at_folder, write
    from trysquare.machine.load import load_machine

    path = found.place.path
    look_at_folder(path)
    kept: dict[str, Path] = {}
    for name in plan.texts:
        if name in found.place.texts:
            kept[name] = _kept_name(path, name)
            write(kept[name], (path / name).read_bytes())
    for name, text in plan.texts.items():
        write(path / name, text.encode())
    try:
        load_machine(path, [])
    except ReadingErrors:
        for name in plan.texts:
            if name in kept:
                kept[name].replace(path / name)
            else:
                (path / name).unlink()
        talk("The folder could not be read with the new list; everything is as it was.")
        raise
    return [str(path / name) for name in plan.texts], [str(one) for one in kept.values()]


def _kept_name(path: Path, name: str) -> Path:
    number = 1
    while (path / f"{name}.before-{number}").exists():
        number += 1
    return path / f"{name}.before-{number}"

"""Reading the machine folder: files to raw lines, with every problem collected.

This is the one place of the core that touches the disk. It reads only inside the folder.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path as DiskPath
from typing import Any

from trysquare.ground.errors import ReadingError, ReadingErrors, Where
from trysquare.machine.fields import (
    MACHINE_FILE,
    PAPER_FILE,
    PARTS_FILE,
    RULINGS_FILE,
    STEPS_FILE,
    UNIT_FILE,
)
from trysquare.machine.schema import Fields, check_table
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import ListRow, Origin, Raw, SourceFile, Tree

LARGEST_TEXT_BYTES = 8_000_000  # a machine of 1,000 parts takes some 200 kB
LARGEST_LIST_ROWS = 100_000
ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")


@dataclass(slots=True)
class PaperFile:
    """A paper as read: its head and its changes, still raw."""

    id: str
    raw: Raw
    file: SourceFile


@dataclass(slots=True)
class Folder:
    """Everything read from a machine folder, before papers are merged."""

    path: DiskPath
    tree: Tree = field(default_factory=Tree)
    papers: list[PaperFile] = field(default_factory=list)
    rulings: list[tuple[Raw, Where]] = field(default_factory=list)
    shapes: dict[str, str] = field(default_factory=dict)  # file -> digest of its bytes
    problems: list[ReadingError] = field(default_factory=list)


def folder_files(path: DiskPath) -> list[DiskPath]:
    """The files that make a machine, sorted: what the cache and the reader look at."""
    found = [path / name for name in ("machine.toml", "rulings.toml", "list.csv")]
    found += _parts_files(path) + _steps_files(path)
    found += sorted((path / "units").glob("*.toml")) + sorted((path / "papers").glob("*.toml"))
    found += sorted((path / "shapes").glob("*"))
    return [file for file in found if file.is_file()]


def _parts_files(path: DiskPath) -> list[DiskPath]:
    return [path / "parts.toml", *sorted((path / "parts").glob("*.toml"))]


def _steps_files(path: DiskPath) -> list[DiskPath]:
    return [path / "steps.toml", *sorted((path / "steps").glob("*.toml"))]


def folder_digest(path: DiskPath, extra_papers: Sequence[DiskPath] = ()) -> str:
    """A digest of all bytes that the machine is read from; equal digests give equal machines."""
    digest = hashlib.sha256()
    for file in [*folder_files(path), *extra_papers]:
        digest.update(str(file.relative_to(path) if file.is_relative_to(path) else file.name).encode())
        digest.update(b"\0")
        try:
            digest.update(hashlib.sha256(file.read_bytes()).digest())
        except OSError as error:
            digest.update(f"unreadable {error.errno}".encode())
    return digest.hexdigest()


def read_folder(path: DiskPath, extra_papers: Sequence[DiskPath] = ()) -> Folder:
    """All files of a machine folder as raw lines. Raises ReadingErrors only when nothing can be read."""
    folder = Folder(path=path)
    if not path.is_dir() or not (path / "machine.toml").is_file():
        what = "a folder without machine.toml" if path.is_dir() else "no folder"
        raise ReadingErrors(
            [
                ReadingError(
                    where=Where(file=str(path)),
                    read=what,
                    expected="a machine folder with a machine.toml",
                    remedy='Give the folder\'s path, or write machine.toml with format = 1 and name = "…".',
                )
            ]
        )
    _machine(folder)
    for file in _parts_files(path):
        _parts(folder, file)
    for file in sorted((path / "units").glob("*.toml")):
        _unit(folder, file)
    for file in _steps_files(path):
        _steps(folder, file)
    papers = [*sorted((path / "papers").glob("*.toml")), *extra_papers]
    for file in papers:
        _paper(folder, file)
    _rulings(folder)
    _list(folder)
    return folder


def shape_digest(folder: Folder, name: str, where: Where) -> str:
    """Digest of a file under shapes/; a problem and "" when it is missing or leads out of the folder."""
    if name in folder.shapes:
        return folder.shapes[name]
    root = folder.path.resolve()
    file = folder.path / name
    if DiskPath(name).is_absolute() or not _inside(file, root):
        folder.problems.append(
            ReadingError(
                where=where,
                read=name,
                expected="a file inside the machine folder",
                remedy="Copy the file into shapes/ and write its name from there, such as shapes/clamp.stl.",
            )
        )
    elif not file.is_file():
        folder.problems.append(
            ReadingError(
                where=where,
                read=name,
                expected="a file that is there",
                remedy=f"Put it at {name} in the machine folder, or correct the name.",
            )
        )
    else:
        folder.shapes[name] = hashlib.sha256(file.read_bytes()).hexdigest()
    return folder.shapes.get(name, "")


def _inside(file: DiskPath, root: DiskPath) -> bool:
    try:
        return file.resolve().is_relative_to(root)
    except (OSError, ValueError):
        return False


def _text(folder: Folder, file: DiskPath) -> SourceFile | None:
    """The file's text, or None after noting the problem."""
    name = str(file.relative_to(folder.path)) if file.is_relative_to(folder.path) else file.name

    def problem(read: str, expected: str, remedy: str, line: int = 0) -> None:
        folder.problems.append(
            ReadingError(where=Where(file=name, line=line), read=read, expected=expected, remedy=remedy)
        )

    if file.is_relative_to(folder.path) and not _inside(file, folder.path.resolve()):
        problem("a link out of the folder", "a file inside the machine folder", "Copy the file itself here.")
        return None
    try:
        size = os.stat(file).st_size
        if size > LARGEST_TEXT_BYTES:
            problem(
                f"{size / 1e6:.1f} MB",
                f"a text file of at most {LARGEST_TEXT_BYTES / 1e6:g} MB",
                "This is no machine description; put data and shapes elsewhere.",
            )
            return None
        data = file.read_bytes()
    except OSError as error:
        problem(
            error.strerror or "an error", "a file that can be read", "Check that it exists and its rights."
        )
        return None
    try:
        return SourceFile(name, data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        problem(
            f"byte 0x{data[error.start]:02x} at position {error.start}",
            "UTF-8 text",
            "Save the file as UTF-8 in your editor.",
            line=data.count(b"\n", 0, error.start) + 1,
        )
        return None


def _toml(folder: Folder, file: DiskPath) -> tuple[SourceFile, Raw] | None:
    source = _text(folder, file)
    if source is None:
        return None
    try:
        return source, tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)|\(at end of document\)", str(error))
        at_line = bool(found and found.group(1))
        line = int(found.group(1)) if found and at_line else source.text.count("\n") + 1
        says = str(error).partition(" (at ")[0]
        rows = source.text.splitlines()
        read = rows[line - 1].strip() if line <= len(rows) else "the end of the file"
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name, line=line),
                read=read,
                expected=f"TOML ({says})",
                remedy="Check quotes, brackets and commas; an id may stand only once.",
            )
        )
    except RecursionError:
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name),
                read="brackets nested hundreds deep",
                expected="lists and tables nested a few deep",
                remedy="Check for a run of stray brackets.",
            )
        )
    return None


def _checked(folder: Folder, source: SourceFile, raw: Raw, fields: Fields) -> Raw:
    def where_of(path: Path) -> Where:
        return Where(file=source.name, line=source.line(path), key=".".join(str(part) for part in path))

    return check_table(raw, fields, (), where_of, folder.problems)


def _good_id(folder: Folder, source: SourceFile, path: Path, word: object) -> bool:
    if isinstance(word, str) and ID.fullmatch(word):
        return True
    folder.problems.append(
        ReadingError(
            where=Where(file=source.name, line=source.line(path), key=".".join(map(str, path))),
            read=word,
            expected="an id of letters, digits, - and _",
            remedy="Choose a short id such as front-beam; put the long name under name or title.",
        )
    )
    return False


def _machine(folder: Folder) -> None:
    read = _toml(folder, folder.path / "machine.toml")
    if read is None:
        return
    source, raw = read
    table = _checked(folder, source, raw, MACHINE_FILE)
    if table.get("format", 1) != 1:
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name, line=source.line(("format",)), key="format"),
                read=table["format"],
                expected="format 1",
                remedy="This folder was written for another Trysquare; use the one it names.",
            )
        )
    folder.tree.lines["machine"] = table
    folder.tree.origins[("machine",)] = Origin(paper="", file=source, path=())


def _parts(folder: Folder, file: DiskPath) -> None:
    read = _toml(folder, file) if file.is_file() else None
    if read is None:
        return
    source, raw = read
    # Values are checked after the papers are merged; here only the shape of the file.
    table = _checked(folder, source, {k: v for k, v in raw.items() if k != "part"}, PARTS_FILE)
    paper = table.get("paper", "")
    folder.tree.origins.setdefault(("part",), Origin(paper=paper, file=source, path=("part",)))
    _entries(folder, source, raw.get("part", {}), ("part",), ("part",), paper)


def _unit(folder: Folder, file: DiskPath) -> None:
    unit = file.stem
    read = _toml(folder, file)
    if read is None:
        return
    source, raw = read
    head = {k: v for k, v in raw.items() if k not in ("place", "joint", "unit")}
    table = _checked(folder, source, head, UNIT_FILE)
    if not ID.fullmatch(unit):
        _good_id(folder, source, (), unit)
        return
    paper = table.get("paper", "")
    tree = folder.tree
    tree.lines["unit"][unit] = {"unit": raw.get("unit", {}), "place": {}, "joint": {}}
    tree.origins[("unit", unit)] = Origin(paper=paper, file=source, path=())
    for sort in ("place", "joint"):
        _entries(folder, source, raw.get(sort, {}), (sort,), ("unit", unit, sort), paper)


def _entries(
    folder: Folder, source: SourceFile, raw: object, from_path: Path, to_path: Path, paper: str
) -> None:
    """Copies named tables into the tree, each with its origin."""
    if not isinstance(raw, dict):
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name, line=source.line(from_path), key=str(from_path[-1])),
                read=raw,
                expected="named tables",
                remedy=f"Write [{from_path[-1]}.name] and its keys below.",
            )
        )
        return
    target: Any = folder.tree.lines
    for key in to_path:
        target = target.setdefault(key, {})
    for name, entry in raw.items():
        if name in target:
            first = folder.tree.where((*to_path, name))
            folder.problems.append(
                ReadingError(
                    where=Where(file=source.name, line=source.line((*from_path, name)), key=name),
                    read=name,
                    expected=f"an id of its own; '{name}' stands already at {first.file}:{first.line}",
                    remedy="Give one of the two another id.",
                )
            )
        elif _good_id(folder, source, (*from_path, name), name):
            target[name] = entry
            folder.tree.origins[(*to_path, name)] = Origin(paper=paper, file=source, path=(*from_path, name))


def _steps(folder: Folder, file: DiskPath) -> None:
    read = _toml(folder, file) if file.is_file() else None
    if read is None:
        return
    source, raw = read
    table = _checked(folder, source, {k: v for k, v in raw.items() if k != "step"}, STEPS_FILE)
    paper = table.get("paper", "")
    rows = raw.get("step", [])
    if not isinstance(rows, list):
        rows = [rows]
    for index, row in enumerate(rows):
        path: Path = ("step", index)
        name = row.get("id") if isinstance(row, dict) else None
        if not _good_id(folder, source, (*path, "id"), name):
            continue
        assert isinstance(name, str)
        if name in folder.tree.lines["step"]:
            first = folder.tree.where(("step", name))
            folder.problems.append(
                ReadingError(
                    where=Where(file=source.name, line=source.line(path), key="step.id"),
                    read=name,
                    expected=f"an id of its own; '{name}' stands already at {first.file}:{first.line}",
                    remedy="Give one of the two steps another id.",
                )
            )
            continue
        folder.tree.lines["step"][name] = row
        folder.tree.step_order.append(name)
        folder.tree.origins[("step", name)] = Origin(paper=paper, file=source, path=path)


def _paper(folder: Folder, file: DiskPath) -> None:
    read = _toml(folder, file)
    if read is None:
        return
    source, raw = read
    if not _good_id(folder, source, (), file.stem):
        return
    if any(known.id == file.stem for known in folder.papers):
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name),
                read=file.stem,
                expected="a paper id of its own",
                remedy="Rename one of the two files; the file's name is the paper's id.",
            )
        )
        return
    folder.papers.append(PaperFile(file.stem, _checked(folder, source, raw, PAPER_FILE), source))


def _rulings(folder: Folder) -> None:
    file = folder.path / "rulings.toml"
    read = _toml(folder, file) if file.is_file() else None
    if read is None:
        return
    source, raw = read
    table = _checked(folder, source, raw, RULINGS_FILE)
    for index, row in enumerate(table.get("ruling", [])):
        where = Where(file=source.name, line=source.line(("ruling", index)), key=f"ruling.{index + 1}")
        folder.rulings.append((row, where))


def _list(folder: Folder) -> None:
    """`list.csv`: a bare parts list, columns part and pieces (comma, semicolon or tab)."""
    file = folder.path / "list.csv"
    source = _text(folder, file) if file.is_file() else None
    if source is None:
        return
    first = source.text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    rows = csv.DictReader(io.StringIO(source.text), delimiter=delimiter)
    names = {(name or "").strip().lower(): name for name in rows.fieldnames or ()}
    if "part" not in names or "pieces" not in names:
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name, line=1),
                read=first.strip(),
                expected="a heading row with the columns part and pieces",
                remedy="Write part,pieces on the first line.",
            )
        )
        return
    try:
        for count, row in enumerate(rows):
            if count >= LARGEST_LIST_ROWS:
                folder.problems.append(
                    ReadingError(
                        where=Where(file=source.name, line=rows.line_num),
                        read=f"more than {LARGEST_LIST_ROWS} rows",
                        expected=f"at most {LARGEST_LIST_ROWS} rows",
                        remedy="Split the list; one machine does not have so many sorts.",
                    )
                )
                return
            _list_row(folder, source, row, rows.line_num, names)
    except csv.Error as error:
        folder.problems.append(
            ReadingError(
                where=Where(file=source.name, line=rows.line_num),
                read=str(error),
                expected="comma-separated text",
                remedy="Save the list as CSV again.",
            )
        )


def _list_row(
    folder: Folder, source: SourceFile, row: dict[str, Any], line: int, names: dict[str, str]
) -> None:
    part = str(row.get(names["part"]) or "").strip()
    pieces = str(row.get(names["pieces"]) or "").strip()
    if not part and not pieces:
        return
    where = Where(file=source.name, line=line, key="pieces")
    if not part or not pieces.isascii() or not pieces.isdigit() or len(pieces) > 9:
        folder.problems.append(
            ReadingError(
                where=where,
                read=pieces if part else "a row without a part",
                expected="a part and a whole number of pieces",
                remedy="Write, for example, ISO 7380-1 M3x8,24.",
            )
        )
        return
    folder.tree.list_rows.append(ListRow(part=part, pieces=int(pieces), where=where))

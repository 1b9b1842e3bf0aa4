"""Reading the machine folder: files to raw lines, with every problem collected.

With `toml_files` this is the one place of the core that touches the disk. It reads only inside the folder.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path as DiskPath
from typing import Any

from trysquare.ground.errors import ReadingError, ReadingErrors, Where
from trysquare.machine.fields import PAPER_FILE, PARTS_FILE, RULINGS_FILE, STEPS_FILE, UNIT_FILE
from trysquare.machine.not_there import nearest_beside
from trysquare.machine.parts_list import read_list
from trysquare.machine.schema import ID, check_id, check_table
from trysquare.machine.toml_files import LARGEST_TEXT_BYTES, inside, read_text, read_toml
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Origin, Problems, Raw, SourceFile, Tree, line_name

__all__ = [
    "ID", "LARGEST_TEXT_BYTES", "Folder", "PaperFile", "folder_digest", "folder_files", "read_folder",
    "shape_digest",
]  # fmt: skip


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
    unread: bool = False  # a file could not be read at all: what it names is not known
    said_by: list[tuple[str, SourceFile]] = field(default_factory=list)  # each file's own `paper`
    problems: list[ReadingError] = field(default_factory=Problems)


def folder_files(path: DiskPath) -> list[DiskPath]:
    """The files that make a machine, sorted: what the cache and the reader look at."""
    found = [path / name for name in ("machine.toml", "rulings.toml", "list.csv")]
    found += _parts_files(path) + _steps_files(path)
    found += sorted((path / "units").glob("*.toml")) + sorted((path / "papers").glob("*.toml"))
    found += sorted((path / "shapes").rglob("*"))
    return [file for file in found if file.is_file()]


def _parts_files(path: DiskPath) -> list[DiskPath]:
    return [path / "parts.toml", *sorted((path / "parts").glob("*.toml"))]


def _steps_files(path: DiskPath) -> list[DiskPath]:
    return [path / "steps.toml", *sorted((path / "steps").glob("*.toml"))]


def files_not_read(path: DiskPath) -> list[str]:
    """Text files that look as if they belonged to the machine and that nothing reads, by relative name.

    TOML files anywhere but in their places, with another ending's case, or in a folder of a like name.
    """
    known = {file.relative_to(path) for file in folder_files(path)}
    known |= {DiskPath(name) for name in _READ_ELSEWHERE}
    found: list[str] = []
    for place in (path, *(one for one in sorted(path.iterdir()) if one.is_dir())):
        if place.name.startswith("."):
            continue
        for file in sorted(place.iterdir()):
            relative = file.relative_to(path)
            if file.suffix.lower() == ".toml" and file.is_file() and relative not in known:
                found.append(str(relative))
    return found


_READ_ELSEWHERE = ("names.toml", "letters.toml", "imports.toml", "columns.toml")  # by stock, sort and import


def folder_digest(path: DiskPath, extra_papers: Sequence[DiskPath] = ()) -> str:
    """A digest of all bytes that the machine is read from; equal digests give equal machines.

    Links that lead out of the folder are not followed.
    """
    digest = hashlib.sha256()
    root = path.resolve()
    for file in [*folder_files(path), *extra_papers]:
        within = file.is_relative_to(path)
        digest.update((file.relative_to(path).as_posix() if within else file.name).encode(errors="replace"))
        digest.update(b"\0")
        if within and not inside(file, root):
            digest.update(b"a link out of the folder")
            continue
        try:
            digest.update(_digest_of(file).encode())
        except OSError as error:
            digest.update(f"unreadable {error.errno}".encode())
    return digest.hexdigest()


def _digest_of(file: DiskPath) -> str:
    """A file's digest, read piece by piece: shapes may be large."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_folder(path: DiskPath, extra_papers: Sequence[DiskPath] = ()) -> Folder:
    """All files of a machine folder as raw lines.

    Raises ReadingErrors only when nothing can be read, or when the problems have no end.
    """
    folder = Folder(path=path)
    main = path / "machine.toml"
    if not main.is_file():
        if not path.is_dir():
            what = "no folder" if not path.exists() else "a file"
        else:
            what = "a folder named machine.toml" if main.is_dir() else "a folder without machine.toml"
        raise ReadingErrors(
            [
                ReadingError(
                    where=Where(file=str(path)),
                    read=what,
                    expected="a machine folder with a machine.toml",
                    remedy=(
                        f"{nearest_beside(path)} " if what == "no folder" and nearest_beside(path) else ""
                    )
                    + 'Give the folder\'s path, or write machine.toml with format = 1 and name = "…".',
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
    for file in [*sorted((path / "papers").glob("*.toml")), *extra_papers]:
        _paper(folder, file)
    _rulings(folder)
    source = _there(folder, "list.csv")
    text = read_text(path, source, folder.problems) if source else None
    if text is not None:
        folder.tree.list_rows = read_list(text, folder.problems)
    return folder


def _there(folder: Folder, name: str) -> DiskPath | None:
    """A file that need not be there; a broken link is there, and its reading says so."""
    file = folder.path / name
    return file if file.exists() or file.is_symlink() else None


def shape_digest(folder: Folder, name: str, where: Where) -> str:
    """Digest of a file under shapes/; a problem and "" when it is missing or leads out of the folder."""
    if name in folder.shapes:
        return folder.shapes[name]
    file = folder.path / name

    def problem(read: str, expected: str, remedy: str) -> str:
        folder.problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))
        return ""

    if (
        DiskPath(name).is_absolute()
        or not inside(file, (folder.path / "shapes").resolve())
        or not inside(file, folder.path.resolve())
    ):
        return problem(
            name,
            "a file inside the machine folder, under shapes/",
            "Copy the file into shapes/ and write its name from there, such as shapes/clamp.stl.",
        )
    try:
        if not file.is_file():
            remedy = f"Put it at {name} in the machine folder, or correct the name."
            return problem(name, "a file that is there", remedy)
        folder.shapes[name] = _digest_of(file)
    except OSError as error:
        says = f"{name}: {error.strerror or 'an error'}"
        return problem(says, "a file that can be read", "Check that you may read it.")
    return folder.shapes[name]


def _where_in(source: SourceFile, path: Path, key: str = "") -> Where:
    return Where(file=source.name, line=source.line(path), key=key or line_name(path))


def _head(folder: Folder, source: SourceFile, raw: Raw, body: Sequence[str], fields: Any) -> str:
    """Checks what stands beside the named lines of a file; the paper it names. Lines are checked after the
    papers are merged."""
    head = {key: value for key, value in raw.items() if key not in body}
    table = check_table(head, fields, (), source.where, folder.problems)
    paper = str(table.get("paper", ""))
    if paper:
        folder.said_by.append((paper, source))
    return paper


def _toml(folder: Folder, file: DiskPath) -> tuple[SourceFile, Raw] | None:
    read = read_toml(folder.path, file, folder.problems)
    folder.unread |= read is None
    return read


def _machine(folder: Folder) -> None:
    read = _toml(folder, folder.path / "machine.toml")
    if read is None:
        return
    source, raw = read
    folder.tree.lines["machine"] = raw
    folder.tree.origins[("machine",)] = Origin(paper="", file=source, path=())


def _parts(folder: Folder, file: DiskPath) -> None:
    there = file.exists() or file.is_symlink()
    read = _toml(folder, file) if there else None
    if read is None:
        return
    source, raw = read
    paper = _head(folder, source, raw, ("part",), PARTS_FILE)
    folder.tree.origins.setdefault(("part",), Origin(paper=paper, file=source, path=("part",)))
    _entries(folder, source, raw.get("part", {}), ("part",), ("part",), paper)


def _unit(folder: Folder, file: DiskPath) -> None:
    read = _toml(folder, file)
    if read is None:
        return
    source, raw = read
    paper = _head(folder, source, raw, ("place", "joint", "unit"), UNIT_FILE)
    unit = file.stem
    if not check_id(unit, (), lambda _: Where(file=source.name), folder.problems):
        return
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
                where=_where_in(source, from_path),
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
                    where=_where_in(source, (*from_path, name)),
                    read=name,
                    expected=f"an id of its own; '{name}' stands already at {first.file}:{first.line}",
                    remedy="Give one of the two another id.",
                )
            )
        elif check_id(name, (*from_path, name), source.where, folder.problems):
            target[name] = entry
            folder.tree.origins[(*to_path, name)] = Origin(paper=paper, file=source, path=(*from_path, name))


def _steps(folder: Folder, file: DiskPath) -> None:
    there = file.exists() or file.is_symlink()
    read = _toml(folder, file) if there else None
    if read is None:
        return
    source, raw = read
    paper = _head(folder, source, raw, ("step",), STEPS_FILE)
    rows = raw.get("step", [])
    for index, row in enumerate(rows if isinstance(rows, list) else [rows]):
        path: Path = ("step", index)
        if not isinstance(row, dict) or "id" not in row:
            folder.problems.append(
                ReadingError(
                    where=_where_in(source, path),
                    read=row if not isinstance(row, dict) else "nothing",
                    expected="a step with an id"
                    if not isinstance(row, dict)
                    else "the key 'id': id of the step",
                    remedy='Write [[step]] and below it id = "…".',
                )
            )
            continue
        name = row["id"]
        if not check_id(name, (*path, "id"), source.where, folder.problems):
            continue
        if name in folder.tree.lines["step"]:
            first = folder.tree.where(("step", name, "id"))
            folder.problems.append(
                ReadingError(
                    where=_where_in(source, (*path, "id")),
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
    if not check_id(file.stem, (), lambda _: Where(file=source.name), folder.problems):
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
    table = check_table(raw, PAPER_FILE, (), source.where, folder.problems)
    folder.papers.append(PaperFile(file.stem, table, source))


def _rulings(folder: Folder) -> None:
    file = _there(folder, "rulings.toml")
    read = _toml(folder, file) if file else None
    if read is None:
        return
    source, raw = read
    table = check_table(raw, RULINGS_FILE, (), source.where, folder.problems)
    for index, row in enumerate(table.get("ruling", [])):
        folder.rulings.append((row, source.where(("ruling", index))))

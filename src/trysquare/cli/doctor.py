"""`trysquare doctor`: what this computer lacks, and what to do about it."""

from __future__ import annotations

import importlib
import importlib.metadata
import os
import platform
import re
import shutil
import sqlite3
import sys
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import click

from trysquare import __version__
from trysquare.cli.answers import CLEAN, FOUND, print_json
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option

LEAST_PYTHON = (3, 11)
LEAST_FREE_MB = 500
LEAST_MEMORY_MB = 1500
# Package and the module that it brings, where the two differ.
_MODULES = {
    "cadquery-ocp-novtk": "OCP.gp", "fontpkg-source-sans-3": "", "python-fcl": "fcl",
}  # fmt: skip
_SERVES = {
    "cadquery-ocp-novtk": "STEP files in and out",
    "embreex": "fast rays (without it slower ones do the same)",
    "fontpkg-source-sans-3": "our own letters in PDF",
    "soundfile": "recordings of belts",
    "typst": "books, labels and sheets as PDF",
    "ortools": "orders and allocation",
    "manifold3d": "solids",
    "python-fcl": "contact of solids",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One thing looked at. `weight`: "good", "doubt" (something will not work) or "bad" (nothing will)."""

    what: str
    found: str
    weight: str = "good"
    remedy: str = ""


@click.command(
    "doctor",
    cls=Taught,
    learns="Know what this computer lacks, before you need it.",
    inputs=(("FOLDER", "a machine folder whose place is looked at, too; may be left out"),),
    examples=("trysquare doctor", "trysquare doctor demo/larch --json"),
    exits=((0, "nothing is missing"), (1, "something is missing; each has its remedy"), *COMMON_EXITS),
)
@click.argument("folder", metavar="[FOLDER]", required=False)
@json_option
def command(folder: str | None, as_json: bool) -> int:
    """Looks at everything, tells, judges."""
    looks = [*_python(), *_packages(), *_system(), *_place(Path(folder) if folder else Path())]
    facts = {
        "version": __version__,
        "looked_at": [
            {"what": one.what, "found": one.found, "weight": one.weight, "remedy": one.remedy}
            for one in looks
        ],
        "missing": sum(one.weight != "good" for one in looks),
    }
    if as_json:
        print_json(facts)
    else:
        _tell(looks)
    return CLEAN if not facts["missing"] else FOUND


def _python() -> Iterator[Look]:
    found = f"{platform.python_version()} on {platform.system()} {platform.machine()}"
    good = sys.version_info >= LEAST_PYTHON
    least = ".".join(map(str, LEAST_PYTHON))
    yield Look(
        what="Python",
        found=found,
        weight="good" if good else "bad",
        remedy="" if good else f"Install Python {least} or newer.",
    )


def _packages() -> Iterator[Look]:
    """Every package that this program needs, as its own metadata names them."""
    for need in _needs():
        name = re.split(r"[^A-Za-z0-9._-]", need, maxsplit=1)[0]
        if name == "embreex" and platform.system() == "Linux" and platform.machine() != "x86_64":
            continue
        yield _package(name)


def _needs() -> list[str]:
    """Requirements of the installed program; of a working copy those that its project file names."""
    try:
        return [need for need in importlib.metadata.requires("trysquare") or [] if "extra ==" not in need]
    except importlib.metadata.PackageNotFoundError:
        project = Path(__file__).resolve().parents[3] / "pyproject.toml"
        if not project.is_file():
            return []
        return list(tomllib.loads(project.read_text("utf-8"))["project"]["dependencies"])


def _package(name: str) -> Look:
    serves = _SERVES.get(name, "")
    try:
        version = importlib.metadata.version(name)
        module = _MODULES.get(name, name.replace("-", "_"))
        if module:
            importlib.import_module(module)
    except importlib.metadata.PackageNotFoundError:
        found = "not installed"
    except (ImportError, OSError) as error:
        found = f"installed and cannot be loaded: {error}"
    else:
        return Look(what=name, found=version)
    return Look(
        what=name,
        found=found,
        weight="doubt" if serves else "bad",
        remedy=f"Install it again: pip install --force-reinstall {name}."
        + (f" For: {serves}." if serves else ""),
    )


def _system() -> Iterator[Look]:
    yield _wal()
    yield _fonts()
    memory = _memory_mb()
    if memory:
        yield Look(
            what="memory",
            found=f"{memory:.0f} MB",
            weight="good" if memory >= LEAST_MEMORY_MB else "doubt",
            remedy="" if memory >= LEAST_MEMORY_MB else "Large machines may be slow: close other programs.",
        )


def _wal() -> Look:
    """The build log needs SQLite with a write-ahead log."""
    with tempfile.TemporaryDirectory(prefix="trysquare-") as home:
        connection = sqlite3.connect(Path(home) / "look.sqlite")
        try:
            mode = str(connection.execute("PRAGMA journal_mode=WAL").fetchone()[0])
        finally:
            connection.close()
    good = mode == "wal"
    return Look(
        what="SQLite",
        found=f"{sqlite3.sqlite_version}, journal {mode}",
        weight="good" if good else "doubt",
        remedy="" if good else "Keep machine folders on a local disk, not on a network drive.",
    )


def _fonts() -> Look:
    from trysquare.publish.fonts import font_folder

    folder = font_folder()
    return Look(
        what="letters",
        found="Source Sans 3" if folder is not None else "the computer's own",
        weight="good" if folder is not None else "doubt",
        remedy="" if folder is not None else "Install fontpkg-source-sans-3: else PDFs differ by computer.",
    )


def _memory_mb() -> float:
    try:
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**20
    except (AttributeError, ValueError, OSError):
        return 0.0


def _place(folder: Path) -> Iterator[Look]:
    if not folder.is_dir():
        yield Look(
            what="folder",
            found=f"{folder} is no folder",
            weight="doubt",
            remedy="Name the folder of your machine.",
        )
        return
    yield _try(
        "folder",
        "can be written",
        "cannot be written: nothing is kept there, not even the build log",
        "Give yourself the right to write in it, or copy it.",
        lambda: os.access(folder, os.W_OK | os.X_OK),
    )
    free = shutil.disk_usage(folder).free / 1e6
    yield Look(
        what="disk",
        found=f"{free:.0f} MB free",
        weight="good" if free >= LEAST_FREE_MB else "doubt",
        remedy="" if free >= LEAST_FREE_MB else "Photos, recordings and pictures need room: free some.",
    )


def _try(what: str, good: str, bad: str, remedy: str, look: Callable[[], bool]) -> Look:
    if look():
        return Look(what=what, found=good)
    return Look(what=what, found=bad, weight="doubt", remedy=remedy)


def _tell(looks: list[Look]) -> None:
    from trysquare.cli.page import Page

    page = Page()
    page.title("This computer", f"trysquare {__version__}")
    bad = [one for one in looks if one.weight != "good"]
    for one in bad:
        page.heading(f"{one.what}: {one.found}", "bold red" if one.weight == "bad" else "bold yellow")
        page.line(one.remedy, indent=2)
    page.gap()
    page.table(("", ""), [(one.what, one.found) for one in looks if one.weight == "good"])
    page.gap()
    page.line("Nothing is missing." if not bad else f"{len(bad)} of {len(looks)} are not as they should be.")
    page.print()

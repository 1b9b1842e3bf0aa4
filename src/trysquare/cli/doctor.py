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
import webbrowser
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import click

from trysquare import __version__
from trysquare.cli.answers import CLEAN, FOUND, print_json
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.publish.fonts import font_folder

LEAST_PYTHON = (3, 11)
LEAST_FREE_MB = 500
LEAST_MEMORY_MB = 1500
# Package and the module that it brings, where the two differ.
_MODULES = {
    "cadquery-ocp-novtk": "OCP.gp", "fontpkg-source-sans-3": "", "python-fcl": "fcl",
}  # fmt: skip
_FONT = "fontpkg-source-sans-3"
# What each package is for, and what goes without it; "": nothing does, or next to nothing.
SERVES: Mapping[str, tuple[str, str]] = {
    "click": ("the command line", ""),
    "rich": ("tables in the terminal", ""),
    "msgspec": ("JSON in and out, the log's entries", ""),
    "tomlkit": ("writing into a machine folder", "import of a list and --keep write nothing"),
    "openpyxl": ("spreadsheets (XLSX)", "parts lists and the need go as CSV"),
    "python-calamine": ("spreadsheets (ODS, XLS)", "save such a list as CSV or XLSX"),
    "numpy": ("all reckoning", ""),
    "scipy": ("all reckoning", ""),
    "trimesh": ("solids and their files", ""),
    "manifold3d": ("solids cut and joined", ""),
    "python-fcl": ("what touches what", ""),
    "ortools": ("orders, substitutes, cuts", "check still works; order and stock do not"),
    "typst": ("PDF: books, labels, sheets", "book, labels and cuts write no PDF; draw still writes SVG"),
    "segno": ("QR codes on labels and at the bench", "no labels and no bench"),
    _FONT: (
        "the sans letters of our PDFs",
        "books and labels are set in a serif that is less readable when small; nothing else changes",
    ),
    "sqlalchemy": ("the build log", ""),
    "starlette": ("the bench's pages", "no bench; the command line does the same work"),
    "uvicorn": ("the bench's pages", "no bench; the command line does the same work"),
    "jinja2": ("the bench's pages", "no bench; the command line does the same work"),
    "cryptography": ("the bench's certificates", "no bench; the command line does the same work"),
    "cadquery-ocp-novtk": ("CAD files (STEP)", "no STEP in or out; STL and 3MF still go"),
    "soundfile": ("recordings of belts", "no belt from a recording; type the tone with --tone"),
    "embreex": ("quick rays in pictures", "slower ones do the same"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One thing looked at. `weight`: "good", "doubt" (something will not work) or "bad" (nothing will).

    `serves`: what it is for; `without`: what does not go, or goes how, while it is missing.
    """

    what: str
    found: str
    weight: str = "good"
    remedy: str = ""
    serves: str = ""
    without: str = ""


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
            {
                "what": one.what,
                "found": one.found,
                "weight": one.weight,
                "serves": one.serves,
                "without": one.without,
                "remedy": one.remedy,
            }
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
    for need in needs():
        name = re.split(r"[^A-Za-z0-9._-]", need, maxsplit=1)[0]
        if name == "embreex" and platform.system() == "Linux" and platform.machine() != "x86_64":
            continue
        yield _package(name)


def needs() -> list[str]:
    """Requirements of the installed program; of a working copy those that its project file names."""
    try:
        return [need for need in importlib.metadata.requires("trysquare") or [] if "extra ==" not in need]
    except importlib.metadata.PackageNotFoundError:
        project = Path(__file__).resolve().parents[3] / "pyproject.toml"
        if not project.is_file():
            return []
        return list(tomllib.loads(project.read_text("utf-8"))["project"]["dependencies"])


def _package(name: str) -> Look:
    serves, without = SERVES.get(name, ("", ""))
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
        if name != _FONT or font_folder() is not None:
            return Look(what=name, found=version, serves=serves)
        found = "installed, and its files are not there"
    return Look(
        what=name,
        found=found,
        weight="doubt" if without else "bad",
        serves=serves,
        without=without or "nearly nothing works",
        remedy=_how_to_get(name),
    )


def missing_words(error: ImportError) -> str:
    """What to say when a package that a command wants is not there or cannot be loaded."""
    module = (error.name or "").partition(".")[0]
    packages = {_MODULES.get(name, name.replace("-", "_")).partition(".")[0]: name for name in SERVES}
    name = packages.get(module, module) if module else ""
    serves, without = SERVES.get(name, ("", ""))
    what = f"The package {name}{f' ({serves})' if serves else ''}" if name else "A package"
    lacks = " is not installed." if isinstance(error, ModuleNotFoundError) else " cannot be loaded."
    return (
        f"{what}{lacks} {f'Without it: {without}. ' if without else ''}Your files are untouched. "
        "trysquare doctor says what this computer lacks and how to get it."
    )


def _how_to_get(name: str) -> str:
    """The command that brings a package where this program runs."""
    home = Path(sys.prefix).as_posix()
    if "/pipx/" in home:
        return f"pipx inject --force trysquare {name}"
    if "/uv/tools/" in home:
        return "uv tool install --reinstall . (in the folder of Trysquare)"
    asked = f"{_python_here()} -m pip install --force-reinstall {name}"
    if (Path(sys.prefix).parent / "tools" / "set_up.py").is_file():
        return f"make setup (in the folder of Trysquare), or {asked}"
    return asked


def _python_here() -> str:
    return f'"{sys.executable}"' if " " in sys.executable else sys.executable


def _system() -> Iterator[Look]:
    yield _wal()
    yield _pages()
    yield _browser()
    memory = _memory_mb()
    if memory:
        yield Look(
            what="memory",
            found=f"{memory:.0f} MB",
            weight="good" if memory >= LEAST_MEMORY_MB else "doubt",
            serves="large machines: some hundred parts need 1 to 2 GB",
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
        serves="the build log",
        weight="good" if good else "doubt",
        remedy="" if good else "Keep machine folders on a local disk, not on a network drive.",
    )


def _pages() -> Look:
    """The bench's scripts are built into the wheel; a working copy builds them itself."""
    built = (files("trysquare.bench") / "static" / "dist").is_dir()
    return Look(
        what="bench's pages",
        found="built" if built else "not built",
        weight="good" if built else "doubt",
        serves="scripts and styles in the browser",
        without="" if built else "the bench's pages are bare and cannot tick, read or record",
        remedy="" if built else "make setup (in the folder of Trysquare)",
    )


def _browser() -> Look:
    try:
        name = webbrowser.get().name
    except webbrowser.Error:
        name = ""
    return Look(
        what="browser",
        found=Path(name).name or "none here",
        serves="the bench" if name else "the bench: open it from another device, with --lan",
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
        serves="photos, recordings, pictures kept",
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
        rows = (("for", one.serves), ("without", one.without), ("remedy", one.remedy))
        page.pairs([(label, words) for label, words in rows if words], indent=2)
    page.gap()
    page.table(("", "", ""), [(one.what, one.found, one.serves) for one in looks if one.weight == "good"])
    page.gap()
    page.line("Nothing is missing." if not bad else f"{len(bad)} of {len(looks)} are not as they should be.")
    page.print()

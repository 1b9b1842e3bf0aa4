"""The house: which room may use which, what the core must not touch, and what no tracked file may hold."""

import ast
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "trysquare"

# Left to right: a room uses the rooms to its left, and itself.
ROOMS = (
    "ground",
    "catalogue",
    "machine",
    "solid",
    "fit",
    "stock",
    "intake",
    "sequence",
    "truing",
    "tuning",
    "record",
    "publish",
    "bench",
    "cli",
)
# Values in, values out: no clock, no chance, no network, no database, nothing written.
CORE = ROOMS[: ROOMS.index("tuning") + 1]
NOT_IN_CORE = frozenset({"time", "datetime", "random", "socket", "sqlite3"})
# A core module that has to write nevertheless: its path in the package, and the reason.
MAY_WRITE: dict[str, str] = {}

IMPORTING_FUNCTIONS = frozenset({"import_module", "__import__"})
WRITING_METHODS = frozenset(
    {"write_text", "write_bytes", "mkdir", "touch", "unlink", "rmdir", "symlink_to", "hardlink_to"}
)
WRITING_FUNCTIONS = frozenset(
    f"os.{verb}"
    for verb in ("remove", "unlink", "rename", "replace", "mkdir", "makedirs", "rmdir", "link", "symlink")
)
WRITING_MODULES = frozenset({"shutil", "tempfile"})


@dataclass(frozen=True)
class Import:
    """One imported module, by its full dotted name, and the line it stands on."""

    module: str
    line: int


@cache
def nodes(source: str) -> tuple[ast.AST, ...]:
    """Everything in a module's text; several tests look at the same."""
    return tuple(ast.walk(ast.parse(source)))


def imports(source: str, package: str) -> Iterator[Import]:
    """Every import in a module, wherever it stands: at the top, in a function, for types only, or by name.

    package: the dotted package that the module lies in, from which relative imports count.
    `from trysquare import stock` yields trysquare.stock; a name that is no module does no harm.
    """
    for node in nodes(source):
        if isinstance(node, ast.Import):
            yield from (Import(each.name, node.lineno) for each in node.names)
        elif isinstance(node, ast.ImportFrom):
            parents = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*parents, *([node.module] if node.module else [])])
            yield from (Import(f"{base}.{each.name}", node.lineno) for each in node.names)
        elif isinstance(node, ast.Call) and dotted(node.func).split(".")[-1] in IMPORTING_FUNCTIONS:
            names = [each.value for each in node.args[:1] if isinstance(each, ast.Constant)]
            yield from (Import(str(name), node.lineno) for name in names)


def dotted(node: ast.expr) -> str:
    """A name as it is written, `os.path.join`; empty for anything that is not a plain chain of names."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        before = dotted(node.value)
        return f"{before}.{node.attr}" if before else node.attr
    return ""


def wrong_arrows(source: str, module: str) -> list[str]:
    """Imports of a module, given by its dotted name, that point to a room on its right or to none known."""
    parts = module.split(".")
    room = parts[1]
    faults = []
    for each in imports(source, ".".join(parts[:-1])):
        target = each.module.split(".")
        if target[0] != "trysquare" or len(target) < 2 or target[1].startswith("__"):
            continue
        if target[1] not in ROOMS:
            faults.append(f"{module} line {each.line} imports {each.module}, which lies in no known room")
        elif ROOMS.index(target[1]) > ROOMS.index(room):
            faults.append(f"{module} line {each.line}: {room} must not import from {target[1]}, on its right")
    return faults


def opens_for_writing(call: ast.Call) -> bool:
    """Whether this is open(…) or path.open(…) with a mode that writes, or a mode not plain to see."""
    is_method = isinstance(call.func, ast.Attribute)
    if not (is_method and call.func.attr == "open") and dotted(call.func) != "open":
        return False
    # The mode is the second argument of a function open(path, mode), the first of a method path.open(mode).
    position = 0 if is_method and dotted(call.func) not in {"io.open", "os.open"} else 1
    modes = [each.value for each in call.keywords if each.arg == "mode"] + call.args[position : position + 1]
    return any(not isinstance(mode, ast.Constant) or set(str(mode.value)) & set("wax+") for mode in modes)


def writes(source: str) -> list[str]:
    """Each place of a module that writes to the disk."""
    faults = []
    for node in nodes(source):
        if not isinstance(node, ast.Call):
            continue
        name = dotted(node.func)
        method = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if opens_for_writing(node) or method in WRITING_METHODS or name in WRITING_FUNCTIONS:
            faults.append(f"line {node.lineno} writes: {name or method}(…)")
    faults += [
        f"line {each.line} imports {each.module}"
        for each in imports(source, "trysquare")
        if each.module.split(".")[0] in WRITING_MODULES
    ]
    return faults


def modules(rooms: tuple[str, ...] = ROOMS) -> list[Path]:
    """All modules of these rooms."""
    return sorted(path for room in rooms for path in (PACKAGE / room).rglob("*.py"))


def module_name(path: Path) -> str:
    """The dotted name of a module; a package's file keeps its __init__, so relative imports count right."""
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)


def test_every_folder_of_the_package_is_a_known_room() -> None:
    folders = {path.parent.relative_to(PACKAGE).parts[0] for path in PACKAGE.glob("*/**/*.py")}
    assert folders <= set(ROOMS)


def test_every_room_imports_only_from_rooms_to_its_left() -> None:
    faults = [
        fault for path in modules() for fault in wrong_arrows(path.read_text("utf-8"), module_name(path))
    ]
    assert not faults, "\n".join(faults)


def test_the_core_has_no_clock_no_chance_no_network_and_no_database() -> None:
    faults = [
        f"{module_name(path)} line {each.line} imports {each.module}"
        for path in modules(CORE)
        for each in imports(path.read_text("utf-8"), module_name(path).rpartition(".")[0])
        if each.module.split(".")[0] in NOT_IN_CORE
    ]
    assert not faults, "\n".join(faults)


def test_the_core_writes_no_files() -> None:
    faults = [
        f"{module_name(path)} {fault}"
        for path in modules(CORE)
        if path.relative_to(PACKAGE).as_posix() not in MAY_WRITE
        for fault in writes(path.read_text("utf-8"))
    ]
    assert not faults, "\n".join(faults)


def test_every_exception_to_writing_names_a_module_that_exists() -> None:
    assert not [name for name in MAY_WRITE if not (PACKAGE / name).is_file()]


@pytest.mark.parametrize(
    "source",
    [
        "from trysquare.cli import main",
        "import trysquare.stock.need",
        "from trysquare import fit",
        "from ..fit import stack_up",
        "def later():\n    from trysquare.fit import stack_up",
        "import importlib\nimportlib.import_module('trysquare.publish.book')",
        "from trysquare.helpers import anything",
    ],
)
def test_an_arrow_to_the_right_is_found_however_it_is_written(source: str) -> None:
    assert wrong_arrows(source, "trysquare.machine.values")


@pytest.mark.parametrize(
    "source",
    [
        "from trysquare.ground.errors import ReadingError",
        "from trysquare import __version__",
        "from .values import Machine",
        "from ..catalogue import values",
        "from . import values",
        "import numpy.fft",
    ],
)
def test_an_arrow_to_the_left_is_let_through(source: str) -> None:
    assert wrong_arrows(source, "trysquare.machine.folder") == []


@pytest.mark.parametrize(
    "source",
    [
        "open(p, 'w')",
        "open(p, mode='ab')",
        "p.open('x')",
        "(folder / name).open('w')",
        "p.open(mode=m)",
        "p.write_text('')",
        "os.remove(p)",
        "import shutil",
    ],
)
def test_writing_is_found_however_it_is_written(source: str) -> None:
    assert writes(source)


@pytest.mark.parametrize(
    "source", ["open(p)", "open(p, 'rb')", "p.open('rb')", "p.open()", "p.read_text()", "os.path.join(p)"]
)
def test_reading_is_not_taken_for_writing(source: str) -> None:
    assert writes(source) == []


# Put together from pieces, so that this file does not hold what it looks for.
FOLDERS_OF_ONE_COMPUTER = ["".join(pieces.split()) for pieces in ("wo rk", "ro ot", "tm p", "ho me")]
REGISTRY_HOSTS = [
    ".".join(pieces.split())
    for pieces in (
        "pypi org",
        "pythonhosted org",
        "npmjs org",
        "npmjs com",
        "yarnpkg com",
        "deb debian org",
        "snapshot debian org",
        "crates io",
        "golang org",
    )
]
NOT_TO_BE_TRACKED = re.compile(
    "|".join(
        [rf"(?<![\w.~/-])/{folder}/[\w.]" for folder in FOLDERS_OF_ONE_COMPUTER]
        + [re.escape(host) for host in REGISTRY_HOSTS]
    ).encode()
)


def tracked_files() -> list[Path]:
    """Files under version control, and new ones that are about to be."""
    listing = subprocess.run(
        ["git", "-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=False,
    )
    if listing.returncode != 0:
        pytest.skip("not a git checkout")
    return [path for name in listing.stdout.decode().split("\0") if name and (path := ROOT / name).is_file()]


def test_no_tracked_file_names_a_folder_of_one_computer_or_a_package_registry() -> None:
    faults = [
        f"{path.relative_to(ROOT)}: {found.group().decode(errors='replace')}"
        for path in tracked_files()
        for found in [NOT_TO_BE_TRACKED.search(path.read_bytes())]
        if found
    ]
    assert not faults, "\n".join(faults)


def test_a_folder_of_one_computer_is_recognised_and_an_ordinary_path_is_not() -> None:
    for folder in FOLDERS_OF_ONE_COMPUTER:
        assert NOT_TO_BE_TRACKED.search(f'open("/{folder}/x.csv")'.encode())
    for host in REGISTRY_HOSTS:
        assert NOT_TO_BE_TRACKED.search(f"https://{host}/simple".encode())
    assert not NOT_TO_BE_TRACKED.search(b"docs/" + b"work/plan.md and a" + b"/tmp" + b"/b")

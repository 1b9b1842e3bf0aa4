"""The machine folders that faults are tried on: copies with a log, and what must stay in them."""

from __future__ import annotations

import contextlib
import gc
import hashlib
import importlib
import pkgutil
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for _folder in (ROOT / "src", ROOT / "tests"):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))

TEXT = frozenset({".toml", ".csv", ".md", ".txt", ".step", ".stl"})
"""What a builder writes by hand or brings along; no command changes it unless it is asked to."""
RECORDINGS = (
    "belt-a.flac",
    "x-shake.csv",
    "bed-map.csv",
    "touches.csv",
    "bed-step.csv",
    "skew-piece.csv",
    "jobs.csv",
    "earth.csv",
    "bed-hold.csv",
    "x-travel.csv",
    "x-positions.csv",
)


@dataclass(frozen=True, slots=True)
class Templates:
    """Folders made once and copied for each fault. `log_ids`: what their logs have acknowledged, in order."""

    frame: Path
    reed: Path
    larch: Path
    log_ids: tuple[str, ...]

    def copy(self, which: str, place: Path) -> Path:
        """A fresh copy of one of them, links and caches with it."""
        return Path(shutil.copytree(getattr(self, which), place / which))


def load_everything() -> None:
    """Loads the program whole, so that its forked children begin at once."""
    import trysquare  # noqa: PLC0415  # on the path by now

    for found in pkgutil.walk_packages(trysquare.__path__, "trysquare."):
        importlib.import_module(found.name)
    for name in (
        "openpyxl",
        "typst",
        "scipy.optimize",
        "scipy.signal",
        "soundfile",
        "trimesh",
        "manifold3d",
        "fcl",
        "ortools.sat.python.cp_model",
        "segno",
        "rich.table",
        "uvicorn",
        "python_calamine",
    ):
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    gc.freeze()


def make_templates(home: Path) -> Templates:
    """A small frame and two demos, each with a log of one entry of each kind and a kept picture."""
    from log_entries import one_of_each  # noqa: PLC0415  # found beside the tests, put on the path above
    from small_frame import write_frame  # noqa: PLC0415
    from trysquare.record.keeping import keep  # noqa: PLC0415
    from trysquare.record.log import open_log  # noqa: PLC0415

    frame = write_frame(home / "frame")
    skipped = shutil.ignore_patterns(".trysquare-cache", "log*", "*.pdf")
    reed = Path(shutil.copytree(ROOT / "demo" / "reed-joints", home / "reed", ignore=skipped))
    larch = Path(shutil.copytree(ROOT / "demo" / "larch", home / "larch", ignore=skipped))
    entries = one_of_each()
    for folder, name in ((frame, "Small frame"), (reed, "Reed"), (larch, "Larch")):
        with open_log(folder, machine=name) as log:
            log.append(entries)
        keep(folder, PICTURE, ".jpg")
    return Templates(frame, reed, larch, tuple(entry.id for entry in entries))


PICTURE = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(range(256)) * 40 + b"\xff\xd9"


def texts(folder: Path) -> dict[str, str]:
    """The digest of every file that the builder wrote, by its path in the folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in files_of(folder)
        if path.suffix in TEXT and not path.name.startswith("log")
    }


def files_of(folder: Path) -> list[Path]:
    """Every file, in one order everywhere."""
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def texts_lost(before: dict[str, str], folder: Path) -> list[str]:
    """Which of the builder's files are no longer what they were."""
    after = texts(folder)
    return [f"{name} was changed" for name, digest in before.items() if after.get(name) != digest]


def entries_lost(folder: Path, acknowledged: Iterable[str]) -> list[str]:
    """Which acknowledged entries a fresh look at the log does not find."""
    from trysquare.record.log import open_log  # noqa: PLC0415

    with open_log(folder, machine="", read_only=True) as log:
        there = {entry.event.id for entry in log.events()}
        faults = [fault.says for fault in log.verify()]
    lost = [name for name in acknowledged if name not in there]
    return [f"entry {name} was acknowledged and is not there" for name in lost] + [
        f"the log does not hold together: {says}" for says in faults
    ]

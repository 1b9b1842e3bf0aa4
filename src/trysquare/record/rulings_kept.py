"""What an import asks of a folder and what a person answered: kept beside the machine.

`imports.toml` holds the answers, as the terminal and the bench both write them; `.import-asks.json` holds the
questions of the last import with the mesh of each part, so that they can be answered without the CAD file.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingError, Where
from trysquare.ground.placement import Array
from trysquare.intake.rulings import FILE_NAME, LARGEST_BYTES, Memory, Ruling, memory_text, read_memory
from trysquare.intake.taken_in import Question
from trysquare.record.whole_files import write_whole

ASKS = ".import-asks.json"
BEFORE = f"{FILE_NAME}.before"
LARGEST_ASKS_BYTES = 64_000_000
MOST_MESH_LETTERS = 32_000_000  # of all meshes together: what comes after has no picture
_VERSION = 1  # a file without meshes, as older ones are, has pictures instead


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptMesh:
    """A part's mesh as text, until somebody looks at it. `points`: base64 of float64 (n, 3) in mm;
    `triangles`: of uint32 (m, 3), both least byte first."""

    points: str
    triangles: str

    @staticmethod
    def of(points_mm: Array, triangles: NDArray[np.int64]) -> KeptMesh:
        """The mesh with these points, array (n, 3) in mm, and triangles, array (m, 3)."""
        return KeptMesh(
            points=base64.b64encode(points_mm.astype("<f8").tobytes()).decode(),
            triangles=base64.b64encode(triangles.astype("<u4").tobytes()).decode(),
        )

    def arrays(self) -> tuple[Array, NDArray[np.int64]]:
        """Points in mm and triangles. Raises ValueError for a text that is no mesh."""
        points = np.frombuffer(base64.b64decode(self.points), dtype="<f8").reshape(-1, 3)
        triangles = np.frombuffer(base64.b64decode(self.triangles), dtype="<u4").reshape(-1, 3)
        if not np.isfinite(points).all() or not triangles.max(initial=0) < max(len(points), 1):
            raise ValueError("a mesh that names points it does not have")
        return points.astype(float), triangles.astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The questions of an import. `source`: the CAD file's name; by the shape's digest, `meshes`: to be
    drawn when somebody looks, and `pictures`: SVG, in files of older versions."""

    source: str = ""
    questions: tuple[Question, ...] = ()
    pictures: Mapping[str, str] = field(default_factory=dict)
    meshes: Mapping[str, KeptMesh] = field(default_factory=dict)

    def has_picture(self, digest: str) -> bool:
        """Whether the shape can be shown."""
        return digest in self.meshes or digest in self.pictures

    def still_open(self, memory: Memory) -> tuple[Question, ...]:
        """The questions that nobody has ruled yet."""
        return tuple(one for one in self.questions if ruling_on(one, memory) is None)


def ruling_on(question: Question, memory: Memory) -> Ruling | None:
    """What was said to a question; None while it is open."""
    ruling = memory.rulings.get(question.digest)
    if ruling is None:
        return None
    answered = ruling.printed is not None if question.about == "printed" else bool(ruling.says)
    return ruling if answered else None


def read_kept(folder: Path) -> Memory:
    """What is remembered of a folder's imports; an empty memory when there is none. Raises ReadingError."""
    file = folder / FILE_NAME
    if not file.is_file():
        return Memory()
    try:
        if file.stat().st_size > LARGEST_BYTES:
            raise ReadingError(
                where=Where(file=FILE_NAME), read="a very large file",
                expected=f"at most {LARGEST_BYTES // 1_000_000} MB", remedy="Move it away.",
            )  # fmt: skip
        return read_memory(file.read_text(encoding="utf-8-sig", errors="replace"))
    except OSError as error:
        raise _not_read(FILE_NAME, error) from error


def keep(folder: Path, memory: Memory) -> bool:
    """Writes imports.toml, whole or not at all, the text before it kept as imports.toml.before; whether
    anything changed. Raises OSError."""
    file, content = folder / FILE_NAME, memory_text(memory).encode()
    before = file.read_bytes() if file.is_file() else None
    if before == content:
        return False
    if before is not None:
        write_whole(folder / BEFORE, [before])
    write_whole(file, [content])
    return True


def read_asked(folder: Path) -> Asked:
    """The questions of the last import; none where nothing was imported. Raises ReadingError."""
    file = folder / ASKS
    if not file.is_file():
        return Asked()
    try:
        if file.stat().st_size > LARGEST_ASKS_BYTES:
            raise _not_read(ASKS, ValueError("a very large file"))
        return _asked(json.loads(file.read_text(encoding="utf-8")))
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _not_read(ASKS, error) from error


def keep_asked(folder: Path, asked: Asked) -> None:
    """Keeps the questions; where there are none, and were none, no file is left. Raises OSError."""
    file = folder / ASKS
    if not asked.questions:
        file.unlink(missing_ok=True)
        return
    meshes: dict[str, dict[str, str]] = {}
    letters = 0
    for digest, mesh in asked.meshes.items():
        letters += len(mesh.points) + len(mesh.triangles)
        if letters <= MOST_MESH_LETTERS:
            meshes[digest] = asdict(mesh)
    table = {
        "version": _VERSION,
        "source": asked.source,
        "questions": [asdict(one) for one in asked.questions],
        "pictures": dict(asked.pictures),
        "meshes": meshes,
    }
    write_whole(file, [(json.dumps(table, ensure_ascii=False, indent=1) + "\n").encode()])


def _asked(table: Mapping[str, Any]) -> Asked:
    if table["version"] != _VERSION:
        raise ValueError("questions of another version")
    return Asked(
        source=str(table["source"]),
        questions=tuple(_question(row) for row in table["questions"]),
        pictures={str(name): str(svg) for name, svg in table["pictures"].items()},
        meshes={
            str(name): KeptMesh(points=str(mesh["points"]), triangles=str(mesh["triangles"]))
            for name, mesh in table.get("meshes", {}).items()
        },
    )


def _question(row: Mapping[str, Any]) -> Question:
    choices: Sequence[Any] = row["choices"]
    if row["about"] not in ("designation", "printed") or not choices:
        raise ValueError("a question of an unknown sort")
    return Question(
        shape=int(row["shape"]),
        digest=str(row["digest"]),
        about=str(row["about"]),
        called=str(row["called"]),
        pieces=int(row["pieces"]),
        choices=tuple(str(one) for one in choices),
        confidence=float(row["confidence"]),
        evidence=tuple(str(one) for one in row["evidence"]),
    )


def _not_read(name: str, error: Exception) -> ReadingError:
    return ReadingError(
        where=Where(file=name), read=str(error) or type(error).__name__, expected="what an import wrote",
        remedy="Delete the file and import again: your answers stay in imports.toml.",
    )  # fmt: skip

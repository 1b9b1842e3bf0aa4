"""Any CAD file that can be read: by its content, whatever its name says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from trysquare.ground.errors import shown
from trysquare.intake.bodies import Assembly, Problem
from trysquare.intake.limits import LARGEST_MB, LARGEST_MESH_MB, checked_size, kind_of, trouble
from trysquare.intake.step_file import read_step

STEP_ENDINGS = (".step", ".stp", ".p21")


def read_cad(
    path: Path, say: Callable[[str], None] = lambda _text: None, keep: list[object] | None = None
) -> Assembly:
    """The bodies of a STEP, STL or 3MF file; a ReadingError when it is none of these or cannot be used.

    `say`, `keep`: see `step_file.read_step`.
    """
    kind = checked_kind(path)
    if kind != "step":
        from trysquare.intake.mesh_file import read_mesh  # it loads another kernel, for nothing here

        return read_mesh(path, say)
    assembly = read_step(path, say, keep)
    if path.suffix.lower() in STEP_ENDINGS:
        return assembly
    problem = Problem(
        code="wrong-extension", says=f"The file is called {shown(path.name)}; by its content it is STEP."
    )
    return replace(assembly, problems=(*assembly.problems, problem))


def checked_kind(path: Path) -> str:
    """The kind of a file, "step", "stl" or "3mf", after a look at its size and beginning only."""
    checked_size(path, LARGEST_MB)
    kind = kind_of(path)
    if kind:
        checked_size(path, LARGEST_MB if kind == "step" else LARGEST_MESH_MB)
        return kind
    with path.open("rb") as file:
        start = file.read(40).decode("latin-1")
    raise trouble(
        path.name,
        start,
        "a STEP, STL or 3MF file",
        "Export the assembly from the CAD program as STEP AP214 or AP242.",
    )

"""The small frame with things in it that a picture or a page could stumble over."""

from __future__ import annotations

import struct
from pathlib import Path

from small_frame import DRIVE, MACHINE, PARTS, STEPS, write_frame

Triangle = tuple[tuple[float, float, float], ...]

ODD_TITLE = '# <b>x</b> *y* #panic("z") $a/0$ </svg><script>alert(1)</script> ]]> &amp; \u202eאבג'
ODD_NAME = "*F* <i>#x</i> & קורה"
WORDS_ONLY = """
[[step]]
id = "words"
title = "Only words"
unit = "frame"
actions = [ { check = ["The bench is clean."] } ]
"""


def with_words_only(folder: Path) -> Path:
    """Its first step is nothing but words."""
    return write_frame(
        folder, steps_toml=STEPS.replace('paper = "manual"\n', f'paper = "manual"\n{WORDS_ONLY}', 1)
    )


def with_odd_words(folder: Path) -> Path:
    """Markup of every kind in the title of the step "plate" and in names."""
    title = ODD_TITLE.replace('"', '\\"')
    return write_frame(
        folder,
        machine_toml=MACHINE.replace("Small frame", ODD_NAME),
        parts_toml=PARTS.replace("cross beam", ODD_NAME),
        steps_toml=STEPS.replace('title = "Plate"', f'title = "{title}"'),
    )


def with_a_giant(folder: Path) -> Path:
    """A plate a thousand times as large as the small one comes with the drive."""
    return _with_part(folder, 'kind = "plate"\nsize_mm = [40000, 30000, 3000]', "[0, 0, -5000]")


def with_mesh(folder: Path, triangles: list[Triangle]) -> Path:
    """A part whose STL file holds just these triangles comes with the drive."""
    _with_part(folder, 'kind = "printed"\nshape = "shapes/odd.stl"', "[-100, 0, 0]")
    rows = [
        struct.pack("<12fH", 0, 0, 0, *(value for point in each for value in point), 0) for each in triangles
    ]
    (folder / "shapes").mkdir(exist_ok=True)
    (folder / "shapes" / "odd.stl").write_bytes(bytes(80) + struct.pack("<I", len(rows)) + b"".join(rows))
    return folder


def block_triangles(x: float, y: float, z: float) -> list[Triangle]:
    """The twelve triangles of a block with a corner at the origin, seen from outside anticlockwise."""
    corner = [(i * x, j * y, k * z) for k in (0, 1) for j in (0, 1) for i in (0, 1)]
    faces = (
        (0, 2, 3), (0, 3, 1), (4, 5, 7), (4, 7, 6), (0, 1, 5), (0, 5, 4),
        (2, 6, 7), (2, 7, 3), (0, 4, 6), (0, 6, 2), (1, 3, 7), (1, 7, 5),
    )  # fmt: skip
    return [tuple(corner[number] for number in face) for face in faces]


def with_a_sliver() -> list[Triangle]:
    """A block of 20 × 10 × 5 mm, closed, of which one triangle has no area: it closes a divided edge."""
    whole = block_triangles(20, 10, 5)
    a, b, far, middle = (0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (20.0, 0.0, 5.0), (10.0, 0.0, 0.0)
    kept = [each for each in whole if each != (a, b, far)]
    return [*kept, (a, middle, far), (middle, b, far), (a, b, middle)]


def _with_part(folder: Path, says: str, at_mm: str) -> Path:
    return write_frame(
        folder,
        parts_toml=PARTS.replace("[part.distance-piece]", f"[part.odd]\n{says}\n[part.distance-piece]"),
        units__drive_toml=DRIVE.replace("foot    =", f'odd = {{ part = "odd", at_mm = {at_mm} }}\nfoot    ='),
        steps_toml=STEPS.replace('{ place = ["foot", ', '{ place = ["odd", "foot", '),
    )

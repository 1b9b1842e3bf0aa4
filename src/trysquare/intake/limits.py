"""What an imported file may be, before anything heavy is done with it, and how its troubles are named."""

from __future__ import annotations

import hashlib
from pathlib import Path
from types import MappingProxyType

from trysquare.ground.errors import ReadingError, Where, shown

MEGABYTE = 2**20
LARGEST_MB = (
    512  # the CAD kernel needs 10 to 20 times a STEP file's size: this is the memory of a large desktop
)
LARGEST_MESH_MB = 256
MOST_BODIES = 20_000
DEEPEST_NESTING = 60
FAR_FROM_ORIGIN_MM = 10_000.0  # doubles still hold nanometres there; but a person should know
FARTHEST_MM = 1e7  # 10 km: beyond, single precision meshes of other programs fall apart
THINNEST_MM3 = 1e-6  # a solid with less volume has no thickness
THINNEST_MM = (
    1e-3  # twice the volume to the skin: the thinnest foil that anybody builds with has ten times that
)
SEWN_WITHIN_MM = 1e-3  # what STEP files commonly say of their own accuracy
CHUNK_BYTES = 2**20

TROUBLES = MappingProxyType(
    {
        "surfaces-only": "a body is made of surfaces that enclose nothing",
        "sewn": "a body came as faces without common edges; they meet and were sewn into a solid",
        "open-shell": "a solid's skin has a gap",
        "no-thickness": "a solid encloses no volume",
        "not-measured": "the CAD kernel could not measure a solid",
        "no-mesh": "the CAD kernel could not draw a solid or a face of it",
        "skin-inside-out": "a solid's faces point inwards; read as if outwards",
        "mirrored-placement": "a body is placed by mirroring or scaling; a solid of its own was made of it",
        "inch": "the file is in inches, read into millimetres",
        "odd-unit": "the file's length unit is unusual, read into millimetres",
        "far-from-origin": "the assembly stands far from the origin",
        "far-from-rest": "a body stands far from the others",
        "names-unreadable": "names in the file are not in the encoding that STEP asks for",
        "refers-to-itself": "an assembly contains itself",
        "thread-apart": "a screw's or nut's thread is a solid of its own; it counts with it",
        "empty-branch": "an assembly or part without any body",
        "wrong-extension": "the file's name says another kind than its content",
    }
)
"""Codes of `bodies.Problem`, with what each means."""
LEFT_OUT = frozenset({"surfaces-only", "open-shell", "no-thickness", "not-measured", "refers-to-itself"})
"""Those by which something drawn is not in what was read."""


def checked_size(path: Path, most_mb: int = LARGEST_MB) -> int:
    """The file's size in bytes; a ReadingError when it is not there, empty or too large to try."""
    name = path.name
    try:
        if path.is_dir():
            raise trouble(name, "a folder", "a file", "Name the file itself.")
        size = path.stat().st_size
    except OSError as error:
        raise trouble(
            name, error.strerror or str(error), "a file that can be read", "Check the name and the folder."
        ) from error
    if size == 0:
        raise trouble(name, "an empty file", "a CAD file", "Export or copy it again.")
    if size > most_mb * MEGABYTE:
        raise trouble(
            name,
            f"{size / MEGABYTE:.0f} MB",
            f"at most {most_mb} MB",
            "Reading it would take many times its size in memory. Export without what is not yours to build"
            " (electronics in full detail, text, modelled threads), or one sub-assembly a file.",
        )
    return size


def digest_of(path: Path) -> str:
    """A name of the file by its content (BLAKE2b, 32 hexadecimal digits), read piece by piece."""
    digest = hashlib.blake2b(digest_size=16)
    with path.open("rb") as file:
        while piece := file.read(CHUNK_BYTES):
            digest.update(piece)
    return digest.hexdigest()


def kind_of(path: Path) -> str:
    """What the content is, whatever the name says: "step", "stl", "3mf", or "" when it is none of these."""
    with path.open("rb") as file:
        start = file.read(2048)
    return kind_of_start(start, path.stat().st_size)


def kind_of_start(start: bytes, size_bytes: int) -> str:
    """The same from the first bytes, at least 84 of them, and the size of the whole."""
    text = start.lstrip(b"\xef\xbb\xbf \t\r\n")
    if text[:12].upper() == b"ISO-10303-21":
        return "step"
    if start[:4] == b"PK\x03\x04":
        return "3mf"
    if text[:5].lower() == b"solid" and (b"facet" in text.lower() or b"endsolid" in text.lower()):
        return "stl"
    if len(start) >= 84 and size_bytes == 84 + 50 * int.from_bytes(start[80:84], "little"):
        return "stl"
    return ""


def trouble(name: str, read: str, expected: str, remedy: str) -> ReadingError:
    """A ReadingError about a whole file."""
    return ReadingError(where=Where(file=shown(name).strip("'")), read=read, expected=expected, remedy=remedy)

"""Reads STL files, binary and text, into closed meshes, and says what is wrong with those that are not.

Own reader: the format is a few lines of numpy, while a general mesh library costs 0.4 s at every start.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from trysquare.ground.errors import ReadingError, Where, shown
from trysquare.ground.placement import Array
from trysquare.solid.meshes import Triangles, manifold_of, signed_volume_mm3

LARGEST_BYTES = 64 * 1024 * 1024  # 1.3 million triangles; a part of a small machine has far fewer
HEADER_BYTES = 84
TRIANGLE_BYTES = 50
UNEVEN_MM = 1e-6
SMALLEST_MM3 = 1e-9
FARTHEST_MM = 1e5  # 100 m: a coordinate beyond is not millimetres of a small machine

_REMEDY = "Export the part again as STL in millimetres."
_CLOSE = "Repair the mesh in the program it came from (close holes, unify normals) and export again."


def read_stl(path: Path, name: str = "") -> Manifold:
    """The closed solid of an STL file. `name` is how the file is called in errors."""
    name = name or path.name
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise _error(
                name, f"{size / 2**20:.0f} MB", f"at most {LARGEST_BYTES // 2**20} MB",
                "Export with a coarser tolerance, such as 0.05 mm: the checks need no finer mesh.",
            )  # fmt: skip
        data = path.read_bytes()
    except OSError as error:
        raise _error(
            name, error.strerror or str(error), "a readable STL file",
            "Put the file there, or correct `shape` of the part.",
        ) from error  # fmt: skip
    return solid_from_stl(data, name)


def solid_from_stl(data: bytes, name: str) -> Manifold:
    """The closed solid of an STL file's bytes, or a ReadingError that says what is wrong."""
    corners_mm = triangles_of(data, name)
    points_mm, triangles = welded(corners_mm)
    kept = (
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    )
    triangles = triangles[kept]  # needles without area, which many exporters leave behind
    if len(triangles) == 0:
        raise _error(name, "triangles without any area", "a solid", _REMEDY)
    _check_closed(points_mm, triangles, name)
    volume_mm3 = signed_volume_mm3(points_mm, triangles)
    if volume_mm3 < 0:  # the whole part inside out; no doubt what is meant
        triangles = triangles[:, ::-1]
    body = manifold_of(points_mm, triangles)
    if body is None:  # see manifold_of: out of plane by far less than any tolerance, and it holds
        body = manifold_of(points_mm + _unevenness(points_mm), triangles)
    if body is None or body.volume() <= SMALLEST_MM3:
        raise _error(name, f"a mesh that encloses {abs(volume_mm3):.3g} mm³", "a closed solid", _CLOSE)
    return body


def _unevenness(points_mm: Array) -> Array:
    """Tiny shifts, the same ones every time, that leave no three faces exactly in line."""
    return np.random.default_rng(1).uniform(-UNEVEN_MM, UNEVEN_MM, points_mm.shape)


def triangles_of(data: bytes, name: str) -> Array:
    """Corners of all triangles, array (m, 3, 3), float64."""
    corners = _from_text(data, name) if _is_text(data) else _from_binary(data, name)
    if len(corners) == 0:
        raise _error(name, "no triangles", "a solid", _REMEDY)
    bad = ~np.isfinite(corners).all(axis=(1, 2))
    if bad.any():
        raise _error(
            name, f"triangle {int(np.argmax(bad)) + 1} with a coordinate that is no number",
            "finite coordinates", _REMEDY,
        )  # fmt: skip
    if float(np.abs(corners).max()) > FARTHEST_MM:
        raise _error(
            name, f"a coordinate of {float(np.abs(corners).max()):.3g}",
            f"millimetres, at most {FARTHEST_MM:g} from the origin",
            "Export in millimetres, with the part near the origin.",
        )  # fmt: skip
    return corners


def _error(name: str, read: str, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=Where(file=name), read=read, expected=expected, remedy=remedy)


def _is_text(data: bytes) -> bool:
    """Text begins with "solid" and names a facet (or the end); binary headers may begin with
    "solid" too, but then the length agrees with the triangle count."""
    if data.lstrip()[:5].lower() != b"solid":
        return False
    if len(data) >= HEADER_BYTES:
        count = int(np.frombuffer(data, "<u4", 1, 80)[0])
        if len(data) == HEADER_BYTES + TRIANGLE_BYTES * count:
            return False
    start = data[:2000].lower()
    return b"facet" in start or b"endsolid" in start


def _from_binary(data: bytes, name: str) -> Array:
    if len(data) < HEADER_BYTES:
        raise _error(name, f"{len(data)} bytes", "an STL file, at least 84 bytes", _REMEDY)
    count = int(np.frombuffer(data, "<u4", 1, 80)[0])
    fit = (len(data) - HEADER_BYTES) // TRIANGLE_BYTES
    if count > fit or len(data) - HEADER_BYTES - TRIANGLE_BYTES * count >= TRIANGLE_BYTES:
        if _printable(data[:80]) and _printable(data[:400]):
            raise _error(name, shown(data[:60].decode("latin-1")), "an STL file", _REMEDY)
        raise _error(
            name, f"a count of {count} triangles in a file that has room for {fit}",
            f"{fit} triangles", "The file is cut short or damaged: export or copy it again.",
        )  # fmt: skip
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    return np.frombuffer(data, record, count, HEADER_BYTES)["corners"].astype(np.float64)


def _printable(data: bytes) -> bool:
    return all(32 <= byte < 127 or byte in (9, 10, 13) for byte in data)


_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)


def _from_text(data: bytes, name: str) -> Array:
    numbers = _VERTEX.findall(data)
    lower = data.lower()
    named, facets = lower.count(b"vertex"), lower.count(b"endfacet")
    if b"endsolid" not in lower or named != 3 * facets or len(numbers) != named:
        raise _error(
            name, f"{named} vertices in {facets} facets", "three vertices a facet, up to `endsolid`",
            "The file is cut short or damaged: export or copy it again.",
        )  # fmt: skip
    try:
        flat = np.array(numbers, dtype="S32").astype(np.float64)
    except ValueError as error:
        raise _error(name, shown(str(error)), "numbers after `vertex`", _REMEDY) from error
    return flat.reshape(-1, 3, 3)


def welded(corners_mm: Array) -> tuple[Array, Triangles]:
    """Points (n, 3) and triangles (m, 3): corners with the very same coordinates become one point.

    The points keep the order in which the file first names them.
    """
    flat = np.ascontiguousarray(corners_mm.reshape(-1, 3)) + 0.0  # + 0.0 makes -0.0 into 0.0
    whole = flat.view(np.uint64)
    # one number for each corner: sorting it is ten times faster than sorting rows of three
    mixed = whole[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    mixed ^= (whole[:, 1] * np.uint64(0xC2B2AE3D27D4EB4F)) >> np.uint64(7)
    mixed += whole[:, 1] * np.uint64(0xD6E8FEB86659FD93)
    mixed ^= (whole[:, 2] * np.uint64(0x165667B19E3779F9)) >> np.uint64(13)
    mixed += whole[:, 2] * np.uint64(0xA0761D6478BD642F)
    _, first, inverse = np.unique(mixed, return_index=True, return_inverse=True)
    if not np.array_equal(flat[first][inverse], flat):  # two corners share a number: the slow, sure way
        _, first, inverse = np.unique(flat, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return flat[first[order]], rank[inverse.reshape(-1)].reshape(-1, 3)


def _check_closed(points_mm: Array, triangles: Triangles, name: str) -> None:
    """Every edge must be walked once each way."""
    count = len(points_mm)
    begins = triangles.ravel()
    ends = triangles[:, [1, 2, 0]].ravel()
    there = begins * count + ends
    back = ends * count + begins
    edges, times = np.unique(there, return_counts=True)
    missing = there[~np.isin(there, back)]
    if len(missing):
        at = (points_mm[missing // count] + points_mm[missing % count]) / 2
        x, y, z = at[0]
        raise _error(
            name, f"{len(missing)} open edges, one near ({x:.2f}, {y:.2f}, {z:.2f}) mm",
            "a closed surface", _CLOSE,
        )  # fmt: skip
    order = {"there": times, "back": np.unique(back, return_counts=True)[1]}
    if not np.array_equal(order["there"], order["back"]):
        worst = edges[np.argmax(order["there"] != order["back"])]
        x, y, z = (points_mm[worst // count] + points_mm[worst % count]) / 2
        raise _error(
            name, f"faces turned against each other near ({x:.2f}, {y:.2f}, {z:.2f}) mm",
            "all faces outwards", _CLOSE,
        )  # fmt: skip

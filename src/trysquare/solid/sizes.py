"""What is known of a solid without its mesh: its name, its box, how much it holds."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trysquare.ground.placement import Array
from trysquare.ground.sealed import opened, sealed

NAME_BYTES = 16
_SORT = b"trysquare solid memory 1\n"
_NUMBERS = 8  # of a size: box, volume, area


@dataclass(frozen=True, slots=True, eq=False)
class Size:
    """A shape's digest, its box as arrays (3,), volume, area and number of triangles."""

    digest: bytes
    low_mm: Array
    high_mm: Array
    volume_mm3: float
    area_mm2: float
    triangle_count: int


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What can be kept from one run to the next, so that the next makes only the solids it looks at.

    `sizes` by the name of all that a solid follows from; `apart`: names of standings, of one shape to
    another, in which the two share nothing. What is kept can be deleted at any time.
    """

    sizes: Mapping[bytes, Size] = field(default_factory=dict)
    apart: frozenset[bytes] = frozenset()


def name_of(*about: bytes) -> bytes:
    """Names something by all that it follows from."""
    return hashlib.blake2b(b"".join(about), digest_size=NAME_BYTES).digest()


def as_bytes(kept: Kept, program: str) -> bytes:
    """What is kept as a file's content; `program` as in `ground.sealed`."""
    sizes = kept.sizes.values()
    numbers = [(*one.low_mm, *one.high_mm, one.volume_mm3, one.area_mm2) for one in sizes]
    return sealed(
        _SORT,
        program,
        b"".join(
            (
                np.array([len(kept.sizes), len(kept.apart)], dtype=np.int64).tobytes(),
                b"".join(kept.sizes),
                b"".join(one.digest for one in sizes),
                np.array([one.triangle_count for one in sizes], dtype=np.int64).tobytes(),
                np.array(numbers, dtype=np.float64).tobytes(),
                b"".join(sorted(kept.apart)),
            )
        ),
    )


def from_bytes(content: bytes, program: str) -> Kept:
    """What a file's content keeps; nothing when it is damaged or from another program."""
    body = opened(_SORT, program, content)
    if body is None:
        return Kept()
    # The check has told that the bytes are as we wrote them.
    sizes, apart = (int(count) for count in np.frombuffer(body, np.int64, 2))
    at = 16
    names = _names(body[at : at + sizes * NAME_BYTES])
    at += sizes * NAME_BYTES
    digests = _names(body[at : at + sizes * NAME_BYTES])
    at += sizes * NAME_BYTES
    triangles = np.frombuffer(body, np.int64, sizes, at).tolist()
    at += sizes * 8
    numbers = np.frombuffer(body, np.float64, sizes * _NUMBERS, at).reshape(-1, _NUMBERS)
    at += sizes * _NUMBERS * 8
    rows = zip(names, digests, triangles, numbers, strict=True)
    return Kept(
        {
            name: Size(digest, row[:3], row[3:6], float(row[6]), float(row[7]), count)
            for name, digest, count, row in rows
        },
        frozenset(_names(body[at : at + apart * NAME_BYTES])),
    )


def _names(content: bytes) -> list[bytes]:
    return [content[at : at + NAME_BYTES] for at in range(0, len(content), NAME_BYTES)]

"""The straight line a key needs to reach a screw, as a solid, and what stands in it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np

from trysquare.ground.placement import Array, Placement, Triple, facing, unit
from trysquare.machine.values import PlacedPart
from trysquare.solid.bodies import shaft
from trysquare.solid.overlap import Overlap, Standing, crosses_any, crossings, standing
from trysquare.solid.shapes import Solid, solid_from


def key_line(
    from_mm: Triple | Array, direction: Triple | Array, diameter_mm: float, length_mm: float
) -> Solid:
    """A round line from `from_mm` along `direction`, machine frame. It is inscribed, so a key in an
    access hole of its own size is free."""
    place = key_place(from_mm, direction)
    return solid_from(key_shaft(diameter_mm, length_mm).manifold.transform(place.matrix()))


@lru_cache(maxsize=512)
def key_shaft(diameter_mm: float, length_mm: float) -> Solid:
    """The key's line in its own coordinates: about z, from z = 0 to z = length."""
    if not (diameter_mm > 0 and length_mm > 0):
        raise ValueError("a key line needs a diameter and a length above 0 mm")
    return solid_from(shaft(diameter_mm, 0.0, length_mm))


def key_place(from_mm: Triple | Array, direction: Triple | Array) -> Placement:
    """Where a key's line stands: its z along `direction`, its beginning at `from_mm`."""
    return Placement(facing(unit(direction)), np.asarray(from_mm, dtype=float))


def line_blockers(
    from_mm: Triple | Array,
    direction: Triple | Array,
    diameter_mm: float,
    length_mm: float,
    obstacles: Sequence[PlacedPart] | Standing,
    folder: str | Path = "",
    *,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
    name: str = "key",
) -> tuple[Overlap, ...]:
    """What stands in a key's line, nearest to its beginning first; empty when the line is free.

    Put the screw's own id in `ignoring`: the key enters its socket. `name` becomes `a_id`. Touching
    is free. Ask many times with `standing(obstacles)`; `present` says which of them are there yet.
    """
    ready = obstacles if isinstance(obstacles, Standing) else standing(obstacles, folder)
    place = key_place(from_mm, direction)
    found = crossings(name, key_shaft(diameter_mm, length_mm), place, ready, present, ignoring)
    way, start = unit(direction), np.asarray(from_mm, dtype=float)
    return tuple(sorted(found, key=lambda one: float(np.dot(np.array(one.at_mm) - start, way))))


def line_free(
    from_mm: Triple | Array,
    direction: Triple | Array,
    diameter_mm: float,
    length_mm: float,
    obstacles: Sequence[PlacedPart] | Standing,
    folder: str | Path = "",
    *,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
) -> bool:
    """Whether `line_blockers` would find nothing; quicker where something blocks."""
    ready = obstacles if isinstance(obstacles, Standing) else standing(obstacles, folder)
    place = key_place(from_mm, direction)
    return not crosses_any(key_shaft(diameter_mm, length_mm), place, ready, present, ignoring)

"""In which order the screws of a flat joint are tightened: crosswise, or outwards from the middle in rings.

A flange, a motor's face or a bearing's cap tightened round and round tips, and its last screws find no more
to pull. Source: the star of a flange's bolts as ASME PCC-1 tables it, from memory; rectangles and larger
fields by common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Fastening, Joint
from trysquare.sequence.row_orders import centre_outwards, rows_of

LEAST = 4  # three screws always lie flat
ONE_PLANE_MM = 1.0  # heads that stand further apart along their axis hold no one face
ONE_RING = 0.05  # radii that differ by less than this part of the largest are one circle
IN_LINE = 0.02  # a field lower than this part of its length is a row
_FACES = frozenset({"through-bolt", "plate-on-slots", "insert-and-screw", "block-on-rail"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The order of the screws through one part. `words`: how it goes; `order`: their ids, first to last."""

    part: str
    words: str
    order: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Screws that pull one part onto one face. `order`: their ids, first to last; `at_mm`: where they lie, as
    the key sees them, in the order of `screws`; `rings`: 1 where all lie on one circle."""

    part: str
    screws: tuple[str, ...]
    order: tuple[str, ...]
    at_mm: tuple[tuple[float, float], ...]
    rings: int

    @property
    def words(self) -> str:
        """How the order goes, so that it can be followed without numbers."""
        if self.rings == 1:
            return "crosswise, each screw and then the one opposite"
        return "from the middle outwards, crosswise"


def fields_of(joint: Joint) -> tuple[Field, ...]:
    """The fields of a joint that have an order of their own: four screws or more through one part, in one
    plane and not in a row; none for rails, whose rows go from the middle outwards."""
    if joint.from_centre or joint.recipe not in _FACES:
        return ()
    groups: dict[tuple[str, tuple[float, ...]], list[Fastening]] = {}
    for one in joint.fastenings:
        if one.grips:
            axis = tuple(round(part, 3) + 0.0 for part in one.axis)
            groups.setdefault((one.grips[0].part, axis), []).append(one)
    found = (_field(part, ones) for (part, _), ones in groups.items() if len(ones) >= LEAST)
    return tuple(one for one in found if one is not None)


def orders_of(joint: Joint) -> tuple[Order, ...]:
    """Every order that a joint's screws have: rows of rails, else faces."""
    if not joint.from_centre:
        return tuple(Order(part=one.part, words=one.words, order=one.order) for one in fields_of(joint))
    rows = rows_of(joint.fastenings)
    by_id = {one.id: one for one in joint.fastenings}
    return tuple(
        Order(
            part=part,
            words="from the middle outwards",
            order=centre_outwards([by_id[name] for name in names]),
        )
        for part, names in rows.items()
        if len(names) > 2
    )


def _field(part: str, ones: Sequence[Fastening]) -> Field | None:
    heads = np.array([one.head_mm for one in ones])
    axis = np.array(ones[0].axis)
    if np.ptp(heads @ axis) > ONE_PLANE_MM:
        return None
    flat = _from_above(heads, axis)
    spread = np.linalg.svd(flat - flat.mean(axis=0), compute_uv=False)
    if spread[1] <= IN_LINE * spread[0]:
        return None
    rings = rings_of(flat)
    order = [index for ring in rings for index in ring]
    return Field(
        part=part,
        screws=tuple(one.id for one in ones),
        order=tuple(ones[index].id for index in order),
        at_mm=tuple((round(float(x), 2), round(float(y), 2)) for x, y in flat),
        rings=len(rings),
    )


def _from_above(heads: Array, axis: Array) -> Array:
    """Heads as the key sees them, array (n, 2): x to the right, y up, whichever way the face looks."""
    up = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    right = np.cross(up, axis)
    right = right / np.linalg.norm(right)
    return np.column_stack([heads @ right, heads @ np.cross(axis, right)])


def rings_of(at_mm: Array) -> list[list[int]]:
    """Screws ring by ring from the middle, each ring crosswise: indexes into `at_mm`, array (n, 2)."""
    off = at_mm - (at_mm.max(axis=0) + at_mm.min(axis=0)) / 2
    radius = np.hypot(off[:, 0], off[:, 1])
    step = ONE_RING * float(radius.max())
    rings: list[list[int]] = []
    for index in np.argsort(radius, kind="stable").tolist():
        if rings and radius[index] - radius[rings[-1][0]] <= step:
            rings[-1].append(index)
        else:
            rings.append([index])
    return [_crosswise(ring, off) for ring in rings]


def _crosswise(ring: Sequence[int], off: Array) -> list[int]:
    """A ring's screws from its lowest number on, round it towards the lower neighbour, then as a star."""
    angle = {index: float(np.arctan2(off[index, 1], off[index, 0])) for index in ring}
    round_it = sorted(ring, key=lambda index: angle[index])
    first = round_it.index(min(ring))
    round_it = round_it[first:] + round_it[:first]
    if len(round_it) > 2 and round_it[-1] < round_it[1]:
        round_it = [round_it[0], *round_it[:0:-1]]
    return [round_it[turn] for turn in star(len(round_it))]


def star(count: int) -> list[int]:
    """The places round a circle in the order in which they are tightened, from 0.

    Fours at right angles where the count divides by four, else opposite pairs; an odd count goes on by
    half a turn each time. Source: ASME PCC-1, legacy cross-pattern, from memory.
    """
    if count < LEAST:
        return list(range(count))
    if count % 2:
        return [turn * (count // 2) % count for turn in range(count)]
    half = count // 2
    if count % 4:
        return [place for start in _spread(half) for place in (start, start + half)]
    quarter = count // 4
    return [
        place
        for start in _spread(quarter)
        for place in (start, start + half, start + quarter, start + half + quarter)
    ]


def _spread(count: int) -> list[int]:
    """Starts of groups: neighbours one after another up to three, more of them every second one first."""
    return list(range(count)) if count <= 3 else [*range(0, count, 2), *range(1, count, 2)]


def numbers_of(order: Sequence[str]) -> tuple[str, ...]:
    """The screws' own numbers within their joint."""
    return tuple(name.rpartition(".")[2] for name in order)

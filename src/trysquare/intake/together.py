"""A part of several solids, as a sink with its fan: one piece, when nothing speaks against it.

Programs write a part of several solids under one name. It stays one part when its solids have no names of
their own, it is a part among others, and none of its solids is a screw, a nut, a member or the like: those
are a machine that was written as one part, and each is a piece. Some programs draw the thread as a solid of
its own in the part that is the screw or nut; it goes with that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array
from trysquare.intake.bodies import Problem, Recognition, Shape, Sort
from trysquare.intake.solids import drawn
from trysquare.intake.step_labels import location_of
from trysquare.intake.step_tree import Leaf

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape

MOST_IN_ONE = 40  # a ball bearing drawn with all its balls has some twenty
PIECES = frozenset(
    {Sort.MEMBER, Sort.SCREW, Sort.NUT, Sort.SLOT_NUT, Sort.WASHER, Sort.INSERT, Sort.RAIL, Sort.BLOCK}
)
THREADED = frozenset({Sort.SCREW, Sort.NUT, Sort.SLOT_NUT, Sort.INSERT})
THREAD_MM = 1.0  # a thread of its own stands out of a headless screw's core by less
PAIR = 2
LEAST_BALLS = 5
ROUND = 0.05  # of a ball's size: the corners of its triangles lie on it
FIRST_KEY = -2  # solids have keys from 0 on, surfaces -1
MOST_PARTS = 10_000_000  # keys beyond are of assemblies that are one part


def put_together(
    leaves: Sequence[Leaf], shape_of: Callable[[TopoDS_Shape], Shape], problems: list[Problem]
) -> list[Leaf]:
    """The leaves, with those of one part's use as one leaf when they are one part; in the same order.

    `shape_of` gives the shape of one solid; it may raise a ReadingError for one that cannot be measured.
    `problems` is told of threads that are drawn apart.
    """
    known: dict[int, Recognition | None] = {}

    def found(leaf: Leaf) -> Recognition | None:
        if leaf.key not in known:
            known[leaf.key] = _recognised(leaf, shape_of)
        return known[leaf.key]

    whole = _parts_as_one(leaves, found)
    together: list[Leaf] = []
    threads: dict[str, None] = {}
    bearings: dict[tuple[object, ...], tuple[int, TopoDS_Shape]] = {}
    for group in _grouped(whole, lambda leaf: leaf.within):
        kept = _without_thread(group, found) if PAIR <= len(group) <= MOST_IN_ONE else group
        if len(kept) < len(group):
            threads[kept[0].path[-1] if kept[0].path else kept[0].name] = None
        elif len(group) < len(whole) and _is_bearing(group, found):
            kept = [_bearing(group, bearings)]
        together += kept
    if threads:
        problems.append(
            Problem(code="thread-apart", names=tuple(threads),
                    says="Some screws or nuts have their thread as a body of its own; it counts with them.")
        )  # fmt: skip
    return together


def _recognised(leaf: Leaf, shape_of: Callable[[TopoDS_Shape], Shape]) -> Recognition | None:
    from trysquare.intake.recognise import recognised  # most files need it only in the parent process

    if leaf.solid is None:
        return None
    try:
        return recognised(shape_of(leaf.solid))
    except ReadingError:  # it encloses nothing: that is told when the solids are gathered
        return None


def _grouped(leaves: Sequence[Leaf], by: Callable[[Leaf], int]) -> list[list[Leaf]]:
    """The leaves in order, those that follow each other with one number in one list; -1 is no number."""
    groups: list[list[Leaf]] = []
    for leaf in leaves:
        if groups and by(leaf) >= 0 and by(groups[-1][0]) == by(leaf):
            groups[-1].append(leaf)
        else:
            groups.append([leaf])
    return groups


def _parts_as_one(leaves: Sequence[Leaf], found: Callable[[Leaf], Recognition | None]) -> list[Leaf]:
    together: list[Leaf] = []
    parts: dict[int, TopoDS_Shape | None] = {}
    for group in _grouped(leaves, lambda leaf: leaf.use):
        first = group[0]
        if len(group) == 1 or len(group) == len(leaves):
            together += group
            continue
        if first.part not in parts:
            seen = [found(leaf) for leaf in group] if len(group) <= MOST_IN_ONE else [None]
            is_one = all(one is not None and not _is_piece(one) for one in seen)
            parts[first.part] = _as_one(group) if is_one else None
        solid = parts[first.part]
        if solid is not None:
            together.append(replace(first, solid=solid, key=FIRST_KEY - first.part))
        else:
            together += _without_thread(group, found) if len(group) <= MOST_IN_ONE else group
    return together


def _without_thread(group: list[Leaf], found: Callable[[Leaf], Recognition | None]) -> list[Leaf]:
    """Only the fastener of a group when all else is its thread: nothing else lies within a screw or nut."""
    pieces = [leaf for leaf in group if _is_piece(found(leaf))]
    if len(pieces) != 1 or any(leaf.solid is None for leaf in group):
        return group
    fastener = pieces[0]
    what = found(fastener)
    if what is None or what.sort not in THREADED:
        return group
    back = fastener.placement.inverse()
    points = _points(fastener)
    low, high = points.min(axis=0) - THREAD_MM, points.max(axis=0) + THREAD_MM
    for other in group:
        inner = back.then(other.placement).point(_points(other))
        if (inner < low).any() or (inner > high).any():
            return group
    return pieces


def _is_bearing(group: Sequence[Leaf], found: Callable[[Leaf], Recognition | None]) -> bool:
    """Whether an assembly is rings with balls between them, and nothing that is sold by itself."""
    if not LEAST_BALLS + 2 <= len(group) <= MOST_IN_ONE:
        return False
    seen = [found(leaf) for leaf in group]
    if any(one is None or _is_piece(one) for one in seen):
        return False
    return sum(_is_ball(leaf) for leaf in group) >= LEAST_BALLS


def _is_ball(leaf: Leaf) -> bool:
    size = _points(leaf).max(axis=0) - _points(leaf).min(axis=0) if leaf.solid is not None else None
    if size is None or float(size.max() - size.min()) > ROUND * float(size.max()):
        return False
    points = _points(leaf)
    away = np.linalg.norm(points - (points.max(axis=0) + points.min(axis=0)) / 2, axis=1)
    return float(np.ptp(away)) < ROUND * float(away.max())


def _bearing(group: Sequence[Leaf], known: dict[tuple[object, ...], tuple[int, TopoDS_Shape]]) -> Leaf:
    """The group as one leaf, named as its assembly; equal groups get one shape."""
    first = group[0]
    base = first.placement.inverse()
    alike = tuple(
        (leaf.key, *np.round(base.then(leaf.placement).matrix(), 4).ravel().tolist()) for leaf in group
    )
    if alike not in known:
        known[alike] = FIRST_KEY - MOST_PARTS - len(known), _as_one(group)
    key, solid = known[alike]
    name = first.path[-1] if first.path else first.name
    return replace(first, solid=solid, key=key, name=name, path=first.path[:-1])


def _is_piece(found: Recognition | None) -> bool:
    return found is not None and found.sort in PIECES and found.is_sure


def _points(leaf: Leaf) -> Array:
    assert leaf.solid is not None  # the caller looked
    return drawn(leaf.solid)[0]


def _as_one(group: Sequence[Leaf]) -> TopoDS_Shape:
    """All solids as one body of the kernel, in the coordinates of the first."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, whole = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(whole)
    base = group[0].placement.inverse()
    for leaf in group:
        assert leaf.solid is not None  # `_is_one` looked
        builder.Add(whole, leaf.solid.Located(location_of(base.then(leaf.placement))))
    return whole

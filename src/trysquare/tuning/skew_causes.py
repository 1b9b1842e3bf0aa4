"""Which part of the frame makes a plane skew: the squareness characteristics whose members lie along it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trysquare.fit.axes import motions
from trysquare.machine.values import Machine
from trysquare.truing.features import own_box
from trysquare.tuning.skew import AXES

_LONG = 2.0  # a part says a direction when it is twice as long as it is wide
_ALONG = 0.98  # cosine of what lies along an axis


def squareness_of_plane(machine: Machine | None, plane: str) -> tuple[str, ...]:
    """Characteristics of the sort squareness that both axes of the plane meet in, nearest to the tool first.

    Those with parts that an axis moves come first, then those that bear its rails, then the rest.
    """
    if machine is None:
        return ()
    moving = {word for one in motions(machine) for word in one.moves}
    rails = {rail for joint in machine.joints for rail in joint.slides_on.values()}
    bearing = {part for joint in machine.joints if rails.intersection(joint.parts) for part in joint.parts}
    found = []
    for index, one in enumerate(machine.characteristics):
        if one.sort != "squareness":
            continue
        words = (*one.of, *one.against)
        ways = _directions(machine, words)
        if set(plane) <= ways:
            far = 0 if moving.intersection(words) else 1 if bearing.intersection(words) else 2
            found.append((far, index, one.id))
    return tuple(name for *_, name in sorted(found))


def _directions(machine: Machine, words: Sequence[str]) -> set[str]:
    """The machine's axes that the longest edges of these parts lie along."""
    ways = set()
    for word in words:
        part = machine.part.get(word)
        box = own_box(part.type, machine.folder) if part is not None else None
        if part is None or box is None:
            continue
        size = np.asarray(box[1]) - np.asarray(box[0])
        longest = int(np.argmax(size))
        if size[longest] < _LONG * np.sort(size)[-2]:
            continue
        way = np.abs(part.placement.turn[:, longest])
        if way.max() > _ALONG:
            ways.add(AXES[int(np.argmax(way))])
    return ways

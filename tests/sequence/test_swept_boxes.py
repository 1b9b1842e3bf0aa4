"""A quick look by boxes never says free where a closer look finds something in the way."""

from __future__ import annotations

import numpy as np
import pytest

from sequence.random_assemblies import WAYS, random_assembly
from trysquare.sequence.reach import Reach
from trysquare.sequence.swept_boxes import SweptBoxes


@pytest.mark.parametrize("seed", range(8))
def test_what_is_in_nobodys_box_has_nothing_in_its_way(seed: int) -> None:
    machine = random_assembly(seed)
    reach = Reach(machine)
    boxes = SweptBoxes(reach)
    parts = [part.id for part in machine.placed if not part.joint]
    moving, standing = parts[:3], parts[3:]
    for way in map(np.asarray, WAYS):
        doubted = boxes.in_doubt(moving, standing, way)
        met = {piece for piece in moving if reach.blockers(reach.path(piece, way), standing)}
        assert met <= set(doubted)
        blockers = {other for piece in moving for other in reach.blockers(reach.path(piece, way), standing)}
        assert blockers <= set(boxes.hit(moving, standing, way))


def test_ways_are_sorted_by_what_stands_in_them_and_none_is_lost() -> None:
    machine = random_assembly(3)
    boxes = SweptBoxes(Reach(machine))
    parts = [part.id for part in machine.placed if not part.joint]
    ways = [np.asarray(way) for way in WAYS]
    kept = boxes.clearest_first(parts[:1], parts[1:], ways)
    assert {tuple(way) for way in kept} == {tuple(way) for way in ways}
    counts = [len(boxes.hit(parts[:1], parts[1:], way)) for way in kept]
    assert counts == sorted(counts)

"""Which solids stand near enough to a screw to be asked about: none that matters may be left out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trysquare.machine.load import load_machine
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.neighbours import NEAR_MM, Neighbours, _own_box

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.mark.slow
def test_a_box_told_without_its_solid_is_never_smaller_than_the_solid() -> None:
    # Source: the solids themselves, as manifold3d made them
    boxed = 0
    for part_type in load_machine(LARCH).types.values():
        box = _own_box(part_type)
        if box is None or not makes_solid(part_type):
            continue
        solid = solid_of(part_type, LARCH)
        assert np.all(box[0] <= solid.low_mm + 1e-6), part_type.id
        assert np.all(box[1] >= solid.high_mm - 1e-6), part_type.id
        boxed += bool(part_type.primitives)
    assert boxed >= 10


@pytest.mark.slow
def test_every_solid_with_a_point_near_a_screws_line_is_a_candidate() -> None:
    machine = load_machine(LARCH)
    neighbours = Neighbours(machine)
    for joint in machine.joints[:: max(1, len(machine.joints) // 6)]:
        if not joint.fastenings:
            continue
        chosen = {part.id for part in neighbours._candidates(joint)}
        one = joint.fastenings[0]
        head, axis = np.array(one.head_mm), np.array(one.axis)
        for part in machine.placed:
            if not makes_solid(part.type):
                continue
            points = part.placement.point(solid_of(part.type, machine.folder).points_mm) - head
            along = points @ axis
            across = np.linalg.norm(points - along[:, None] * axis, axis=1)
            beside = (along < 10) & (along > -one.screw_type.length_mm - 10)
            if (across[beside] < NEAR_MM - 5).any():
                assert part.id in chosen, (joint.id, part.id)

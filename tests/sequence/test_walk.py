"""How low parts reach, told by their boxes, is how low their corners lie."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.load import load_machine
from trysquare.sequence.reach import Reach
from trysquare.sequence.walk import Walk
from trysquare.solid.shapes import solid_of

DEMO = Path(__file__).parents[2] / "demo"
MACHINES = ("reed-joints", "larch")


@pytest.mark.slow
@pytest.mark.parametrize("name", MACHINES)
def test_parts_reach_as_low_as_their_lowest_corner_whichever_side_is_up(name: str) -> None:
    machine = load_machine(DEMO / name)
    reach = Reach(machine)
    walk = Walk(machine, reach)
    for side, up in DIRECTIONS.items():
        way = np.asarray(up)
        low = walk.lowest(side, way, reach.row)
        for part in reach.row:
            placed = machine.part[part]
            corners = placed.placement.point(solid_of(placed.type, machine.folder).points_mm)
            assert low[part] == pytest.approx(float((corners @ way).min()), abs=1e-3), (part, side)

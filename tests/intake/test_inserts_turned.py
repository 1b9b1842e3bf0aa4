"""A heat-set insert looks alike from both ends: its screw tells which one is open."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from intake.taken import back, screws
from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Assembly, Sort
from trysquare.intake.rulings import seen_in

LENGTH_MM = 5.7  # of the demo's inserts

pytestmark = pytest.mark.slow


def inserts_upside_down(assembly: Assembly) -> Assembly:
    """Every insert turned end for end where it is."""
    seen = seen_in(assembly)
    over = Placement(np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, -LENGTH_MM]))
    bodies = []
    for body in assembly.bodies:
        found = seen[body.shape]
        if found.sort is Sort.INSERT:
            turned = body.placement.then(found.frame).then(over).then(found.frame.inverse())
            body = replace(body, placement=turned)  # noqa: PLW2901
        bodies.append(body)
    return replace(assembly, bodies=tuple(bodies))


def test_inserts_placed_upside_down_take_their_screws_all_the_same(tmp_path: Path) -> None:
    larch = back("larch", tmp_path, inserts_upside_down)
    assert screws(larch, larch.machine) == screws(larch, larch.demo)
    assert larch.taken.result.reasons == {}

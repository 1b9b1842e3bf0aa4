"""A pulley's drawn teeth are counted, and the count goes before its diameter."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from intake.made_step import shape_of, turned
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Pulley
from trysquare.ground.placement import Placement
from trysquare.intake.recognise import recognised
from trysquare.solid import brep_bodies, brep_parts
from trysquare.solid.drives import sections


def with_teeth(designation: str, count: int) -> Any:
    """The catalogue's pulley with round grooves cut into its running surface."""
    pulley = lookup(designation)
    assert isinstance(pulley, Pulley)
    low, high = sections(pulley).running_mm
    cutters = []
    for number in range(count):
        angle = 2 * math.pi * number / count
        at = np.array([math.cos(angle), math.sin(angle), 0.0]) * pulley.running_mm / 2
        cutters.append(brep_bodies.moved(brep_bodies.cylinder(1.2, low, high), Placement(np.eye(3), at)))
    return brep_bodies.less(brep_parts.pulley_shape(pulley), cutters)


@pytest.mark.slow
@pytest.mark.parametrize("teeth", [16, 20, 36])
def test_teeth_that_are_drawn_are_counted(teeth: int) -> None:
    designation = f"pulley 2mm pitch {teeth} teeth bore 5"
    found = recognised(shape_of(turned(with_teeth(designation, teeth), teeth)))
    assert found.designation == lookup(designation).designation
    assert f"{teeth} teeth counted" in found.evidence


def test_a_count_that_its_diameter_does_not_bear_is_no_pulley_of_the_tables() -> None:
    found = recognised(shape_of(with_teeth("pulley 2mm pitch 20 teeth bore 5", 17)))
    assert not found.is_sure or "20 teeth" not in found.designation


def test_a_smooth_running_surface_has_no_count() -> None:
    found = recognised(shape_of(with_teeth("pulley 2mm pitch 20 teeth bore 5", 0)))
    assert not any("counted" in line for line in found.evidence)

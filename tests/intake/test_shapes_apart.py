"""Shapes are told apart by what no motion changes, and mirror images by their hand."""

from __future__ import annotations

import numpy as np
import pytest

from intake.made_step import bored, box, handed_bracket, mirrored, shape_of, some_placement, turned
from trysquare.catalogue.lookup import lookup
from trysquare.intake.shapes_apart import hand_of, is_handed, motion_between
from trysquare.solid import brep_parts


def plain_plate() -> object:
    """A plate with four holes in a square: it has many symmetries, and is no mirror twin."""
    plate = box(40, 40, 4)
    for x, y in ((8, 8), (32, 8), (8, 32), (32, 32)):
        plate = bored(plate, (x, y, 5), (0, 0, -1), 4, 10)
    return plate


@pytest.mark.parametrize("seed", range(6))
def test_a_motion_between_two_placed_solids_carries_every_corner(seed: int) -> None:
    one, other = shape_of(handed_bracket()), shape_of(turned(handed_bracket(), seed))
    motion = motion_between(one, other)
    assert motion is not None
    assert np.abs(motion.matrix() - some_placement(seed).matrix()).max() < 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_a_symmetric_solid_is_found_equal_in_whatever_position(seed: int) -> None:
    one, other = shape_of(plain_plate()), shape_of(turned(plain_plate(), seed))
    motion = motion_between(one, other)
    assert motion is not None
    assert motion.point(one.centroid_mm) == pytest.approx(other.centroid_mm, abs=1e-6)
    assert not is_handed(one)


def test_a_mirror_image_is_not_the_same_shape_but_its_mirror_image_is() -> None:
    one, twin = shape_of(handed_bracket()), shape_of(turned(mirrored(handed_bracket()), 2))
    assert motion_between(one, twin) is None
    assert motion_between(one, twin, mirrored=True) is not None
    assert hand_of(one) == -hand_of(twin) != 0


@pytest.mark.parametrize("made", ["hole 0.1 mm elsewhere", "hole 0.05 mm wider", "hole 0.2 mm deeper"])
def test_a_small_difference_makes_another_shape(made: str) -> None:
    at = (30.1, 21, 5) if "elsewhere" in made else (30, 21, 5)
    other = bored(box(40, 20, 8), (8, 5, 9), (0, 0, -1), 4, 20)
    other = bored(other, at, (0, -1, 0), 3.05 if "wider" in made else 3, 6.2 if "deeper" in made else 6)
    assert motion_between(shape_of(handed_bracket()), shape_of(other)) is None


def test_screws_of_two_lengths_are_two_shapes_and_of_one_length_one() -> None:
    short, long = (brep_parts.screw_shape(lookup(f"ISO 4762 M3x{length}")) for length in (8, 10))
    assert motion_between(shape_of(short), shape_of(turned(short, 1))) is not None
    assert motion_between(shape_of(short), shape_of(long)) is None


def test_the_figures_of_a_shape_do_not_change_when_it_is_turned() -> None:
    one, other = shape_of(handed_bracket()), shape_of(turned(handed_bracket(), 9))
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=1e-9)
    assert other.area_mm2 == pytest.approx(one.area_mm2, rel=1e-9)
    assert other.moments_mm5 == pytest.approx(one.moments_mm5, rel=1e-9)
    assert other.digest == one.digest

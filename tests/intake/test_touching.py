"""Which parts touch: blocks side by side, a pin in its hole, and what only comes near."""

from __future__ import annotations

import numpy as np
import pytest

from intake.made_step import bored, box, shape_of
from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Assembly, Body, FileFacts, Shape
from trysquare.intake.pieces import Pieces, pieces_of
from trysquare.intake.recognise_others import own_part
from trysquare.intake.touching import touching


def standing(*placed: tuple[Shape, Placement]) -> Pieces:
    """Pieces of shapes that stand so; each an own part."""
    from dataclasses import replace

    shapes = tuple(replace(shape, number=number) for number, (shape, _at) in enumerate(placed))
    bodies = tuple(
        Body(name=f"part-{number}", path=(), shape=number, placement=at)
        for number, (_shape, at) in enumerate(placed)
    )
    facts = FileFacts(name="made.step", kind="step", size_bytes=1, digest="0")
    assembly = Assembly(facts=facts, shapes=shapes, bodies=bodies)
    return pieces_of(assembly, {shape.number: own_part(shape) for shape in shapes})


def at(x: float, y: float, z: float) -> Placement:
    return Placement(np.eye(3), np.array([x, y, z]))


def names(found: Pieces) -> list[str]:
    return [piece.body.name for piece in touching(found.pieces[0], found)]


@pytest.mark.parametrize(
    ("spot", "touches"),
    [
        ((0.0, 0.0, 10.0), True),  # on top
        ((10.0, 0.0, 0.0), True),  # beside
        ((5.0, 5.0, 10.0), True),  # on a quarter of it
        ((0.0, 0.0, 10.2), False),  # a gap
        ((10.0, 0.0, 10.0), False),  # edge on edge
        ((9.9, 0.0, 10.0), False),  # a tenth of a millimetre of it
        ((30.0, 0.0, 10.0), False),  # in its plane, far off
    ],
)
def test_a_block_touches_what_lies_on_it(spot: tuple[float, float, float], touches: bool) -> None:
    block = shape_of(box(10, 10, 10))
    assert names(standing((block, at(0, 0, 0)), (block, at(*spot)))) == (["part-1"] if touches else [])


def test_a_pin_touches_the_hole_that_it_fills_and_no_wider_one() -> None:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder

    pin = shape_of(BRepPrimAPI_MakeCylinder(3.0, 30.0).Shape())
    for diameter, touches in ((6.0, ["part-1"]), (8.0, [])):
        plate = shape_of(bored(box(20, 20, 10), (10, 10, 10), (0, 0, -1), diameter, 10))
        assert names(standing((pin, at(10, 10, -5)), (plate, at(0, 0, 0)))) == touches

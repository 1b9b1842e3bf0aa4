from __future__ import annotations

from drawn_bodies import at, box, cylinder
from trysquare.solid.drawing import ISOMETRIC, draw, scene_of
from trysquare.solid.drawing.memory import forget_drawings


def test_a_drawing_is_the_same_after_everything_kept_was_given_back() -> None:
    scene = scene_of([at(box(10, 10, 10), 0, 0, 0), at(cylinder(4, 20), 8, 0, 3)])
    first = draw(scene, ISOMETRIC)
    forget_drawings()
    again = draw(scene, ISOMETRIC)
    assert [part.id for part in again.parts] == [part.id for part in first.parts]
    for one, other in zip(first.parts, again.parts, strict=True):
        assert [line.points_mm.tolist() for line in one.lines] == [
            line.points_mm.tolist() for line in other.lines
        ]

"""Hidden-line drawings of placed solids: a scene and a view in, lines on paper and SVG out.

scene = scene_of(Piece(id=…, body=solid_of(…), placement=…, role="new") for …)
view = fitted(scene, choose_view(scene, scene.ids("new"), previous), 160, 120)
text = svg(draw(scene, view), title="Gantry onto the carriages")
"""

from trysquare.solid.drawing import edges, eye, flats, lids, looks
from trysquare.solid.drawing.draw import Drawing, DrawnPart, draw, seen
from trysquare.solid.drawing.ink import Ink, Line
from trysquare.solid.drawing.scene import GHOST, NEW, OLD, Mesh, Piece, Scene, View, mesh, scene_of
from trysquare.solid.drawing.svg import Pens, path_data, style, svg
from trysquare.solid.drawing.view import (
    DIRECTIONS,
    ISOMETRIC,
    Choice,
    boxes_on_paper,
    choose_view,
    fitted,
    visible_shares,
)

__all__ = [
    "DIRECTIONS",
    "GHOST",
    "ISOMETRIC",
    "NEW",
    "OLD",
    "Choice",
    "Drawing",
    "DrawnPart",
    "Ink",
    "Line",
    "Mesh",
    "Pens",
    "Piece",
    "Scene",
    "View",
    "boxes_on_paper",
    "choose_view",
    "draw",
    "fitted",
    "forget_drawings",
    "mesh",
    "path_data",
    "scene_of",
    "seen",
    "style",
    "svg",
    "visible_shares",
]  # fmt: skip


def forget_drawings() -> None:
    """Drops all that is kept in memory from one picture to the next, for measuring a cold start."""
    edges.forget_edges()
    flats.forget_flats()
    lids.forget_covers()
    looks.forget_looks()
    eye.forget_crowds()

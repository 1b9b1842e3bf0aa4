"""Hidden-line drawings of placed solids: a scene and a view in, lines on paper and SVG out.

scene = scene_of(Piece(id=…, body=solid_of(…), placement=…, role="new") for …)
view = fitted(scene, choose_view(scene, scene.ids("new"), previous), 160, 120)
text = svg(draw(scene, view), title="Gantry onto the carriages")
"""

from trysquare.solid.drawing.draw import Drawing, DrawnPart, Line, draw, seen
from trysquare.solid.drawing.edges import forget_edges
from trysquare.solid.drawing.looks import forget_looks
from trysquare.solid.drawing.scene import GHOST, NEW, OLD, Mesh, Piece, Scene, View, mesh, scene_of
from trysquare.solid.drawing.svg import Pens, path_data, style, svg
from trysquare.solid.drawing.view import DIRECTIONS, ISOMETRIC, choose_view, fitted, visible_shares

__all__ = [
    "DIRECTIONS",
    "GHOST",
    "ISOMETRIC",
    "NEW",
    "OLD",
    "Drawing",
    "DrawnPart",
    "Line",
    "Mesh",
    "Pens",
    "Piece",
    "Scene",
    "View",
    "choose_view",
    "draw",
    "fitted",
    "forget_edges",
    "forget_looks",
    "mesh",
    "path_data",
    "scene_of",
    "seen",
    "style",
    "svg",
    "visible_shares",
]  # fmt: skip

"""A small line drawing of `publish.drawing` as SVG: attributes alone and no style."""

from __future__ import annotations

from trysquare.publish.drawing import EDGE, HIDDEN, SOLID, THIN, WHITE, Circle, Drawing, Word
from trysquare.publish.drawing import Path as Lines
from trysquare.publish.picture_svg import escaped

MM_PER_POINT = 25.4 / 72
_PENS = {
    EDGE: 'fill="none" stroke="#1c1b19" stroke-width="0.3"',
    THIN: 'fill="none" stroke="#1c1b19" stroke-width="0.13"',
    HIDDEN: 'fill="none" stroke="#1c1b19" stroke-width="0.13" stroke-dasharray="0.9 0.6"',
    SOLID: 'fill="#1c1b19" fill-rule="evenodd" stroke="none"',
    WHITE: 'fill="#fff" stroke="#1c1b19" stroke-width="0.3"',
}
_ANCHORS = {"left": "start", "centre": "middle", "right": "end"}
EDGE_MM = 0.3  # half a pen's width stands out of the drawing's box


def sketch_svg(drawing: Drawing) -> str:
    """The drawing as a document of its own, in millimetres."""
    wide, high = drawing.width_mm + 2 * EDGE_MM, drawing.height_mm + 2 * EDGE_MM
    rows = [(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="{-EDGE_MM:g} {-EDGE_MM:g} {wide:.2f} {high:.2f}" role="img" '
        f'stroke-linecap="round" stroke-linejoin="round"><title>{escaped(drawing.says)}</title>'
    )]  # fmt: skip
    for shape in drawing.shapes:
        if isinstance(shape, Lines):
            rows.append(f'<path d="{_data(shape)}" {_PENS[shape.pen]}/>')
        elif isinstance(shape, Circle):
            x, y = shape.centre
            rows.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{shape.radius:.2f}" {_PENS[shape.pen]}/>')
        else:
            rows.append(_word(shape))
    return "".join([*rows, "</svg>"])


def _data(lines: Lines) -> str:
    words = []
    for part in lines.parts:
        points = " ".join(f"{x:.2f} {y:.2f}" for x, y in part[1:])
        words.append(f"{part[0]}{points}")
    return "".join(words)


def _word(word: Word) -> str:
    size = word.size_pt * MM_PER_POINT
    x, y = word.at
    weight = ' font-weight="700"' if word.bold else ""
    return (
        f'<text x="{x:.2f}" y="{y + 0.34 * size:.2f}" font-size="{size:.2f}" fill="#1c1b19"{weight} '
        f'text-anchor="{_ANCHORS[word.anchor]}" font-family="\'Source Sans 3\', sans-serif">'
        f"{escaped(word.text)}</text>"
    )

"""The sheet that goes with the test piece: its drawing with every length to be read, and room to write."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from trysquare.ground.placement import Array
from trysquare.publish.picture_svg import arrow, group, head, path, pill, pill_width, rect, words
from trysquare.publish.picture_window import Window, drawn
from trysquare.solid.drawing import ISOMETRIC, NEW, Piece, Scene, View, draw, fitted, mesh
from trysquare.tuning.skew_piece import (
    DOTS,
    SEEN_FROM,
    THICK_MM,
    WALL_MM,
    PieceLength,
    piece_body,
    piece_lengths,
    turn_of,
)

WIDTH_MM, HEIGHT_MM, EDGE_MM = 190.0, 262.0, 8.0
_RING_MM = 98.0  # the ring's width on paper
_MIDDLE = np.array([78.0, 92.0])
_PILL_MM = 4.4
_ASIDE_MM = 7.0  # on paper: the inner jaws' line runs beside the rod's
_KEYS = {"outside": "a", "inside": "b", "through": "c"}
_HOW = {
    "outside": "jaws",
    "inside": "inner jaws",
    "through": "depth rod",
}
_ALONG = {"rising": "rising diagonal", "falling": "falling diagonal"}
_ONES = ("no dot", "one dot", "two dots", "three dots")
_NOT_TO_SCALE = "Millimetres. The drawing is not for measuring from."


def skew_sheet(plane: str, size_mm: float) -> str:
    """The sheet of a plane as SVG."""
    body = piece_body(plane, size_mm)
    data = body.to_mesh()
    shape = mesh(
        np.asarray(data.vert_properties, dtype=np.float64)[:, :3], np.asarray(data.tri_verts, dtype=np.int64)
    )
    scene = Scene((Piece(id="piece", body=shape, role=NEW, says=f"test piece, plane {plane}"),))
    lengths = piece_lengths(plane, size_mm)
    title = f"Test piece, plane {plane.upper()}, {size_mm:g} mm"
    says = (
        f"A ring with eight flats, {size_mm:g} mm across, seen from {SEEN_FROM[plane]}; "
        f"{len(lengths)} lengths to read."
    )
    rows = head(WIDTH_MM, HEIGHT_MM, title, says)
    rows.append(rect(0, 0, WIDTH_MM, HEIGHT_MM))
    rows.append(words(title, EDGE_MM, 11, 6, anchor="start", name="strong"))
    rows.append(
        words(f"Seen from {SEEN_FROM[plane]}, its dots towards you.", EDGE_MM, 18, 3.4, anchor="start")
    )
    rows += _front(scene, plane, size_mm)
    rows += _dimensions(lengths, size_mm)
    rows += _axes(plane)
    rows += _beside(scene, plane)
    rows += _table(lengths)
    return "\n".join([*rows, "</svg>", ""])


def _front(scene: Scene, plane: str, size_mm: float) -> list[str]:
    turn = turn_of(plane)
    scale = _RING_MM / size_mm
    away, up = -turn[:, 2], turn[:, 1]
    view = View(tuple(away.tolist()), tuple(up.tolist()), scale)
    return _placed(scene, view, _MIDDLE, "front")


def _beside(scene: Scene, plane: str) -> list[str]:
    """The piece small, as it stands on the bed."""
    view = fitted(scene, View(ISOMETRIC.direction), 40, 40)
    middle = np.array([163.0, 60.0])
    stands = "lies flat" if plane == "xy" else "stands upright"
    return [
        *_placed(scene, view, middle, "beside"),
        words(f"It {stands}.", 163, 30, 3.2),
        words("x right, y back", 163, 108, 3.0),
        words(f"thick {THICK_MM:g}, wall {WALL_MM:g}", 163, 112.5, 3.0),
    ]


def _placed(scene: Scene, view: View, middle: Array, clip: str) -> list[str]:
    drawing = draw(scene, view)
    low, high = drawing.box_mm - 0.5 * np.array([[1], [-1]])
    corner = middle - (high - low) / 2
    window = Window(low=low, high=high, left=float(corner[0]), top=float(corner[1]), scale=1.0)
    return drawn(drawing, window, clip)


def _way(along: str) -> Array:
    """On paper, y down."""
    share = math.sqrt(0.5)
    return np.array(
        {"first": (1, 0), "second": (0, -1), "rising": (share, -share), "falling": (share, share)}[along]
    )


def _dimensions(lengths: Sequence[PieceLength], size_mm: float) -> list[str]:
    scale = _RING_MM / size_mm
    outer, inner = _RING_MM / 2, _RING_MM / 2 - WALL_MM * scale
    lines: list[Array] = []
    heads: list[str] = []
    pills: list[str] = []
    dashed: list[Array] = []
    for one in lengths:
        way = _way(one.along)
        side = np.array([-way[1], way[0]])
        key = _key(one)
        if one.how == "outside":
            for sign in (1, -1):
                tip = _MIDDLE + sign * outer * way
                lines.append(np.stack([tip, tip + sign * 8 * way]))
                heads.append(arrow(tip, -sign * way))
            pills.append(_pill(key, _MIDDLE + (outer + 11) * way))
        elif one.how == "inside":
            shift = _MIDDLE + _ASIDE_MM * side
            ends = [shift + sign * inner * way for sign in (1, -1)]
            lines.append(np.stack(ends))
            heads += [arrow(ends[0], way), arrow(ends[1], -way)]
            pills.append(_pill(key, shift - 0.62 * inner * way))
        else:
            # Holes are at the first axis' end, the second's, and where both diagonals point up.
            up = -way if one.along == "falling" else way
            ends = [_MIDDLE + outer * up, _MIDDLE - inner * up]
            dashed.append(np.stack(ends))
            heads += [arrow(ends[1], -up)]
            pills.append(_pill(key, _MIDDLE + 0.62 * inner * up))
    return [
        group("size", [path(lines)]),
        group("through", [path(dashed)]),
        group("arrow", heads),
        *pills,
    ]


def _key(one: PieceLength) -> str:
    number = {"first": 1, "second": 2, "rising": 3, "falling": 4}[one.along]
    return f"{number}{_KEYS[one.how]}"


def _pill(text: str, middle: Array) -> str:
    wide = pill_width(text, _PILL_MM)
    return pill(text, "", float(middle[0]) - wide / 2, float(middle[1]) - _PILL_MM / 2, _PILL_MM)


def _axes(plane: str) -> list[str]:
    """Which way the axes run, and the dots that say so on the piece."""
    first, second = plane[0], plane[1]
    corner = np.array([14.0, 152.0])
    right, up = corner + np.array([13.0, 0]), corner - np.array([0, 13.0])
    return [
        group("size", [path([np.stack([corner, right]), np.stack([corner, up])])]),
        group("arrow", [arrow(right, np.array([1.0, 0])), arrow(up, np.array([0, -1.0]))]),
        words(f"+{first}", float(right[0]) + 1, float(right[1]), 3.6, anchor="start", name="strong"),
        words(f"+{second}", float(up[0]), float(up[1]) - 2.6, 3.6, name="strong"),
        words(
            f"{_ONES[DOTS[first]].capitalize()} at the end of +{first}, {_ONES[DOTS[second]]} at that of "
            f"+{second}.",
            38, 152, 3.2, anchor="start",
        ),
    ]  # fmt: skip


def _table(lengths: Sequence[PieceLength]) -> list[str]:
    top, line = 160.0, 6.2
    columns = (EDGE_MM, 22.0, 66.0, 118.0, 140.0, 162.0)
    names = ("read", "along", "with", "nominal", "1st, mm", "2nd, mm")
    rows = [
        words(name, x, top, 3.0, anchor="start", name="strong")
        for name, x in zip(names, columns, strict=True)
    ]
    rules = [np.array([(EDGE_MM, top + 3), (WIDTH_MM - EDGE_MM, top + 3)])]
    for index, one in enumerate(lengths):
        y = top + 6.2 + index * line
        along = {"first": f"axis {one.plane[0]}", "second": f"axis {one.plane[1]}"}.get(
            one.along, _ALONG.get(one.along, "")
        )
        texts = (along, f"{one.how}: {_HOW[one.how]}", f"{one.nominal_mm:g}")
        rows.append(_pill(_key(one), np.array([columns[0] + 4, y])))
        rows += [words(text, x, y, 3.0, anchor="start") for text, x in zip(texts, columns[1:4], strict=True)]
        rules.append(np.array([(EDGE_MM, y + line / 2), (WIDTH_MM - EDGE_MM, y + line / 2)]))
    bottom = top + 6.2 + len(lengths) * line + 2
    notes = (
        "Let it cool on the bed. Take off burrs, leave the flats. Read twice, away from the bevel.",
        "Rising: from the low end of both axes to the high end of both. Falling: the other diagonal.",
        "Upright, z is read with the rod alone: the first layer and the bridge spoil the rest."
        if any(one.plane[1] == "z" for one in lengths)
        else "A length that you cannot read well: leave it out.",
        _NOT_TO_SCALE,
    )
    rows += [words(text, EDGE_MM, bottom + 4.4 * n, 3.0, anchor="start") for n, text in enumerate(notes)]
    return [group("size", [path(rules)]), *rows]

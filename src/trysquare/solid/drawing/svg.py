"""A drawing as SVG: one path for each sort of line of a part, styled by classes alone.

Classes: `tint` for the areas of new parts; a group for each part with its role (`new`, `old`, `ghost`) and in
it `outline` and `crease`. A page that shows the drawing may set its own style for them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.draw import Drawing, DrawnPart
from trysquare.solid.drawing.looks import SORTS
from trysquare.solid.drawing.scene import GHOST, NEW, OLD

MARGIN_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pens:
    """Line widths in paper mm and colours. Told apart by width and dash as well, for print in black."""

    ink: str = "#1c1b19"
    tint: str = "#f6e3bd"
    thin: str = "#5b5955"
    paper: str = ""  # "": transparent
    new_outline_mm: float = 0.42
    new_crease_mm: float = 0.22
    old_outline_mm: float = 0.16
    old_crease_mm: float = 0.10
    ghost_mm: float = 0.14
    fine: float = 0.6  # of these widths for a part this small on paper, lest it becomes a blot
    fine_below_mm: float = 9.0


def svg(
    drawing: Drawing,
    *,
    title: str = "",
    says: str = "",
    pens: Pens = Pens(),
    width_px: int | None = None,
    extra: Iterable[str] = (),
) -> str:
    """The drawing as a document of its own.

    `title` and `says`: for who cannot see it; any text, it is escaped. `width_px`: how wide it is shown, else
    its true size in mm. `extra`: further SVG elements in paper mm, drawn last, taken as they are.
    """
    low = drawing.box_mm[0] - MARGIN_MM
    wide, tall = (drawing.box_mm[1] + MARGIN_MM - low).tolist()
    if width_px is None:
        size = f'width="{wide:.2f}mm" height="{tall:.2f}mm"'
    else:
        size = f'width="{width_px}" height="{max(round(width_px * tall / wide), 1)}"'
    box = f'viewBox="{low[0]:.2f} {low[1]:.2f} {wide:.2f} {tall:.2f}"'
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} role="img" aria-labelledby="t d">',
        f'<title id="t">{_text(title)}</title><desc id="d">{_text(says)}</desc>',
        f"<style>{style(pens)}</style>",
    ]
    if pens.paper:
        rows.append(
            f'<rect class="paper" x="{low[0]:.2f}" y="{low[1]:.2f}" width="{wide:.2f}" height="{tall:.2f}"/>'
        )
    areas = [_path("", part.region, closed=True) for part in drawing.parts if part.region]
    if areas:
        rows += ['<g class="tint">', *areas, "</g>"]
    for role in (OLD, GHOST, NEW):
        rows += [_group(part, pens) for part in drawing.parts if part.role == role and part.lines]
    return "\n".join([*rows, *extra, "</svg>", ""])


def style(pens: Pens = Pens()) -> str:
    """The rules for the classes."""
    widths = {
        ".old .outline": pens.old_outline_mm,
        ".old .crease": pens.old_crease_mm,
        ".new .outline": pens.new_outline_mm,
        ".new .crease": pens.new_crease_mm,
    }
    rules = [
        f"path{{fill:none;stroke:{pens.ink};stroke-linecap:round;stroke-linejoin:round}}",
        f".tint path{{fill:{pens.tint};stroke:none;fill-rule:evenodd}}",
        f".old path{{stroke:{pens.thin}}}",
        *(f"{name}{{stroke-width:{width:.2g}}}" for name, width in widths.items()),
        *(f".fine{name}{{stroke-width:{width * pens.fine:.2g}}}" for name, width in widths.items()),
        f".ghost path{{stroke:{pens.thin};stroke-width:{pens.ghost_mm:g};stroke-dasharray:1.2 .8}}",
    ]
    if pens.paper:
        rules.append(f".paper{{fill:{pens.paper}}}")
    return "".join(rules)


def _group(part: DrawnPart, pens: Pens) -> str:
    paths = [
        _path(sort, [line.points_mm for line in part.lines if line.sort == sort], closed=False)
        for sort in SORTS
    ]
    # Only new parts are named: what is there already is one background to who listens.
    name = f"<title>{_text(part.says)}</title>" if part.role == NEW else ""
    small = part.box_mm is not None and np.linalg.norm(part.box_mm[1] - part.box_mm[0]) < pens.fine_below_mm
    role = f"{part.role} fine" if small and part.role != GHOST else part.role
    return f"<g class={quoteattr(role)} data-part={quoteattr(_plain(part.id))}>{name}{''.join(paths)}</g>"


def path_data(lines: Sequence[Array], closed: bool = False) -> str:
    """Lines (n, 2) as path data: relative, in hundredths, with no sign or blank that can be spared."""
    pieces: list[str] = []
    at_x = at_y = 0
    for points in lines:
        steps = np.rint(points * 100).astype(np.int64)
        rows = steps.tolist()
        ring = closed or (len(rows) > 3 and rows[0] == rows[-1])
        if ring and rows[0] == rows[-1]:
            rows.pop()
        x, y = rows[0]
        pieces.append(f"m{_pair(x - at_x, y - at_y)}")
        begin_x, begin_y = at_x, at_y = x, y
        word = "l"
        for x, y in rows[1:]:
            if x == at_x and y == at_y:
                continue
            if y == at_y:
                pieces.append(f"h{_hundredths(x - at_x)}")
                word = "l"
            elif x == at_x:
                pieces.append(f"v{_hundredths(y - at_y)}")
                word = "l"
            else:
                pair = _pair(x - at_x, y - at_y)
                pieces.append(pair if not word and pair[0] == "-" else f"{word or ' '}{pair}")
                word = ""
            at_x, at_y = x, y
        if ring:
            pieces.append("z")
            at_x, at_y = begin_x, begin_y
    return "".join(pieces)


def _path(name: str, lines: Sequence[Array], *, closed: bool) -> str:
    if not lines:
        return ""
    return f"<path{f' class={quoteattr(name)}' if name else ''} d={quoteattr(path_data(lines, closed))}/>"


def _pair(x: int, y: int) -> str:
    second = _hundredths(y)
    return f"{_hundredths(x)}{'' if second[0] == '-' else ' '}{second}"


def _hundredths(value: int) -> str:
    """13 as .13, -250 as -2.5."""
    known = _known.get(value)
    if known is None:
        text = f"{abs(value) / 100:.2f}".rstrip("0").rstrip(".").removeprefix("0") or "0"
        known = f"-{text}" if value < 0 and text != "0" else text
        if len(_known) < 100_000:
            _known[value] = known
    return known


_known: dict[int, str] = {}


def _plain(text: str) -> str:
    """Without the characters that no XML document may hold."""
    return "".join(
        letter
        for letter in text
        if letter in "\t\n\r"
        or (letter >= " " and letter not in "\ufffe\uffff" and not "\ud800" <= letter <= "\udfff")
    )


def _text(text: str) -> str:
    return escape(_plain(text))

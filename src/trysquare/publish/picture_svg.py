"""The elements of a step's picture as SVG, in mm of paper: everything is styled by classes alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from trysquare.ground.placement import Array
from trysquare.publish.typst_page import plain
from trysquare.solid.drawing import Pens, path_data, style

FONT = "'Source Sans 3', 'Libertinus Serif', 'DejaVu Sans Mono', sans-serif"
PENS = Pens(new_outline_mm=0.32, new_crease_mm=0.13, old_outline_mm=0.13, old_crease_mm=0.07)
READ_OUT = 'role="img" aria-labelledby="t d"'  # title and description are read out, not the lines
CHAR_MM = 0.56  # mean width of a character, in parts of its size

_MARKS = (
    ".lead path{stroke-width:.26;stroke-dasharray:.01 .8}.arrow path{stroke-width:.16;fill:INK}"
    ".key path{stroke-width:.2;stroke-dasharray:2 .6 .3 .6}.spin path{stroke-width:.28}"
    ".halo path{stroke:#fff;stroke-width:.9}.leader path{stroke-width:.18}.dot{fill:INK}"
    ".pill{fill:#fff;stroke:INK;stroke-width:.28}.flag{fill:INK}.frame{fill:#fff;stroke:INK;stroke-width:.2}"
    ".spot{fill:none;stroke:INK;stroke-width:.2;stroke-dasharray:1 .6}.size path{stroke-width:.16}"
    ".thread path{stroke-width:.95}.core path{stroke-width:.45;stroke:TINT}"
    ".through path{stroke-width:.14;stroke-dasharray:.8 .5}"
    ".empty path{stroke-width:.26}.tiny .new .outline{stroke-width:.05}"
    "text{font-family:FONT;font-weight:500;fill:INK}text.inverse{fill:#fff}text.strong{font-weight:700}"
)


def head(
    width_mm: float, height_mm: float, title: str, says: str, *, size: str = "", pens: Pens = PENS
) -> list[str]:
    """The first elements of a document of this size. `size`: width and height as attributes; else mm."""
    shown = size or f'width="{width_mm:g}mm" height="{height_mm:g}mm"'
    return [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" {shown} '
            f'viewBox="0 0 {width_mm:g} {height_mm:g}" {READ_OUT}>'
        ),
        f'<title id="t">{escaped(title)}</title><desc id="d">{escaped(says)}</desc>',
        f"<style>{sheet(pens)}</style>",
    ]


def sheet(pens: Pens = PENS) -> str:
    """The style of all classes."""
    marks = _MARKS.replace("INK", pens.ink).replace("TINT", pens.tint).replace("FONT", FONT)
    return style(pens) + marks


def pens_for(scale: float) -> Pens:
    """Thinner lines where the work is drawn small: a profile's edges then lie close together."""
    share = min(1.0, max(0.5, 0.5 + (scale - 0.08) * 1.6))
    return Pens(
        new_outline_mm=round(PENS.new_outline_mm * share, 3),
        new_crease_mm=round(PENS.new_crease_mm * share, 3),
        old_outline_mm=round(PENS.old_outline_mm * max(share, 0.7), 3),
        old_crease_mm=round(PENS.old_crease_mm * max(share, 0.7), 3),
    )  # fmt: skip


def group(name: str, paths: Iterable[str]) -> str:
    """Elements of one class; "" for none."""
    inside = "".join(paths)
    return f'<g class="{name}">{inside}</g>' if inside else ""


def path(lines: Sequence[Array], *, name: str = "", closed: bool = False) -> str:
    """Lines (n, 2) as one path; "" for none."""
    kept = [points for points in lines if len(points) > 1]
    if not kept:
        return ""
    data = path_data(kept, closed)
    return f"<path{f' class={quoteattr(name)}' if name else ''} d={quoteattr(data)}/>" if data else ""


def words(
    text: str,
    x: float,
    y: float,
    size_mm: float,
    *,
    anchor: str = "middle",
    name: str = "",
    turn_deg: float = 0.0,
) -> str:
    """A text whose middle height lies at the point."""
    turned = f' transform="rotate({turn_deg:.1f} {x:.2f} {y:.2f})"' if turn_deg else ""
    kind = f" class={quoteattr(name)}" if name else ""
    # capitals are 0.66 of the size high; renderers differ about dominant-baseline, so the line is shifted
    return (
        f'<text{kind} x="{x:.2f}" y="{y + 0.33 * size_mm:.2f}" font-size="{size_mm:.2f}" '
        f'text-anchor="{anchor}"{turned}>{escaped(text)}</text>'
    )


def text_width(text: str, size_mm: float) -> float:
    """About how wide a text is."""
    return CHAR_MM * size_mm * len(text)


def pill(text: str, beside: str, left: float, top: float, height: float) -> str:
    """A letter in its ring, and a few words beside it."""
    size = height * 0.68
    wide = pill_width(text, height)
    parts = [
        rect(left, top, wide, height, name="pill", round_mm=height / 2),
        words(text, left + wide / 2, top + height / 2, size, name="strong"),
    ]
    if beside:
        parts.append(words(beside, left + wide + 0.5, top + height / 2, size * 0.92, anchor="start"))
    return "".join(parts)


def pill_width(text: str, height: float) -> float:
    """How wide the ring of a letter is."""
    return max(height, text_width(text, height * 0.68) + height * 0.55)


def flag(text: str, left: float, top: float, width: float, height: float) -> str:
    """White words on black: what is to be read."""
    return (
        f'<rect class="flag" x="{left:.2f}" y="{top:.2f}" width="{width:.2f}" height="{height:.2f}" rx=".5"/>'
        + words(text, left + width / 2, top + height / 2, height * 0.68, name="inverse strong")
    )


def rect(
    left: float, top: float, width: float, height: float, *, name: str = "", round_mm: float = 0.0
) -> str:
    """A rectangle of a class; without one it is white and covers what lies below."""
    look = f'class="{name}"' if name else 'fill="#fff"'
    corner = f' rx="{round_mm:.2f}"' if round_mm else ""
    return f'<rect {look} x="{left:.2f}" y="{top:.2f}" width="{width:.2f}" height="{height:.2f}"{corner}/>'


def arrow(tip: Array, way: Array, long_mm: float = 1.5) -> str:
    """A filled arrow head at a point, pointing along `way` (2,)."""
    length = float(np.hypot(*way))
    if length < 1e-9:
        return ""
    along = way / length
    side = np.array([-along[1], along[0]]) * long_mm * 0.3
    back = tip - along * long_mm
    return path([np.stack([tip, back + side, back - side])], closed=True)


def escaped(text: str) -> str:
    """A text as it stands, never as markup; one line, no control characters."""
    return escape(plain(text))

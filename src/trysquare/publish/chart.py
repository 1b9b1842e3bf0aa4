"""Small charts in ink: lines over two axes with ticks, marks with names, bands. SVG in mm of paper."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trysquare.publish.picture_svg import FONT, escaped

Numbers = NDArray[np.float64]

WIDTH_MM, HEIGHT_MM = 180.0, 62.0
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 14.0, 4.0, 9.0, 11.0
MOST_POINTS = 1200  # a longer line is drawn as the lowest and highest of each piece: nothing is lost
_STYLE = (
    ".axis{stroke:#1c1b19;stroke-width:.2}.grid{stroke:#5b5955;stroke-width:.06}"
    ".strong{stroke:#1c1b19;stroke-width:.35}.quiet{stroke:#5b5955;stroke-width:.22}"
    ".dashed{stroke:#1c1b19;stroke-width:.3;stroke-dasharray:1.4 .8}"
    ".dotted{stroke:#1c1b19;stroke-width:.35;stroke-dasharray:.3 .9}"
    ".mark{stroke:#1c1b19;stroke-width:.14}.other{stroke:#5b5955;stroke-width:.18;stroke-dasharray:1 .7}"
    ".band{fill:#f6e3bd;fill-opacity:.6}path{fill:none;stroke-linejoin:round;stroke-linecap:round}"
    # Paper around each letter: a line that runs behind a name does not strike it out.
    "text{paint-order:stroke;stroke:#fff;stroke-width:.5;stroke-linejoin:round}"
    f"text{{font-family:{FONT};font-weight:500;fill:#1c1b19}}.small{{fill:#5b5955}}.name{{font-weight:700}}"
)


@dataclass(slots=True, kw_only=True)
class Chart:
    """A chart being drawn: its title, what runs along its axes, and their limits, which nothing leaves."""

    title: str
    across: str
    up: str
    across_limits: tuple[float, float]
    up_limits: tuple[float, float]
    lines: list[tuple[Numbers, Numbers, str, str]] = field(default_factory=list)
    marks: list[tuple[float, str, bool]] = field(default_factory=list)
    bands: list[tuple[float, float, str]] = field(default_factory=list)

    def line(self, across: Numbers, up: Numbers, style: str, name: str = "") -> None:
        """A line, arrays of shape (n,). `style`: strong, quiet, dashed, dotted; `name` goes into the key."""
        self.lines.append(
            (np.asarray(across, dtype=np.float64), np.asarray(up, dtype=np.float64), style, name)
        )

    def mark(self, across: float, name: str, *, dashed: bool = False) -> None:
        """An upright line with a name over it."""
        self.marks.append((across, name, dashed))

    def band(self, low: float, high: float, name: str) -> None:
        """A tinted stretch of the axis across."""
        self.bands.append((low, high, name))


def chart_page(title: str, says: str, charts: Sequence[Chart], columns: int = 1) -> str:
    """Charts beneath and beside each other as one SVG document. `says` is read out for who cannot see it."""
    rows = math.ceil(len(charts) / columns) if charts else 1
    height = rows * HEIGHT_MM
    width = WIDTH_MM / columns
    parts = []
    for index, chart in enumerate(charts):
        x, y = (index % columns) * width, (index // columns) * HEIGHT_MM
        parts.append(f'<g transform="translate({x:.2f} {y:.2f})">{_drawn(chart, width)}</g>')
    if not charts:
        parts.append(_words(WIDTH_MM / 2, HEIGHT_MM / 2, "Nothing to draw.", 4, "middle"))
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{height:g}mm" '
                f'viewBox="0 0 {WIDTH_MM:g} {height:g}" role="img" aria-labelledby="t d">'
            ),
            f'<title id="t">{escaped(title)}</title><desc id="d">{escaped(says)}</desc>',
            f"<style>{_STYLE}</style>",
            f'<rect width="{WIDTH_MM:g}" height="{height:g}" fill="#fff"/>',
            *parts,
            "</svg>",
            "",
        ]
    )


def ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Round numbers from low to high: steps of 1, 2 or 5 times a power of ten."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        return []
    raw = span / most
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [index * step for index in range(first, last + 1)]


def _drawn(chart: Chart, width: float) -> str:
    right, bottom = width - RIGHT_MM, HEIGHT_MM - BOTTOM_MM
    (x_low, x_high), (y_low, y_high) = chart.across_limits, chart.up_limits

    def x_of(value: Numbers) -> Numbers:
        return LEFT_MM + (value - x_low) / (x_high - x_low) * (right - LEFT_MM)

    def y_of(value: Numbers) -> Numbers:
        return bottom - (value - y_low) / (y_high - y_low) * (bottom - TOP_MM)

    parts = []
    for low, high, _ in chart.bands:
        inside = np.clip(np.array([low, high]), x_low, x_high)
        if inside[1] > inside[0]:
            left, end = x_of(inside)
            parts.append(
                f'<rect class="band" x="{left:.2f}" y="{TOP_MM:g}" width="{end - left:.2f}" '
                f'height="{bottom - TOP_MM:.2f}"/>'
            )
    for tick in ticks(x_low, x_high, max(4, round(width / 18))):
        x = float(x_of(np.array(tick)))
        parts.append(f'<path class="grid" d="M{x:.2f} {TOP_MM:g}V{bottom:.2f}"/>')
        parts.append(_words(x, bottom + 3.4, f"{tick:g}", 2.6, "middle", "small"))
    for tick in ticks(y_low, y_high, 5):
        y = float(y_of(np.array(tick)))
        parts.append(f'<path class="grid" d="M{LEFT_MM:g} {y:.2f}H{right:.2f}"/>')
        parts.append(_words(LEFT_MM - 1.2, y + 0.9, f"{tick:g}", 2.6, "end", "small"))
    parts.append(f'<path class="axis" d="M{LEFT_MM:g} {TOP_MM:g}V{bottom:.2f}H{right:.2f}"/>')
    for across, up, style, _ in chart.lines:
        parts.append(f'<path class="{style}" d="{_path(x_of(across), y_of(np.clip(up, y_low, y_high)))}"/>')
    parts += _marks(chart, x_of, bottom)
    parts.append(_words(LEFT_MM, 4.6, chart.title, 3.2, "start", "name"))
    parts.append(_words(right, bottom + 7.6, chart.across, 2.6, "end", "small"))
    parts.append(_words(LEFT_MM - 1.2, TOP_MM - 1.2, chart.up, 2.6, "end", "small"))
    return "".join(parts) + _key(chart, bottom + 7.0)


def _marks(chart: Chart, x_of: Callable[[Numbers], Numbers], bottom: float) -> list[str]:
    parts = []
    last = -math.inf
    for across, name, dashed in sorted(chart.marks):
        x = float(x_of(np.array(across)))
        style = "other" if dashed else "mark"
        # Names that would run into each other stand a line lower.
        lower = 2.8 if x - last < 1.6 * len(name) else 0.0
        last = x if not lower else last
        parts.append(f'<path class="{style}" d="M{x:.2f} {TOP_MM + 0.6 + lower:.2f}V{bottom:.2f}"/>')
        parts.append(_words(x, TOP_MM + lower, name, 2.4, "middle"))
    return parts


def _key(chart: Chart, y: float) -> str:
    parts = []
    x = LEFT_MM
    for name in dict.fromkeys(name for _, _, name in chart.bands if name):
        parts.append(f'<rect class="band" x="{x:.2f}" y="{y - 1.4:.2f}" width="7" height="2.4"/>')
        parts.append(_words(x + 8, y + 0.8, name, 2.4, "start", "small"))
        x += 11 + 1.45 * len(name)
    for _, _, style, name in chart.lines:
        if name:
            parts.append(f'<path class="{style}" d="M{x:.2f} {y:.2f}h7"/>')
            parts.append(_words(x + 8, y + 0.8, name, 2.4, "start", "small"))
            x += 11 + 1.45 * len(name)
    return "".join(parts)


def _path(x: Numbers, y: Numbers) -> str:
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    if len(x) > MOST_POINTS:
        pieces = np.array_split(np.arange(len(x)), MOST_POINTS // 2)
        kept = np.unique([index for piece in pieces for index in _ends(piece, y)])
        x, y = x[kept], y[kept]
    return "M" + "L".join(f"{a:.2f} {b:.2f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _ends(piece: NDArray[np.intp], y: Numbers) -> tuple[int, int]:
    return int(piece[np.argmin(y[piece])]), int(piece[np.argmax(y[piece])])


def _words(x: float, y: float, text: str, size: float, anchor: str, name: str = "") -> str:
    kind = f' class="{name}"' if name else ""
    spot = f'x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}"'
    return f"<text{kind} {spot}>{escaped(text)}</text>"

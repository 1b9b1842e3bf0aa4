"""Small charts in ink: lines over two axes with ticks, marks with names, bands. SVG in mm of paper."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trysquare.publish.picture_svg import FONT, escaped

Numbers = NDArray[np.float64]

WIDTH_MM, HEIGHT_MM = 180.0, 62.0
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 14.0, 4.0, 9.0, 11.0
NARROW_MM = 90.0
"""Width of the drawing for a telephone: shown on 320 px or more, a letter of 3.2 mm is 11 px high or more."""
NARROW_LETTERS_MM = 3.2
_INSIDE_MM = 42.0  # height of what the axes enclose; wide and narrow have the same proportion
_LETTER = 0.6  # width of a letter as a part of its height: a little wider than most, so that nothing is cut
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A drawing as SVG, laid out twice: `wide` for paper and screens, `narrow` (large letters) for phones."""

    wide: str
    narrow: str


def chart_page(title: str, says: str, charts: Sequence[Chart], columns: int = 1) -> Plot | None:
    """Charts beneath and beside each other; None when there are none. `says` is read out for who cannot see
    it. On the narrow sheet each has the whole width."""
    if not charts:
        return None
    rows = math.ceil(len(charts) / columns)
    width = WIDTH_MM / columns
    wide = []
    for index, chart in enumerate(charts):
        x, y = (index % columns) * width, (index // columns) * HEIGHT_MM
        wide.append(f'<g transform="translate({x:.2f} {y:.2f})">{_drawn(chart, _sheet(width))}</g>')
    narrow, y = [], 0.0
    for chart in charts:
        sheet = _narrow_sheet(chart)
        narrow.append(f'<g transform="translate(0 {y:.2f})">{_drawn(chart, sheet)}</g>')
        y += sheet.height_mm
    return Plot(
        wide=svg_page(title, says, WIDTH_MM, rows * HEIGHT_MM, _STYLE, wide),
        narrow=svg_page(title, says, NARROW_MM, y, _STYLE, narrow),
    )


def svg_page(
    title: str, says: str, width_mm: float, height_mm: float, style: str, parts: Sequence[str]
) -> str:
    """A white sheet with these parts on it, as one SVG document."""
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" height="{height_mm:.4g}mm" '
                f'viewBox="0 0 {width_mm:g} {height_mm:.4g}" role="img" aria-labelledby="t d">'
            ),
            f'<title id="t">{escaped(title)}</title><desc id="d">{escaped(says)}</desc>',
            f"<style>{style}</style>",
            f'<rect width="{width_mm:g}" height="{height_mm:.4g}" fill="#fff"/>',
            *parts,
            "</svg>",
            "",
        ]
    )


def letters_mm(text: str, size_mm: float) -> float:
    """About how wide a text is in letters of this height."""
    return _LETTER * size_mm * len(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Where a chart's pieces lie on its own sheet, and how high its letters are."""

    width_mm: float
    height_mm: float
    top_mm: float
    bottom_mm: float  # y of the axis across
    title_mm: float
    small_mm: float
    key_mm: float  # of the letters in the key and over marks
    titles: tuple[str, ...]
    key_rows: tuple[tuple[_Key, ...], ...]
    across_y_mm: float
    key_y_mm: float

    @property
    def right_mm(self) -> float:
        """x of the end of the axis across."""
        return self.width_mm - RIGHT_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class _Key:
    """One line style, or the tint of a band ("band"), and its name."""

    style: str
    name: str


def _sheet(width_mm: float) -> _Sheet:
    bottom = HEIGHT_MM - BOTTOM_MM
    return _Sheet(
        width_mm=width_mm, height_mm=HEIGHT_MM, top_mm=TOP_MM, bottom_mm=bottom, title_mm=3.2, small_mm=2.6,
        key_mm=2.4, titles=(), key_rows=(), across_y_mm=bottom + 7.6, key_y_mm=bottom + 7.0,
    )  # fmt: skip


def _narrow_sheet(chart: Chart) -> _Sheet:
    """As high as its title, its key and its marks need."""
    size = NARROW_LETTERS_MM
    titles = tuple(textwrap.wrap(_minus(chart.title), int((NARROW_MM - 5) / (_LETTER * 3.6)))) or ("",)
    rows: list[list[_Key]] = [[]]
    room = NARROW_MM - LEFT_MM
    for each in _keys(chart):
        needs = 12 + letters_mm(each.name, size)
        if needs > room and rows[-1]:
            rows.append([])
            room = NARROW_MM - LEFT_MM
        rows[-1].append(each)
        room -= needs
    top = 1.2 + 4.6 * len(titles) + 4.6 + (4.0 if chart.marks else 0.0)
    bottom = top + _INSIDE_MM
    kept = tuple(tuple(row) for row in rows if row)
    return _Sheet(
        width_mm=NARROW_MM, height_mm=bottom + 10.4 + 4.8 * len(kept) + 3.0, top_mm=top, bottom_mm=bottom,
        title_mm=3.6, small_mm=size, key_mm=size, titles=titles, key_rows=kept, across_y_mm=bottom + 8.6,
        key_y_mm=bottom + 13.0,
    )  # fmt: skip


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


def _drawn(chart: Chart, sheet: _Sheet) -> str:
    right, top, bottom, small = sheet.right_mm, sheet.top_mm, sheet.bottom_mm, sheet.small_mm
    (x_low, x_high), (y_low, y_high) = chart.across_limits, chart.up_limits

    def x_of(value: Numbers) -> Numbers:
        return LEFT_MM + (value - x_low) / (x_high - x_low) * (right - LEFT_MM)

    def y_of(value: Numbers) -> Numbers:
        return bottom - (value - y_low) / (y_high - y_low) * (bottom - top)

    parts = []
    for low, high, _ in chart.bands:
        inside = np.clip(np.array([low, high]), x_low, x_high)
        if inside[1] > inside[0]:
            left, end = x_of(inside)
            parts.append(
                f'<rect class="band" x="{left:.2f}" y="{top:g}" width="{end - left:.2f}" '
                f'height="{bottom - top:.2f}"/>'
            )
    for tick in ticks(x_low, x_high, max(4, round(sheet.width_mm / 18))):
        x = float(x_of(np.array(tick)))
        parts.append(f'<path class="grid" d="M{x:.2f} {top:g}V{bottom:.2f}"/>')
        parts.append(_words(x, bottom + 0.8 + small, _figure(tick), small, "middle", "small"))
    for tick in ticks(y_low, y_high, 5):
        y = float(y_of(np.array(tick)))
        parts.append(f'<path class="grid" d="M{LEFT_MM:g} {y:.2f}H{right:.2f}"/>')
        parts.append(_words(LEFT_MM - 1.2, y + 0.35 * small, _figure(tick), small, "end", "small"))
    parts.append(f'<path class="axis" d="M{LEFT_MM:g} {top:g}V{bottom:.2f}H{right:.2f}"/>')
    for across, up, style, _ in chart.lines:
        parts.append(f'<path class="{style}" d="{_path(x_of(across), y_of(np.clip(up, y_low, y_high)))}"/>')
    parts += _marks(chart, x_of, sheet)
    if sheet.titles:
        for row, title in enumerate(sheet.titles):
            parts.append(_words(2.0, 5.0 + 4.6 * row, title, sheet.title_mm, "start", "name"))
    else:
        parts.append(_words(LEFT_MM, 4.6, _minus(chart.title), sheet.title_mm, "start", "name"))
    parts.append(_words(right, sheet.across_y_mm, chart.across, small, "end", "small"))
    lift = 4.0 if sheet.titles and chart.marks else 0.0
    parts.append(_words(LEFT_MM - 1.2, top - 1.2 - lift, chart.up, small, "end", "small"))
    return "".join(parts) + _key(chart, sheet)


def _figure(value: float) -> str:
    return f"{value:g}".replace("-", "\u2212")


def _minus(title: str) -> str:
    """With the sign of minus before its numbers; names keep their hyphens."""
    return title.replace(" -", " \u2212")


def _marks(chart: Chart, x_of: Callable[[Numbers], Numbers], sheet: _Sheet) -> list[str]:
    parts = []
    last = -math.inf
    for across, name, dashed in sorted(chart.marks):
        x = float(x_of(np.array(across)))
        style = "other" if dashed else "mark"
        wide = letters_mm(name, sheet.key_mm)
        # Names that would run into each other stand a line lower; none leaves the sheet.
        lower = sheet.key_mm + 0.4 if x - last < 1.25 * wide else 0.0
        last = x if not lower else last
        spot = max(min(x, sheet.width_mm - wide / 2 - 0.5), LEFT_MM + wide / 2)
        parts.append(
            f'<path class="{style}" d="M{x:.2f} {sheet.top_mm + 0.6 + lower:.2f}V{sheet.bottom_mm:.2f}"/>'
        )
        parts.append(_words(spot, sheet.top_mm + lower, name, sheet.key_mm, "middle"))
    return parts


def _keys(chart: Chart) -> list[_Key]:
    bands = [
        _Key(style="band", name=name) for name in dict.fromkeys(name for _, _, name in chart.bands if name)
    ]
    return bands + [_Key(style=style, name=name) for _, _, style, name in chart.lines if name]


def _key(chart: Chart, sheet: _Sheet) -> str:
    parts = []
    for row, keys in enumerate(sheet.key_rows or (tuple(_keys(chart)),)):
        x, y = LEFT_MM, sheet.key_y_mm + 4.8 * row
        for each in keys:
            if each.style == "band":
                parts.append(f'<rect class="band" x="{x:.2f}" y="{y - 1.4:.2f}" width="7" height="2.4"/>')
            else:
                parts.append(f'<path class="{each.style}" d="M{x:.2f} {y:.2f}h7"/>')
            parts.append(_words(x + 8, y + 0.33 * sheet.key_mm, each.name, sheet.key_mm, "start", "small"))
            x += 11 + 1.12 * letters_mm(each.name, sheet.key_mm)
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

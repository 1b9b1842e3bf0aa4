"""Picture of a bed from above: heights as discs with their figures, screws with their turns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.publish.chart import NARROW_LETTERS_MM, NARROW_MM, Plot, letters_mm, svg_page
from trysquare.publish.picture_svg import FONT, escaped
from trysquare.tuning.surface import Points, Screw, Surface

_LARGEST_DISC, _LEAST_DISC = 3.2, 0.5
_INK, _QUIET = "#1c1b19", "#5b5955"
_STYLE = (
    f"text{{font-family:{FONT};font-weight:500;fill:{_INK};text-anchor:middle}}.name{{font-weight:700}}"
    f".small{{fill:{_QUIET}}}.high{{fill:{_INK}}}.low{{fill:#fff;stroke:{_INK};stroke-width:.3}}"
    f".dirt{{fill:none;stroke:{_INK};stroke-width:.35;stroke-dasharray:.9 .6}}"
    f".screw{{fill:#fff;stroke:{_INK};stroke-width:.4}}.edge{{fill:none;stroke:{_QUIET};stroke-width:.15}}"
    f".zero{{stroke:{_QUIET};stroke-width:.25;stroke-dasharray:1.4 .8;fill:none}}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Edges of the sheet in mm, the height of its letters, and by how much its discs are smaller."""

    width: float
    most_height: float
    left: float
    right: float
    top: float
    bottom: float
    letters: float
    name_letters: float
    discs: float
    foot: tuple[str, ...]


_WIDE = _Sheet(
    width=180.0, most_height=170.0, left=18.0, right=10.0, top=14.0, bottom=19.0, letters=2.2,
    name_letters=2.3, discs=1.0,
    foot=(
        "µm about the middle height {middle:.3f} mm; filled discs stand high, open ones low",
        "squares: screws, + is clockwise; x to the right, y to the back, mm",
    ),
)  # fmt: skip
_NARROW = _Sheet(
    width=NARROW_MM, most_height=150.0, left=9.0, right=9.0, top=18.0, bottom=28.0, letters=NARROW_LETTERS_MM,
    name_letters=NARROW_LETTERS_MM, discs=0.62,
    foot=(
        "µm about the middle height {middle:.3f} mm",
        "filled discs stand high, open ones low",
        "squares: screws, + is clockwise, in turns",
        "from x {left:g}, y {low:g} to x {right:g}, y {high:g} mm",
    ),
)  # fmt: skip


def surface_plot(points_mm: Points, found: Surface, screws: Sequence[Screw]) -> Plot:
    """The bed seen from above, y upwards. points_mm: array (n, 3) as probed; heights are told in µm about
    the middle height: a filled disc stands high, an open one low, the larger the farther."""
    return Plot(wide=_page(points_mm, found, screws, _WIDE), narrow=_page(points_mm, found, screws, _NARROW))


def _page(points_mm: Points, found: Surface, screws: Sequence[Screw], sheet: _Sheet) -> str:
    good = np.ones(len(points_mm), dtype=bool)
    good[list(found.dirt)] = False
    middle = float((points_mm[good, 2].max() + points_mm[good, 2].min()) / 2)
    most = max(float(np.abs(points_mm[good, 2] - middle).max()), 1e-6)
    places = [*((float(x), float(y)) for x, y, _ in points_mm), *((one.x_mm, one.y_mm) for one in screws)]
    (left, low), (right, high) = np.min(places, axis=0), np.max(places, axis=0)
    scale = min(
        (sheet.width - sheet.left - sheet.right) / max(right - left, 1.0),
        (sheet.most_height - sheet.top - sheet.bottom) / max(high - low, 1.0),
    )
    height = (high - low) * scale + sheet.top + sheet.bottom
    shift = (sheet.width - sheet.left - sheet.right - (right - left) * scale) / 2 + sheet.left

    def at(x_mm: float, y_mm: float) -> tuple[float, float]:
        return shift + (x_mm - left) * scale, sheet.top + (high - y_mm) * scale

    letters, largest = sheet.letters, sheet.discs * _LARGEST_DISC
    heights = [f"{1000 * (z - middle):+.0f}" for z in points_mm[:, 2].tolist()]
    figured = _with_room(
        [at(x, y) for x, y, _ in points_mm.tolist()], heights, letters, [not each for each in good]
    )
    parts = []
    taken: list[tuple[float, float]] = []
    for index, (x_mm, y_mm, z_mm) in enumerate(points_mm.tolist()):
        x, y = at(x_mm, y_mm)
        taken.append((x, y))
        if not good[index]:
            parts.append(f'<circle class="dirt" cx="{x:.2f}" cy="{y:.2f}" r="{largest:.2f}"/>')
            parts.append(_words(x, y + largest + 0.4 + letters, f"dirt {heights[index]}", letters))
            continue
        off = z_mm - middle
        size = max(_LEAST_DISC, largest * float(np.sqrt(abs(off) / most)))
        kind = "high" if off >= 0 else "low"
        parts.append(f'<circle class="{kind}" cx="{x:.2f}" cy="{y:.2f}" r="{size:.2f}"/>')
        if index in figured:
            parts.append(_words(x, y + size + 0.4 + letters, heights[index], letters))
    turns = {turn.screw: turn.turns for turn in found.turns}
    named = sheet.name_letters
    for screw in screws:
        x, y = at(screw.x_mm, screw.y_mm)
        parts.append(f'<rect class="screw" x="{x - 1.5:.2f}" y="{y - 1.5:.2f}" width="3" height="3"/>')
        says = "fixed" if screw.locked else f"{turns.get(screw.name, 0.0):+.2f} turns"
        # Over the screw, and higher still where a height's figure stands there already.
        lift = 3.2
        while lift < 12 and any(abs(x - a) < 8 and -7 < y - lift - b < 7.5 for a, b in taken):
            lift += 1.0
        width = letters_mm("a" * max(len(screw.name), len(says)), named)
        spot = min(max(x, width / 2 + 1), sheet.width - width / 2 - 1)
        parts.append(
            f'<rect x="{spot - width / 2:.2f}" y="{y - lift - 2.1 * named:.2f}" width="{width:.2f}" '
            f'height="{2.44 * named:.2f}" fill="#fff" fill-opacity=".85"/>'
        )
        parts.append(_words(spot, y - lift - 1.13 * named, screw.name, named, "name"))
        parts.append(_words(spot, y - lift, says, named))
    foot = [line.format(middle=middle, left=left, low=low, right=right, high=high) for line in sheet.foot]
    first = height - 2.0 - 1.33 * max(2.4, letters) * (len(foot) - 1)
    for line, text in enumerate(foot):
        size = max(2.4, letters)
        parts.append(_words(sheet.width / 2, first + 1.33 * size * line, text, size, "small"))
    if sheet is _WIDE:
        x0 = at(left, high)[0]
        parts += [_words(at(x, low)[0], height - 10, f"x {x:g}", letters, "small") for x in (left, right)]
        parts += [
            _words(max(5.0, x0 - 11.0), at(left, y)[1] + 0.8, f"y {y:g}", letters, "small")
            for y in (low, high)
        ]
    says = f"Heights of {int(good.sum())} points span {1000 * np.ptp(points_mm[good, 2]):.0f} micrometres."
    return svg_page("Bed surface", says, sheet.width, height, _STYLE, parts)


def _with_room(
    spots: Sequence[tuple[float, float]], heights: Sequence[str], letters: float, dirt: Sequence[bool]
) -> frozenset[int]:
    """Which figures can stand beside each other: those of dirt, then the farthest from the middle height."""
    kept: list[int] = []
    for index in sorted(range(len(spots)), key=lambda each: (not dirt[each], -abs(int(heights[each])))):
        x, y = spots[index]
        wide = letters_mm(heights[index], letters) + (letters_mm("dirt ", letters) if dirt[index] else 0.0)
        if all(
            abs(x - spots[other][0]) > (wide + letters_mm(heights[other], letters)) / 2 + 0.6
            or abs(y - spots[other][1]) > 1.25 * letters
            for other in kept
        ):
            kept.append(index)
    return frozenset(kept)


def _words(x: float, y: float, text: str, size: float, name: str = "") -> str:
    kind = f' class="{name}"' if name else ""
    # A minus sign; names keep their hyphens.
    said = text.replace("-", "−") if text[:1] == "-" or " -" in text else text
    return f'<text{kind} x="{x:.2f}" y="{y:.2f}" font-size="{size:g}">{escaped(said)}</text>'

"""Picture of a bed from above: heights as discs with their figures, screws with their turns."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trysquare.publish.picture_svg import FONT, escaped
from trysquare.tuning.surface import Points, Screw, Surface

_WIDTH, _MOST_HEIGHT = 180.0, 170.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 18.0, 10.0, 14.0, 19.0
_LARGEST_DISC, _LEAST_DISC = 3.2, 0.5
_INK, _QUIET = "#1c1b19", "#5b5955"
_STYLE = (
    f"text{{font-family:{FONT};font-weight:500;fill:{_INK};text-anchor:middle}}.name{{font-weight:700}}"
    f".small{{fill:{_QUIET}}}.high{{fill:{_INK}}}.low{{fill:#fff;stroke:{_INK};stroke-width:.3}}"
    f".dirt{{fill:none;stroke:{_INK};stroke-width:.35;stroke-dasharray:.9 .6}}"
    f".screw{{fill:#fff;stroke:{_INK};stroke-width:.4}}.edge{{fill:none;stroke:{_QUIET};stroke-width:.15}}"
    f".zero{{stroke:{_QUIET};stroke-width:.25;stroke-dasharray:1.4 .8;fill:none}}"
)


def surface_plot(points_mm: Points, found: Surface, screws: Sequence[Screw]) -> str:
    """The bed seen from above, y upwards. points_mm: array (n, 3) as probed; heights are told in µm about
    the middle height: a filled disc stands high, an open one low, the larger the farther."""
    good = np.ones(len(points_mm), dtype=bool)
    good[list(found.dirt)] = False
    middle = float((points_mm[good, 2].max() + points_mm[good, 2].min()) / 2)
    most = max(float(np.abs(points_mm[good, 2] - middle).max()), 1e-6)
    places = [*((float(x), float(y)) for x, y, _ in points_mm), *((one.x_mm, one.y_mm) for one in screws)]
    (left, low), (right, high) = np.min(places, axis=0), np.max(places, axis=0)
    scale = min(
        (_WIDTH - _LEFT - _RIGHT) / max(right - left, 1.0),
        (_MOST_HEIGHT - _TOP - _BOTTOM) / max(high - low, 1.0),
    )
    height = (high - low) * scale + _TOP + _BOTTOM
    shift = (_WIDTH - _LEFT - _RIGHT - (right - left) * scale) / 2 + _LEFT

    def at(x_mm: float, y_mm: float) -> tuple[float, float]:
        return shift + (x_mm - left) * scale, _TOP + (high - y_mm) * scale

    parts = []
    taken: list[tuple[float, float]] = []
    for index, (x_mm, y_mm, z_mm) in enumerate(points_mm.tolist()):
        x, y = at(x_mm, y_mm)
        taken.append((x, y))
        if not good[index]:
            parts.append(f'<circle class="dirt" cx="{x:.2f}" cy="{y:.2f}" r="{_LARGEST_DISC}"/>')
            parts.append(_words(x, y + 5.8, f"dirt {1000 * (z_mm - middle):+.0f}", 2.2))
            continue
        off = z_mm - middle
        size = max(_LEAST_DISC, _LARGEST_DISC * float(np.sqrt(abs(off) / most)))
        kind = "high" if off >= 0 else "low"
        parts.append(f'<circle class="{kind}" cx="{x:.2f}" cy="{y:.2f}" r="{size:.2f}"/>')
        parts.append(_words(x, y + size + 2.6, f"{1000 * off:+.0f}", 2.2))
    turns = {turn.screw: turn.turns for turn in found.turns}
    for screw in screws:
        x, y = at(screw.x_mm, screw.y_mm)
        parts.append(f'<rect class="screw" x="{x - 1.5:.2f}" y="{y - 1.5:.2f}" width="3" height="3"/>')
        says = "fixed" if screw.locked else f"{turns.get(screw.name, 0.0):+.2f} turns"
        # Over the screw, and higher still where a height's figure stands there already.
        lift = 3.2
        while lift < 12 and any(abs(x - a) < 8 and -7 < y - lift - b < 7.5 for a, b in taken):
            lift += 1.0
        width = 1.25 * max(len(screw.name), len(says))
        spot = min(max(x, width / 2 + 1), _WIDTH - width / 2 - 1)
        parts.append(
            f'<rect x="{spot - width / 2:.2f}" y="{y - lift - 4.8:.2f}" width="{width:.2f}" height="5.6" '
            'fill="#fff" fill-opacity=".85"/>'
        )
        parts.append(_words(spot, y - lift - 2.6, screw.name, 2.3, "name"))
        parts.append(_words(spot, y - lift, says, 2.3))
    foot = (
        f"µm about the middle height {middle:.3f} mm; filled discs stand high, open ones low",
        "squares: screws, + is clockwise; x to the right, y to the back, mm",
    )
    x0 = at(left, high)[0]
    for line, text in enumerate(foot):
        parts.append(_words(_WIDTH / 2, height - 5.2 + 3.2 * line, text, 2.4, "small"))
    parts += [_words(at(x, low)[0], height - 10, f"x {x:g}", 2.2, "small") for x in (left, right)]
    parts += [
        _words(max(5.0, x0 - 11.0), at(left, y)[1] + 0.8, f"y {y:g}", 2.2, "small") for y in (low, high)
    ]
    says = f"Heights of {int(good.sum())} points span {1000 * np.ptp(points_mm[good, 2]):.0f} micrometres."
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH:g}mm" height="{height:.1f}mm" '
                f'viewBox="0 0 {_WIDTH:g} {height:.1f}" role="img" aria-labelledby="t d">'
            ),
            f'<title id="t">Bed surface</title><desc id="d">{escaped(says)}</desc><style>{_STYLE}</style>',
            f'<rect width="{_WIDTH:g}" height="{height:.1f}" fill="#fff"/>',
            *parts,
            "</svg>",
            "",
        ]
    )


def _words(x: float, y: float, text: str, size: float, name: str = "") -> str:
    kind = f' class="{name}"' if name else ""
    # A minus sign; names keep their hyphens.
    said = text.replace("-", "−") if text[:1] == "-" or " -" in text else text
    return f'<text{kind} x="{x:.2f}" y="{y:.2f}" font-size="{size:g}">{escaped(said)}</text>'

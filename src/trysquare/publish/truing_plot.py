"""The frame drawn with its error enlarged: as drawn, as built, and as it would be after what is advised.

Told apart by weight and dash, never by colour alone. The factor stands on the picture. What the whole frame
is displaced or turned by is no error of the frame and is taken out. Ellipses hold the true place of an end
with 95 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.publish.picture_svg import FONT, escaped
from trysquare.truing.places import short
from trysquare.truing.report import TruingReport

WIDTH_MM, HEIGHT_MM = 180.0, 150.0
MARGIN_MM = 12.0
FOOT_MM = 20.0
NAME_MM, BARE_NAME_MM = 3.0, 6.0
SHOWN_SHARE = 0.05  # of the picture that the largest error is drawn as
FLAT = 0.12  # height over width below which a frame is seen from above
ELLIPSE = math.sqrt(5.991)  # 95 % of a plane normal. Source: chi-square with 2 degrees of freedom
_STYLE = (
    ".drawn{stroke:#5b5955;stroke-width:.18;stroke-dasharray:1.2 .8}.built{stroke:#1c1b19;stroke-width:.55}"
    ".bad{stroke:#1c1b19;stroke-width:1.1}.after{stroke:#1c1b19;stroke-width:.28;stroke-dasharray:.3 .7}"
    ".sure{stroke:#5b5955;stroke-width:.14;fill:#f6e3bd;fill-opacity:.55}.push{stroke:#1c1b19;stroke-width:.3;"
    f"fill:#1c1b19}}path,ellipse{{fill:none;stroke-linecap:round}}"
    f"text{{font-family:{FONT};font-weight:500;fill:#1c1b19}}"
    ".quiet{fill:#5b5955}"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ends:
    """Ends (2, 3) of a body as drawn, as built, after the advice; rates (2, 3, n) of either end."""

    name: str
    body: int
    drawn: Array
    built: Array
    after: Array
    spread: Array  # (2, 3, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class TruingPicture:
    """An SVG document, and how many times the error is enlarged in it; 0: there is nothing to draw."""

    svg: str
    factor: float


def truing_plot(found: TruingReport) -> str:
    """The picture as an SVG document, legend and verdicts under it."""
    return truing_picture(found).svg


def truing_picture(found: TruingReport, *, bare: bool = False, most: float = 1000.0) -> TruingPicture:
    """The picture. `bare`: without what stands under it, its names larger: for a page that says it itself.
    `most`: the error is enlarged no further, so that two pictures can be held side by side."""
    # Read only as it is, nothing is known of where the members lie: all their ellipses would tell nothing.
    ends = _ends(found) if found.shape.model.observations or not found.readings else []
    if not ends:
        words = [_words("Nothing to draw yet.", WIDTH_MM / 2, HEIGHT_MM / 2, 4)]
        return TruingPicture(svg=_document(found, words, 1.0, HEIGHT_MM), factor=0.0)
    foot_mm = 0.0 if bare else FOOT_MM
    name_mm = BARE_NAME_MM if bare else NAME_MM
    view = _view(ends)
    flat = np.vstack([one.drawn for one in ends]) @ view.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    room = np.array([WIDTH_MM - 2 * MARGIN_MM, HEIGHT_MM - 2 * MARGIN_MM - FOOT_MM])
    scale = float((room / np.maximum(high - low, 1.0)).min())
    off = np.array([one.built - one.drawn for one in ends]) @ view.T
    largest = float(np.linalg.norm(off.reshape(-1, 2), axis=1).max(initial=0.0)) * scale
    factor = min(most, _round_factor(SHOWN_SHARE * WIDTH_MM / max(largest, 1e-6)))
    middle = (low + high) / 2
    centre = np.array([WIDTH_MM / 2, MARGIN_MM + room[1] / 2])

    def on_paper(points: Array) -> Array:
        placed: Array = centre + (points @ view.T - middle) * scale * np.array([1.0, -1.0])
        return placed

    def enlarged(one: _Ends, where: Array) -> Array:
        return on_paper(one.drawn + factor * (where - one.drawn))

    worst = _bad_bodies(found)
    parts = [_line(on_paper(one.drawn), "drawn") for one in ends]
    for one in ends:
        spots = enlarged(one, one.built)
        parts += [
            _ellipse(spot, view @ spread @ view.T, factor * scale)
            for spot, spread in zip(spots, one.spread, strict=True)
        ]
    parts += [_line(enlarged(one, one.built), "bad" if one.body in worst else "built") for one in ends]
    if found.advice is not None:
        parts += [_line(enlarged(one, one.after), "after") for one in ends]
        parts += [
            _arrow(on_paper(np.array(push.at_mm)), np.array(push.way) @ view.T)
            for push in found.advice.pushes
            if push.presses < 0
        ]
    parts += [_name(one, on_paper(one.drawn), name_mm) for one in ends if one.body in worst]
    parts += [] if bare else _foot(found, factor)
    height = HEIGHT_MM - FOOT_MM + foot_mm
    return TruingPicture(svg=_document(found, parts, factor, height), factor=factor)


def _ends(found: TruingReport) -> list[_Ends]:
    shape = found.shape
    solved, builder = shape.adjustment, shape.model.builder
    linked = {number for link in shape.assembly.links for number in (link.one, link.other)}
    chosen = [
        number for number, body in enumerate(shape.assembly.bodies) if body.has_ends and number in linked
    ]
    if not chosen:
        return []
    probe = builder.like()
    drawn: list[Array] = []
    for number in chosen:
        body = shape.assembly.bodies[number]
        for sign in (-1.0, 1.0):
            at = body.centre_mm + sign * body.length_mm / 2 * body.along
            drawn.append(at)
            point = probe.point(number, at, sign)
            for axis in np.eye(3):
                probe.projection([(point, 1.0)], axis, 0.0, 1.0)
    equations = probe.done()
    value, matrix = equations.linearised(solved.x)
    places = value.reshape(-1, 3)
    rates = matrix.toarray().reshape(-1, 3, len(solved.x))
    start = np.array(drawn)
    after = places if found.advice is None else places + (rates @ found.advice.change)
    # how sure an end's place is among all others: rigid motions of the whole are no part of it
    whole = _rigid(start)
    keep = np.eye(len(whole)) - whole @ whole.T
    stacked = keep @ matrix.toarray()
    spread = (stacked @ solved.covariance).reshape(-1, 3, len(solved.x))
    built = start + (keep @ (places - start).ravel()).reshape(-1, 3)
    moved = start + (keep @ (after - start).ravel()).reshape(-1, 3)
    each = [spread[index] @ stacked.reshape(-1, 3, len(solved.x))[index].T for index in range(len(start))]
    return [
        _Ends(
            name=short(shape.assembly.bodies[number].id),
            body=number,
            drawn=start[2 * index : 2 * index + 2],
            built=built[2 * index : 2 * index + 2],
            after=moved[2 * index : 2 * index + 2],
            spread=np.array(each[2 * index : 2 * index + 2]),
        )
        for index, number in enumerate(chosen)
    ]


def _rigid(points: Array) -> Array:
    """Orthonormal displacements (3n, ≤ 6) of points that a rigid motion of the whole makes."""
    centred = points - points.mean(axis=0)
    columns = [np.tile(axis, (len(points), 1)).ravel() for axis in np.eye(3)]
    columns += [np.cross(axis, centred).ravel() for axis in np.eye(3)]
    table = np.column_stack(columns)
    left, values, _ = np.linalg.svd(table, full_matrices=False)
    basis: Array = left[:, values > 1e-9 * values[0]]
    return basis


def _view(ends: Sequence[_Ends]) -> Array:
    """Rows: right and up on paper. A flat frame is seen from above, any other from the front right."""
    points = np.vstack([one.drawn for one in ends])
    size = np.ptp(points, axis=0)
    if size[2] < FLAT * max(size[0], size[1]):
        return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    turn, tilt = math.radians(28), math.radians(20)
    right = np.array([math.cos(turn), math.sin(turn), 0.0])
    ahead = np.array([-math.sin(turn), math.cos(turn), 0.0])
    up = math.sin(tilt) * ahead + math.cos(tilt) * np.array([0.0, 0.0, 1.0])
    return np.stack([right, up])


def _round_factor(factor: float) -> float:
    """The next lower of 1, 2, 5, 10, 20 … up to 1000."""
    factor = min(max(factor, 1.0), 1000.0)
    power = 10 ** math.floor(math.log10(factor))
    return float(max(step * power for step in (1, 2, 5) if step * power <= factor * (1 + 1e-9)))


def _bad_bodies(found: TruingReport) -> set[int]:
    """Whose lines are heavy: those of a bad component; of a characteristic read as it is, all its parts."""
    results = {
        (one.characteristic.id, each.says): each.judged.verdict
        for one in found.characteristics
        for each in one.components
    }
    whole = {one.characteristic.id: one.verdict for one in found.characteristics}
    bodies: set[int] = set()
    for row in found.shape.components.rows:
        name = row.characteristic
        if results.get((name, row.says), whole.get(name)) == "bad":
            bodies |= set(row.bodies)
    return bodies


def _foot(found: TruingReport, factor: float) -> list[str]:
    top = HEIGHT_MM - FOOT_MM + 2
    legend = [f"error drawn {factor:g} times · dashed: as drawn · line: as built, heavy: bad · ellipse: 95 %"]
    if found.advice is not None:
        legend.append("dotted: after the pushes (arrows)")
    rows = [
        _words(line, MARGIN_MM, top + 3.6 * number, 3, anchor="start", name="quiet")
        for number, line in enumerate(legend)
    ]
    top += 3.6 * (len(legend) - 1)
    told = [one for one in found.characteristics if one.worst is not None and one.verdict != "not read"]
    words = [
        f"{one.characteristic.id} {one.worst.judged.value:+.2f} ± {one.worst.judged.expanded:.2f} "
        f"{one.characteristic.unit}: {one.verdict}"
        for one in told
        if one.worst is not None
    ]
    for index, line in enumerate(words[:8]):
        x = MARGIN_MM + (index % 2) * (WIDTH_MM - 2 * MARGIN_MM) / 2
        rows.append(_words(line, x, top + 4.5 + 4 * (index // 2), 3, anchor="start"))
    return rows


def _document(found: TruingReport, parts: Sequence[str], factor: float, height: float) -> str:
    verdicts = "; ".join(
        f"{one.characteristic.id} is {one.verdict}"
        for one in found.characteristics
        if one.verdict != "not read"
    )
    says = f"The frame with its error drawn {factor:g} times. {verdicts or 'Nothing is read yet'}."
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{height:g}mm" '
                f'viewBox="0 0 {WIDTH_MM:g} {height:g}" role="img" aria-labelledby="t d">'
            ),
            f'<title id="t">{escaped(found.machine)}, as built</title><desc id="d">{escaped(says)}</desc>',
            f"<style>{_STYLE}</style>",
            *parts,
            "</svg>",
            "",
        ]
    )


def _line(points: Array, name: str) -> str:
    (ax, ay), (bx, by) = points
    return f'<path class="{name}" d="M{ax:.2f} {ay:.2f}L{bx:.2f} {by:.2f}"/>'


def _ellipse(at: Array, spread: Array, scale: float) -> str:
    values, vectors = np.linalg.eigh(spread)
    small, large = np.sqrt(np.maximum(values, 0.0)) * ELLIPSE * scale
    angle = -math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
    large, small = min(large, WIDTH_MM / 4), min(small, WIDTH_MM / 4)  # what nobody read may be anywhere
    return (
        f'<ellipse class="sure" cx="{at[0]:.2f}" cy="{at[1]:.2f}" rx="{large:.2f}" ry="{small:.2f}" '
        f'transform="rotate({angle:.1f} {at[0]:.2f} {at[1]:.2f})"/>'
    )


def _arrow(at: Array, way: Array) -> str:
    length = float(np.linalg.norm(way))
    if length < 0.1:
        return ""
    along = way / length * np.array([1.0, -1.0])
    side = np.array([-along[1], along[0]])
    tail, tip = at - 9 * along, at - 1.5 * along
    left, right = tip - 2.2 * along + 0.8 * side, tip - 2.2 * along - 0.8 * side
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in (tip, left, right))
    return f'{_line(np.stack([tail, tip]), "built")}<polygon class="push" points="{points}"/>'


def _name(one: _Ends, points: Array, size: float) -> str:
    x, y = points.mean(axis=0)
    across = abs(points[1, 1] - points[0, 1]) > abs(points[1, 0] - points[0, 0])
    if across:
        return _words(one.name, x + 8, y, size, anchor="start")
    return _words(one.name, x, y - 2.2, size)


def _words(text: str, x: float, y: float, size: float, *, anchor: str = "middle", name: str = "") -> str:
    kind = f' class="{name}"' if name else ""
    spot = f'x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}"'
    return f"<text{kind} {spot}>{escaped(text)}</text>"

"""Belt paths: tangents round pulleys, the length along the pitch line, teeth in mesh, the band's solid.

All pulleys of a path lie in one plane, square to the first pulley's axis. A band turned
"anticlockwise" round the first toothed pulley has its teeth inside; wherever it turns the other way its
back lies on the idler.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trysquare.catalogue.values import BeltSize, Pulley
from trysquare.ground.placement import Array, Placement
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.values import BeltRun, BeltSpan, Kind, PartType, PlacedPart

_IN_PLANE_MM = 0.5
_ARC_STEP_RAD = math.radians(10.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Circle:
    """A pulley in the belt's plane; radius 0 for a clamped end. `way` is +1 anticlockwise, -1 clockwise."""

    part: PlacedPart
    centre: Array  # (2,)
    radius_mm: float  # of the pitch line
    way: int
    teeth: int


def belt_path(joint: JointBuilder) -> None:
    """Computes the path and brings the belt, cut to length or closed, as a band."""
    belt = joint.standard_of("belt", BeltSize, "a belt such as belt 2 mm pitch 6 mm wide")
    rows = joint.raw.get("over", ())
    if belt is None or not rows:
        return
    pulleys: list[tuple[PlacedPart, Pulley, int]] = []
    for row in rows:
        part = joint.scene.find(row.get("pulley", ""), joint.unit, joint.where("over"))
        if part is None or "turn" not in row:
            return
        if not isinstance(part.type.standard, Pulley):
            joint.problem("over", row["pulley"], "a placed pulley or idler", "Its type must be a pulley.")
            return
        pulleys.append((part, part.type.standard, 1 if row["turn"] == "anticlockwise" else -1))
    ends = _ends(joint)
    if ends is None:
        return
    frame = _plane(pulleys[0][0], pulleys[0][1])
    toothed_way = next((way for _, size, way in pulleys if size.teeth), 1)
    circles = _circles(joint, belt, pulleys, ends, frame, toothed_way)
    if circles is None:
        return
    joint.joins(*(part for part, _, _ in pulleys), *(part for part, _ in ends))
    _run(joint, belt, circles, closed=not ends, frame=frame, toothed_way=toothed_way)


def _ends(joint: JointBuilder) -> list[tuple[PlacedPart, Array]] | None:
    words = joint.raw.get("ends", ())
    if len(words) not in (0, 2):
        joint.problem("ends", words, "two points, or none for a closed belt", 'Write ends = ["a:p", "b:q"].')
        return None
    ends = [joint.scene.point(word, joint.unit, joint.where("ends")) for word in words]
    return None if any(end is None for end in ends) else [end for end in ends if end is not None]


def _plane(part: PlacedPart, size: Pulley) -> Placement:
    """The belt's plane: z along the first pulley's axis, origin in the belt's middle."""
    return Placement(part.placement.turn, part.placement.point((0.0, 0.0, size.belt_centre_mm)))


def _circles(
    joint: JointBuilder,
    belt: BeltSize,
    pulleys: list[tuple[PlacedPart, Pulley, int]],
    ends: list[tuple[PlacedPart, Array]],
    frame: Placement,
    toothed_way: int,
) -> list[_Circle] | None:
    circles: list[_Circle] = []
    for part, size, way in pulleys:
        middle = frame.back(part.placement.point((0.0, 0.0, size.belt_centre_mm)))
        leans = abs(float(part.placement.turn[:, 2] @ frame.turn[:, 2]))
        if abs(float(middle[2])) > _IN_PLANE_MM or leans < 1 - 1e-6:
            joint.scene.say(
                "belt-out-of-plane",
                f"{joint.id}: the belt runs {abs(float(middle[2])):.2f} mm out of plane at {part.id}.",
                parts=(part.id,),
                joint=joint.id,
                value=abs(float(middle[2])),
                limit=_IN_PLANE_MM,
                unit="mm",
                at_mm=part.placement.origin_mm,
                where=joint.where("over"),
            )
        if size.teeth and size.pitch_mm != belt.pitch_mm:
            joint.scene.say(
                "pulley-of-another-pitch",
                f"{joint.id}: {part.id} has {size.pitch_mm:g} mm pitch, the belt {belt.pitch_mm:g}.",
                parts=(part.id,),
                joint=joint.id,
                value=size.pitch_mm,
                limit=belt.pitch_mm,
                unit="mm",
                where=joint.where("over"),
            )
        if size.belt_width_mm + 1e-6 < belt.width_mm:
            joint.scene.say(
                "belt-too-wide",
                f"{joint.id}: the belt is {belt.width_mm:g} mm wide, {part.id} takes {size.belt_width_mm:g}.",
                parts=(part.id,),
                joint=joint.id,
                value=belt.width_mm,
                limit=size.belt_width_mm,
                unit="mm",
                where=joint.where("over"),
            )
        teeth_inside = way == toothed_way
        if size.teeth and not teeth_inside:
            joint.scene.say(
                "belt-back-on-teeth",
                f"{joint.id}: the belt's smooth back would run on the toothed {part.id}.",
                parts=(part.id,),
                joint=joint.id,
                at_mm=part.placement.origin_mm,
                where=joint.where("over"),
            )
        if size.teeth and teeth_inside:
            radius = size.pitch_diameter_mm / 2
        elif teeth_inside:
            radius = size.running_mm / 2 + belt.tooth_height_mm + belt.pitch_line_mm
        else:
            radius = size.running_mm / 2 + belt.thickness_mm - belt.tooth_height_mm - belt.pitch_line_mm
        circles.append(_Circle(part=part, centre=middle[:2], radius_mm=radius, way=way, teeth=size.teeth))
    if ends:
        for index, (part, point) in enumerate(ends):
            flat = frame.back(point)
            if abs(float(flat[2])) > _IN_PLANE_MM:
                joint.scene.say(
                    "belt-out-of-plane",
                    f"{joint.id}: the clamp at {part.id} lies {abs(float(flat[2])):.2f} mm out of plane.",
                    parts=(part.id,),
                    joint=joint.id,
                    value=abs(float(flat[2])),
                    limit=_IN_PLANE_MM,
                    unit="mm",
                    at_mm=point,
                    where=joint.where("ends"),
                )
            end = _Circle(part=part, centre=flat[:2], radius_mm=0.0, way=1, teeth=0)
            circles.insert(0 if index == 0 else len(circles), end)
    return circles


def tangent(
    first: Array,
    first_radius_mm: float,
    first_way: int,
    second: Array,
    second_radius_mm: float,
    second_way: int,
) -> tuple[Array, Array] | None:
    """Tangent points (2,) of the belt leaving one circle and reaching the next; None when they overlap.

    Equation: with signed radii s = radius · way and d the distance of the centres, the normal n of
    the tangent satisfies n · (second - first) = s1 - s2; the touching points are first + s1 n and
    second + s2 n. An anticlockwise turn (+1) keeps its centre on the belt's left.
    Source: derived; elementary geometry of common tangents.
    """
    delta = second - first
    distance = float(np.hypot(delta[0], delta[1]))
    one, two = first_radius_mm * first_way, second_radius_mm * second_way
    if distance <= abs(one - two) + 1e-9:
        return None
    along = delta / distance
    # n points to the belt's right; its part along the centre line follows from the equation above.
    sine = (one - two) / distance
    cosine = math.sqrt(max(0.0, 1 - sine * sine))
    right = np.array([along[1], -along[0]])
    normal = along * sine + right * cosine
    return first + one * normal, second + two * normal


def _run(
    joint: JointBuilder,
    belt: BeltSize,
    circles: list[_Circle],
    *,
    closed: bool,
    frame: Placement,
    toothed_way: int,
) -> None:
    pairs = list(pairwise(circles))
    if closed:
        pairs.append((circles[-1], circles[0]))
    lines: list[tuple[Array, Array]] = []
    for one, two in pairs:
        touch = tangent(one.centre, one.radius_mm, one.way, two.centre, two.radius_mm, two.way)
        if touch is None:
            joint.scene.say(
                "belt-path-impossible",
                f"{joint.id}: {one.part.id} and {two.part.id} stand too close for a belt between them.",
                parts=(one.part.id, two.part.id),
                joint=joint.id,
                where=joint.where("over"),
            )
            return
        lines.append(touch)
    spans = tuple(
        BeltSpan(
            begins=one.part.id,
            ends=two.part.id,
            length_mm=float(np.linalg.norm(line[1] - line[0])),
            from_mm=_lift(frame, line[0]),
            to_mm=_lift(frame, line[1]),
        )
        for (one, two), line in zip(pairs, lines, strict=True)
    )
    length = sum(span.length_mm for span in spans)
    mesh: dict[str, float] = {}
    track: list[Array] = []
    turned = circles if closed else circles[1:-1]
    incoming = [lines[-1], *lines[:-1]] if closed else lines[:-1]
    outgoing = lines if closed else lines[1:]
    if not closed:
        track.append(lines[0][0])
    for circle, into, out in zip(turned, incoming, outgoing, strict=True):
        angle = _wrap_rad(circle, into, out)
        length += circle.radius_mm * angle
        if circle.teeth:
            mesh[circle.part.id] = circle.teeth * angle / (2 * math.pi)
        track += _arc(circle, into[1], angle)
    if not closed:
        track.append(lines[-1][1])
    if not closed:
        name = f"{belt.designation}, cut to {length:.0f} mm"
    else:
        name = f"{belt.designation}, closed, {round(length / belt.pitch_mm):d} teeth"
    band = _band(np.array(track), belt, closed=closed, teeth_left=toothed_way > 0)
    placed = joint.bring(
        "belt",
        PartType(
            id=name,
            name=name,
            kind=Kind.DRIVE,
            outline_mm=band,
            thickness_mm=belt.width_mm,
            material="rubber with glass cords",
            mass_gram=belt.mass_gram_per_metre * length / 1000,
            cutter=False,
        ),
        Placement(frame.turn, frame.point((0.0, 0.0, -belt.width_mm / 2))),
    )
    joint.belt = BeltRun(
        joint=joint.id,
        belt=belt.designation,
        placed=placed.id,
        length_mm=length,
        teeth=length / belt.pitch_mm,
        closed=closed,
        spans=spans,
        teeth_in_mesh=mesh,
        equal_to=_whole_id(joint, joint.raw.get("equal_to", "")),
    )


def _whole_id(joint: JointBuilder, word: str) -> str:
    return word if "/" in word or not word else f"{joint.unit}/{word}"


def _lift(frame: Placement, flat: Array) -> tuple[float, float, float]:
    point = frame.point((float(flat[0]), float(flat[1]), 0.0))
    return (float(point[0]), float(point[1]), float(point[2]))


def _wrap_rad(circle: _Circle, into: tuple[Array, Array], out: tuple[Array, Array]) -> float:
    """Angle over which the belt lies on the circle, 0 to 2 pi."""
    begin = into[1] - circle.centre
    end = out[0] - circle.centre
    turn = math.atan2(float(end[1]), float(end[0])) - math.atan2(float(begin[1]), float(begin[0]))
    angle = (turn * circle.way) % (2 * math.pi)
    return 0.0 if angle > 2 * math.pi - 1e-9 else angle


def _arc(circle: _Circle, begin: Array, angle: float) -> list[Array]:
    """Points of the pitch line on the circle, ends included."""
    count = max(1, math.ceil(angle / _ARC_STEP_RAD))
    start = math.atan2(float(begin[1] - circle.centre[1]), float(begin[0] - circle.centre[0]))
    return [
        circle.centre
        + circle.radius_mm
        * np.array(
            [
                math.cos(start + circle.way * angle * i / count),
                math.sin(start + circle.way * angle * i / count),
            ]
        )
        for i in range(count + 1)
    ]


def _band(track: Array, belt: BeltSize, *, closed: bool, teeth_left: bool) -> tuple[tuple[float, float], ...]:
    """Outline of the smooth band (teeth left out) along the track; a closed belt has a hair-thin slit."""
    keep = [0] + [i for i in range(1, len(track)) if float(np.linalg.norm(track[i] - track[i - 1])) > 1e-6]
    track = track[keep]
    if closed:
        if float(np.linalg.norm(track[0] - track[-1])) < 1e-6:
            track = track[:-1]
        gap = track[0] - track[-1]
        track = np.vstack([track, track[0] - gap / float(np.linalg.norm(gap)) * 0.01])
    steps = np.diff(track, axis=0)
    steps /= np.linalg.norm(steps, axis=1)[:, None]
    before = np.vstack([steps[:1], steps])
    after = np.vstack([steps, steps[-1:]])
    middle = before + after
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    left = np.column_stack([-middle[:, 1], middle[:, 0]])
    stretch = 1.0 / np.maximum(0.5, np.einsum("ij,ij->i", middle, after))
    back = belt.thickness_mm - belt.tooth_height_mm - belt.pitch_line_mm
    # The pitch line lies pitch_line above the tooth roots; the band runs from the roots to the back.
    inner, outer = belt.pitch_line_mm - 0.02, back - 0.02
    to_left, to_right = (inner, outer) if teeth_left else (outer, inner)
    one = track + left * (to_left * stretch)[:, None]
    two = track - left * (to_right * stretch)[:, None]
    ring = np.vstack([two, one[::-1]])
    return tuple((float(x), float(y)) for x, y in ring)

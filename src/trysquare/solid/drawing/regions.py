"""The area of paper that a part is seen to fill, as loops: for its tint, and for a place to point at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from manifold3d import CrossSection, FillRule, OpType
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.ground.tolerances import CONTACT_MM
from trysquare.solid.drawing.looks import FACING, Look, slack_mm
from trysquare.solid.drawing.paper import boxes_of, least_of, most_of
from trysquare.solid.drawing.scene import Numbers

Flags = NDArray[np.bool_]

LEAST_MM2 = 0.02  # paper; a smaller spot of tint cannot be seen
SAME_SHAPE_MM = 0.01  # paper
MANY = 12  # triangles of a body over a face, for which its whole shadow is the quicker
KEPT_SHADOWS = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """A look in its place. `at_mm` (3,): the body's origin on paper and in depth, machine mm; `frame` (3, 3):
    right, down and away in the body's own coordinates; `low_mm`, `high_mm` (3,): the body's own box."""

    look: Look
    at_mm: Array
    frame: Array
    low_mm: Array
    high_mm: Array


def visible_region(here: Standing, others: Sequence[Standing], scale: float) -> list[Array]:
    """Loops (k, 2) in paper mm, even-odd, of what is seen of one body among others that may cover it."""
    if not len(here.look.corners):
        return []
    covering: list[CrossSection] = []
    mixed: list[Standing] = []
    slack = slack_mm(float(np.linalg.norm(here.look.high_mm - here.look.low_mm)))
    for other in others:
        order = stands_before(other, here)
        if order is None:
            mixed.append(other)
        elif order:
            covering.append(_shadow(other))
    seen = _less_mixed(here, mixed, slack) if mixed else _shadow(here)
    if covering:
        seen = seen - CrossSection.batch_boolean(covering, OpType.Add)
    seen = seen.scale((scale, scale)).simplify(SAME_SHAPE_MM)
    loops = [np.asarray(loop, dtype=float) for loop in seen.to_polygons()]
    return [loop for loop in loops if abs(loop_area(loop)) > LEAST_MM2]


def loop_area(loop: Array) -> float:
    """Area inside a loop (n, 2), positive when it turns from +x to +y."""
    x, y = loop[:, 0], loop[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2


def stands_before(other: Standing, here: Standing) -> bool | None:
    """Whether one body can only be before another (True), never is (False), or neither can be said.

    A plane between two bodies settles it: on the eye's side of the plane a body is never behind.
    """
    near, far = other.at_mm + other.look.low_mm, other.at_mm + other.look.high_mm
    low, high = here.at_mm + here.look.low_mm, here.at_mm + here.look.high_mm
    if (near[:2] >= high[:2]).any() or (far[:2] <= low[:2]).any() or near[2] >= high[2]:
        return False
    if far[2] <= low[2]:
        return True
    for frame in (here.frame, other.frame):
        # the axes of a body's own box on paper, and how far both boxes reach along them
        one, two = _reach(here, frame), _reach(other, frame)
        deeper = frame[2]  # how much deeper one gets along each axis
        for k in range(3):
            if abs(deeper[k]) < FACING:
                continue
            if one[1][k] <= two[0][k] + CONTACT_MM:
                return bool(deeper[k] < 0)
            if two[1][k] <= one[0][k] + CONTACT_MM:
                return bool(deeper[k] > 0)
    return None


def _reach(standing: Standing, frame: Array) -> tuple[Array, Array]:
    """Least and greatest coordinates of a body's box along the axes that are the columns of `frame`."""
    turn = frame.T @ standing.frame
    middle = frame.T @ standing.at_mm + turn @ ((standing.low_mm + standing.high_mm) / 2)
    half = np.abs(turn) @ ((standing.high_mm - standing.low_mm) / 2)
    return middle - half, middle + half


@lru_cache(maxsize=KEPT_SHADOWS)
def _shape_of(look: Look) -> CrossSection:
    return _shape(look.corners)


def _shadow(standing: Standing) -> CrossSection:
    """All that a body covers on paper."""
    return _shape_of(standing.look).translate((float(standing.at_mm[0]), float(standing.at_mm[1])))


def _shape(corners: Array) -> CrossSection:
    """All triangles (n, 3, 3) as one area."""
    return CrossSection(list(_wound(corners)[:, :, :2]), FillRule.NonZero)


def _wound(corners: Array) -> Array:
    """Triangles (n, 3, 3), all turning from +x to +y."""
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] < 0
    return np.where(turn[:, None, None], corners[:, ::-1], corners)


def _less_mixed(here: Standing, mixed: Sequence[Standing], slack: float) -> CrossSection:
    """A body's faces, each without what others have before its plane."""
    corners = here.look.corners + here.at_mm
    faces = [corners[rows] for rows in _flat_faces(here.look)]
    crowd = np.concatenate([one.look.corners + one.at_mm for one in mixed])
    whose = np.repeat(np.arange(len(mixed)), [len(one.look.corners) for one in mixed])
    low, high = here.look.low_mm + here.at_mm, here.look.high_mm + here.at_mm
    least, most = boxes_of(crowd)
    near = (most[:, 0] > low[0]) & (most[:, 1] > low[1]) & (least[:, 0] < high[0]) & (least[:, 1] < high[1])
    crowd, whose = _wound(crowd[near]), whose[near]
    face, over, behind = _meetings(faces, crowd, slack)
    nearest, furthest = _over_face(faces, crowd, face, over, behind)
    before = furthest <= 0
    # What lies before every face it meets is taken away from all of them at once.
    met = np.bincount(over, minlength=len(crowd))
    first = (met > 0) & (met == np.bincount(over[before], minlength=len(crowd)))
    # Where that is all of a body that meets any face, its shadow is taken, which is known.
    meeting = np.bincount(whose[met > 0], minlength=len(mixed))
    wholly = (meeting >= MANY) & (meeting == np.bincount(whose[first], minlength=len(mixed)))
    covers = [_shadow(mixed[body]) for body in np.flatnonzero(wholly).tolist()]
    if len(single := np.flatnonzero(first & ~wholly[whose])):
        covers.append(CrossSection(list(crowd[single, :, :2]), FillRule.NonZero))
    loose = np.flatnonzero(~first[over] & (nearest < 0))
    torn = (furthest > 0)[loose]
    seen = _less_loose(faces, crowd, face[loose], over[loose], behind[loose], torn)
    return seen - CrossSection.batch_boolean(covers, OpType.Add) if covers else seen


def _less_loose(
    faces: Sequence[Array], crowd: Array, face: Numbers, over: Numbers, behind: Array, crossing: Flags
) -> CrossSection:
    """Faces without what lies before the plane of each: pairs (n,) by face as of `_meetings`.

    `crossing`: which triangles go through the plane where the face is.
    """
    loops = np.zeros((len(over), 4, 2))
    loops[:, :3] = crowd[over, :, :2]
    points = np.full(len(over), 3)
    torn = np.flatnonzero(crossing)
    value = np.concatenate([-behind[torn], np.zeros((len(torn), 1))], axis=1)
    loops[torn], points[torn] = _cut_loops(loops[torn], points[torn], value)
    start = np.searchsorted(face, np.arange(len(faces) + 1)).tolist()
    ends = points.tolist()
    free: list[Array] = []
    pieces: list[CrossSection] = []
    for n, flat in enumerate(faces):
        if start[n] < start[n + 1]:
            cover = [loops[row, : ends[row]] for row in range(start[n], start[n + 1])]
            pieces.append(_shape(flat) - CrossSection(cover, FillRule.NonZero))
        else:
            free.append(flat)
    if free:
        pieces.append(_shape(np.concatenate(free)))
    return CrossSection.batch_boolean(pieces, OpType.Add)


def _meetings(faces: Sequence[Array], crowd: Array, slack: float) -> tuple[Numbers, Numbers, Array]:
    """Pairs of a flat face and a triangle (m, 3, 3) that meet on paper, by face: their numbers, and how far
    behind the face's plane each corner lies, less the slack (n, 3)."""
    low, high = boxes_of(crowd)
    left, top, right, bottom = (np.ascontiguousarray(each[:, k]) for each in (low, high) for k in (0, 1))
    numbers, overs, depths = [], [], []
    for n, face in enumerate(faces):
        (x0, y0), (x1, y1) = (
            face[:, :, :2].min(axis=(0, 1)).tolist(),
            face[:, :, :2].max(axis=(0, 1)).tolist(),
        )
        over = np.flatnonzero((left < x1) & (right > x0) & (top < y1) & (bottom > y0))
        if len(over):
            gx, gy, g = _plane(face)
            near = crowd[over]
            numbers.append(np.full(len(over), n))
            overs.append(over)
            depths.append(near[:, :, 2] - (gx * near[:, :, 0] + gy * near[:, :, 1] + (g - slack)))
    if not overs:
        none = np.zeros(0, dtype=np.int64)
        return none, none, np.zeros((0, 3))
    return np.concatenate(numbers), np.concatenate(overs), np.concatenate(depths)


def _over_face(
    faces: Sequence[Array], crowd: Array, face: Numbers, over: Numbers, behind: Array
) -> tuple[Array, Array]:
    """How far behind the face's plane each triangle is, at least and at most, of pairs (n,) of `_meetings`.

    Only there where both have their boxes on paper: a long triangle goes through the planes of many faces
    that it is not near.
    """
    nearest, furthest = least_of(behind.T), most_of(behind.T)
    torn = np.flatnonzero((nearest < 0) & (furthest > 0))
    low, high = boxes_of(crowd)
    flat_low = np.array([each[:, :, :2].min(axis=(0, 1)) for each in faces])
    flat_high = np.array([each[:, :, :2].max(axis=(0, 1)) for each in faces])
    left, top = np.maximum(low[over[torn], :2], flat_low[face[torn]]).T
    right, bottom = np.minimum(high[over[torn], :2], flat_high[face[torn]]).T
    # How far behind the plane is linear over the triangle: its value at the first corner and its slopes.
    corner, value = crowd[over[torn]], behind[torn]
    one, two = corner[:, 1, :2] - corner[:, 0, :2], corner[:, 2, :2] - corner[:, 0, :2]
    whole = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        rise, more = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
        along = (rise * two[:, 1] - more * one[:, 1]) / whole
        down = (more * one[:, 0] - rise * two[:, 0]) / whole
        first = value[:, 0] - along * corner[:, 0, 0] - down * corner[:, 0, 1]
        across = np.stack([first + along * x + down * y for x in (left, right) for y in (top, bottom)])
    sound = np.isfinite(across).all(axis=0)
    torn, across = torn[sound], across[:, sound]
    nearest[torn] = np.maximum(nearest[torn], across.min(axis=0))
    furthest[torn] = np.minimum(furthest[torn], across.max(axis=0))
    return nearest, furthest


@lru_cache(maxsize=KEPT_SHADOWS)
def _flat_faces(look: Look) -> list[Numbers]:
    """Which triangles of a look lie in one plane each."""
    corners = look.corners
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    sound = np.flatnonzero(length > 0)
    normal = normal[sound] / length[sound, None]
    off = np.einsum("ij,ij->i", normal, corners[sound, 0])
    key = np.column_stack([np.rint(normal * 1e4), np.rint(off * 1e3)])
    _, name = np.unique(key, axis=0, return_inverse=True)
    name = name.reshape(-1)
    order = np.argsort(name, kind="stable")
    return np.split(sound[order], np.flatnonzero(np.diff(name[order])) + 1)


def _plane(face: Array) -> tuple[float, float, float]:
    """Depth of the plane of flat triangles (n, 3, 3) as gx·x + gy·y + g, from the largest of them."""
    one, two = face[:, 1] - face[:, 0], face[:, 2] - face[:, 0]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    n = int(np.abs(area).argmax())
    (ax, ay, az), (bx, by, bz), whole = one[n], two[n], area[n]
    if whole == 0:
        return 0.0, 0.0, float(face[n, :, 2].min())
    gx, gy = float((az * by - bz * ay) / whole), float((bz * ax - az * bx) / whole)
    x, y, z = face[n, 0].tolist()
    return gx, gy, z - gx * x - gy * y


def _cut_loops(loops: Array, counts: Numbers, value: Array) -> tuple[Array, Numbers]:
    """Convex loops (n, k, 2) cut to where `value` (n, k), linear over each, is not negative, with counts.

    Source: Sutherland, Hodgman, "Reentrant polygon clipping", Communications of the ACM 17 (1974), 32–42.
    """
    most = loops.shape[1]
    place = np.arange(most)[None, :]
    there = place < counts[:, None]
    follow = np.where(place + 1 < counts[:, None], place + 1, 0)
    value_next = np.take_along_axis(value, follow, axis=1)
    loops_next = np.take_along_axis(loops, follow[:, :, None], axis=1)
    keep = there & (value >= 0)
    cut = there & ((value >= 0) != (value_next >= 0))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(cut, value / (value - value_next), 0.0)
    cross = loops + (loops_next - loops) * share[:, :, None]
    number = keep.astype(np.int64) + cut
    to = np.cumsum(number, axis=1) - number
    result = np.zeros_like(loops)
    for chosen, points, shift in ((keep, loops, np.zeros_like(to)), (cut, cross, keep.astype(np.int64))):
        row, column = np.nonzero(chosen)
        target = np.minimum((to + shift)[row, column], most - 1)
        result[row, target] = points[row, column]
    return result, np.minimum(number.sum(axis=1), most)

"""What is drawn as visible against rays of another library, and against a picture with depths."""

from __future__ import annotations

import numpy as np
import pytest

from drawn_bodies import free_by_rays, larch_step, samples_on_edges, triangles_of
from trysquare.ground.placement import Array
from trysquare.solid.drawing import ISOMETRIC, Scene, View, fitted, seen
from trysquare.solid.drawing.eye import crowd_of, sound
from trysquare.solid.drawing.looks import looks_of, slack_mm
from trysquare.solid.drawing.paper import grid_of
from trysquare.solid.drawing.stage import lines_of, staged
from trysquare.solid.drawing.visibility import visible

DOT_MM = 0.1  # 1600 dots over 160 mm
AGREEMENT = 0.99
VIEWS = [ISOMETRIC, View((-0.4, 1.0, -0.5)), View((0.3, -1.0, 0.6))]

pytestmark = pytest.mark.outside


@pytest.mark.parametrize("view", VIEWS, ids=["isometric", "low", "from below"])
@pytest.mark.parametrize("step", [25, pytest.param(53, marks=pytest.mark.slow)])
@pytest.mark.slow
def test_points_are_seen_where_a_ray_to_the_eye_is_free(step: int, view: View) -> None:
    pytest.importorskip("embreex")
    scene = larch_step(step)
    view = fitted(scene, view, 160, 160)
    points = samples_on_edges(scene, view, 4 * DOT_MM)
    by_rays = free_by_rays(scene)(points, view.frame()[2], 0.05)
    ours = seen(scene, view, points, slack=0.05)
    assert (ours == by_rays).mean() > AGREEMENT
    assert 0.02 < by_rays.mean() < 0.9  # both answers are well represented


@pytest.mark.slow
@pytest.mark.parametrize("view", VIEWS, ids=["isometric", "low", "from below"])
def test_lines_are_visible_where_a_ray_to_the_eye_is_free(view: View) -> None:
    pytest.importorskip("embreex")
    scene = larch_step(47)
    view = fitted(scene, view, 160, 160)
    pieces, _ = sound(scene)
    crowd = crowd_of(pieces, view)
    stage = staged(crowd)
    by = slack_mm(crowd.size_mm)
    looks = looks_of(crowd.bodies, crowd.frames)
    begin, end = [look.begin for look in looks], [look.end for look in looks]
    lines = lines_of(begin, end, crowd.at, np.arange(len(pieces)), by)
    free = visible(stage.faces, lines, grid_of, crowd.size_mm, own_too=False)
    length = np.linalg.norm((lines.end - lines.begin)[:, :2], axis=1) * view.scale
    # what is left out beforehand, pieces as well as lines, is none of what is seen
    short = visible(stage.faces, stage.lines, grid_of, crowd.size_mm, own_too=False)
    short_length = np.linalg.norm((stage.lines.end - stage.lines.begin)[:, :2], axis=1) * view.scale
    assert (short.end - short.begin) @ short_length[short.line] == pytest.approx(
        (free.end - free.begin) @ length[free.line]
    )
    count = np.ceil(length / (DOT_MM / 4)).astype(int)  # four samples a dot
    line = np.repeat(np.arange(len(count)), count)
    share = (np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[line]
    ours = np.zeros(len(line), dtype=bool)
    first = np.searchsorted(line, free.line)
    for n in range(len(free.line)):
        part = slice(first[n], first[n] + count[free.line[n]])
        ours[part] |= (share[part] >= free.begin[n]) & (share[part] <= free.end[n])
    points = lines.begin[line] + (lines.end - lines.begin)[line] * share[:, None]
    by_rays = free_by_rays(scene)(points @ view.frame(), view.frame()[2], by)
    assert (ours == by_rays).mean() > AGREEMENT


@pytest.mark.slow
def test_points_are_seen_where_a_picture_of_four_times_the_dots_shows_them() -> None:
    scene = larch_step(5)
    view = fitted(scene, ISOMETRIC, 40, 40)
    points = samples_on_edges(scene, view, DOT_MM)
    low, depth = depth_picture(scene, view, DOT_MM / 4)
    at = view.project(points)
    column, row = np.floor((at[:, :2] - low) / (DOT_MM / 4)).astype(int).T
    # An edge lies between dots: it is seen if it is no deeper than what one of the dots round it shows.
    around = np.max(
        [depth[np.clip(row + i, 0, len(depth) - 1), np.clip(column + j, 0, depth.shape[1] - 1)]
         for i in (-1, 0, 1) for j in (-1, 0, 1)], axis=0,
    )  # fmt: skip
    by_dots = at[:, 2] <= around + 0.05
    ours = seen(scene, view, points, slack=0.05)
    assert (ours == by_dots).mean() > AGREEMENT


def depth_picture(scene: Scene, view: View, dot_mm: float) -> tuple[Array, Array]:
    """Paper place of the first dot's corner, and for each dot the depth of the nearest face at its middle."""
    corners = view.project(triangles_of(scene).reshape(-1, 3)).reshape(-1, 3, 3)
    low = corners[:, :, :2].min(axis=(0, 1)) - 4 * dot_mm
    wide, tall = np.ceil((corners[:, :, :2].max(axis=(0, 1)) - low) / dot_mm).astype(int) + 4
    depth = np.full((tall, wide), np.inf)
    for corner in corners:
        flat = (corner[:, :2] - low) / dot_mm - 0.5
        (ax, ay), (bx, by), (cx, cy) = flat
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-12:
            continue
        x = np.arange(int(np.ceil(flat[:, 0].min())), int(np.floor(flat[:, 0].max())) + 1)
        y = np.arange(int(np.ceil(flat[:, 1].min())), int(np.floor(flat[:, 1].max())) + 1)[:, None]
        if not len(x) or not len(y):
            continue
        u = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / area
        v = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / area
        z = corner[0, 2] + u * (corner[1, 2] - corner[0, 2]) + v * (corner[2, 2] - corner[0, 2])
        part = depth[y[0, 0] : y[-1, 0] + 1, x[0] : x[-1] + 1]
        np.minimum(part, np.where((u >= 0) & (v >= 0) & (u + v <= 1), z, np.inf), out=part)
    return low, depth

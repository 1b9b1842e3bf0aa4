"""Plane and round faces behind a mesh: triangles put together into flats, and strips of flats into rounds.

A cylinder that was drawn as flats has its corners on one circle and its flats along one axis; a cone's flats
are equally steep to it. Meshes of free forms have too many flats and are left as they are.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.bodies import Face, FaceKind, Triangles
from trysquare.intake.mesh_cones import cones_of
from trysquare.intake.mesh_fillets import balls_of, fillets_of
from trysquare.intake.mesh_flats import Mesh, flats_of
from trysquare.intake.mesh_rounds import LEAST_TURN_RAD, WIDEST_RAD, Group, cylinders_of, turned_pairs

NEARLY = 3e-3  # of unit vectors: what is so nearly square was meant to be
PAIR = 2
WHOLE_RAD = 1.2 * math.pi  # no fillet between two sides goes so far round
PARALLEL_COSINE = math.cos(NEARLY)


def faces_of_mesh(points_mm: Array, triangles: Triangles) -> tuple[Face, ...]:
    """The faces of a closed mesh; empty when it is a free form.

    Args: points (n, 3) in millimetres, triangles (m, 3) counter-clockwise from outside.
    """
    mesh = flats_of(np.asarray(points_mm, dtype=float), triangles)
    if mesh is None:
        return ()
    taken = np.zeros(len(mesh.area), dtype=bool)
    pairs = turned_pairs(mesh)
    rounds: list[Group] = []
    groups: list[Group] = []
    # holes first, each with its rounded or sunk mouths: pieces of those are nearly pieces of a cylinder
    for least_sweep_rad in (WHOLE_RAD, 0.0):
        for cylinder in cylinders_of(mesh, taken, pairs, least_sweep_rad):
            rounds.append(cylinder)
            groups += [cylinder, *fillets_of(mesh, taken, cylinder)]
        groups += cones_of(mesh, taken, rounds)
    groups += balls_of(mesh, taken)
    groups += [Group([int(number)]) for number in np.flatnonzero(~taken)]
    _square_up(mesh, groups)
    return _faces(mesh, groups)


def loose_flats(faces: Sequence[Face]) -> int:
    """How many flats look like pieces of a round that was not put together: turned a little from two others.

    A slope, as in a slot, is turned a little from one neighbour and much from the next.
    """
    count = 0
    for face in faces:
        if face.kind is FaceKind.PLANE:
            near = [faces[number] for number in face.neighbours]
            turns = [float(face.direction @ each.direction) for each in near if each.kind is FaceKind.PLANE]
            count += sum(math.cos(WIDEST_RAD) < turn < math.cos(LEAST_TURN_RAD) for turn in turns) >= PAIR
    return count


def _square_up(mesh: Mesh, groups: Sequence[Group]) -> None:
    """Makes directions that are nearly parallel or nearly square exactly so: text files round the points.

    The directions of the greatest areas are kept; those of lesser ones follow.
    """
    for group in groups:
        group.fields.setdefault("direction", mesh.normal[group.flats[0]])
    groups = [group for group in groups if group.kind is not FaceKind.SPHERE]  # a ball has no direction
    areas = [float(mesh.area[group.flats].sum()) for group in groups]
    kept, count = np.zeros((len(groups), 3)), 0
    for number in sorted(range(len(groups)), key=lambda number: (-areas[number], number)):
        settled: Array = np.asarray(groups[number].fields["direction"], dtype=float)
        along = kept[:count] @ settled
        alike = np.flatnonzero(np.abs(along) > PARALLEL_COSINE)
        if len(alike):
            settled = kept[alike[0]] * math.copysign(1.0, float(along[alike[0]]))
        else:
            square = np.flatnonzero(np.abs(along) < NEARLY)[:2]
            if len(square):
                basis, _ = np.linalg.qr(kept[square].T)
                settled = settled - basis @ (basis.T @ settled)
                settled = settled / np.linalg.norm(settled)
            kept[count] = settled
            count += 1
        groups[number].fields["direction"] = settled


def _faces(mesh: Mesh, groups: Sequence[Group]) -> tuple[Face, ...]:
    group_of = np.zeros(len(mesh.area), dtype=np.int64)
    for number, group in enumerate(groups):
        group_of[group.flats] = number
    meets: dict[int, set[int]] = defaultdict(set)
    for number, group in enumerate(groups):
        for flat in group.flats:
            for point in mesh.points[flat].tolist():
                meets[point].add(number)
    corners: dict[int, list[int]] = defaultdict(list)
    for point, some in meets.items():
        if len(some) > 2:
            for number in some:
                corners[number].append(point)
    faces = []
    for number, group in enumerate(groups):
        flats = np.array(group.flats)
        area = float(mesh.area[flats].sum())
        centre = (mesh.centre[flats] * mesh.area[flats][:, None]).sum(axis=0) / max(area, 1e-12)
        near = {int(group_of[other]) for flat in group.flats for other in mesh.beside[flat]} - {number}
        fields: dict[str, Any] = {"origin_mm": centre}
        faces.append(
            Face(
                kind=group.kind,
                area_mm2=area,
                centre_mm=centre,
                neighbours=tuple(sorted(near)),
                corners_mm=mesh.points_mm[np.array(sorted(corners[number]), dtype=np.int64)].reshape(-1, 3),
                **(fields | group.fields),
            )
        )
    return tuple(faces)

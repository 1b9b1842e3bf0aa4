"""The volume that pairs of solids share, each standing of one to another worked out once.

A machine repeats the same corner, the same screw in the same nut, a hundred times: a verdict is kept
by the two shapes and how they stand to each other.

Exact booleans are slow where faces lie on each other, and in a machine that fits they nearly all do.
So the smaller solid is first tried with a hair taken off all round. When that shares nothing, whatever
the true one shares is thinner than contact, and the slow question need not be asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold, OpType

from trysquare.ground.placement import Array, Placement
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.solid.broad import Crowd, Numbers
from trysquare.solid.meshes import manifold_of, thinned_points
from trysquare.solid.shapes import Solid
from trysquare.solid.sizes import name_of

KEPT_STANDINGS = 500_000  # some 200 bytes each
KEPT_FOR_NEXT = 50_000  # 16 bytes each; a large machine has some thousand different standings
SAME_STANDING_MM = 1e-4  # far below contact: standings this near give the same verdict
SAME_TURN = 1e-7  # of a rotation's numbers: 1e-4 mm over 1 m
HAIR_MM = CONTACT_MM / 4  # taken off all round for the first try; at a sharp corner at most twice that
THINNED_TRIANGLES = 2000  # a larger mesh takes longer to thin than the question it saves
KEPT_THINNED = 4000

Key = tuple[bytes, bytes, bytes]


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """What two solids share, in the coordinates of the first."""

    volume_mm3: float
    at_mm: Array  # (3,), middle of the largest piece
    corners_mm: Array  # (8, 3) of the box of all


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """A solid with a guest, and how the guest stands in the host's coordinates: array (3, 4)."""

    key: Key
    host: Solid
    guest: Solid
    guest_to_host: Array


_standings: dict[Key, Shared | None] = {}
_meets: dict[Key, bool] = {}
_apart: set[bytes] = set()  # names of standings in which an earlier run found nothing shared
_found_apart: set[bytes] = set()


def forget_standings() -> None:
    """Drops all verdicts kept in memory, for measuring a cold start."""
    _standings.clear()
    _meets.clear()
    _thinned.clear()
    _apart.clear()
    _found_apart.clear()


def is_apart(name: bytes) -> bool:
    """Whether an earlier question of this name, made by `sizes.name_of`, found two things apart."""
    return name in _apart or name in _found_apart


def found_apart(name: bytes) -> None:
    """Remembers, for this run and the next, that a question of this name found two things apart."""
    if len(_found_apart) < KEPT_FOR_NEXT:
        _found_apart.add(name)


def know_apart(names: Iterable[bytes]) -> None:
    """Takes over the standings in which an earlier run found nothing shared."""
    _apart.update(names)
    if len(_apart) > KEPT_STANDINGS:
        _apart.clear()


def known_apart() -> frozenset[bytes]:
    """Names of the standings in which nothing is shared, to be kept for the next run: those asked for,
    and while they are few those of earlier runs, too."""
    apart = [key for key, shared in _standings.items() if shared is None]
    apart += [key for key, meets in _meets.items() if not meets]
    asked = {name_of(*key) for key in apart} | _found_apart
    both = asked | _apart
    return frozenset(both if len(both) <= KEPT_FOR_NEXT else list(asked)[:KEPT_FOR_NEXT])


def shared_volumes(a: Crowd, b: Crowd, pairs: Numbers) -> list[tuple[Shared | None, Placement]]:
    """For each pair (piece of `a`, piece of `b`) what they share, None for no overlap, and the
    placement that takes it to the machine frame."""
    if len(_standings) > KEPT_STANDINGS:
        _standings.clear()
    meetings, hosts = _meetings(a, b, pairs)
    new = {one.key: one for one in meetings if one.key not in _standings}
    for one in new.values():
        apart = bool(_apart) and name_of(*one.key) in _apart
        _standings[one.key] = None if apart else shared_between(one.host, one.guest, one.guest_to_host)
    return [(_standings[one.key], host) for one, host in zip(meetings, hosts, strict=True)]


def any_shared(a: Crowd, b: Crowd, pairs: Numbers) -> bool:
    """Whether any of the pairs overlap: much quicker than `shared_volumes` where many do, since it
    stops at the first and asks for no volume."""
    if len(_meets) > KEPT_STANDINGS:
        _meets.clear()
    unknown = []
    for one in _meetings(a, b, pairs)[0]:
        known = _meets.get(one.key)
        if known is None and one.key in _standings:
            known = _standings[one.key] is not None
        if known is None and _apart and name_of(*one.key) in _apart:
            known = _meets[one.key] = False
        if known:
            return True
        if known is None:
            unknown.append(one)
    unknown.sort(key=lambda one: one.host.triangle_count)  # the quick questions first
    for one in unknown:
        _meets[one.key] = meet(one.host, one.guest, one.guest_to_host)
        if _meets[one.key]:
            return True
    return False


def _meetings(a: Crowd, b: Crowd, pairs: Numbers) -> tuple[list[Meeting], list[Placement]]:
    """Each pair as host and guest, the host being the one with more triangles, with its placement."""
    i, j = pairs[:, 0], pairs[:, 1]
    firsts = [a.solids[which] for which in a.which[i].tolist()]
    seconds = [b.solids[which] for which in b.which[j].tolist()]
    swap = np.array([_rank(p) < _rank(q) for p, q in zip(firsts, seconds, strict=True)], dtype=bool)
    flip = swap[:, None]
    host_turn = np.where(flip[:, :, None], b.turn[j], a.turn[i])
    guest_turn = np.where(flip[:, :, None], a.turn[i], b.turn[j])
    host_origin = np.where(flip, b.origin_mm[j], a.origin_mm[i])
    guest_origin = np.where(flip, a.origin_mm[i], b.origin_mm[j])
    turn = np.einsum("mki,mkj->mij", host_turn, guest_turn)
    origin = np.einsum("mki,mk->mi", host_turn, guest_origin - host_origin)
    matrices = np.concatenate([turn, origin[:, :, None]], axis=2)
    rounded = np.concatenate(
        [np.rint(turn.reshape(-1, 9) / SAME_TURN), np.rint(origin / SAME_STANDING_MM)], axis=1
    ).astype(np.int64)
    meetings, hosts = [], []
    for n, (first, second, swapped) in enumerate(zip(firsts, seconds, swap.tolist(), strict=True)):
        host, guest = (second, first) if swapped else (first, second)
        key = (host.digest, guest.digest, rounded[n].tobytes())
        meetings.append(Meeting(key, host, guest, matrices[n]))
        hosts.append(Placement(host_turn[n], host_origin[n]))
    return meetings, hosts


def _rank(solid: Solid) -> tuple[int, bytes]:
    return solid.triangle_count, solid.digest


_thinned: dict[bytes, Manifold | None] = {}


def thinned(solid: Solid) -> Manifold | None:
    """The solid with a hair taken off all round; None where that is not worth it or not clean."""
    if solid.triangle_count > THINNED_TRIANGLES:
        return None
    if solid.digest not in _thinned:
        if len(_thinned) > KEPT_THINNED:
            _thinned.clear()
        points = thinned_points(solid.points_mm, solid.triangles, HAIR_MM, 2 * HAIR_MM)
        _thinned[solid.digest] = manifold_of(points, solid.triangles)
    return _thinned[solid.digest]


def meet(a: Solid, b: Solid, b_to_a: Array) -> bool:
    """Whether two solids overlap; `b` should be the smaller."""
    thin = thinned(b)
    if thin is not None:
        common = a.manifold ^ thin.transform(b_to_a)
        if common.is_empty():
            return False
        if _surely_thick(common, float(common.volume())):
            return True
    common = a.manifold ^ b.manifold.transform(b_to_a)
    return is_overlap(common, float(common.volume()))


def shared_between(a: Solid, b: Solid, b_to_a: Array) -> Shared | None:
    """What two solids share, None when that is nothing or mere contact; `b` should be the smaller."""
    thin = thinned(b)
    if thin is not None and (a.manifold ^ thin.transform(b_to_a)).is_empty():
        return None
    common = a.manifold ^ b.manifold.transform(b_to_a)
    if common.is_empty():
        return None
    volume = float(common.volume())
    if not is_overlap(common, volume):
        return None
    pieces = common.decompose()
    largest = max(pieces, key=lambda piece: float(piece.volume()))
    low = np.array(largest.bounding_box()[:3])
    high = np.array(largest.bounding_box()[3:])
    x0, y0, z0, x1, y1, z1 = common.bounding_box()
    corners = np.array([(x, y, z) for x in (x0, x1) for y in (y0, y1) for z in (z0, z1)])
    return Shared(volume_mm3=volume, at_mm=(low + high) / 2, corners_mm=corners)


def is_overlap(common: Manifold, volume_mm3: float) -> bool:
    """Whether a shared body is more than contact: large enough, and thicker than contact somewhere.

    Twice the volume over the area is never more than the body's greatest thickness, so a body that
    passes by it is surely thick; a box thinner than contact is surely thin. Only in between the body
    is eaten away from all sides by half a contact: what is left was thicker.
    """
    if volume_mm3 <= OVERLAP_MM3:
        return False
    if _surely_thick(common, volume_mm3):
        return True
    x0, y0, z0, x1, y1, z1 = common.bounding_box()
    if min(x1 - x0, y1 - y0, z1 - z0) <= CONTACT_MM:
        return False
    half = CONTACT_MM / 2
    eaten = Manifold.batch_boolean(
        [common.translate(tuple(half * step)) for step in _SIDES], OpType.Intersect
    )
    return not eaten.is_empty() and float(eaten.volume()) > 1e-6


def _surely_thick(common: Manifold, volume_mm3: float) -> bool:
    return volume_mm3 > OVERLAP_MM3 and 2 * volume_mm3 > CONTACT_MM * float(common.surface_area())


def _sides() -> Array:
    """Directions to the faces, edges and corners of a cube, 26 unit vectors."""
    grid = np.array([(x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)], dtype=float)
    grid = grid[np.abs(grid).sum(axis=1) > 0]
    sides: Array = grid / np.linalg.norm(grid, axis=1)[:, None]
    return sides


_SIDES = _sides()

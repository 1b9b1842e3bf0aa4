"""How a body looks by itself: its outline and creases from one direction, less what it hides of itself.

A machine repeats the same screw a hundred times in a few standings, and neighbouring pictures share their
view; so a look is made once for each body and way of turning it, and only moved about after that.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.chains import chained
from trysquare.solid.drawing.edges import Edges, Flags, edges_of
from trysquare.solid.drawing.paper import Cells, Faces, Lines, faces_on_paper, grids_of
from trysquare.solid.drawing.scene import Body, Numbers
from trysquare.solid.drawing.visibility import visible

OUTLINE, CREASE = 0, 1
SORTS = ("outline", "crease")

FACING = 1e-6  # of unit normals; a face nearer to edge-on than this shows no area
BEHIND_MM = 0.05  # a line this little behind a face lies on it: contact is 0.02, seen at a slant twice that
BEHIND_SHARE = 5e-4  # of the body's size, where that is less: a tiny body is not all contact
ACROSS = 6  # cells to begin with for one body
KEPT_LOOKS = 5000  # some 30 kB each

Key = tuple[bytes, bytes]


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A body seen from one direction, about its own origin, in machine mm: x right, y down, depth away.

    `corners` (k, 3, 3): the triangles that face the eye. `begin`, `end` (n, 3): its lines, in the order in
    which they hang together; `goes_on` (n,): whether the next begins where this one ends. `sort` (n,):
    OUTLINE or CREASE. `outline_mm`: how much outline it shows when nothing is in front of it. `low_mm`,
    `high_mm` (3,): its box.
    """

    corners: Array
    begin: Array
    end: Array
    goes_on: Numbers
    sort: Numbers
    outline_mm: float
    low_mm: Array
    high_mm: Array


_looks: OrderedDict[Key, Look] = OrderedDict()
_fronts: OrderedDict[Key, Array] = OrderedDict()
_met: OrderedDict[Key, None] = OrderedDict()


def forget_looks() -> None:
    """Drops all looks kept in memory, for measuring a cold start."""
    _looks.clear()
    _fronts.clear()
    _met.clear()


def fronts_of(bodies: Sequence[Body], frames: Array, keys: Sequence[Key]) -> list[Array]:
    """Only `Look.corners` of each body, for what is to hide others and is not drawn itself."""
    found = []
    for body, frame, key in zip(bodies, frames, keys, strict=True):
        look = _looks.get(key)
        corners = look.corners if look is not None else _fronts.get(key)
        if corners is None:
            edges = edges_of(body)
            corners = (edges.points_mm @ frame.T)[edges.triangles[_showing(edges, frame)]]
            _fronts[key] = corners
        found.append(corners)
    while len(_fronts) > KEPT_LOOKS:
        _fronts.popitem(last=False)
    return found


def keys_of(bodies: Sequence[Body], frames: Array) -> list[Key]:
    """What names each body turned so. `frames` (n, 3, 3) as `looks_of` takes them."""
    whole = np.rint(frames * 1e9).astype(np.int64).tobytes()
    return [(body.digest, whole[72 * n : 72 * n + 72]) for n, body in enumerate(bodies)]


def looks_of(bodies: Sequence[Body], frames: Array, keys: Sequence[Key] | None = None) -> list[Look]:
    """The look of each body. `frames` (n, 3, 3): rows are right, down and away in the body's coordinates;
    `keys` of them, where they are known."""
    keys = keys_of(bodies, frames) if keys is None else keys
    missing = {key: row for row, key in reversed(list(enumerate(keys))) if key not in _looks}
    if missing:
        rows = sorted(missing.values())
        made = _make([edges_of(bodies[row]) for row in rows], [frames[row] for row in rows])
        _looks.update(zip((keys[row] for row in rows), made, strict=True))
    looks = [_looks[key] for key in keys]
    while len(_looks) > KEPT_LOOKS:
        _looks.popitem(last=False)
    return looks


def first_met(keys: Sequence[Key]) -> Flags:
    """Flags (n,): which bodies turned so are asked about for the first time, and have no look yet."""
    flags = np.array([key not in _looks and key not in _met for key in keys], dtype=bool)
    _met.update(dict.fromkeys(keys))
    while len(_met) > KEPT_LOOKS:
        _met.popitem(last=False)
    return flags


def bare_lines(bodies: Sequence[Body], frames: Array) -> tuple[list[Array], list[Array]]:
    """Where lines of each body begin and end, (n, 3) each, before what it hides of itself is taken away."""
    bare = [_bare(edges_of(body), frame) for body, frame in zip(bodies, frames, strict=True)]
    return [one.seen[one.ends[:, 0]] for one in bare], [one.seen[one.ends[:, 1]] for one in bare]


@dataclass(frozen=True, slots=True, eq=False)
class _Bare:
    """A body turned to the eye before anything is hidden. `ends` (n, 2): point numbers of its lines."""

    seen: Array
    corners: Array
    ends: Numbers
    sort: Numbers
    low: Array
    high: Array


def _showing(edges: Edges, frame: Array) -> Flags:
    """Which triangles can be seen: those that face the eye, of a mesh with a rim all."""
    flags: Flags = (edges.normals @ frame[2] < -FACING) | (not edges.closed)
    return flags


def _bare(edges: Edges, frame: Array) -> _Bare:
    seen = edges.points_mm @ frame.T
    front = edges.normals @ frame[2] < -FACING
    one = front[edges.faces[:, 0]]
    rim = edges.faces[:, 1] < 0
    two = np.where(rim, ~one, front[edges.faces[:, 1]])
    outline = one != two
    # At a valley with one face turned away, the body itself stands before the edge.
    drawn = np.where(
        outline, edges.convex | (not edges.closed), edges.sharp & ((one & two) | (not edges.closed))
    )
    low = seen.min(axis=0) if len(seen) else np.zeros(3)
    high = seen.max(axis=0) if len(seen) else np.zeros(3)
    return _Bare(
        seen=seen,
        corners=seen[edges.triangles[_showing(edges, frame)]],
        ends=edges.ends[drawn],
        sort=np.where(outline[drawn], OUTLINE, CREASE),
        low=low,
        high=high,
    )


def slack_mm(size_mm: float) -> float:
    """How far behind a face a line still lies on it, in a picture or body this large."""
    return min(BEHIND_MM, BEHIND_SHARE * size_mm)


def _make(edges: list[Edges], frames: list[Array]) -> list[Look]:
    """Looks of many bodies in one search: each is brought to one size and has cells to itself."""
    bare = [_bare(one, frame) for one, frame in zip(edges, frames, strict=True)]
    corners, begins, ends, slack, faces_cell, lines_cell = [], [], [], [], [], []
    for number, one in enumerate(bare):
        size = max(float((one.high - one.low)[:2].max()), 1e-9)
        middle = (one.low + one.high) / 2
        corners.append((one.corners - middle) / size)
        begins.append((one.seen[one.ends[:, 0]] - middle) / size)
        ends.append((one.seen[one.ends[:, 1]] - middle) / size)
        slack.append(np.full(len(one.ends), slack_mm(float(np.linalg.norm(one.high - one.low))) / size))
        faces_cell.append(np.full(len(one.corners), number))
        lines_cell.append(np.full(len(one.ends), number))
    owner = np.concatenate(lines_cell)
    lines = Lines(np.concatenate(begins), np.concatenate(ends), np.concatenate(slack), owner)
    faces = faces_on_paper(np.concatenate(corners), np.concatenate(faces_cell), 1.0)

    def cells(some: Faces, of: Lines, _: int) -> Cells:
        return grids_of(some, of, len(bare), ACROSS)

    free = visible(faces, lines, cells, 1.0)
    first = np.searchsorted(free.line, np.cumsum([0] + [len(one.ends) for one in bare]))
    start = np.cumsum([0] + [len(one.ends) for one in bare])
    return [
        _look(one, free.line[a:b] - start[n], free.begin[a:b], free.end[a:b])
        for n, (one, a, b) in enumerate(zip(bare, first[:-1], first[1:], strict=True))
    ]


def _look(bare: _Bare, line: Numbers, begin: Array, end: Array) -> Look:
    """A look from the free stretches of a body's lines."""
    at0, at1 = bare.seen[bare.ends[line, 0]], bare.seen[bare.ends[line, 1]]
    way = at1 - at0
    points0, points1 = at0 + way * begin[:, None], at0 + way * end[:, None]
    # Ends at points of the mesh keep their number; a cut has an end of its own, which nothing joins.
    own = len(bare.seen) + 2 * np.arange(len(line))
    names = np.stack(
        [
            np.where(begin <= 0, bare.ends[line, 0], own),
            np.where(end >= 1, bare.ends[line, 1], own + 1),
        ],
        axis=1,
    )
    chain = chained(points0, points1, names, bare.sort[line])
    outline = chain.sort == OUTLINE
    length = np.linalg.norm((chain.end - chain.begin)[outline, :2], axis=1)
    return Look(
        corners=bare.corners,
        begin=chain.begin,
        end=chain.end,
        goes_on=chain.goes_on,
        sort=chain.sort,
        outline_mm=float(length.sum()),
        low_mm=bare.low,
        high_mm=bare.high,
    )

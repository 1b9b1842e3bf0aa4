"""What is drawn: placed bodies, each with its role in the picture, and the way they are looked at."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement, Triple, cross, unit

Numbers = NDArray[np.int64]

NEW, OLD, GHOST = "new", "old", "ghost"
ROLES = (NEW, OLD, GHOST)
"""New parts are drawn strong, old ones thin. A ghost is drawn too and may be hidden, but hides nothing."""


class Body(Protocol):
    """Anything with flat faces: a `Solid`, or a `Mesh` that no solid was made of."""

    @property
    def points_mm(self) -> Array: ...
    @property
    def triangles(self) -> Numbers: ...
    @property
    def digest(self) -> bytes: ...


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles that need not close: array (n, 3) of points and (m, 3) of point numbers.

    Counter-clockwise from outside where there is an outside. `digest` names it by its content.
    """

    points_mm: Array
    triangles: Numbers
    digest: bytes


def mesh(points_mm: Array, triangles: Numbers) -> Mesh:
    """A mesh of these points (n, 3) and rows of point numbers (m, 3).

    Raises ReadingError when the arrays have another shape or a row names a point that is not there.
    """
    points = np.ascontiguousarray(points_mm, dtype=np.float64)
    rows = np.ascontiguousarray(triangles, dtype=np.int64)
    fits = points.ndim == 2 and points.shape[1:] == (3,) and rows.ndim == 2 and rows.shape[1:] == (3,)
    if not fits or (len(rows) and not (rows.min() >= 0 and rows.max() < len(points))):
        raise ReadingError(
            where="mesh",
            read=f"points {points.shape}, triangles {rows.shape}",
            expected="points (n, 3) and triangles (m, 3) that number them",
            remedy="Give each triangle as three numbers of points that are there.",
        )
    content = points.tobytes() + b"|" + rows.tobytes()
    return Mesh(points, rows, hashlib.blake2b(content, digest_size=16).digest())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One body in its place. `says`: what a reader of the picture is told it is; its id where empty."""

    id: str
    body: Body
    placement: Placement = field(default_factory=Placement)
    role: str = OLD
    says: str = ""

    def __post_init__(self) -> None:
        if self.role not in ROLES:
            raise ReadingError(
                where=f"Piece {self.id}",
                read=self.role,
                expected=f"one of {', '.join(ROLES)}",
                remedy="Say whether the piece is new in this picture, there already, or only hinted at.",
            )


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything in a picture. Ids need not differ, but an answer by id then tells of the last."""

    pieces: tuple[Piece, ...] = ()

    def ids(self, role: str) -> tuple[str, ...]:
        """Ids of the pieces with this role, in order."""
        return tuple(piece.id for piece in self.pieces if piece.role == role)


def scene_of(pieces: Iterable[Piece]) -> Scene:
    """A scene of any pieces."""
    return Scene(tuple(pieces))


@dataclass(frozen=True, slots=True)
class View:
    """Parallel projection. `direction`: the way the eye looks, into the picture; `up`: what points up on
    paper, as far as it can; `scale`: paper millimetres for each of the machine's.

    Paper x runs to the right and y down; depth grows away from the eye. The machine's origin lies at
    paper (0, 0), so that a part keeps its place in neighbouring pictures of one view.
    """

    direction: Triple
    up: Triple = (0.0, 0.0, 1.0)
    scale: float = 1.0

    def __post_init__(self) -> None:
        side = math.hypot(*cross(self.direction, self.up))
        size = math.hypot(*self.direction) * math.hypot(*self.up)
        if not (math.isfinite(size) and side > 1e-6 * size > 0):
            raise ReadingError(
                where="View",
                read=f"direction {self.direction}, up {self.up}",
                expected="two directions that are not parallel",
                remedy="Looking straight down, give up as +y.",
            )
        if not (math.isfinite(self.scale) and self.scale > 0):
            raise ReadingError(
                where="View.scale",
                read=self.scale,
                expected="a number above 0",
                remedy="Give paper millimetres for each millimetre of the machine.",
            )

    def frame(self) -> Array:
        """Array (3, 3): rows are paper right, paper down and away from the eye, in the machine frame."""
        away = unit(self.direction)
        right = unit(cross(away, self.up))
        return np.stack([right, cross(away, right), away])

    def project(self, points_mm: Array) -> Array:
        """Array (n, 3) of machine points to paper x, paper y, both in paper mm, and depth in machine mm."""
        seen = np.asarray(points_mm, dtype=float).reshape(-1, 3) @ self.frame().T
        seen[:, :2] *= self.scale
        return seen

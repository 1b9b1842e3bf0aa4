"""What readings and joints say of a shape, as equations: exact in the turns of the bodies, all at once.

A body has six unknowns, a displacement of its middle and a turn vector (radian, machine frame), and a member
one more, its length error. A point fixed to a body is at ``p = c + t + R(w) (o + ½ s e l)``: c its body's
middle as drawn, o the point from there, l the body's long direction, e its length error, s how the point goes
with the ends. Four sorts of equation are made of points, each a row with an observed value and a standard
uncertainty. Any row may have further unknowns added: an instrument's own error, a setting's zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from trysquare.ground.placement import Array

Numbers = NDArray[np.int64]
FIXED = -1  # the number of the body that does not move: the machine frame itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """A further unknown in a row: its column and what it is multiplied by."""

    column: int
    factor: float


class EquationsBuilder:
    """Collects bodies, unknowns, points and rows; `done` makes arrays of them."""

    def __init__(self) -> None:
        self.centres: list[Array] = []
        self.lengths: list[int] = []  # column of the length error, -1 for none
        self.alongs: list[Array] = []
        self.names: list[str] = []  # of each column
        self._body_columns: list[int] = []
        self._points: list[tuple[int, Array, float]] = []
        self._distances: list[tuple[int, int, int]] = []
        self._projections: list[tuple[int, Array, int]] = []
        self._terms: list[tuple[int, int, float]] = []
        self._angles: list[tuple[int, float, int, Array, int, Array]] = []
        self._extras: list[tuple[int, int, float]] = []
        self._observed: list[float] = []
        self._sigma: list[float] = []

    def body(self, name: str, centre_mm: Array, along: Array | None = None) -> int:
        """A body; with `along` it is a member whose length is unknown. Its number."""
        number = len(self.centres)
        self._body_columns.append(len(self.names))
        self.names += [f"{name} {word}" for word in ("x", "y", "z", "turn x", "turn y", "turn z")]
        self.centres.append(np.asarray(centre_mm, dtype=float))
        self.alongs.append(np.zeros(3) if along is None else np.asarray(along, dtype=float))
        self.lengths.append(-1 if along is None else self.unknown(f"{name} length"))
        return number

    def unknown(self, name: str) -> int:
        """One more unknown; its column."""
        self.names.append(name)
        return len(self.names) - 1

    def column(self, body: int, place: int = 0) -> int:
        """The column of a body's displacement (0 to 2) or turn (3 to 5)."""
        return self._body_columns[body] + place

    def point(self, body: int, at_mm: Array, with_end: float = 0.0) -> int:
        """A point of a body where it is drawn, machine frame; its number."""
        offset = np.asarray(at_mm, dtype=float) - (self.centres[body] if body >= 0 else 0.0)
        self._points.append((body, offset, with_end if body >= 0 and self.lengths[body] >= 0 else 0.0))
        return len(self._points) - 1

    def distance(self, one: int, other: int, value: float, sigma: float, extras: Sequence[Extra] = ()) -> int:
        """Row: the distance of two points."""
        row = self._row(value, sigma, extras)
        self._distances.append((row, one, other))
        return row

    def projection(
        self,
        terms: Sequence[tuple[int, float]],
        direction: Array,
        value: float,
        sigma: float,
        *,
        turns_with: int = FIXED,
        extras: Sequence[Extra] = (),
    ) -> int:
        """Row: the sum of factor · point, along a direction that turns with a body."""
        row = self._row(value, sigma, extras)
        self._projections.append((row, np.asarray(direction, dtype=float), turns_with))
        self._terms += [(len(self._projections) - 1, point, factor) for point, factor in terms]
        return row

    def angle(
        self,
        scale: float,
        one: tuple[int, Array],
        other: tuple[int, Array],
        value: float,
        sigma: float,
        extras: Sequence[Extra] = (),
    ) -> int:
        """Row: scale times the product of two directions, each turning with its body."""
        row = self._row(value, sigma, extras)
        self._angles.append((row, scale, one[0], np.asarray(one[1]), other[0], np.asarray(other[1])))
        return row

    def linear(self, extras: Sequence[Extra], value: float, sigma: float) -> int:
        """Row: a sum of unknowns."""
        return self._row(value, sigma, extras)

    def _row(self, value: float, sigma: float, extras: Sequence[Extra]) -> int:
        row = len(self._observed)
        self._observed.append(value)
        self._sigma.append(sigma)
        self._extras += [(row, extra.column, extra.factor) for extra in extras]
        return row

    def like(self) -> EquationsBuilder:
        """Another builder with the same bodies and unknowns and no rows: for questions to them."""
        other = EquationsBuilder()
        other.centres, other.lengths = self.centres, self.lengths
        other.alongs, other.names = self.alongs, self.names
        other._body_columns = self._body_columns  # of the same class
        return other

    @property
    def rows(self) -> int:
        return len(self._observed)

    def done(self) -> Equations:
        count = len(self.centres)
        columns = np.array([*self._body_columns, -1], dtype=np.int64)
        return Equations(
            names=tuple(self.names),
            columns=columns,
            centre=np.vstack([np.array(self.centres).reshape(count, 3), np.zeros((1, 3))]),
            length_column=np.array([*self.lengths, -1], dtype=np.int64),
            along=np.vstack([np.array(self.alongs).reshape(count, 3), np.zeros((1, 3))]),
            points=_table(self._points, 3),
            distances=_table(self._distances, 0),
            projections=_table(self._projections, 3),
            terms=_table(self._terms, 0),
            angles=_table(self._angles, 3),
            extras=_table(self._extras, 0),
            observed=np.array(self._observed, dtype=float),
            sigma=np.array(self._sigma, dtype=float),
        )


def _table(rows: Sequence[tuple[Any, ...]], size: int) -> tuple[NDArray[Any], ...]:
    """Rows turned into columns; vectors become arrays (n, size)."""
    if not rows:
        return ()
    return tuple(
        np.array(column).reshape(len(rows), size) if isinstance(column[0], np.ndarray) else np.array(column)
        for column in zip(*rows, strict=True)
    )


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: the pattern of the matrix is kept in the instance
class Equations:
    """The rows as arrays. The last body is the machine frame, which does not move.

    `observed`, `sigma` (m,). `names` (n): of the unknowns, all zero for the machine as drawn.
    """

    names: tuple[str, ...]
    columns: Numbers
    centre: Array
    length_column: Numbers
    along: Array
    points: tuple[NDArray[Any], ...]
    distances: tuple[NDArray[Any], ...]
    projections: tuple[NDArray[Any], ...]
    terms: tuple[NDArray[Any], ...]
    angles: tuple[NDArray[Any], ...]
    extras: tuple[NDArray[Any], ...]
    observed: Array
    sigma: Array

    @property
    def rows(self) -> int:
        return len(self.observed)

    @property
    def unknowns(self) -> int:
        return len(self.names)

    def predict(self, x: Array) -> Array:
        """What each row should read if the unknowns were x: array (m,)."""
        return self._evaluate(x, want_rates=False)[0]

    def linearised(self, x: Array) -> tuple[Array, sparse.csr_matrix]:
        """What each row should read at x, and the matrix (m, n) of its rates of change there."""
        value, rates = self._evaluate(x, want_rates=True)
        matrix = sparse.csr_matrix((self.rows, self.unknowns))
        if len(rates):
            row, column, order, start = self._pattern
            data = np.add.reduceat(rates[self._kept][order], start)
            matrix = sparse.csr_matrix((data, (row, column)), shape=(self.rows, self.unknowns))
        return value, matrix

    # --- one evaluation

    def _evaluate(self, x: Array, *, want_rates: bool) -> tuple[Array, Array]:
        shift, turn, length = self._state(x)
        value = np.zeros(self.rows)
        rates: list[Array] = []
        place, arm, stretch = self._placed(shift, turn, length)
        if self.distances:
            row, one, other = self.distances
            way = place[one] - place[other]
            size = np.linalg.norm(way, axis=1)
            value[row] = size
            if want_rates:
                unit = way / np.maximum(size, 1e-12)[:, None]
                rates += [self._point_rates(one, unit, arm, stretch, turn)]
                rates += [self._point_rates(other, -unit, arm, stretch, turn)]
        if self.projections:
            row, direction, with_body = self.projections
            which, point, factor = self.terms
            ways = rotated(turn[with_body], direction)
            total = np.zeros((len(row), 3))
            for axis in range(3):
                total[:, axis] = np.bincount(which, factor * place[point, axis], minlength=len(row))
            value[row] += (total * ways).sum(axis=1)
            if want_rates:
                rates += [self._point_rates(point, ways[which] * factor[:, None], arm, stretch, turn)]
                rates += [(_cross(ways, total)[:, None, :] @ left_jacobian(turn[with_body]))[:, 0, :].ravel()]
        if self.angles:
            row, scale, one, one_way, other, other_way = self.angles
            a, b = rotated(turn[one], one_way), rotated(turn[other], other_way)
            value[row] += scale * (a * b).sum(axis=1)
            if want_rates:
                lever = scale[:, None] * _cross(a, b)
                rates += [(lever[:, None, :] @ left_jacobian(turn[one]))[:, 0, :].ravel()]
                rates += [(-lever[:, None, :] @ left_jacobian(turn[other]))[:, 0, :].ravel()]
        if self.extras:
            row, column, factor = self.extras
            value += np.bincount(row, factor * x[column], minlength=self.rows)
            if want_rates:
                rates += [factor]
        return value, np.concatenate(rates) if rates else np.zeros(0)

    def _state(self, x: Array) -> tuple[Array, Array, Array]:
        """Displacement and turn (b + 1, 3) and length error (b + 1,) of all bodies."""
        base = self.columns[:-1]
        moves = np.zeros((len(self.columns), 6))
        moves[:-1] = x[base[:, None] + np.arange(6)]
        length = np.where(self.length_column >= 0, x[np.maximum(self.length_column, 0)], 0.0)
        return moves[:, :3], moves[:, 3:], length

    def _placed(self, shift: Array, turn: Array, length: Array) -> tuple[Array, Array, Array]:
        """Places (p, 3) of all points, their turned arms, and how they go with the length error."""
        if not self.points:
            return np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3))
        body, offset, with_end = self.points
        half = 0.5 * with_end[:, None] * self.along[body]
        arm = rotated(turn[body], offset + half * length[body][:, None])
        stretch = rotated(turn[body], half)
        return self.centre[body] + shift[body] + arm, arm, stretch

    def _point_rates(self, point: Numbers, way: Array, arm: Array, stretch: Array, turn: Array) -> Array:
        """Seven rates for each pair of point and direction: displacement, turn, length error."""
        body = self.points[0][point]
        lever = (_cross(arm[point], way)[:, None, :] @ left_jacobian(turn[body]))[:, 0, :]
        return np.hstack([way, lever, (stretch[point] * way).sum(axis=1)[:, None]]).ravel()

    @cached_property
    def _places(self) -> tuple[Numbers, Numbers]:
        """Row and column of every rate, in the order in which `_evaluate` makes them; column −1: none."""
        rows: list[Numbers] = []
        columns: list[Numbers] = []

        def of_points(row: Numbers, point: Numbers) -> None:
            body = self.points[0][point]
            base = self.columns[body][:, None]
            six = np.where(base >= 0, base + np.arange(6), -1)
            seventh = np.where(self.points[2][point] != 0, self.length_column[body], -1)[:, None]
            columns.append(np.hstack([six, seventh]).ravel())
            rows.append(np.repeat(row, 7))

        def of_turns(row: Numbers, body: Numbers) -> None:
            base = self.columns[body][:, None]
            columns.append(np.where(base >= 0, base + np.arange(3, 6), -1).ravel())
            rows.append(np.repeat(row, 3))

        if self.distances:
            row, one, other = self.distances
            of_points(row, one)
            of_points(row, other)
        if self.projections:
            row, _, with_body = self.projections
            of_points(row[self.terms[0]], self.terms[1])
            of_turns(row, with_body)
        if self.angles:
            of_turns(self.angles[0], self.angles[2])
            of_turns(self.angles[0], self.angles[4])
        if self.extras:
            rows.append(self.extras[0])
            columns.append(self.extras[1])
        return np.concatenate(rows), np.concatenate(columns)

    @cached_property
    def _kept(self) -> NDArray[np.bool_]:
        kept: NDArray[np.bool_] = self._places[1] >= 0
        return kept

    @cached_property
    def _pattern(self) -> tuple[Numbers, Numbers, Numbers, Numbers]:
        """Row and column of each entry of the matrix, and how rates are gathered into it."""
        row, column = self._places[0][self._kept], self._places[1][self._kept]
        key = row * self.unknowns + column
        order = np.argsort(key, kind="stable")
        sorted_key = key[order]
        start = np.flatnonzero(np.r_[True, np.diff(sorted_key) > 0])
        first = sorted_key[start]
        return first // self.unknowns, first % self.unknowns, order, start


def rotated(turn: Array, vector: Array) -> Array:
    """Vectors (n, 3) turned by turn vectors (n, 3).

    Equation: v + sin θ/θ · w×v + (1 − cos θ)/θ² · w×(w×v). Source: Rodrigues' formula.
    """
    first, second, _ = _series(turn)
    once = _cross(turn, vector)
    result: Array = vector + first[:, None] * once + second[:, None] * _cross(turn, once)
    return result


def left_jacobian(turn: Array) -> Array:
    """Arrays (n, 3, 3): how a small change of the turn vector turns the turned body in the machine frame.

    Equation: I + (1 − cos θ)/θ² [w] + (θ − sin θ)/θ³ [w]². Source: left Jacobian of the rotation group,
    as in books on state estimation; checked here against differences.
    """
    _, second, third = _series(turn)
    cross = np.zeros((len(turn), 3, 3))
    cross[:, 0, 1], cross[:, 0, 2] = -turn[:, 2], turn[:, 1]
    cross[:, 1, 0], cross[:, 1, 2] = turn[:, 2], -turn[:, 0]
    cross[:, 2, 0], cross[:, 2, 1] = -turn[:, 1], turn[:, 0]
    result: Array = np.eye(3) + second[:, None, None] * cross + third[:, None, None] * (cross @ cross)
    return result


def _series(turn: Array) -> tuple[Array, Array, Array]:
    """sin θ/θ, (1 − cos θ)/θ², (θ − sin θ)/θ³; by their series where θ is small."""
    square = (turn**2).sum(axis=1)
    small = square < 1e-4
    safe = np.where(small, 1.0, square)
    angle = np.sqrt(safe)
    sine, cosine = np.sin(angle), np.cos(angle)
    first = np.where(small, 1 - square / 6 * (1 - square / 20 * (1 - square / 42)), sine / angle)
    second = np.where(small, 0.5 - square / 24 * (1 - square / 30), (1 - cosine) / safe)
    third = np.where(small, 1 / 6 - square / 120 * (1 - square / 42), (angle - sine) / (safe * angle))
    return first, second, third


def _cross(one: Array, other: Array) -> Array:
    """Cross products of vectors (n, 3); several times quicker than numpy's own."""
    a, b, c = one[:, 0], one[:, 1], one[:, 2]
    x, y, z = other[:, 0], other[:, 1], other[:, 2]
    return np.stack([b * z - c * y, c * x - a * z, a * y - b * x], axis=1)

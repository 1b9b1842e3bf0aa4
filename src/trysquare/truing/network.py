"""The adjustment: the unknowns that agree best with all readings and joints, and how sure they are.

Weighted least squares by Gauss–Newton steps. What nothing determines is found and named, never hidden by
a small number on the diagonal. Sources: JCGM 100:2008, H.3 (least squares and its covariance); Ghilani and
Wolf, Adjustment Computations (networks, redundancy); Baarda, A testing procedure for use in geodetic
networks, 1968 (redundancy numbers).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse
from scipy.linalg import lapack

from trysquare.ground.placement import Array
from trysquare.truing.equations import Equations

Flags = NDArray[np.bool_]
MOST_STEPS = 30
SETTLED = 1e-12  # a step below a millionth of a standard uncertainty changes nothing anybody could read
NEAR = 1e-1  # a step below a third of a standard uncertainty: the matrix changes no more
SAFE = 1e-12  # smallest squared pivot of the scaled normal matrix that leaves four digits of the covariance
DETERMINED = 1e-12  # smallest singular value, relative, that is more than rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """The shape that agrees best.

    `x` (n,): the unknowns; `covariance` (n, n), zero for those held fixed. `residual` (m,): observed less
    predicted. `matrix` (m, n): rates of change at x. `undetermined` (k, n): orthonormal directions in which
    the unknowns may go without any row noticing; along them x stays as it was at the start, and their
    covariance is left out. `chi_square`: Σ (residual/σ)²; `freedom`: rows less unknowns determined.
    """

    x: Array
    covariance: Array
    residual: Array
    matrix: sparse.csr_matrix
    sigma: Array
    undetermined: Array
    chi_square: float
    freedom: int
    steps: int
    settled: bool

    @property
    def unit_weight(self) -> float:
        """Standard deviation of unit weight after the adjustment; nan without freedom."""
        return float(np.sqrt(self.chi_square / self.freedom)) if self.freedom > 0 else float("nan")

    def uncertainty(self, rates: Array | sparse.csr_matrix) -> Array:
        """Standard uncertainties (k,) of functions with these rates of change (k, n)."""
        dense = _dense(rates)
        spread: Array = np.sqrt(np.maximum(((dense @ self.covariance) * dense).sum(axis=1), 0.0))
        return spread

    def determines(self, rates: Array | sparse.csr_matrix) -> Flags:
        """Which functions with these rates (k, n) are the same along all undetermined directions."""
        dense = _dense(rates)
        if not len(self.undetermined):
            return np.ones(len(dense), dtype=bool)
        size = np.maximum(np.abs(dense).max(axis=1), 1e-300)
        flags: Flags = np.abs(dense @ self.undetermined.T).max(axis=1) < 1e-6 * size
        return flags

    def redundancy(self, rows: NDArray[np.int64]) -> Array:
        """For each row the share of its error that shows in its own residual, 0 to 1."""
        chosen = self.matrix[rows]
        carried = np.asarray(chosen.multiply(chosen @ self.covariance).sum(axis=1)).ravel()
        share: Array = np.clip(1 - carried / self.sigma[rows] ** 2, 0.0, 1.0)
        return share


def _dense(rates: Array | sparse.csr_matrix) -> Array:
    dense: Array = rates if isinstance(rates, np.ndarray) else rates.toarray()
    return np.atleast_2d(dense)


def adjust(
    equations: Equations,
    *,
    held: Flags | None = None,
    start: Array | None = None,
    used: Flags | None = None,
) -> Adjustment:
    """Solves the equations. `held` (n,): unknowns that stay as they are at the start (all zero unless said).
    `used` (m,): rows that count; the others still get a residual.
    """
    free = np.ones(equations.unknowns, dtype=bool) if held is None else ~held
    x = np.zeros(equations.unknowns) if start is None else start.astype(float).copy()
    weight = 1 / equations.sigma
    if used is not None:
        weight = np.where(used, weight, 0.0)
    settled, steps = False, 0
    value, matrix = equations.linearised(x)
    solved = _Solved()
    while not settled and steps < MOST_STEPS:
        steps += 1
        scaled = matrix.multiply(weight[:, None]).tocsr()
        scaled = scaled if free.all() else scaled[:, free]
        wanted = weight * (equations.observed - value)
        # near the answer the last factor serves again: only the rows themselves must be exact
        near = steps > 1 and solved.factor is not None and solved.moved < NEAR
        solved = _step_again(solved, scaled, wanted) if near else _solve(scaled, wanted)
        x[free] += solved.step
        value, matrix = equations.linearised(x)
        settled = solved.moved < SETTLED
    undetermined = _spread(solved.loose, free) if len(solved.loose) else np.zeros((0, equations.unknowns))
    covariance = _full(solved.whole_inverse(), free)
    residual = equations.observed - value
    counted = weight > 0
    return Adjustment(
        x=x,
        covariance=covariance,
        residual=residual,
        matrix=matrix,
        sigma=equations.sigma,
        undetermined=undetermined,
        chi_square=float(((weight * residual)[counted] ** 2).sum()),
        freedom=int(counted.sum()) - int(free.sum()) + len(undetermined),
        steps=steps,
        settled=settled,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """One step. `moved`: its size in standard uncertainties, squared. Of the normal matrix either the
    Cholesky factor of its scaled form with the columns' sizes, or its inverse. `loose` (k, n): see
    `Adjustment.undetermined`."""

    step: Array = field(default_factory=lambda: np.zeros(0))
    moved: float = 0.0
    factor: Array | None = None
    size: Array = field(default_factory=lambda: np.zeros(0))
    inverse: Array = field(default_factory=lambda: np.zeros((0, 0)))
    loose: Array = field(default_factory=lambda: np.zeros((0, 0)))

    def whole_inverse(self) -> Array:
        """The inverse of the normal matrix (n, n)."""
        if self.factor is None:
            return self.inverse
        inverse, _ = lapack.dpotri(self.factor, lower=1)
        lower = np.tril(inverse)
        whole: Array = (lower + np.tril(inverse, -1).T) / np.outer(self.size, self.size)
        return whole


def _solve(scaled: sparse.csr_matrix, wanted: Array) -> _Solved:
    """The step that the rows want, each already divided by its uncertainty."""
    normal = (scaled.T @ scaled).toarray()
    right = np.asarray(scaled.T @ wanted).ravel()
    size = np.sqrt(np.diagonal(normal))
    if len(right) and size.all():
        even = normal / np.outer(size, size)
        factor, info = lapack.dpotrf(even, lower=1, clean=0)
        if info == 0 and float(np.diagonal(factor).min()) ** 2 > SAFE:
            solution, _ = lapack.dpotrs(factor, right / size, lower=1)
            moved = float(solution @ (right / size))
            return _Solved(step=solution / size, moved=moved, factor=factor, size=size)
    return _solve_carefully(scaled, wanted)


def _step_again(solved: _Solved, scaled: sparse.csr_matrix, wanted: Array) -> _Solved:
    """A further step by a factor that is at hand."""
    right = np.asarray(scaled.T @ wanted).ravel() / solved.size
    solution, _ = lapack.dpotrs(solved.factor, right, lower=1)
    return replace(solved, step=solution / solved.size, moved=float(solution @ right))


def _solve_carefully(scaled: sparse.csr_matrix, wanted: Array) -> _Solved:
    """The same by singular values: slower, twice as many digits, and it sees what nothing determines."""
    dense = scaled.toarray()
    size = np.linalg.norm(dense, axis=0)
    size[size == 0] = 1.0
    left, values, right = linalg.svd(dense / size, full_matrices=False)
    if len(values) < dense.shape[1]:  # fewer rows than unknowns
        right = linalg.svd(dense / size, full_matrices=True)[2]
        values = np.r_[values, np.zeros(dense.shape[1] - len(values))]
        left = np.hstack([left, np.zeros((len(dense), dense.shape[1] - left.shape[1]))])
    good = values > DETERMINED * max(float(values.max(initial=0.0)), 1e-300)
    half = right[good].T / values[good]
    along = left[:, good].T @ wanted
    loose = right[~good].T / size[:, None]
    return _Solved(
        step=(half @ along) / size,
        moved=float(along @ along),
        inverse=(half @ half.T) / np.outer(size, size),
        loose=linalg.orth(loose).T if loose.size else loose.T,
    )


def _full(inverse: Array, free: Flags) -> Array:
    if free.all():
        return inverse
    covariance = np.zeros((len(free), len(free)))
    covariance[np.ix_(free, free)] = inverse
    return covariance


def _spread(loose: Array, free: Flags) -> Array:
    wide = np.zeros((len(loose), len(free)))
    wide[:, free] = loose
    return wide

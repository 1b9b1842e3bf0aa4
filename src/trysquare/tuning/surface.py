"""A bed's measured heights: its plane, what each screw must turn, what remains, what is dirt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.stats import t as student

from trysquare.tuning.values import Measured

Points = NDArray[np.float64]

# A reading this many robust deviations off its neighbours' surface is dirt. Common practice, no source.
DIRT_DEVIATIONS = 4.5
# More for few points, so that of clean maps one in fifty at the most has "dirt". By our own simulation.
FEW_POINTS = 12.0
# With fewer points than this a whole surface of second order would take dirt for shape.
SHAPE_POINTS, LEAST_FOR_DIRT = 16, 8
# A clean map of few points has "dirt" as seldom as this.
FALSE_DIRT = 0.01
# Noise below this is not dirt, whatever the rest: the last digit of a good probe.
LEAST_DIRT_MM = 0.02
# No map is read finer than this: the step of a good probe.
LEAST_NOISE_MM = 0.001
# The share of a screw's turn that a person gets right in one round. Common practice, no source.
TURN_ERROR = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Heights z = level + slope_x · x + slope_y · y in millimetres."""

    level_mm: float
    slope_x: float
    slope_y: float

    def height_mm(self, x_mm: float, y_mm: float) -> float:
        return self.level_mm + self.slope_x * x_mm + self.slope_y * y_mm

    def off_mm(self, points_mm: Points) -> NDArray[np.float64]:
        """How far each point, shape (n, 3), stands over the plane, square to it; shape (n,)."""
        x, y, z = points_mm.T
        over = z - self.level_mm - self.slope_x * x - self.slope_y * y
        return np.asarray(over / np.sqrt(1 + self.slope_x**2 + self.slope_y**2), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw:
    """An adjusting screw of the bed. `right_hand`: turned clockwise, seen from above, it lowers the bed.

    A locked screw is not turned: the others come to it.
    """

    name: str
    x_mm: float
    y_mm: float
    pitch_mm: float
    right_hand: bool = True
    locked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What to do with one screw. `lift_mm` > 0 raises the bed there; `turns` > 0 is clockwise from above."""

    screw: str
    lift_mm: float
    turns: float
    lift_standard_uncertainty_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A bed as measured. Flatness is the height between two planes that hold all good points.

    `dirt` are indices into the points as given, `bow_mm` the height of a bowl or dome over the bed's diagonal
    (> 0: the middle stands high), `rounds` how often to turn and measure until it is within the limit.
    """

    plane: Plane
    noise_mm: float
    flatness_least_squares_mm: float
    flatness_minimum_zone_mm: float
    tilt_span_mm: float
    bow_mm: float
    dirt: tuple[int, ...]
    turns: tuple[Turn, ...]
    rounds: int


def fit_plane(points_mm: Points) -> Plane:
    """The plane of least squared distances, square to itself; points shape (n, 3), n ≥ 3, not on one line.

    Source: ISO 12781-1:2011, least squares reference plane (LSPL); by the smallest singular vector.
    """
    _checked(points_mm, 3)
    middle = points_mm.mean(axis=0)
    _, sizes, axes = np.linalg.svd(points_mm - middle, full_matrices=False)
    if sizes[1] < 1e-9 * max(sizes[0], 1e-300):
        raise ValueError("the points lie on one line")
    normal = axes[2]
    if abs(normal[2]) < 1e-9:
        raise ValueError("the plane of the points stands upright")
    slope_x, slope_y = -normal[0] / normal[2], -normal[1] / normal[2]
    return Plane(
        level_mm=float(middle[2] - slope_x * middle[0] - slope_y * middle[1]),
        slope_x=float(slope_x),
        slope_y=float(slope_y),
    )


def minimum_zone_mm(points_mm: Points) -> float:
    """The least distance of two parallel planes that hold all points, shape (n, 3), n ≥ 4.

    A linear programme in coordinates that are laid along the plane found before, until it stays.
    Source: ISO 1101:2017 and ISO 12781-1:2011, minimum zone reference planes (MZPL).
    """
    _checked(points_mm, 4)
    plane = fit_plane(points_mm)
    zone = np.inf
    for _ in range(12):
        along = _along(plane, points_mm)
        x, y, z = along.T
        ones = np.ones_like(x)
        # Unknown: two slopes, a level and half the zone; z − plane within ± half.
        above = np.stack([-x, -y, -ones, -ones], axis=1)
        below = np.stack([x, y, ones, -ones], axis=1)
        found = linprog(
            [0, 0, 0, 1],
            np.vstack([above, below]),
            np.concatenate([-z, z]),
            bounds=[(None, None)] * 3 + [(0, None)],
        )
        if found.x is None:
            break
        tilt_x, tilt_y = float(found.x[0]), float(found.x[1])
        zone = min(zone, 2 * float(found.x[3]) / float(np.sqrt(1 + tilt_x**2 + tilt_y**2)))
        if abs(tilt_x) + abs(tilt_y) < 1e-10:
            break
        plane = _turned(plane, tilt_x, tilt_y)
    return zone


def _axes(plane: Plane) -> NDArray[np.float64]:
    """Rows: two directions in the plane and its normal."""
    along_x = np.array([1.0, 0.0, plane.slope_x])
    along_x /= np.linalg.norm(along_x)
    normal = np.array([-plane.slope_x, -plane.slope_y, 1.0])
    normal /= np.linalg.norm(normal)
    return np.stack([along_x, np.cross(normal, along_x), normal])


def _along(plane: Plane, points_mm: Points) -> Points:
    middle = points_mm.mean(axis=0)
    return np.asarray((points_mm - middle) @ _axes(plane).T, dtype=np.float64)


def _turned(plane: Plane, tilt_x: float, tilt_y: float) -> Plane:
    normal = np.array([-tilt_x, -tilt_y, 1.0]) @ _axes(plane)
    return Plane(
        level_mm=plane.level_mm, slope_x=float(-normal[0] / normal[2]), slope_y=float(-normal[1] / normal[2])
    )


def look_at_surface(
    points_mm: Points, screws: Sequence[Screw], *, limit_mm: float = 0.1, probe_mm: float = 0.01
) -> Surface:
    """What a map of heights says. `limit_mm` is what the good points may span after turning the screws.

    points_mm: shape (n, 3), n ≥ 4, x y z; z is the height of the bed. `probe_mm` is the probe's own standard
    deviation, used where the map is too small to tell its noise.
    """
    _checked(points_mm, 4)
    good = _clean(points_mm)
    kept = points_mm[good]
    plane = fit_plane(kept)
    off = plane.off_mm(kept)
    bow, noise = _bow(kept, probe_mm)
    zone = minimum_zone_mm(kept)
    turns = _turns(kept, plane, screws, noise)
    x, y, _ = kept.T
    tilt = float(np.ptp(plane.slope_x * x + plane.slope_y * y))
    return Surface(
        plane=plane,
        noise_mm=noise,
        flatness_least_squares_mm=float(np.ptp(off)),
        flatness_minimum_zone_mm=zone,
        tilt_span_mm=tilt,
        bow_mm=bow,
        dirt=tuple(int(index) for index in np.flatnonzero(~good)),
        turns=turns,
        rounds=_rounds(tilt, float(np.ptp(off)), limit_mm),
    )


def _checked(points_mm: Points, least: int) -> None:
    if points_mm.ndim != 2 or points_mm.shape[1] != 3 or len(points_mm) < least:
        raise ValueError(f"points of shape {points_mm.shape}; expected (n, 3) with n ≥ {least}")
    if not np.isfinite(points_mm).all():
        raise ValueError("a point is not a number")


def _clean(points_mm: Points) -> NDArray[np.bool_]:
    """Which points are the bed and not dirt on it: off a surface of second order, by robust deviations.

    Reweighted least squares with Tukey's weight; the scale is the median deviation × 1.4826.
    Source: P. J. Huber, Robust Statistics (1981), from memory.
    """
    if len(points_mm) < SHAPE_POINTS:
        return _clean_of_few(points_mm)
    x, y, z = _scaled(points_mm)
    design = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    # Few points tell their own scatter badly: then only what lies far off is dirt.
    deviations = DIRT_DEVIATIONS * (1 + FEW_POINTS / (len(z) - design.shape[1]))
    weight = np.ones_like(z)
    rest = z - np.median(z)
    for _ in range(20):
        root = np.sqrt(weight)
        answer = np.linalg.lstsq(design * root[:, None], z * root, rcond=None)[0]
        rest = z - design @ answer
        scale = max(1.4826 * float(np.median(np.abs(rest))), LEAST_DIRT_MM / deviations)
        fresh = np.clip(1 - (rest / (deviations * scale)) ** 2, 0, None) ** 2
        if np.abs(fresh - weight).max() < 1e-6:
            break
        weight = fresh
    good = np.abs(rest) < deviations * scale
    # Half the map cannot be dirt: then it is a bent bed, and all counts.
    return good if good.sum() >= max(4, 0.6 * len(z)) else np.ones(len(z), dtype=bool)


def _clean_of_few(points_mm: Points) -> NDArray[np.bool_]:
    """The same for few points: each is held against the tilted dome that the others make, the worst first.

    By the residual over its deviation without that point, against Student's t shared among all points.
    Source: R. D. Cook and S. Weisberg, Residuals and Influence in Regression (1982), 2.2.2, from memory.
    """
    x, y, z = _scaled(points_mm)
    design = np.stack([np.ones_like(x), x, y, x * x + y * y], axis=1)
    good = np.ones(len(z), dtype=bool)
    while good.sum() >= max(LEAST_FOR_DIRT, 0.8 * len(z)):
        part, kept = design[good], np.flatnonzero(good)
        if np.linalg.matrix_rank(part) < part.shape[1]:
            break
        freedom = len(kept) - part.shape[1] - 1
        hat = part @ np.linalg.pinv(part)
        free = np.maximum(1 - np.diag(hat), 1e-9)
        rest = z[good] - hat @ z[good]
        without = np.maximum((rest @ rest - rest**2 / free) / freedom, LEAST_NOISE_MM**2)
        score = np.abs(rest) / np.sqrt(without * free)
        worst = int(np.argmax(score))
        wanted = float(student.ppf(1 - FALSE_DIRT / (2 * len(kept)), freedom))
        # A place that carries its own height alone cannot be told from dirt, nor dirt from it.
        if score[worst] < wanted or abs(rest[worst]) / free[worst] < LEAST_DIRT_MM or free[worst] < 0.05:
            break
        good[kept[worst]] = False
    return good


def _scaled(points_mm: Points) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    x, y, z = points_mm.T
    return (x - x.mean()) / max(np.ptp(x) / 2, 1e-9), (y - y.mean()) / max(np.ptp(y) / 2, 1e-9), z


def dome_mm(points_mm: Points, noise_mm: float) -> Measured:
    """The height of a bowl or dome over the points, shape (n, 3), n ≥ 9 (> 0: the middle stands high).

    Zero with the noise as its uncertainty where the places cannot tell a second order.
    Its uncertainty is by the normal equations. Source: JCGM 100:2008, H.3.
    """
    design, off = _second_order(points_mm)
    if np.linalg.matrix_rank(design) < 6:
        return Measured(value=0.0, standard_uncertainty=noise_mm, unit="mm", basis="places too few")
    answer = np.linalg.lstsq(design, off, rcond=None)[0]
    covariance = np.linalg.inv(design.T @ design) * noise_mm**2
    both = np.array([0, 0, 0, 1.0, 0, 1.0])
    return Measured(
        value=float(-both @ answer), standard_uncertainty=float(np.sqrt(both @ covariance @ both)), unit="mm",
        basis="surface of second order",
    )  # fmt: skip


def _second_order(points_mm: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The design of a surface of second order over the scaled places, and the heights over the plane."""
    x, y, _ = _scaled(points_mm)
    off = fit_plane(points_mm).off_mm(points_mm)
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1), off


def _bow(kept: Points, probe_mm: float) -> tuple[float, float]:
    """The dome's height, and the noise that a surface of second order leaves."""
    if len(kept) < 9:
        return 0.0, probe_mm
    design, off = _second_order(kept)
    answer, _, rank, _ = np.linalg.lstsq(design, off, rcond=None)
    if rank < 6:
        return 0.0, probe_mm
    rest = off - design @ answer
    # Nine points leave three degrees of freedom: too few to believe less noise than the probe has.
    noise = float(np.sqrt(np.square(rest).sum() / max(1, len(off) - 6)))
    return float(-(answer[3] + answer[5])), max(noise, probe_mm if len(off) < 16 else LEAST_NOISE_MM)


def _turns(kept: Points, plane: Plane, screws: Sequence[Screw], noise_mm: float) -> tuple[Turn, ...]:
    """Lifts that bring the plane level: to the locked screw's height, else to the screws' mean.

    The uncertainty of a height of the plane is by its normal equations. Source: JCGM 100:2008, H.3.
    """
    if not screws:
        return ()
    x, y, _ = kept.T
    design = np.stack([np.ones_like(x), x, y], axis=1)
    covariance = np.linalg.inv(design.T @ design) * noise_mm**2
    heights = {screw.name: plane.height_mm(screw.x_mm, screw.y_mm) for screw in screws}
    locked = [screw for screw in screws if screw.locked]
    base = locked or list(screws)
    target = sum(heights[screw.name] for screw in base) / len(base)
    mean_at = np.mean([[1.0, screw.x_mm, screw.y_mm] for screw in base], axis=0)
    turns = []
    for screw in screws:
        at = np.array([1.0, screw.x_mm, screw.y_mm]) - mean_at
        lift = 0.0 if screw.locked else target - heights[screw.name]
        down = 1.0 if screw.right_hand else -1.0
        turns.append(
            Turn(
                screw=screw.name,
                lift_mm=lift,
                turns=-lift * down / screw.pitch_mm,
                lift_standard_uncertainty_mm=float(np.sqrt(max(0.0, at @ covariance @ at))),
            )
        )
    return tuple(turns)


def _rounds(tilt_mm: float, flatness_mm: float, limit_mm: float) -> int:
    """Rounds of turning and measuring until tilt and flatness together are within the limit; 0: done.

    Each round leaves TURN_ERROR of the tilt. −1: never, for the bed itself is not flat enough.
    """
    if flatness_mm >= limit_mm:
        return 0 if tilt_mm < 1e-3 else -1
    rounds = 0
    while tilt_mm + flatness_mm > limit_mm and rounds < 20:
        tilt_mm *= TURN_ERROR
        rounds += 1
    return rounds

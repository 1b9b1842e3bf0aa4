"""Skew and scale of the finished machine from a test piece, shrinkage told apart where it can be."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.values import Measured

AXES = ("x", "y", "z")
PLANES = ("xy", "xz", "yz")


class Side(StrEnum):
    """Between which faces a length was read: what a line too wide adds to it."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    SAME = "same"  # from a face to a face that looks the same way, or from centre to centre

    @property
    def width_sign(self) -> int:
        return {Side.OUTSIDE: 1, Side.INSIDE: -1, Side.SAME: 0}[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """One reading of a test piece along a direction of the machine.

    `run_mm` are the nominal differences in x, y and z of its two ends; their root of squares is the nominal
    length. A side of the piece has one that is not nought, a diagonal two.
    """

    run_mm: tuple[float, float, float]
    measured_mm: float
    half_width_mm: float
    side: Side = Side.SAME

    def __post_init__(self) -> None:
        if not (self.measured_mm > 0 and self.half_width_mm > 0 and self.nominal_mm > 0):
            raise ValueError(f"no length: {self.measured_mm!r} of {self.run_mm!r}, ± {self.half_width_mm!r}")

    @property
    def nominal_mm(self) -> float:
        return math.sqrt(sum(one * one for one in self.run_mm))

    @property
    def width_share(self) -> float:
        """What a line too wide by 1 mm adds: lines grow level, so upright nothing, on a slope the cosine."""
        x, y, _ = self.run_mm
        return self.side.width_sign * math.hypot(x, y) / self.nominal_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Skew:
    """What a test piece says.

    `skew` in radian for each plane that was read: > 0 when the angle between the axes' positive sides is less
    than a right one. `scale` is measured over nominal for each axis read, the material's shrinkage in
    it unless `shrinkage` is given: then it is the machine's own. `width_mm` is what wide lines add outside.
    `x_over_y` is the difference of their scales, whose errors go together; None unless both were read.
    `together` says that shrinkage and scale could not be told apart. `rest_mm` is what the readings miss the
    answer by, shape (n,). `correction` is the 3 × 3 matrix that a wished move is multiplied with so that the
    machine makes it true: rows and columns x y z.
    """

    skew: Mapping[str, Measured]
    scale: Mapping[str, Measured]
    shrinkage: Measured | None
    width_mm: Measured | None
    x_over_y: Measured | None
    together: bool
    rest_mm: NDArray[np.float64]
    correction: NDArray[np.float64]
    missing: tuple[str, ...]


def skew_of_diagonals_rad(side_1_mm: float, side_2_mm: float, long_mm: float, short_mm: float) -> float:
    """Skew of one face by its two diagonals: sin γ = (AC² − BD²) / (4 · AB · AD).

    Source: Euclid, Elements, II.12 and II.13, applied to the two diagonals of a parallelogram.
    """
    return math.asin((long_mm**2 - short_mm**2) / (4 * side_1_mm * side_2_mm))


def read_piece(lengths: Sequence[Length], own_scale: Mapping[str, Measured] | None = None) -> Skew:
    """Skews, scales, line width and shrinkage from readings by weighted least squares; ValueError for none.

    Equation: a run (x, y, z) becomes the length |M · run| (1 + k) + w, with scales and skews in M's upper
    triangle; linear for small ones: nominal + Σ s_i run_i² / n + Σ γ_ij run_i run_j / n + k n + w level / n.
    `own_scale` are scales of the machine itself, measured with a dial or a rule: with one of them shrinkage
    is told apart. What no reading tells is in `missing` and stays out; nothing is made up.
    Source: the length of a vector after a small strain, any text on mechanics of materials.
    """
    if not lengths:
        raise ValueError("no readings")
    own_scale = own_scale or {}
    names = [*AXES, *PLANES, "shrinkage", "width"]
    design, right, weight = _rows(lengths, own_scale)
    known, together = _estimable(design, names, bool(own_scale))
    columns = [names.index(name) for name in known]
    reduced = design[:, columns] * weight[:, None]
    inverse = np.linalg.pinv(reduced, rcond=1e-9)
    answer, covariance = inverse @ (right * weight), inverse @ inverse.T
    # An unknown is told when it is a sum of readings: two diagonals alone tell the skew and no scale.
    blind = np.linalg.norm(np.eye(len(columns)) - inverse @ reduced, axis=1) > 1e-6
    if blind.all():
        raise ValueError("the readings do not tell the piece's shape: read both diagonals and both sides")
    rest = (right - design[:, columns] @ answer)[: len(lengths)]
    freedom = len(right) - int(np.linalg.matrix_rank(reduced, tol=1e-6))
    chi = float(np.square((right - design[:, columns] @ answer) * weight).sum())
    # Readings that agree better than their instruments promise are luck; those that agree worse are not.
    factor = max(1.0, chi / freedom) if freedom > 0 else 1.0
    found = {
        name: Measured(
            value=float(answer[i]),
            standard_uncertainty=math.sqrt(float(covariance[i, i]) * factor),
            unit="",
            basis=f"{len(lengths)} readings",
        )
        for i, name in enumerate(known)
        if not blind[i]
    }
    scale = {axis: _one_more(found[axis]) for axis in AXES if axis in found}
    skew = {plane: found[plane] for plane in PLANES if plane in found}
    return Skew(
        skew=skew,
        scale=scale,
        shrinkage=found.get("shrinkage"),
        width_mm=found.get("width"),
        x_over_y=_x_over_y(known, answer, covariance * factor) if {"x", "y"} <= set(found) else None,
        together=together,
        rest_mm=rest,
        correction=_correction(scale, skew),
        missing=tuple(name for name in (*AXES, *PLANES) if name not in found),
    )


def _x_over_y(
    known: Sequence[str], answer: NDArray[np.floating], covariance: NDArray[np.floating]
) -> Measured:
    row = np.array([(name == "x") - float(name == "y") for name in known])
    variance = float(row @ covariance @ row)
    return Measured(value=float(row @ answer), standard_uncertainty=math.sqrt(max(0.0, variance)), unit="")


def _rows(
    lengths: Sequence[Length], own_scale: Mapping[str, Measured]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Design (n, 8), right side and weights: readings, then the scales known otherwise."""
    rows, right, weight = [], [], []
    for one in lengths:
        x, y, z = one.run_mm
        n = one.nominal_mm
        rows.append([x * x / n, y * y / n, z * z / n, x * y / n, x * z / n, y * z / n, n, one.width_share])
        right.append(one.measured_mm - n)
        weight.append(math.sqrt(3) / one.half_width_mm)  # JCGM 100:2008, 4.3.7: a reading within ± half width
    for axis, known in own_scale.items():
        row = [0.0] * 8
        row[AXES.index(axis)] = 1.0
        rows.append(row)
        right.append(known.value - 1)
        weight.append(1 / max(known.standard_uncertainty, 1e-9))
    return np.array(rows, dtype=np.float64), np.array(right), np.array(weight)


def _estimable(design: NDArray[np.float64], names: Sequence[str], own: bool) -> tuple[list[str], bool]:
    """The unknowns that the readings tell, and whether shrinkage hides in the scales.

    Shrinkage is the same in every direction, as equal scales are: only a scale known otherwise parts them.
    """
    kept = [name for i, name in enumerate(names) if np.abs(design[:, i]).max() > 1e-12]
    together = not own
    if together and "shrinkage" in kept:
        kept.remove("shrinkage")
    # A width that every reading has alike, and nothing else tells, cannot be parted from the scales either.
    for name in ("width", "shrinkage"):
        columns = [names.index(one) for one in kept]
        scaled = design[:, columns] / np.maximum(np.abs(design[:, columns]).max(axis=0), 1e-12)
        if name in kept and np.linalg.matrix_rank(scaled, tol=1e-8) < len(columns):
            kept.remove(name)
    return kept, together


def _one_more(part: Measured) -> Measured:
    return Measured(
        value=1 + part.value, standard_uncertainty=part.standard_uncertainty, unit="", basis=part.basis
    )


def _correction(scale: Mapping[str, Measured], skew: Mapping[str, Measured]) -> NDArray[np.float64]:
    """The inverse of what the machine does to a wished move; what was not read is taken as true."""
    made = np.eye(3)
    for i, axis in enumerate(AXES):
        if axis in scale:
            made[i, i] = scale[axis].value
    for plane, angle in skew.items():
        i, j = AXES.index(plane[0]), AXES.index(plane[1])
        made[i, j] = angle.value
    return np.asarray(np.linalg.inv(made), dtype=np.float64)

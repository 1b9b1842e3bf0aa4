"""The correction of skew and scale in neutral form: a matrix that a wished move is multiplied with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.report import TOLD, Part, Table
from trysquare.tuning.skew import AXES, PLANES, Skew


def matrix_part(found: Skew) -> Part:
    """The correction in neutral form: scales stay out of it where shrinkage may hide in them."""
    matrix = _skew_only(found) if found.together else found.correction
    notes = ["What was not read counts as true."]
    if found.together:
        notes.append("Scales are left out of it: shrinkage may hide in them.")
    missing = [name for name in found.missing if name in PLANES]
    if missing:
        notes.append(f"Not read: {', '.join(missing)}. The piece: --piece OUT.stl --plane {missing[0]}.")
    return Part(
        of="skew-correction",
        title="Correction in numbers",
        verdict=TOLD,
        says=("This matrix times the wished move (x, y, z) is the move to command.",),
        tables=(
            Table(
                title="Correction matrix",
                columns=("", "x wished", "y wished", "z wished"),
                rows=tuple(
                    (f"{axis} to command", *(f"{value:+.6f}" for value in row))
                    for axis, row in zip(AXES, matrix.tolist(), strict=True)
                ),
                right=frozenset({1, 2, 3}),
            ),
        ),
        notes=tuple(notes),
        data={
            "matrix": [[round(value, 9) for value in row] for row in matrix.tolist()],
            "scales_are_in_it": not found.together,
            "not_read": list(found.missing),
        },
    )


def _skew_only(found: Skew) -> NDArray[np.float64]:
    made = np.eye(3)
    for plane, angle in found.skew.items():
        made[AXES.index(plane[0]), AXES.index(plane[1])] = angle.value
    return np.asarray(np.linalg.inv(made), dtype=np.float64)

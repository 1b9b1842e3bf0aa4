"""Test pieces made by a machine with known faults: what is read gives the faults back."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trysquare.tuning.skew import Length, Side, read_piece, skew_of_diagonals_rad
from trysquare.tuning.values import Measured


def made(
    run: tuple[float, float, float], machine: np.ndarray, shrink: float, width: float, side: Side
) -> float:
    level = math.hypot(run[0], run[1]) / math.hypot(*run)  # lines grow level, never upright
    return float(np.linalg.norm(machine @ np.array(run))) * (1 + shrink) + width * side.width_sign * level


def piece(machine: np.ndarray, shrink: float = 0.0, width: float = 0.0, noise: float = 0.0) -> list[Length]:
    random = np.random.default_rng(3)
    runs = []
    for i, j in ((0, 1), (0, 2), (1, 2)):
        for one, two in ((100.0, 0.0), (0.0, 100.0), (100.0, 100.0), (100.0, -100.0)):
            run = [0.0, 0.0, 0.0]
            run[i], run[j] = one, two
            runs.append((tuple(run), Side.OUTSIDE))
            runs.append((tuple(run), Side.INSIDE))
    return [
        Length(
            run_mm=run,  # type: ignore[arg-type]
            measured_mm=made(run, machine, shrink, width, side) + noise * random.standard_normal(),  # type: ignore[arg-type]
            half_width_mm=0.03,
            side=side,
        )
        for run, side in runs
    ]


MACHINE = np.array([[1.002, 0.0015, -0.0008], [0, 0.999, 0.0005], [0, 0, 1.001]])


def test_the_faults_of_a_machine_are_found_again() -> None:
    found = read_piece(piece(MACHINE, width=0.08))
    # Small strains are linear to their squares: some millionths.
    assert found.skew["xy"].value == pytest.approx(0.0015, abs=5e-6)
    assert found.skew["xz"].value == pytest.approx(-0.0008, abs=5e-6)
    assert found.scale["y"].value == pytest.approx(0.999, abs=5e-6)
    assert found.width_mm is not None
    assert found.width_mm.value == pytest.approx(0.08, abs=1e-3)


def test_the_correction_undoes_what_the_machine_does() -> None:
    found = read_piece(piece(MACHINE))
    assert MACHINE @ found.correction == pytest.approx(np.eye(3), abs=1e-5)


def test_shrinkage_without_a_scale_known_otherwise_is_not_told_apart() -> None:
    found = read_piece(piece(np.eye(3), shrink=-0.004))
    assert found.together
    assert found.shrinkage is None
    assert found.scale["x"].value == pytest.approx(0.996, abs=1e-5)


def test_shrinkage_is_told_apart_by_a_scale_known_otherwise() -> None:
    known = {"x": Measured(value=1.002, standard_uncertainty=1e-5, unit="")}
    found = read_piece(piece(MACHINE, shrink=-0.004), known)
    assert found.shrinkage is not None
    assert found.shrinkage.value == pytest.approx(-0.004, abs=2e-5)
    assert found.scale["z"].value == pytest.approx(1.001, abs=2e-5)


def test_a_skew_is_not_taken_for_a_scale_by_two_diagonals() -> None:
    # Source: Euclid II.12 and II.13: sin γ = (AC² − BD²) / (4 · AB · AD)
    sheared = np.array([[1, 0.002, 0], [0, 1, 0], [0, 0, 1]])
    found = read_piece(piece(sheared))
    long, short = (made((100, sign * 100, 0), sheared, 0, 0, Side.SAME) for sign in (1, -1))
    side = made((0, 100, 0), sheared, 0, 0, Side.SAME)
    assert found.skew["xy"].value == pytest.approx(skew_of_diagonals_rad(100, side, long, short), abs=5e-6)
    assert found.scale["x"].value == pytest.approx(1, abs=5e-6)


def test_diagonals_read_with_a_caliper_know_the_skew_to_a_fiftieth_in_a_hundred() -> None:
    # common practice, no source: a 150 mm piece read with a caliper, ± 0.03 mm, gives ± 0.02 mm in 100 mm
    runs = [(106.0, 106.0, 0.0), (106.0, -106.0, 0.0), (106.0, 0.0, 0.0), (0.0, 106.0, 0.0)]
    found = read_piece([Length(run_mm=run, measured_mm=math.hypot(*run), half_width_mm=0.03) for run in runs])
    assert 0.01 < 100 * found.skew["xy"].standard_uncertainty < 0.02


def test_a_plane_that_was_not_read_stays_out_of_the_answer() -> None:
    runs = [(100.0, 100.0, 0.0), (100.0, -100.0, 0.0), (100.0, 0.0, 0.0), (0.0, 100.0, 0.0)]
    found = read_piece([Length(run_mm=run, measured_mm=math.hypot(*run), half_width_mm=0.03) for run in runs])
    assert found.missing == ("z", "xz", "yz")


def test_two_diagonals_alone_tell_the_skew_and_no_scale() -> None:
    # Source: Euclid II.12 and II.13: (141.55² − 141.29²) / (4 · 100 · 100)
    nominal = 100 * math.sqrt(2)
    runs = {(100.0, 100.0, 0.0): 141.55, (100.0, -100.0, 0.0): 141.29}
    found = read_piece([Length(run_mm=run, measured_mm=one, half_width_mm=0.03) for run, one in runs.items()])
    assert found.skew["xy"].value == pytest.approx(skew_of_diagonals_rad(100, 100, 141.55, 141.29), abs=2e-6)
    assert found.skew["xy"].standard_uncertainty == pytest.approx(
        0.03 / math.sqrt(3) * math.sqrt(2) / nominal
    )
    assert not found.scale
    assert found.x_over_y is None


def test_one_length_alone_tells_nothing() -> None:
    with pytest.raises(ValueError, match="do not tell"):
        read_piece([Length(run_mm=(100.0, 100.0, 0.0), measured_mm=141.4, half_width_mm=0.03)])


def test_the_uncertainty_holds_the_truth() -> None:
    lengths = piece(MACHINE, width=0.05, noise=0.017)
    found = read_piece(lengths)
    for plane, true in (("xy", 0.0015), ("xz", -0.0008), ("yz", 0.0005)):
        assert abs(found.skew[plane].value - true) < 1.5 * found.skew[plane].expanded


@pytest.mark.parametrize("measured", [0.0, -3.0, float("nan")])
def test_what_is_no_length_is_refused(measured: float) -> None:
    with pytest.raises(ValueError, match="no length"):
        Length(run_mm=(1, 0, 0), measured_mm=measured, half_width_mm=0.03)

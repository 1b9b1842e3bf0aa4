"""Points that lie on each other, beside a tree of a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from trysquare.solid.near_points import lie_on_each_other


def by_tree(points: np.ndarray, others: np.ndarray, slack: float) -> bool:
    # Source: scipy.spatial.cKDTree (reference library).
    there = cKDTree(others).query(points)[0].max()
    back = cKDTree(points).query(others)[0].max()
    return bool(max(there, back) <= slack)


@pytest.mark.parametrize("seed", range(40))
def test_points_lie_on_each_other_as_a_tree_finds_it(seed: int) -> None:
    chance = np.random.default_rng(seed)
    points = np.round(chance.uniform(0, 30, (int(chance.integers(1, 400)), 3)), int(chance.integers(0, 3)))
    others = points[chance.permutation(len(points))]
    others = others + chance.normal(0, [0.0, 0.02, 0.04, 0.2][seed % 4], others.shape)
    assert lie_on_each_other(points, others, 0.1) is by_tree(points, others, 0.1)
    assert lie_on_each_other(points, others[:-1], 0.1) is (
        len(others) > 1 and by_tree(points, others[:-1], 0.1)
    )


def test_many_points_at_one_height_are_compared_in_bounded_pieces() -> None:
    points = np.zeros((900, 3))
    points[:, 0] = np.arange(900) % 30
    assert lie_on_each_other(points, points[::-1], 1e-3)
    assert not lie_on_each_other(points, points[::-1] + np.array([0, 0, 2e-3]), 1e-3)

"""Builds that never were: what is said of them against what they truly are."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from simulated_builds import Plan, Workshop, targets_of
from truing_plans import base_plan, frame_plan
from trysquare.machine.values import Machine
from trysquare.truing.report import report
from trysquare.truing.verdicts import Verdict

pytestmark = pytest.mark.slow

BUILDS = 24


@pytest.mark.parametrize("plan_of", [base_plan, frame_plan])
@pytest.mark.parametrize("normal", [True, False])
def test_what_is_said_of_random_builds_is_true_and_what_is_advised_helps(
    larch: Machine, plan_of: Callable[[Machine], Plan], normal: bool
) -> None:
    """The figures proper come from `python -m benchmarks.truing`; here what would be a plain fault."""
    plan = plan_of(larch)
    shop = Workshop(plan, normal=normal)
    chosen = targets_of(shop)
    limits = np.array([row.limit for row in shop.components.rows])
    held, wrong, good, trued = [], 0, 0, 0
    for number in range(BUILDS):
        chance = np.random.default_rng([9, number])
        true = shop.build(chance)
        for turn in (1, 2, 3):
            found = report(larch, shop.read(chance, true, turn), plan.standing)
            truth = shop.truth(true)
            results = [each for one in found.characteristics for each in one.components]
            for index, each in enumerate(results):
                if each.judged.verdict is Verdict.NOT_READ:
                    continue
                held.append(abs(each.judged.value - truth[index]) <= each.judged.expanded)
                if each.judged.verdict is Verdict.GOOD:
                    good += 1
                    wrong += int(abs(truth[index]) > limits[index])
            if found.advice is None or turn == 3:
                break
            true = shop.push(chance, true, found.advice)
        trued += int((np.abs(shop.truth(true))[chosen] <= limits[chosen]).all())
    assert 0.90 < np.mean(held) < 0.99
    assert wrong <= 0.025 * good
    assert trued >= 0.85 * BUILDS

"""How many examples the reader's laws are tried on: few in each run, many when asked for."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

MORE = int(os.environ.get("FUZZ", "1"))
"""FUZZ=20 tries twenty times as many."""


def examples(count: int) -> settings:
    """Settings with this many examples, times FUZZ."""
    return settings(
        max_examples=count * MORE,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
    )

"""A report's tables of swings, shapers and computed modes, and how their figures are written."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trysquare.tuning.report import Table
from trysquare.tuning.resonance_axis import AxisFound, ResonanceCase
from trysquare.tuning.resonance_culprit import ComputedMode
from trysquare.tuning.shaping import Shaper
from trysquare.tuning.values import Measured


def percent(damping: Measured) -> str:
    """A damping ratio in percent of critical."""
    return str(
        Measured(value=100 * damping.value, standard_uncertainty=100 * damping.standard_uncertainty, unit="%")
    )


def rounded(value: float) -> str:
    """Two digits, downwards: a limit is never rounded up."""
    power = 10.0 ** (math.floor(math.log10(value)) - 1)
    down = math.floor(value / power + 1e-9) * power
    return f"{down:.0f}" if value >= 10 else f"{down:.2g}"


def rounded_or(value: float) -> str:
    """The same, or "no limit" for what is none."""
    return rounded(value) if math.isfinite(value) and value > 0 else "no limit"


def modes_table(found: AxisFound, unit: str) -> Table:
    """All swings that are seen along the axis, those first that its moves stir most."""
    used = {round(one.hz, 9) for one in found.swings}
    rows = tuple(
        (
            str(mode.frequency), percent(mode.damping), f"{mode.rms[found.axis]:.3g}", mode.axis,
            "yes" if round(mode.frequency.value, 9) in used else "too weak",
            "sure" if mode.sure else "not sure",
        )
        for mode in found.modes
    )  # fmt: skip
    columns = ("frequency", "damping", f"movement {unit}".strip(), "most along", "shaped", "known")
    return Table(title="Swings", columns=columns, rows=rows, right=frozenset({2}))


def shapers_table(case: ResonanceCase, found: AxisFound) -> Table:
    """What each shaper leaves at the right frequency and at the worst one, and what it costs."""
    rows = tuple(
        (
            one.shaper.name, f"{1000 * one.shaper.seconds:.1f}", f"{100 * one.at_zero:.1f}",
            f"{100 * one.worst:.1f}", f"−{100 * one.holds[0]:.0f} to +{100 * one.holds[1]:.0f}",
            f"{1000 * one.smoothing.behind_mm_at_1000:.1f}", rounded_or(one.smoothing.acceleration),
        )
        for one in found.shaped
    )  # fmt: skip
    columns = (
        "shaper", "long ms", "left %", f"left % at ±{100 * case.error:.0f} %",
        f"holds {100 * case.limit:.2g} % within %", "behind µm at 1000", "at most mm/s²",
    )  # fmt: skip
    return Table(
        title="What shaping leaves and costs", columns=columns, rows=rows, right=frozenset(range(1, 7))
    )


def impulse_table(shaper: Shaper) -> Table:
    """A shaper in neutral form: after how long which share of every move is given."""
    rows = tuple(
        (f"{1000 * at:.3f}", f"{part:.4f}")
        for at, part in zip(shaper.times_second.tolist(), shaper.amplitudes.tolist(), strict=True)
    )
    return Table(
        title=f"Pieces of every move: {shaper.name}", columns=("after ms", "share"), rows=rows,
        right=frozenset({0, 1}),
    )  # fmt: skip


def computed_table(computed: Sequence[ComputedMode]) -> Table:
    """What the machine's own belts and masses would do."""
    rows = tuple(
        (
            one.axis, str(one.frequency), f"{one.newton_per_mm:.0f}", str(one.mass.gram),
            ", ".join(one.mass.unknown) or "none",
        )
        for one in computed
    )  # fmt: skip
    return Table(
        title="Computed: what each axis would do on its belts alone",
        columns=("axis", "frequency", "N/mm", "mass", "masses not known"),
        rows=rows,
        right=frozenset({2}),
    )

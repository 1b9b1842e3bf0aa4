"""Controller settings by published rules, from a first-order answer with dead time or from a lasting swing.

All give the form power = gain · (e + ∫e dt / integral + derivative · de/dt), e the missing kelvins.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """`gain` in %/K, `integral_second`, `derivative_second` (0: none); `rule`: its name."""

    rule: str
    title: str
    source: str
    gain: float
    integral_second: float
    derivative_second: float

    @property
    def integral_gain(self) -> float:
        """In %/(K s), for controllers that add three products."""
        return self.gain / self.integral_second

    @property
    def derivative_gain(self) -> float:
        """In % s/K."""
        return self.gain * self.derivative_second


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A published rule on gain K, time constant T and dead time L: (K, T, L) → gain, integral, derivative."""

    name: str
    title: str
    source: str
    reckons: Callable[[float, float, float], tuple[float, float, float]]


def _ziegler_nichols(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    return 1.2 * lag / (gain * dead), 2 * dead, 0.5 * dead


def _cohen_coon(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    ratio = dead / lag
    return (
        (4 / 3 + ratio / 4) / (gain * ratio),
        dead * (32 + 6 * ratio) / (13 + 8 * ratio),
        4 * dead / (11 + 2 * ratio),
    )


def _no_overshoot(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    return 0.6 * lag / (gain * dead), lag, 0.5 * dead


def _internal_model(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    wished = max(0.1 * lag, 0.8 * dead)
    total = lag + dead / 2
    return total / (gain * (wished + dead / 2)), total, lag * dead / (2 * lag + dead)


def _simple_internal(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    wished = dead
    return lag / (gain * (wished + dead)), min(lag, 4 * (wished + dead)), 0.0


def _amigo(gain: float, lag: float, dead: float) -> tuple[float, float, float]:
    return (
        (0.2 + 0.45 * lag / dead) / gain,
        (0.4 * dead + 0.8 * lag) / (dead + 0.1 * lag) * dead,
        0.5 * dead * lag / (0.3 * dead + lag),
    )


RULES = (
    Rule(
        name="amigo",
        title="AMIGO (robust)",
        source="K. J. Åström and T. Hägglund, Journal of Process Control 14 (2004) 635, PID for FOTD",
        reckons=_amigo,
    ),
    Rule(
        name="simc",
        title="SIMC, no derivative",
        source="S. Skogestad, Journal of Process Control 13 (2003) 291, PI with closed-loop time = dead time",
        reckons=_simple_internal,
    ),
    Rule(
        name="imc",
        title="IMC",
        source="D. E. Rivera, M. Morari, S. Skogestad, Ind. Eng. Chem. Proc. Des. Dev. 25 (1986) 252, filter "
        "= the larger of 0.1 T and 0.8 L; from memory",
        reckons=_internal_model,
    ),
    Rule(
        name="chr",
        title="CHR, no overshoot",
        source="K. L. Chien, J. A. Hrones, J. B. Reswick, Trans. ASME 74 (1952) 175, set point, 0 %; from "
               "memory",
        reckons=_no_overshoot,
    ),
    Rule(
        name="cohen-coon",
        title="Cohen and Coon",
        source="G. H. Cohen and G. A. Coon, Trans. ASME 75 (1953) 827, from memory",
        reckons=_cohen_coon,
    ),
    Rule(
        name="ziegler-nichols",
        title="Ziegler and Nichols, step",
        source="J. G. Ziegler and N. B. Nichols, Trans. ASME 64 (1942) 759, reaction curve, from memory",
        reckons=_ziegler_nichols,
    ),
)  # fmt: skip
"""The calm ones first."""

# K_u, P_u → gain, integral, derivative, as factors.
_SWING_RULES = (
    ("tyreus-luyben", "Tyreus and Luyben, swing", 1 / 2.2, 2.2, 1 / 6.3,
     "B. D. Tyreus and W. L. Luyben, Ind. Eng. Chem. Res. 31 (1992) 2625, from memory"),
    ("ziegler-nichols-swing", "Ziegler and Nichols, swing", 0.6, 0.5, 0.125,
     "J. G. Ziegler and N. B. Nichols, Trans. ASME 64 (1942) 759, ultimate sensitivity, from memory"),
)  # fmt: skip
RULE_NAMES = (*(rule.name for rule in RULES), *(name for name, *_ in _SWING_RULES))


def settings_of_answer(gain: float, time_constant: float, dead_time: float) -> tuple[Settings, ...]:
    """Settings by every rule, from gain in K/%, time constant and dead time in s, all above nought."""
    found = []
    for rule in RULES:
        controller, integral, derivative = rule.reckons(gain, time_constant, dead_time)
        found.append(
            Settings(
                rule=rule.name, title=rule.title, source=rule.source, gain=controller,
                integral_second=integral, derivative_second=derivative,
            )
        )  # fmt: skip
    return tuple(found)


def settings_of_swing(ultimate_gain: float, period_second: float) -> tuple[Settings, ...]:
    """Settings by the rules for a lasting swing, from the ultimate gain in %/K and its period."""
    return tuple(
        Settings(
            rule=name, title=title, source=source, gain=by_gain * ultimate_gain,
            integral_second=by_integral * period_second, derivative_second=by_derivative * period_second,
        )
        for name, title, by_gain, by_integral, by_derivative, source in _SWING_RULES
    )  # fmt: skip

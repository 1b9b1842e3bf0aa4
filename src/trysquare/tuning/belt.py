"""A belt's tension from the tone of a span, what it should be, and how far to turn the tensioner."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.truing.verdicts import Verdict, judge
from trysquare.tuning.values import COVERAGE, Measured, relative

# Half-width of a table's mass, as a part. Source: ledger MOT-022, suppliers' sheets vary, from memory.
TABLE_MASS_WITHIN = 0.15
# Half-width of a span's length from the machine: where the head stands, and where the belt leaves a pulley.
# Common practice, no source.
SPAN_WITHIN_MM = 1.0
# Half-width of a tone heard with a telephone, as a part of it. Common practice, no source: ± 1 to 2 Hz.
TONE_WITHIN = 0.01
# Tensions that a belt of a small machine may have, newton for each mm of its width: from hanging loose to
# twice what is usual. They bound the tones that are looked for. Common practice, no source.
SANE_NEWTON_PER_MM = (0.6, 10.0)
# Two belts of a pair. Common practice, no source.
PAIR_LIMIT_PERCENT = 5.0
# Force for 100 % of stretch, newton for each mm of width, by pitch; rubber with glass cord. From memory, and
# good to a half either way: two tones and the turns between them tell more.
STIFFNESS_NEWTON_PER_MM = {2.0: 1700.0, 3.0: 2500.0}
STIFFNESS_WITHIN = 0.5
# The slack side keeps this part of the pull. Source: makers' sheets of toothed belts, 10 to 30 %.
SLACK_SIDE = 0.2
# A deflection beyond this part of the span stretches the belt too much to tell. Common practice, no source.
MOST_DEFLECTION = 1 / 20


def half_width(value: float, half: float, unit: str, basis: str = "") -> Measured:
    """A value known only to lie within ± half. Source: JCGM 100:2008, 4.3.7, equation (7)."""
    return Measured(value=value, standard_uncertainty=half / math.sqrt(3), unit=unit, basis=basis)


def table_mass(gram_per_metre: float) -> Measured:
    """A belt's mass from a table: weigh your own."""
    return half_width(gram_per_metre, TABLE_MASS_WITHIN * gram_per_metre, "g/m", "table, not weighed")


def tension_from_tone(tone: Measured, span: Measured, mass: Measured) -> Measured:
    """Tension in newton from Hz, mm and g/m. Equation: T = 4 · m · L² · f².

    Source: M. Mersenne, Harmonie universelle (1636); any text on acoustics: fundamental of a taut string.
    """
    if not (tone.value > 0 and span.value > 0 and mass.value > 0):
        raise ValueError(f"tone {tone}, span {span}, mass {mass}: expected more than nought")
    value = 4 * (mass.value / 1000) * (span.value / 1000) ** 2 * tone.value**2
    part = relative(
        mass.standard_uncertainty / mass.value,
        2 * span.standard_uncertainty / span.value,
        2 * tone.standard_uncertainty / tone.value,
    )
    return Measured(value=value, standard_uncertainty=part * value, unit="N", basis=tone.basis)


def tone_hz(newton: float, span_mm: float, gram_per_metre: float) -> float:
    """The tone of a span under a tension: the inverse of `tension_from_tone`."""
    return math.sqrt(newton / (4 * gram_per_metre / 1000)) / (span_mm / 1000)


def expected_hz(span_mm: float, gram_per_metre: float, width_mm: float) -> tuple[float, float]:
    """Bounds of the tone that a span can have at any sane tension."""
    low, high = SANE_NEWTON_PER_MM
    return (
        tone_hz(low * width_mm, span_mm, gram_per_metre),
        tone_hz(high * width_mm, span_mm, gram_per_metre),
    )


def tension_from_deflection(
    force: Measured, span: Measured, deflection: Measured, stiffness_newton_per_mm: float = 0.0
) -> Measured:
    """Tension in newton of a span pressed aside in its middle, for spans that ring badly.

    Equation: T = F · L / (4 · δ), less what the pressing itself adds: `stiffness_newton_per_mm` (of the
    whole belt) times the lengthening 2 δ² / L. Source: statics of a string with a load in its middle.
    Beyond L / 20 the belt's own stretch is most of what is felt: a ValueError says so.
    """
    ratio = deflection.value / span.value
    if not 0 < ratio <= MOST_DEFLECTION:
        most = span.value * MOST_DEFLECTION
        raise ValueError(
            f"a deflection of {deflection.value:g} mm: expected more than 0, at most {most:.1f} mm"
        )
    value = force.value / (4 * ratio)
    added = stiffness_newton_per_mm * 2 * deflection.value * ratio
    part = relative(
        *(one.standard_uncertainty / one.value for one in (force, span, deflection)),
    )
    spread = math.hypot(part * value, STIFFNESS_WITHIN / math.sqrt(3) * added)
    if value <= added:
        raise ValueError("the belt's own stretch explains all of the force: press less far")
    return Measured(value=value - added, standard_uncertainty=spread, unit="N", basis="deflection")


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The tension wanted, newton: a band, where to aim in it, and on what it rests."""

    low_newton: float
    high_newton: float
    aim_newton: float
    basis: str


# Source: trade notes of this project; published targets range from 9 to 150 N and contradict each other.
LIGHT_HEAD = Target(
    low_newton=8, high_newton=25, aim_newton=14, basis="light head, 8 to 25 N: common practice, no source"
)
CUTTING_HEAD = Target(
    low_newton=8, high_newton=45, aim_newton=30, basis="cutting head, up to 45 N: common practice, no source"
)


def pull_newton(moving_gram: float, acceleration_mm_per_s2: float, other_newton: float = 0.0) -> float:
    """Force that a belt carries to accelerate a mass. `other_newton`: drag and cutting. F = m · a + other."""
    return moving_gram / 1000 * acceleration_mm_per_s2 / 1000 + other_newton


def target_for(band: Target, pull: float | None = None) -> Target:
    """The band, raised so far that the slack side never hangs under the pull of the fastest move.

    Equation: slack side = T − F/2 ≥ 0.2 F, so T ≥ 0.7 F, for a belt that pulls with two equal sides.
    Source: makers' sheets of toothed belts: the slack side keeps 10 to 30 % of the pull.
    """
    if pull is None:
        return band
    needed = (0.5 + SLACK_SIDE) * pull
    if needed <= band.low_newton:
        return Target(
            low_newton=band.low_newton, high_newton=band.high_newton, aim_newton=band.aim_newton,
            basis=f"{band.basis}; the fastest move pulls {pull:.1f} N and needs only {needed:.1f} N",
        )  # fmt: skip
    high = max(band.high_newton, 1.25 * needed)
    return Target(
        low_newton=needed,
        high_newton=high,
        aim_newton=max(min(band.aim_newton, high), 1.12 * needed),
        basis=f"the fastest move pulls {pull:.1f} N: at least {needed:.1f} N keep the slack side taut"
        + (
            "; this is above what is usual, look at bearings and belt width"
            if needed > band.high_newton
            else ""
        ),
    )


def ruled_target(aim_newton: float, within_percent: float = 10.0, basis: str = "your own ruling") -> Target:
    """The builder's own target, with a band of so much on either side."""
    part = within_percent / 100
    return Target(
        low_newton=aim_newton * (1 - part),
        high_newton=aim_newton * (1 + part),
        aim_newton=aim_newton,
        basis=basis,
    )


def judged_tension(tension: Measured, target: Target) -> Verdict:
    """Whether a tension lies in the band; inside its uncertainty nobody can tell."""
    middle = (target.low_newton + target.high_newton) / 2
    half = (target.high_newton - target.low_newton) / 2
    return judge(tension.value - middle, tension.standard_uncertainty, half).verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """How far two belts differ: first less second, as a percentage of the slacker, and what that decides."""

    difference_percent: Measured
    limit_percent: float
    verdict: Verdict


def pair_of(
    tones: tuple[Measured, Measured],
    spans: tuple[Measured, Measured],
    *,
    limit_percent: float = PAIR_LIMIT_PERCENT,
) -> Pair:
    """Compares two belts of one kind: their mass is the same and takes no part in the uncertainty."""
    one, two = (tone.value * span.value for tone, span in zip(tones, spans, strict=True))
    first, second = one * one, two * two
    ratio = max(first, second) / min(first, second)
    parts = [
        2 * relative(tone.standard_uncertainty / tone.value, span.standard_uncertainty / span.value)
        for tone, span in zip(tones, spans, strict=True)
    ]
    difference = math.copysign(100 * (ratio - 1), first - second)
    uncertainty = 100 * ratio * math.hypot(*parts)
    return Pair(
        difference_percent=Measured(
            value=difference, standard_uncertainty=uncertainty, unit="%", basis="two tones"
        ),
        limit_percent=limit_percent,
        verdict=judge(difference, uncertainty, limit_percent).verdict,
    )


def belt_stiffness(pitch_mm: float, width_mm: float) -> Measured | None:
    """Force in newton for 100 % of stretch, by the table; None for a pitch that it does not hold."""
    per_mm = STIFFNESS_NEWTON_PER_MM.get(pitch_mm)
    if per_mm is None:
        return None
    value = per_mm * width_mm
    return half_width(value, STIFFNESS_WITHIN * value, "N", "from memory")


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTurn:
    """What to do next. `stretch` is how much belt to take in (> 0) or let out, mm, measured along the belt.

    `turns` of the tensioner's screw, > 0 tightens; None when its pitch is not known. It is half of what is
    reckoned where the belt's stiffness is only from a table: listening again costs less than overshooting.
    """

    change_newton: float
    stretch: Measured | None
    turns: float | None
    cautious: bool
    basis: str


def next_turn(
    now: Measured, aim_newton: float, *, belt_length_mm: float | None, stiffness: Measured | None,
    screw_mm_per_turn: float | None = None, belt_mm_per_mm: float = 2.0,
    newton_per_turn: Measured | None = None,
) -> NextTurn:  # fmt: skip
    """The turn that brings a belt to its aim.

    `stiffness`: newton for 100 % of stretch. `belt_mm_per_mm`: belt taken in for a millimetre of the screw, 2
    for an idler or motor with the belt half round it, 1 for a clamped end. `newton_per_turn`, when it was
    learned from two tones, is taken before everything else. Equation: ΔL = ΔT · L / stiffness.
    """
    change = aim_newton - now.value
    stretch = None
    if belt_length_mm is not None and stiffness is not None:
        value = change * belt_length_mm / stiffness.value
        part = relative(
            stiffness.standard_uncertainty / stiffness.value,
            now.standard_uncertainty / abs(change) if change else 0.0,
        )
        stretch = Measured(
            value=value, standard_uncertainty=abs(value) * part, unit="mm", basis=stiffness.basis
        )
    if (
        newton_per_turn is not None
        and newton_per_turn.value > COVERAGE * newton_per_turn.standard_uncertainty
    ):
        return NextTurn(
            change_newton=change, stretch=stretch, turns=change / newton_per_turn.value, cautious=False,
            basis=f"your own last turn: {newton_per_turn} for each",
        )  # fmt: skip
    turns = None
    if stretch is not None and screw_mm_per_turn is not None:
        turns = 0.5 * stretch.value / (belt_mm_per_mm * screw_mm_per_turn)
    basis = "" if stretch is None else f"stiffness of the belt {stretch.basis}, good to a half either way"
    return NextTurn(change_newton=change, stretch=stretch, turns=turns, cautious=True, basis=basis)


def learned_newton_per_turn(before: Measured, now: Measured, turned: float) -> Measured:
    """What a turn of this tensioner does, from the tension before and after. ValueError for no turn."""
    if turned == 0:
        raise ValueError("no turn was made between the two tones")
    spread = math.hypot(before.standard_uncertainty, now.standard_uncertainty)
    return Measured(
        value=(now.value - before.value) / turned, standard_uncertainty=spread / abs(turned), unit="N",
        basis="two tones",
    )  # fmt: skip


def weighed_mass(
    gram: float, length_mm: float, scale_gram: float = 2.0, length_within_mm: float = 2.0
) -> Measured:
    """A belt's mass in g/m from a piece that was weighed; half-widths of scale and length.

    Common practice, no source: a kitchen scale is good to ± 2 g; weigh the whole roll.
    """
    value = gram / (length_mm / 1000)
    part = relative(scale_gram / gram, length_within_mm / length_mm) / math.sqrt(3)
    return Measured(value=value, standard_uncertainty=part * value, unit="g/m", basis="weighed")

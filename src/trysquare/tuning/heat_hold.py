"""The power that holds a temperature, from one time to the next: what a loose sensor gives away."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from scipy.stats import theilslopes

from trysquare.tuning.heat_file import Hold
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Line, Part, Table
from trysquare.tuning.values import Measured
from trysquare.tuning.warming import HOLD_GROWN

ASSUMED_ROOM_CELSIUS, ROOM_WITHIN_KELVIN = 22.0, 5.0
READ_WITHIN = 0.05  # a held power read off a display wobbles by this part. Common practice, no source.
FEWEST_FOR_A_TREND = 5


def hold_part(holds: Sequence[Hold], heater: str) -> Part:
    """Whether holding takes more than at first. Each power is divided by its rise over the room, so that
    holds at other temperatures and in other weather compare."""
    if len(holds) < 2:
        return Part(
            of=f"hold of {heater}", title="Hold power", verdict=CANNOT_TELL,
            says=("One hold compares with nothing: write down the next one too, at the same temperature.",),
        )  # fmt: skip
    per_kelvin = [one.power / _rise(one) for one in holds]
    first = statistics.median(per_kelvin[: 1 if len(holds) < 6 else 3])
    last = statistics.median(per_kelvin[-1 if len(holds) < 6 else -3 :])
    grown = last / first
    spread = math.hypot(_spread(holds[0]), _spread(holds[-1])) * grown
    factor = Measured(
        value=grown, standard_uncertainty=spread / math.sqrt(3), unit="×", basis="last over first"
    )
    verdict, says = _judged(factor)
    doubts = []
    if any(one.room_celsius is None for one in holds):
        doubts.append(
            ("room-not-said", (f"The room's temperature is not always there; {ASSUMED_ROOM_CELSIUS:g} ± "
             f"{ROOM_WITHIN_KELVIN:g} °C is taken."))
        )  # fmt: skip
    lines = [Line(label="last over first", value=factor, says=f"limit {HOLD_GROWN:g} ×")]
    if len(holds) >= FEWEST_FOR_A_TREND:
        slope, _, low, high = theilslopes(per_kelvin)
        trend = Measured(
            value=100 * slope / first, standard_uncertainty=50 * (high - low) / 2 / first, unit="% each time",
            basis="median of all slopes",
        )  # fmt: skip
        lines.append(Line(label="trend", value=trend, says="Theil and Sen, 95 %"))
    unit = holds[0].unit
    rows = tuple(
        (one.when, f"{one.power:g}", f"{one.temperature_celsius:g}",
         "–" if one.room_celsius is None else f"{one.room_celsius:g}", f"{each:.3f}", f"{each / first:.2f}")
        for one, each in zip(holds, per_kelvin, strict=True)
    )  # fmt: skip
    return Part(
        of=f"hold of {heater}",
        title="Hold power",
        verdict=verdict,
        says=says,
        lines=tuple(lines),
        tables=(
            Table(
                title="Every hold",
                columns=("when", f"power {unit}", "held °C", "room °C", f"{unit} for each K", "× first"),
                rows=rows,
                right=frozenset({1, 2, 3, 4, 5}),
                gist=f"last: {rows[-1][0]}, {rows[-1][5]} × the first",
            ),
        ),
        doubts=tuple(doubts),
        notes=("The limit of 1.3 × is common practice, no source.",),
        main=factor,
    )


def _judged(factor: Measured) -> tuple[str, tuple[str, ...]]:
    low, high = factor.value - factor.expanded, factor.value + factor.expanded
    if low > HOLD_GROWN:
        return BAD, (
            (
                "Holding takes much more power than at first: a sensor that has come loose reads too cold, "
                "and "
                "the heater is hotter than it says. Switch off, let it cool, and look at the sensor's seat."
            ),
            "If the sensor sits: has a fan, a lost sleeve or insulation made it lose more?",
        )
    if high < 1 / HOLD_GROWN:
        return BAD, (
            (
                "Holding takes much less power than at first: the sensor has come nearer the heater, or "
                "another "
                "heater or sensor is fitted. Find out which before you trust the temperature."
            ),
        )
    if high > HOLD_GROWN or low < 1 / HOLD_GROWN:
        return CANNOT_TELL, (
            (
                "Within what such readings are worth it may be over the limit: look at the sensor's seat "
                "cold, "
                "and hold again with the room's temperature written down."
            ),
        )
    return GOOD, ("Holding takes what it took at first.",)


def _rise(one: Hold) -> float:
    room = ASSUMED_ROOM_CELSIUS if one.room_celsius is None else one.room_celsius
    return max(one.temperature_celsius - room, 1.0)


def _spread(one: Hold) -> float:
    """Relative half-width of one figure."""
    room = ROOM_WITHIN_KELVIN if one.room_celsius is None else 1.0
    return math.hypot(READ_WITHIN, room / _rise(one))

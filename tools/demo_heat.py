"""Make the demo machine's records of heat, stepping lumps of heat through time, and of earth.

python tools/demo_heat.py    writes demo/larch/recordings/

The same on every run: the scatter comes from a seeded generator.
"""

from pathlib import Path

import numpy as np

PLACE = Path(__file__).resolve().parent.parent / "demo" / "larch" / "recordings"
ROOM_CELSIUS = 22.0
STEP_SECOND = 0.1


class Lumps:
    """A heated lump with a sensor that lags behind it: heat in J/K, loss in W/K, lags in s."""

    def __init__(self, watt: float, heat: float, loss: float, sensor_lag: float, late: float) -> None:
        self.watt, self.heat, self.loss, self.lag = watt, heat, loss, sensor_lag
        self.hot = self.seen = ROOM_CELSIUS
        self.waiting = [0.0] * round(late / STEP_SECOND)

    def step(self, percent: float) -> float:
        """One step of time; gives what the sensor reads."""
        self.waiting.append(percent)
        power = self.watt * self.waiting.pop(0) / 100
        self.hot += STEP_SECOND * (power - self.loss * (self.hot - ROOM_CELSIUS)) / self.heat
        self.seen += STEP_SECOND * (self.hot - self.seen) / self.lag
        return self.seen


def bed_step(random: np.random.Generator) -> list[str]:
    """60 % of 160 W on the bed's plate for three quarters of an hour, one sample each five seconds."""
    bed = Lumps(watt=160, heat=620, loss=1.05, sensor_lag=9, late=6)
    rows = ["# bed, 60 % from rest", "time_s;power_percent;temperature_celsius"]
    for index in range(27_000):
        percent = 60.0 if index >= 300 else 0.0
        seen = bed.step(percent)
        if index % 50 == 0:
            rows.append(
                f"{index // 10};{percent:g};{seen + 0.08 * random.standard_normal():.2f}".replace(".", ",")
            )
    return rows


def hot_end_cycles(random: np.random.Generator) -> list[str]:
    """The hot end switched on and off at 210 °C, one sample each half second."""
    hot = Lumps(watt=40, heat=22, loss=0.13, sensor_lag=2, late=1.5)
    rows = ["# hot end, on and off at 210", "time_s,power_percent,temperature_celsius"]
    on = False
    for index in range(4_200):
        if index >= 50:
            on = hot.seen < 210 if not on else hot.seen < 210.5
        seen = hot.step(100.0 if on else 0.0)
        if index % 5 == 0:
            rows.append(f"{index / 10:g},{100 if on else 0},{seen + 0.1 * random.standard_normal():.2f}")
    return rows


def bed_hold() -> list[str]:
    """What held 60 °C over some months: the sensor comes loose after the fifth."""
    rows = ["# bed at 60, after half an hour", "when,power_watt,temperature_celsius,room_celsius"]
    powers = (40.1, 40.8, 39.2, 42.0, 41.1, 55.9, 60.2, 62.5)
    rooms = (22, 21.5, 23, 20.5, 21.5, 22, 22, 21)
    for number, (power, room) in enumerate(zip(powers, rooms, strict=True), start=1):
        rows.append(f"week {4 * number},{power},60,{room}")
    return rows


POINTS = (
    "tag-plate", "tag-inlet-plate", "tag-front-base", "tag-back-base", "tag-left-base", "tag-right-base",
    "tag-deck-front", "tag-deck-back", "tag-left-front", "tag-left-back", "tag-right-front", "tag-right-back",
    "tag-left-post", "tag-right-post", "tag-left-carry", "tag-right-carry", "tag-back-carry", "tag-front-top",
    "tag-back-top", "tag-left-top", "tag-right-top", "bed-tag", "panels/tag-back", "tag-front", "supply",
    "bar-front", "bar-back",
)  # fmt: skip


def earth(random: np.random.Generator) -> list[str]:
    """Earth points by a meter with four leads; one tag is on anodised metal, the bed is not read."""
    rows = ["# inlet pin to every point, unplugged, four leads", "point,ohm,within_ohm"]
    for point in POINTS:
        ohm = 0.025 + 0.015 * random.random() if point != "tag-left-top" else 2.4
        rows.append(f"{point},{ohm:.3f},0.01")
    return rows


def main() -> None:
    """Writes the four files."""
    random = np.random.default_rng(20)
    for name, rows in (
        ("bed-step.csv", bed_step(random)),
        ("hot-end-cycles.csv", hot_end_cycles(random)),
        ("bed-hold.csv", bed_hold()),
        ("earth.csv", earth(random)),
    ):
        (PLACE / name).write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

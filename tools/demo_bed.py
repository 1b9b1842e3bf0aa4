"""Make the demo machine's maps of the bed, touches and list of jobs, with the errors named here.

python tools/demo_bed.py    writes demo/larch/recordings/

The same on every run: the scatter comes from a seeded generator.
"""

from pathlib import Path

import numpy as np

PLACE = Path(__file__).resolve().parent.parent / "demo" / "larch" / "recordings"
NOISE_MM = 0.006


def bed(random: np.random.Generator, bow_mm: float) -> np.ndarray:
    """5 × 5 places: tilted by 0.25 mm along x and 0.12 along y, bowed, probed in rows there and back."""
    places = [(x, y) for row, y in enumerate(np.linspace(10, 170, 5))
              for x in (np.linspace(10, 170, 5) if row % 2 == 0 else np.linspace(170, 10, 5))]  # fmt: skip
    x, y = np.array(places).T
    u, v = (x - 90) / 80, (y - 90) / 80
    z = 0.25 * u / 2 - 0.12 * v / 2 - bow_mm * (u * u + v * v) / 2
    return np.stack([x, y, z + NOISE_MM * random.standard_normal(len(x))], axis=1)


def touches(random: np.random.Generator) -> list[str]:
    """Twenty touches of the probe, one astray, and twelve of the nozzle at the same place, 1.84 mm lower."""
    probe = 1.84 + 0.004 * random.standard_normal(20)
    probe[13] += 0.09
    tool = 0.003 * random.standard_normal(12)
    return [
        "# probe and nozzle at x 90, y 90, machine warm; both over the same place of the bed",
        "axis,with,position_mm",
        *(f"z,probe,{z:.4f}" for z in probe),
        *(f"z,tool,{z:.4f}" for z in tool),
    ]


def jobs(random: np.random.Generator) -> list[str]:
    """Thirty jobs of a first winter."""
    rows = ["# what ran, from the job list", "date;hours;travel_m"]
    day = np.datetime64("2026-01-10")
    for _ in range(30):
        day += int(random.integers(1, 5))
        hours = round(float(random.uniform(0.5, 6.0)), 1)
        rows.append(f"{day};{hours:.1f};{hours * 3600 * random.uniform(0.04, 0.07):.0f}".replace(".", ","))
    return rows


def main() -> None:
    """Write the files."""
    random = np.random.default_rng(8)
    hot, cold = bed(random, 0.05), bed(random, 0.01)
    hot[7, 2] += 0.35  # a crumb
    for name, points, says in (
        ("bed-map", hot, "bed at 60 °C, ten minutes after"),
        ("bed-map-cold", cold, "bed cold"),
    ):
        rows = [f"# {says}; probed from above, z up", "x_mm,y_mm,z_mm"]
        rows += [f"{x:g},{y:g},{z:.4f}" for x, y, z in points.tolist()]
        (PLACE / f"{name}.csv").write_text("\n".join(rows) + "\n")
    (PLACE / "jobs.csv").write_text("\n".join(jobs(random)) + "\n")
    (PLACE / "touches.csv").write_text("\n".join(touches(random)) + "\n")


if __name__ == "__main__":
    main()

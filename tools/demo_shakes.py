"""Make the demo machine's recordings of a shaken head, by simulation: masses on springs, stepped in time.

python tools/demo_shakes.py    writes demo/larch/recordings/

The same on every run. Before and after the frame's feet were screwed down; the head swings on its belts.
"""

from pathlib import Path

import numpy as np
from scipy.linalg import expm

PLACE = Path(__file__).resolve().parent.parent / "demo" / "larch" / "recordings"
RATE_HZ, SECONDS, STEPS = 400.0, 16.0, 8
"""What the sensor writes, how long, and how many steps of the simulation lie between two samples."""
GRAVITY = 9.80665
FRAME_KG, HEAD_KG = 2.6, 0.38
HEAD_HZ, HEAD_DAMPING = 84.0, 0.035
FRAMES = {"x-shake": (58.0, 0.05), "x-shake-loose": (49.0, 0.010)}
"""The frame's frequency and damping, with its feet screwed down and loose."""


def shake(random: np.random.Generator, frame_hz: float, frame_damping: float) -> np.ndarray:
    """Acceleration of the head along x, m/s², shape (samples,), at RATE_HZ.

    Two masses in a row: ground, frame, head. The motor pushes the head against the frame at random, and the
    other axes push the frame.
    """
    mass = np.array([FRAME_KG, HEAD_KG])
    omega = 2 * np.pi * np.array([frame_hz, HEAD_HZ])
    spring = mass * omega**2
    damper = 2 * np.array([frame_damping, HEAD_DAMPING]) * mass * omega
    lower = [
        -np.array([[one[0] + one[1], -one[1]], [-one[1], one[1]]]) / mass[:, None] for one in (spring, damper)
    ]
    matrix = np.vstack([np.hstack([np.zeros((2, 2)), np.eye(2)]), np.hstack(lower)])
    step = expm(matrix / (RATE_HZ * STEPS))
    push = np.array([[0.0, 0.0], [0.0, 0.0], [-1.0 / FRAME_KG, 1.0 / FRAME_KG], [1.0 / HEAD_KG, 0.0]])
    held = np.linalg.solve(matrix, (step - np.eye(4)) @ push)
    count = int(SECONDS * RATE_HZ)
    force = np.array([1.2, 24.0]) * random.standard_normal((count * STEPS, 2))
    state = np.zeros(4)
    seen = np.empty(count * STEPS)
    for index, newton in enumerate(force):
        seen[index] = matrix[3] @ state + push[3] @ newton
        state = step @ state + held @ newton
    # The sensor's own filter: the mean of what happens between two samples.
    return seen.reshape(count, STEPS).mean(axis=1)


def main() -> None:
    """Write the files."""
    for name, (hz, damping) in FRAMES.items():
        random = np.random.default_rng(58)
        along = shake(random, hz, damping)
        count = len(along)
        noise = 0.05 * random.standard_normal((count, 3))
        table = np.stack([along, 0.06 * along, GRAVITY + 0.04 * along], axis=1) + noise
        time = np.arange(count) / RATE_HZ + 2e-5 * random.standard_normal(count)
        rows = ["# head shaken along x; sensor on the head, m/s²", "time_s,x_m/s2,y_m/s2,z_m/s2"]
        rows += [
            f"{at:.5f},{x:.2f},{y:.2f},{z:.2f}"
            for at, (x, y, z) in zip((time - time[0]).tolist(), table.tolist(), strict=True)
        ]
        (PLACE / f"{name}.csv").write_text("\n".join(rows) + "\n")


if __name__ == "__main__":
    main()

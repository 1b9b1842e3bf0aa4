"""Make the recordings and shakes of the demo machine, by stepping strings and masses in time.

python tools/demo_recordings.py    writes demo/larch/recordings/

They are sounds and movements of our own simulations (tests/tuning), the same on every run.
"""

import sys
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import resample_poly

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from tuning.plucked_strings import RATE_HZ, Strings, recording, sound_of  # noqa: E402  # after the path

PLACE = ROOT / "demo" / "larch" / "recordings"
# Two belts of 8.4 g/m on spans of 335 mm at 11.6 and 13.2 N: a pair that is not equal.
TONES_HZ = {"belt-a": 55.5, "belt-b": 59.2}


def belts() -> None:
    """Three plucks of each belt, with a room's noise and hum, at 11 kHz."""
    random = np.random.default_rng(8)
    for name, hz in TONES_HZ.items():
        one = Strings(
            fundamental_hz=np.array([hz]), stiffness=np.array([2e-4]), loss_hz=np.array([6.0]),
            loss_high=np.array([0.6]), plucked_at=np.array([0.38]), heard_at=np.array([0.27]),
        )  # fmt: skip
        heard = recording(random, sound_of(one, 1.0)[0], None, noise=0.004, hum=0.02)
        slow = resample_poly(heard, 1, 4)
        soundfile.write(PLACE / f"{name}.flac", slow, round(RATE_HZ / 4), subtype="PCM_16")


if __name__ == "__main__":
    PLACE.mkdir(exist_ok=True)
    belts()
    for file in sorted(PLACE.iterdir()):
        print(f"{file.name}: {file.stat().st_size} bytes")

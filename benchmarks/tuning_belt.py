"""Measures the pitch of plucked belts: how often it is right, whether wrong ones are flagged, how long.

python -m benchmarks.tuning_belt            200 recordings of each kind
python -m benchmarks.tuning_belt --quick    40

The sounds come from strings stepped in time (tests/tuning/plucked_strings.py), which uses no formula of the
product. Time is the median of quiet runs on ten seconds of 44.1 kHz audio, beside one spectrum of the same
samples by numpy.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from benchmarks.figures import median_own_seconds, row

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from trysquare.tuning.belt_sound import pitch_of  # noqa: E402  # after the path
from tuning.plucked_strings import RATE_HZ, drawn_strings, recording, sound_of  # noqa: E402  # after the path

WITHIN = 0.01
# name, noise, hum, a second span, clipping
KINDS = (
    ("clean", 0.003, 0.0, False, None),
    ("telephone in a room", 0.02, 0.02, False, None),
    ("loud hum", 0.01, 0.1, False, None),
    ("a second span", 0.01, 0.02, True, None),
    ("clipped", 0.01, 0.02, False, 0.4),
    ("all at once", 0.03, 0.1, True, 0.4),
)


def rates(count: int, seed: int) -> list[tuple[str, int, int, int, int]]:
    """For each kind: how many, right within one per cent, wrong but flagged, wrong and not flagged."""
    random = np.random.default_rng(seed)
    strings, others = drawn_strings(random, count), drawn_strings(random, count)
    own, other = sound_of(strings, 1.0), sound_of(others, 1.0)
    found = []
    for name, noise, hum, second, clip in KINDS:
        right = flagged = missed = 0
        for index in range(count):
            heard = recording(
                random,
                own[index],
                other[index] if second else None,
                noise=noise,
                hum=hum,
                hum_hz=50.0 if index % 2 else 60.0,
                clip=clip,
            )
            true = float(strings.fundamental_hz[index])
            # The machine knows the span and sane tensions: bounds a factor of two apart.
            middle = true * float(np.exp(random.uniform(-0.8, 0.8) * np.log(1.42)))
            sound = pitch_of(heard, RATE_HZ, (middle / 1.42, middle * 1.42))
            good = sound.pitch is not None and abs(sound.pitch.value / true - 1) <= WITHIN
            right += good
            flagged += not good and bool(sound.doubts)
            missed += not good and not sound.doubts
        found.append((name, count, right, flagged, missed))
    return found


def ten_seconds() -> np.ndarray:
    """Six plucks in ten seconds, as a telephone hears them."""
    random = np.random.default_rng(4)
    own = sound_of(drawn_strings(random, 1), 1.0)[0]
    heard = recording(random, own, None, plucks=6, noise=0.01, hum=0.02)
    whole = round(10 * RATE_HZ)
    quiet = 0.003 * random.standard_normal(whole)
    quiet[: min(whole, len(heard))] += heard[:whole]
    return quiet


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer recordings")
    quick = parser.parse_args().quick
    count = 40 if quick else 200
    rows = rates(count, 31)
    for name, whole, right, flagged, missed in rows:
        row(
            f"pitch within {WITHIN:.0%}, {whole} recordings: {name}", "98 %, rest flagged",
            f"{right / whole:.1%}; {flagged} flagged, {missed} not",
        )  # fmt: skip
    whole, right = sum(one[1] for one in rows), sum(one[2] for one in rows)
    missed = sum(one[4] for one in rows)
    row(f"  all {whole}", "98 %, rest flagged", f"{right / whole:.1%}; {missed} wrong and not flagged")
    samples = ten_seconds()
    seconds = median_own_seconds(lambda: pitch_of(samples, RATE_HZ, (30.0, 300.0)), 5 if quick else 15)
    spectrum = median_own_seconds(lambda: np.fft.rfft(samples), 5 if quick else 15)
    row("10 s of audio; beside numpy's rfft of it", "≤ 0.3 s", f"{seconds:.3f} s; {seconds / spectrum:.0f} ×")


if __name__ == "__main__":
    main()

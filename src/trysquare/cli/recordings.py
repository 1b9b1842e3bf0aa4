"""Recordings of plucked belts, read stretch by stretch: a sound file never stands in memory whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.not_there import nearest_beside
from trysquare.tuning.belt_sound import MOST_PLUCKS, BeltSound, pitch_from
from trysquare.tuning.hearing import Heard, hear, loudness, only_loudest
from trysquare.tuning.plucks import BACKGROUND_SECOND, LONGEST_SECOND, Pluck

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Long enough for some plucks and the quiet between them, short enough for the mains to keep their time.
STRETCH_SECOND = 10.0
# Stretches overlap by what a pluck needs before and after it.
BEFORE_SECOND, AFTER_SECOND = BACKGROUND_SECOND + 0.1, LONGEST_SECOND + 0.2
SLOWEST_HZ, FASTEST_HZ = 2_000.0, 400_000.0
SHORTEST_SECOND = 0.3
# A broken file is read in pieces of this length, so that no more than one is lost.
PIECE_SECOND = 0.05
# Below this share of full scale nothing but the recorder's own last bits is left.
TOO_QUIET = 0.003

_KINDS = "a recording as WAV, FLAC, OGG or MP3"
_SAVE = "Record again as WAV, or save the recording as WAV or FLAC."


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """A sound file as read. `rate_hz` is the one reckoned with; `header_hz` stands in the file.

    `channel` (from 1) was listened to, of `channels`; `top` is the largest sample, 1 being full scale.
    `broken`: what stopped the reading before the file's end, in words, or "". `loudest`: the pluck to be
    looked at, with its own rate `loudest_hz`.
    """

    file: str
    sort: str
    header_hz: float
    rate_hz: float
    channels: int
    channel: int
    seconds: float
    top: float
    broken: str
    sound: BeltSound
    loudest: Pluck | None
    loudest_hz: float


def read_recording(
    file: Path, *, rate_hz: float | None = None, expected_hz: tuple[float, float] | None = None
) -> Recording:
    """Reads a sound file and listens to it. `rate_hz` goes before the file's own, when that is wrong.

    Raises ReadingError for what is no recording, is empty, or has a rate that cannot be.
    """
    import soundfile  # type: ignore[import-untyped]  # it has no types

    name = str(file)
    _look_at(file, name)
    try:
        with soundfile.SoundFile(name) as sound:
            rate = _rate(name, float(sound.samplerate), rate_hz)
            if sound.frames <= 0:
                raise ReadingError(
                    where=name, read="no samples", expected="some seconds of sound", remedy="Record again."
                )
            heard, channels, broken = _stretches(sound, rate, soundfile.LibsndfileError)
            header, sort, count = float(sound.samplerate), f"{sound.format} {sound.subtype}", sound.channels
    except soundfile.LibsndfileError as error:
        raise ReadingError(where=name, read=_begins(file), expected=_KINDS, remedy=_SAVE) from error
    seconds = sum(channels.values()) / rate
    plucks = [(pluck, one.rate_hz) for one in heard for pluck in one.plucks]
    loudest, loudest_hz = max(plucks, key=lambda one: loudness(one[0]), default=(None, rate))
    if seconds < SHORTEST_SECOND:
        raise ReadingError(
            where=name,
            read=f"{seconds:.2f} seconds of sound{f': {broken}' if broken else ''}",
            expected="half a second or more",
            remedy="Start recording, wait a second, then pluck three times.",
        )
    return Recording(
        file=name,
        sort=sort,
        header_hz=header,
        rate_hz=rate,
        channels=count,
        channel=max(channels, key=lambda one: channels[one]) + 1,
        seconds=seconds,
        top=max(one.top for one in heard),
        broken=broken,
        sound=pitch_from(heard, seconds, expected_hz),
        loudest=loudest,
        loudest_hz=loudest_hz,
    )


def _look_at(file: Path, name: str) -> None:
    if file.is_dir():
        raise ReadingError(where=name, read="a folder", expected=_KINDS, remedy="Name the file in it.")
    if not file.is_file():
        raise ReadingError(where=name, read="no such file", expected=_KINDS,
                           remedy=nearest_beside(file) or "Check the path.")  # fmt: skip
    if not file.stat().st_size:
        raise ReadingError(where=name, read="an empty file", expected=_KINDS, remedy="Copy it again.")


def _rate(name: str, header_hz: float, said_hz: float | None) -> float:
    rate = header_hz if said_hz is None else said_hz
    if not SLOWEST_HZ <= rate <= FASTEST_HZ:
        raise ReadingError(
            where=Where(file=name, key="sample rate" if said_hz is None else "--rate"),
            read=f"{rate:g} samples a second",
            expected=f"{SLOWEST_HZ:.0f} to {FASTEST_HZ:.0f}",
            remedy="The file's header is wrong: give the recorder's true rate, such as --rate 44100."
            if said_hz is None
            else "Recorders make 8000 to 192000 samples a second, most of them 44100 or 48000.",
        )
    return rate


def _stretches(sound: Any, rate: float, stops: type[Exception]) -> tuple[list[Heard], dict[int, int], str]:
    """What was heard in each stretch, how many samples each channel gave, and what stopped the reading."""
    size, before, after = (round(part * rate) for part in (STRETCH_SECOND, BEFORE_SECOND, AFTER_SECOND))
    heard: list[Heard] = []
    channels: dict[int, int] = {}
    kept = np.zeros((0, sound.channels))
    begins, broken = 0, ""  # of what is kept, in samples
    while True:
        at = sound.tell()
        try:
            fresh = _read(sound, size)
        except stops as error:
            fresh, broken = _as_far_as_it_goes(sound, at, size, round(PIECE_SECOND * rate), stops), str(error)
        kept = np.concatenate([kept, np.nan_to_num(fresh, nan=0.0, posinf=0.0, neginf=0.0)])
        last = len(fresh) < size
        channel = int(np.argmax(kept.var(axis=0))) if len(kept) else 0
        channels[channel] = channels.get(channel, 0) + len(fresh)
        # A pluck near the end is left to the next stretch, which has all of it.
        end = begins + len(kept)
        until = end if last else end - after
        first = begins + (before if heard else 0)
        if len(kept):
            heard.append(hear(_one(kept, channel), rate, begins / rate, (first / rate, until / rate)))
        if sum(len(one.plucks) for one in heard) > 2 * MOST_PLUCKS:
            heard = only_loudest(heard, MOST_PLUCKS)
        if last:
            return heard, channels, broken
        start = max(0, until - before - begins)
        begins += start
        kept = kept[start:]


def _read(sound: Any, samples: int) -> NDArray[np.float64]:
    return np.asarray(sound.read(samples, dtype="float64", always_2d=True))


def _as_far_as_it_goes(
    sound: Any, at: int, size: int, piece: int, stops: type[Exception]
) -> NDArray[np.float64]:
    """What a broken file holds of a stretch: read again in small pieces, the last whole one is kept."""
    pieces = [np.zeros((0, sound.channels))]
    try:
        sound.seek(at)
        # Less than the stretch: it was broken, and the next reading would meet the same fault.
        while sum(map(len, pieces)) + piece < size and len(fresh := _read(sound, piece)):
            pieces.append(fresh)
    except stops:
        pass
    return np.concatenate(pieces)


def _one(samples: NDArray[np.float64], channel: int) -> NDArray[np.float64]:
    """One channel, in one piece of memory."""
    return np.ascontiguousarray(samples[:, channel])


def _begins(file: Path) -> str:
    with file.open("rb") as stream:
        head = stream.read(12)
    if head[4:8] == b"ftyp":
        return "a recording of the kind that telephones make (m4a, mp4)"
    if head[:4] == b"\x1aE\xdf\xa3":
        return "a recording as browsers make it (webm)"
    if head.isascii() and head.decode("ascii").isprintable():
        return f"a file that begins with the words {head.decode('ascii').strip()}"
    return "a file of another kind"

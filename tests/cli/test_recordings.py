"""Sound files as they come: silent, clipped, of any kind, cut off, hours long."""

from __future__ import annotations

import io
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import resample_poly

from trysquare.cli.recordings import STRETCH_SECOND, TOO_QUIET, read_recording
from trysquare.ground.errors import ReadingError
from trysquare.tuning.belt_sound import CLIPPED_SHARE, MOST_PLUCKS, BeltSound, Doubt, pitch_from
from trysquare.tuning.hearing import Heard
from tuning.plucked_strings import RATE_HZ, Strings, recording, sound_of

TONE_HZ = 110.0
Sound = NDArray[np.float64]


@pytest.fixture(scope="module")
def plucks() -> Sound:
    """Three plucks of a string stepped in time, 0.3 of full scale, at 11 kHz."""
    string = Strings(
        fundamental_hz=np.array([TONE_HZ]),
        stiffness=np.array([2e-4]),
        loss_hz=np.array([5.0]),
        loss_high=np.array([0.6]),
        plucked_at=np.array([0.4]),
        heard_at=np.array([0.3]),
    )
    heard = recording(np.random.default_rng(3), sound_of(string, 1.0)[0], None, noise=0.004)
    return np.asarray(resample_poly(heard, 1, 4))


def written(file: Path, sound: Sound, subtype: str = "PCM_16", rate: int = round(RATE_HZ / 4)) -> Path:
    soundfile.write(file, sound, rate, subtype=subtype)
    return file


def tone(file: Path, **options: float) -> float:
    found = read_recording(file, **options).sound.pitch  # type: ignore[arg-type]  # options are numbers
    assert found is not None
    return found.value


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("a.wav", "PCM_16"), ("a.wav", "PCM_U8"), ("a.wav", "FLOAT"), ("a.flac", "PCM_16"), ("a.ogg", "VORBIS")],
)
def test_every_kind_of_file_gives_the_same_tone(
    tmp_path: Path, plucks: Sound, name: str, subtype: str
) -> None:
    assert tone(written(tmp_path / name, plucks, subtype)) == pytest.approx(TONE_HZ, rel=0.005)


def test_of_a_stereo_recording_the_louder_channel_is_listened_to(tmp_path: Path, plucks: Sound) -> None:
    both = np.stack([0.01 * plucks, plucks], axis=1)
    found = read_recording(written(tmp_path / "a.wav", both))
    assert (found.channels, found.channel) == (2, 2)
    assert found.sound.pitch is not None
    assert found.sound.pitch.value == pytest.approx(TONE_HZ, rel=0.005)


def test_channels_out_of_phase_do_not_cancel(tmp_path: Path, plucks: Sound) -> None:
    both = np.stack([plucks, -plucks], axis=1)
    assert tone(written(tmp_path / "a.wav", both)) == pytest.approx(TONE_HZ, rel=0.005)


def test_silence_gives_no_tone_and_is_seen_as_silence(tmp_path: Path) -> None:
    found = read_recording(written(tmp_path / "a.wav", np.zeros(30_000)))
    assert found.sound.pitch is None
    assert found.top < TOO_QUIET
    assert Doubt.NO_PLUCK in found.sound.doubts


def test_clipping_is_counted(tmp_path: Path, plucks: Sound) -> None:
    loud = np.clip(12 * plucks, -1, 32767 / 32768)
    assert read_recording(written(tmp_path / "a.wav", loud)).sound.clipped_share > CLIPPED_SHARE


def test_a_wrong_rate_in_the_header_is_set_right_by_the_caller(tmp_path: Path, plucks: Sound) -> None:
    file = written(tmp_path / "a.wav", plucks, rate=8000)
    assert tone(file) == pytest.approx(TONE_HZ * 8000 / (RATE_HZ / 4), rel=0.005)
    assert tone(file, rate_hz=RATE_HZ / 4) == pytest.approx(TONE_HZ, rel=0.005)
    assert read_recording(file, rate_hz=RATE_HZ / 4).header_hz == 8000


def test_a_rate_that_cannot_be_is_refused_with_what_to_give(tmp_path: Path, plucks: Sound) -> None:
    file = written(tmp_path / "a.wav", plucks)
    data = bytearray(file.read_bytes())
    data[24:28] = struct.pack("<I", 44)
    file.write_bytes(data)
    with pytest.raises(ReadingError) as caught:
        read_recording(file)
    assert caught.value.read == "44 samples a second"
    assert "--rate" in caught.value.remedy


def test_a_file_cut_off_is_heard_as_far_as_it_goes(tmp_path: Path, plucks: Sound) -> None:
    whole = written(tmp_path / "a.wav", plucks).read_bytes()
    cut = tmp_path / "cut.wav"
    cut.write_bytes(whole[: len(whole) * 6 // 10])
    assert tone(cut) == pytest.approx(TONE_HZ, rel=0.005)


def test_a_flac_cut_off_is_heard_as_far_as_it_goes_and_said_to_be_broken(
    tmp_path: Path, plucks: Sound
) -> None:
    whole = written(tmp_path / "a.flac", plucks).read_bytes()
    cut = tmp_path / "cut.flac"
    cut.write_bytes(whole[: len(whole) * 8 // 10])
    found = read_recording(cut)
    assert found.broken
    assert found.seconds < len(plucks) / (RATE_HZ / 4)
    assert found.sound.pitch is not None
    assert found.sound.pitch.value == pytest.approx(TONE_HZ, rel=0.005)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "an empty file"),
        (b"frame,side_x_mm\n1,2\n", "begins with"),
        (b"\0\0\0\x20ftypM4A \0\0\0\0" + bytes(64), "telephones make"),
        (b"\x1aE\xdf\xa3" + bytes(64), "browsers make"),
    ],
)
def test_what_is_no_sound_is_named(tmp_path: Path, content: bytes, said: str) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(content)
    with pytest.raises(ReadingError) as caught:
        read_recording(file)
    assert said in str(caught.value.read)
    assert caught.value.remedy


def test_a_folder_and_a_missing_file_are_told_apart(tmp_path: Path) -> None:
    for file, said in ((tmp_path, "a folder"), (tmp_path / "none.wav", "no such file")):
        with pytest.raises(ReadingError) as caught:
            read_recording(file)
        assert caught.value.read == said


@pytest.mark.parametrize("frames", [0, 500])
def test_a_recording_too_short_to_hold_a_pluck_is_refused(tmp_path: Path, frames: int) -> None:
    with pytest.raises(ReadingError):
        read_recording(written(tmp_path / "a.wav", np.zeros(frames)))


def test_samples_that_are_no_numbers_count_as_silence(tmp_path: Path, plucks: Sound) -> None:
    odd = plucks.copy()
    odd[100:110] = np.nan
    odd[200] = np.inf
    assert tone(written(tmp_path / "a.wav", odd, "FLOAT")) == pytest.approx(TONE_HZ, rel=0.005)


def long_wave(sound: Sound, lead_second: int, rate: int) -> bytes:
    """A long quiet lead, then the sound, as eight bits."""
    quiet = 128 + np.random.default_rng(1).integers(-1, 2, lead_second * rate)
    stream = io.BytesIO()
    with wave.open(stream, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(1)
        out.setframerate(rate)
        out.writeframes(quiet.astype(np.uint8).tobytes())
        out.writeframes(np.round(128 + 127 * sound / np.abs(sound).max()).astype(np.uint8).tobytes())
    return stream.getvalue()


@pytest.mark.slow
def test_a_long_recording_is_never_read_whole(
    tmp_path: Path, plucks: Sound, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, rate = tmp_path / "long.wav", round(RATE_HZ / 4)
    file.write_bytes(long_wave(plucks, 180, rate))
    asked: list[int] = []
    read = soundfile.SoundFile.read

    def watched(self: soundfile.SoundFile, frames: int = -1, **options: object) -> object:
        asked.append(frames)
        return read(self, frames, **options)

    monkeypatch.setattr(soundfile.SoundFile, "read", watched)
    found = read_recording(file)
    assert found.sound.pitch is not None
    assert found.sound.pitch.value == pytest.approx(TONE_HZ, rel=0.005)
    assert min(found.sound.starts_second) > 180
    # Every piece is of the same length, however long the file is.
    assert set(asked) == {round(STRETCH_SECOND * rate)}
    assert len(asked) == len(range(0, 180 * rate + len(plucks), asked[0]))


@pytest.mark.slow
def test_of_hundreds_of_plucks_only_the_loudest_stay_in_memory(
    tmp_path: Path, plucks: Sound, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = written(tmp_path / "many.wav", np.tile(plucks, 40))
    kept: list[int] = []
    listen = pitch_from

    def watched(heard: list[Heard], *rest: object) -> BeltSound:
        kept.append(sum(len(one.plucks) for one in heard))
        return listen(heard, *rest)  # type: ignore[arg-type]  # as they came

    monkeypatch.setattr("trysquare.cli.recordings.pitch_from", watched)
    assert tone(file) == pytest.approx(TONE_HZ, rel=0.005)
    assert kept[0] <= 2 * MOST_PLUCKS < 120

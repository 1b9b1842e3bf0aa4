"""What `trysquare tune belt` tells: belts as they were read, and the report of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trysquare.cli import words
from trysquare.cli.facts import rounded
from trysquare.cli.recordings import TOO_QUIET, Recording, read_recording
from trysquare.cli.tune_belt_case import Case
from trysquare.cli.tune_shared import measured_fact
from trysquare.ground.errors import ReadingError
from trysquare.truing.verdicts import Verdict
from trysquare.tuning.belt import (
    TONE_WITHIN,
    half_width,
    learned_newton_per_turn,
    tension_from_deflection,
    tension_from_tone,
)
from trysquare.tuning.belt_reading import BeltReading, compare, doubt_words, read_belt, shares
from trysquare.tuning.belt_sound import CLIPPED_SHARE
from trysquare.tuning.hum import MAINS_HZ
from trysquare.tuning.report import CANNOT_TELL, Line, Part, Report
from trysquare.tuning.values import Measured

# Half-widths of a spring balance and of a rule beside the belt. Common practice, no source.
STRETCHES = (
    "Pressing stretches the belt too, and without its whole length (--machine) that is in the tension: the "
    "true one is lower. Press as little as you can read."
)
PRESS_WITHIN, ASIDE_WITHIN_MM = 0.05, 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was typed beside the recordings; None where nothing was."""

    tones: tuple[float, ...] = ()
    press: float | None = None
    aside: float | None = None
    before: str | None = None
    turned: float | None = None
    rate: float | None = None


def read_all(found: Sequence[Case], heard: Sequence[Recording], said: Said) -> list[BeltReading]:
    """Every belt judged. Raises ReadingError for a recording before the turn that has no tone."""
    readings = []
    for index, case in enumerate(found):
        belt = case.belt
        if heard:
            sound = heard[index].sound
            if said.before is not None and said.turned is not None and sound.pitch is not None:
                belt = replace(belt, newton_per_turn=_learned(case, said, sound.pitch))
            readings.append(read_belt(belt, sound.pitch, case.target, sure=sound.sure))
        elif said.press is not None and said.aside is not None:
            stretch = 0.0
            if belt.stiffness is not None and belt.length_mm is not None:
                stretch = belt.stiffness.value / belt.length_mm
            tension = tension_from_deflection(
                half_width(said.press, PRESS_WITHIN * said.press, "N", "as given"),
                belt.span,
                half_width(said.aside, ASIDE_WITHIN_MM, "mm", "as given"),
                stretch,
            )
            readings.append(read_belt(belt, None, case.target, tension=tension))
        else:
            hz = said.tones[index]
            tone = half_width(hz, TONE_WITHIN * hz, "Hz", "heard otherwise")
            readings.append(read_belt(belt, tone, case.target))
    return readings


def _learned(case: Case, said: Said, now: Measured) -> Measured:
    """What one turn of this tensioner did."""
    earlier = read_recording(Path(said.before or ""), rate_hz=said.rate, expected_hz=case.expected_hz).sound
    if earlier.pitch is None or not earlier.sure:
        raise ReadingError(
            where=said.before or "",
            read="no sure tone",
            expected="three clear plucks of the same span before the turn",
            remedy="Leave out --before and --turned.",
        )
    before, after = (tension_from_tone(tone, case.belt.span, case.belt.mass) for tone in (earlier.pitch, now))
    return learned_newton_per_turn(before, after, said.turned or 0.0)


def belt_report(
    found: Sequence[Case], readings: Sequence[BeltReading], heard: Sequence[Recording], limit_percent: float
) -> Report:
    """A part for each belt, and one for the pair when there are two of them."""
    sounds: Sequence[Recording | None] = heard or [None] * len(found)
    parts = [_belt(*each) for each in zip(found, readings, sounds, strict=True)]
    if len(readings) == 2 and all(one.tone is not None or one.tension is None for one in readings):
        parts.append(_pair(found, readings, limit_percent))
    return Report(what="belt", title="Belt tension", parts=tuple(parts), cautions=("motion",))


def _pair(found: Sequence[Case], readings: Sequence[BeltReading], limit_percent: float) -> Part:
    compared, says = compare(readings[0], readings[1], limit_percent)
    difference = compared.difference_percent if compared else None
    names = " and ".join(case.belt.name for case in found)
    return Part(
        of=" and ".join(case.of for case in found),
        title="The pair",
        verdict=_verdict(compared.verdict) if compared else CANNOT_TELL,
        says=tuple(says),
        lines=(Line(label="difference", value=difference, says=f"{names}; may be {limit_percent:g} %"),),
        main=difference,
        data={"pair": True, "limit_percent": limit_percent},
    )


def _verdict(verdict: Verdict) -> str:
    """Nothing read is nothing known."""
    return CANNOT_TELL if verdict is Verdict.NOT_READ else str(verdict)


def _belt(case: Case, reading: BeltReading, heard: Recording | None) -> Part:
    low, high, aim = reading.wanted_hz
    target, span = reading.target, case.span
    where = f"span {span.number}, {span.begins} to {span.ends}" if span else case.belt.span.basis
    lines = [
        Line(label="tone", value=reading.tone, says=_tone(reading, heard)),
        Line(label="tension", value=reading.tension),
        Line(label="span", value=case.belt.span, says=where),
        Line(label="mass", value=case.belt.mass, says=case.belt.mass.basis),
        Line(label="target", says=f"{target.aim_newton:.0f} N, {aim:.0f} Hz: {target.basis}"),
    ]
    if reading.tone is None and heard is None:
        lines = lines[1:]
    return Part(
        of=case.of,
        title=case.belt.name,
        verdict=_verdict(reading.verdict),
        says=reading.says,
        lines=tuple(lines),
        doubts=tuple(_typed_doubts(reading) if heard is None else _doubts(heard, case)),
        notes=(*case.notes, *_pressed(reading)),
        main=reading.tension,
        data={
            "recording": None if heard is None else _recording(heard),
            "span": {
                "number": span.number if span else None,
                "begins": span.begins if span else None,
                "ends": span.ends if span else None,
                "changes": span.changes if span else None,
                "length": measured_fact(case.belt.span),
            },
            "mass": measured_fact(case.belt.mass),
            "expected_hz": [rounded(one, 1) for one in case.expected_hz],
            "tone": measured_fact(reading.tone),
            "sure": reading.sure and reading.tension is not None,
            "uncertainty_from": {name: rounded(share, 3) for name, share in shares(reading).items()},
            "target": {
                "low_newton": rounded(target.low_newton, 2),
                "high_newton": rounded(target.high_newton, 2),
                "aim_newton": rounded(target.aim_newton, 2),
                "low_hz": rounded(low, 1),
                "high_hz": rounded(high, 1),
                "aim_hz": rounded(aim, 1),
                "basis": target.basis,
                "ruled": case.ruled,
            },
            "turn": _turn(reading),
        },
    )


def _tone(reading: BeltReading, heard: Recording | None) -> str:
    if heard is None:
        return ""
    if reading.tone is None:
        return "none heard"
    sound = heard.sound
    plucks = words.count(len(sound.used), "pluck")
    parts = [f"from {sum(sound.used)} of {plucks}", f"confidence {sound.confidence:.0%}"]
    if sound.hum is not None:
        parts.append(f"hum of {sound.hum.hz:.0f} Hz taken out")
    if heard.rate_hz != heard.header_hz:
        parts.append(f"at {heard.rate_hz:g} samples a second, the file says {heard.header_hz:g}")
    return "; ".join(parts)


def _pressed(reading: BeltReading) -> list[str]:
    if reading.tension is None or reading.tone is not None or reading.belt.length_mm is not None:
        return []
    return [STRETCHES]


def _turn(reading: BeltReading) -> dict[str, Any] | None:
    turn = reading.turn
    if turn is None:
        return None
    return {
        "change_newton": rounded(turn.change_newton, 2),
        "stretch": measured_fact(turn.stretch),
        "turns": None if turn.turns is None else rounded(turn.turns, 3),
        "half_of_it_first": turn.cautious,
        "basis": turn.basis,
    }


def _recording(heard: Recording) -> dict[str, Any]:
    sound = heard.sound
    return {
        "file": heard.file,
        "sort": heard.sort,
        "seconds": rounded(heard.seconds, 3),
        "rate_hz": heard.rate_hz,
        "rate_in_file_hz": heard.header_hz,
        "channels": heard.channels,
        "channel": heard.channel,
        "loudest": rounded(heard.top, 5),
        "clipped_share": rounded(sound.clipped_share, 6),
        "broken": heard.broken,
        "confidence": rounded(sound.confidence, 3),
        "overtones": list(sound.overtones),
        "other_hz": None if sound.other_hz is None else rounded(sound.other_hz, 2),
        "hum_hz": None if sound.hum is None else rounded(sound.hum.hz, 2),
        "plucks": [
            {"at_second": rounded(at, 2), "hz": None if hz is None else rounded(hz, 2), "used": used}
            for at, hz, used in zip(sound.starts_second, sound.heard_hz, sound.used, strict=True)
        ],
    }


def _typed_doubts(reading: BeltReading) -> list[tuple[str, str]]:
    """A tone heard by an ear or a telephone may be the mains' hum."""
    tone = reading.tone
    hums = [times * hz for hz in MAINS_HZ for times in (1, 2)]
    if tone is None or not any(abs(tone.value / hum - 1) <= TONE_WITHIN for hum in hums):
        return []
    says = (
        f"{tone.value:.0f} Hz is also what the mains hums with: lay a finger on the belt. A tone that stays "
    )
    return [("hum", says + "is the hum; switch off what hums and pluck again.")]


def _doubts(heard: Recording, case: Case) -> list[tuple[str, str]]:
    told = list(doubt_words(heard.sound, case.belt))
    if heard.top < TOO_QUIET:
        what = "is silent" if heard.top <= 0 else "is far too quiet"
        told.append(("silent", f"The recording {what}: was the microphone allowed to listen?"))
    if heard.sound.clipped_share > CLIPPED_SHARE:
        share = f"{heard.sound.clipped_share:.1%}"
        says = f"{share} of the samples are at the recorder's limit: hold it farther away."
        told.append(("clipped", says))
    if heard.broken:
        says = f"The file ends early ({heard.broken}); what could be read was listened to."
        told.append(("broken", says))
    return told

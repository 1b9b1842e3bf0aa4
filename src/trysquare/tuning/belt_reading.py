"""One belt read: its tone, its tension, whether that is right, and in a person's words what to do next."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.truing.verdicts import Verdict
from trysquare.tuning.belt import (
    NextTurn,
    Pair,
    Target,
    judged_tension,
    next_turn,
    pair_of,
    tension_from_tone,
    tone_hz,
)
from trysquare.tuning.belt_sound import BeltSound, Doubt
from trysquare.tuning.values import Measured, relative

# Two tones within this part are the same span's. Common practice, no source.
SAME_TONE = 0.03
# The mass alone makes the tension so unsure, as a part: then weighing is the thing to do.
MASS_MATTERS = 0.1
# A pressing that is read no better than this is no tension. Common practice, no source.
PRESS_MATTERS = 0.3
# So far off the band a tone is more likely another span's, or a figure mistyped: with this many times its
# upper or a part of its lower bound we ask, with that many nobody can tell. Common practice, no source.
ASKED_TIMES, ABSURD_TIMES = 2.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltOnSpan:
    """A belt and the span that was plucked. `length_mm` of the whole belt, where it is known.

    `others`: names and lengths of the belt's other spans, which have the same tension and may sound along.
    `screw_mm_per_turn`: the tensioner's pitch; `belt_mm_per_mm`: belt that it takes in for a millimetre.
    """

    name: str
    span: Measured
    mass: Measured
    length_mm: float | None = None
    stiffness: Measured | None = None
    others: tuple[tuple[str, float], ...] = ()
    screw_mm_per_turn: float | None = None
    belt_mm_per_mm: float = 2.0
    newton_per_turn: Measured | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltReading:
    """What a belt's tone says. `sure`: the tone is beyond doubt; else the tension is only a guess.

    `tension` and `turn` are None without a tone. `wanted_hz`: tones of the target's bounds and its aim.
    """

    belt: BeltOnSpan
    tone: Measured | None
    sure: bool
    tension: Measured | None
    target: Target
    wanted_hz: tuple[float, float, float]
    verdict: Verdict
    turn: NextTurn | None
    says: tuple[str, ...]


def read_belt(
    belt: BeltOnSpan,
    tone: Measured | None,
    target: Target,
    *,
    sure: bool = True,
    tension: Measured | None = None,
) -> BeltReading:
    """Judges a belt by its tone, or by a tension measured otherwise (`tension`, from a deflection).

    What is not sure is never good or bad: the verdict is then "cannot tell".
    """
    if tension is None and tone is not None:
        tension = tension_from_tone(tone, belt.span, belt.mass)
    verdict = Verdict.NOT_READ if tension is None else Verdict.CANNOT_TELL
    turn = None
    far = 1.0 if tension is None else far_off(tension, target)
    if tension is not None and sure and far <= ABSURD_TIMES:
        verdict = judged_tension(tension, target)
        turn = next_turn(
            tension, target.aim_newton, belt_length_mm=belt.length_mm, stiffness=belt.stiffness,
            screw_mm_per_turn=belt.screw_mm_per_turn, belt_mm_per_mm=belt.belt_mm_per_mm,
            newton_per_turn=belt.newton_per_turn,
        )  # fmt: skip
    wanted = (target.low_newton, target.high_newton, target.aim_newton)
    low, high, aim = (tone_hz(newton, belt.span.value, belt.mass.value) for newton in wanted)
    return BeltReading(
        belt=belt,
        tone=tone,
        sure=sure,
        tension=tension,
        target=target,
        wanted_hz=(low, high, aim),
        verdict=verdict,
        turn=turn,
        says=tuple(_advice(belt, tone, tension, target, (low, high, aim), verdict, turn, sure=sure)),
    )


def far_off(tension: Measured, target: Target) -> float:
    """How many times a tension is over the band, or under it; 1 within."""
    if tension.value <= 0:
        return 1.0
    return max(1.0, tension.value / target.high_newton, target.low_newton / tension.value)


def _advice(
    belt: BeltOnSpan, tone: Measured | None, tension: Measured | None, target: Target,
    wanted: tuple[float, float, float], verdict: Verdict, turn: NextTurn | None, *, sure: bool,
) -> list[str]:  # fmt: skip
    low, high, aim = wanted
    name = belt.name[0].upper() + belt.name[1:]
    band = f"{target.low_newton:.0f} to {target.high_newton:.0f} N, {low:.0f} to {high:.0f} Hz on this span"
    if tension is None:
        return [f"{name}: no tension. Wanted are {band}."]
    if not sure:
        return [f"{name}: about {tension.value:.1f} N if the tone is this span's. Wanted are {band}."]
    far = far_off(tension, target)
    if far > ABSURD_TIMES:
        return [f"{name}: {tension} cannot be right; wanted are {band}.", _look_again(tone)]
    if verdict is Verdict.GOOD:
        return [f"{name} is as taut as it should be: {tension}; wanted are {band}."]
    short, long = tension.value < target.low_newton, tension.value > target.high_newton
    says = []
    if verdict is Verdict.BAD:
        way = "too slack" if short else "too taut"
        says.append(f"{name} is {way}: {tension}; wanted are {band}.")
    else:
        says.append(f"{name}: {tension} lies too near the bounds to tell; wanted are {band}.")
    if tone is None and tension.expanded > PRESS_MATTERS * tension.value:
        says.append("The pressing is read too roughly: press a longer span, some millimetres aside.")
    if tone is not None and belt.mass.standard_uncertainty * 2 > MASS_MATTERS * belt.mass.value:
        piece = "a longer piece" if belt.mass.basis == "weighed" else "a length of it"
        says.append(f"The belt's mass ({belt.mass.basis}) makes most of the uncertainty: weigh {piece}.")
    if far > ASKED_TIMES:
        says.append(_look_again(tone))
    if turn is not None and (verdict is Verdict.BAD or short or long):
        says.append(turn_words(turn, aim, target.aim_newton))
    return says


def _look_again(tone: Measured | None) -> str:
    if tone is None:
        return "Before you turn anything: is the force in newton (100 g pull 1 N), and both lengths in mm?"
    return (
        "Before you turn anything: was it this very span, with the head where it is said to be, and neither "
        "its overtone nor a hum? Is the length in mm and the mass in g/m?"
    )


def turn_words(turn: NextTurn, aim_hz: float, aim_newton: float) -> str:
    """What the hand does next."""
    way = "Tighten" if turn.change_newton > 0 else "Slacken"
    goal = f"Aim at {aim_newton:.0f} N, {aim_hz:.0f} Hz"
    again = "move the head over its travel twice and pluck again"
    if turn.turns is not None and not turn.cautious:
        return f"{way} by {abs(turn.turns):.2g} turns ({turn.basis}). {goal}; {again}."
    if turn.turns is not None:
        half = f"which is half of what is reckoned ({turn.basis})"
        return f"{way} by {abs(turn.turns):.2g} turns, {half}. {goal}; {again}."
    if turn.stretch is not None:
        verb = "take in" if turn.stretch.value > 0 else "let out"
        much = f"about {abs(turn.stretch.value):.1f} mm of belt in all, half of it first ({turn.basis})"
        return f"{way}: {verb} {much}. {goal}; {again}."
    return f"{way} a little at a time. {goal}; {again}."


def compare(first: BeltReading, second: BeltReading, limit_percent: float) -> tuple[Pair | None, list[str]]:
    """A pair of belts and what to say of it; None when a tone is missing or not sure."""
    if first.tone is None or second.tone is None or not (first.sure and second.sure):
        return None, ["The pair cannot be compared: a tone is missing or in doubt."]
    pair = pair_of(
        (first.tone, second.tone), (first.belt.span, second.belt.span), limit_percent=limit_percent
    )
    difference = pair.difference_percent
    tauter, slacker = (first, second) if difference.value > 0 else (second, first)
    if pair.verdict is Verdict.GOOD:
        return pair, [f"The pair agrees within {limit_percent:g} %: {difference}."]
    much = f"{abs(difference.value):.1f} ± {difference.expanded:.1f} % tauter"
    says = [f"{tauter.belt.name} is {much} than {slacker.belt.name}; {limit_percent:g} % is the limit."]
    out = [each for each in (first, second) if each.tension and far_off(each.tension, each.target) > 1]
    if pair.verdict is Verdict.CANNOT_TELL:
        says.append("That is too near to tell: pluck each three times more, with the head in the middle.")
    elif out:
        # Evened to a belt that is itself too slack or too taut, both would be wrong.
        names = " and ".join(each.belt.name for each in out)
        says.append(
            f"First bring {names} to what is wanted, as said there; then pluck both again. "
            "An uneven pair racks the gantry."
        )
    else:
        # The one that is farther from its aim is turned; where both are far, the first turn still helps.
        one = max(first, second, key=lambda each: abs(each.turn.change_newton) if each.turn else 0.0)
        says.append(_evening(one, second if one is first else first))
    return pair, says


def _evening(one: BeltReading, other: BeltReading) -> str:
    """How far to turn one belt so that it is as taut as the other."""
    assert one.tension is not None  # a pair is only compared with both
    assert other.tension is not None
    belt, aim = one.belt, other.tension.value
    turn = next_turn(
        one.tension, aim, belt_length_mm=belt.length_mm, stiffness=belt.stiffness,
        screw_mm_per_turn=belt.screw_mm_per_turn, belt_mm_per_mm=belt.belt_mm_per_mm,
        newton_per_turn=belt.newton_per_turn,
    )  # fmt: skip
    does = turn_words(turn, tone_hz(aim, belt.span.value, belt.mass.value), aim)
    both = "Pluck both, for one belt draws on the other, and an uneven pair racks the gantry."
    return f"{belt.name}: {does[0].lower()}{does[1:]} {both}"


def doubt_words(sound: BeltSound, belt: BeltOnSpan | None = None) -> list[tuple[str, str]]:
    """Code and sentence for each doubt of a recording."""
    other = "another tone" if sound.other_hz is None else f"another tone of {sound.other_hz:.1f} Hz"
    said = {
        Doubt.NO_PLUCK: "Nothing in the recording rises and dies as a pluck does. Wait a second of quiet, "
        "then pluck three times, a second apart, with the microphone a hand's width from the belt.",
        Doubt.NO_LINE: "Something was plucked or knocked, but no clear tone follows. Pluck the middle of "
        "the span with a fingernail and let it ring.",
        Doubt.DISAGREE: "The plucks do not agree with each other. Record one span alone, three times.",
        Doubt.TWO_SPANS: f"Two tones are possible, {_tones(sound)}. Lay a finger on the neighbouring "
        "spans and record again.",
        Doubt.WEAK: "The tone is weak or vague. Bring the microphone nearer and pluck harder.",
        Doubt.OUTSIDE: f"The loudest tone is none that this span can have: {other}. Was another span "
        "plucked, or is the head elsewhere?",
    }
    told = [(str(doubt), said[doubt]) for doubt in sound.doubts]
    if belt is not None:
        name = other_span(sound, belt)
        if name:
            told.append(("other-span", f"The other tone is that of the same belt's span {name}."))
    return told


def _tones(sound: BeltSound) -> str:
    """The tone taken, and the other one that may be meant."""
    taken = "this" if sound.pitch is None else f"{sound.pitch.value:.1f} Hz, which is taken here"
    return taken if sound.other_hz is None else f"{taken}, and {sound.other_hz:.1f} Hz"


def other_span(sound: BeltSound, belt: BeltOnSpan) -> str:
    """The span of the same belt that the other tone goes with, for f · L is one for all; "" if none."""
    if sound.pitch is None or sound.other_hz is None:
        return ""
    product = sound.pitch.value * belt.span.value
    near = [
        (abs(sound.other_hz * length / product - 1), name)
        for name, length in belt.others
        if abs(length / belt.span.value - 1) > SAME_TONE
    ]
    off, name = min(near, default=(1.0, ""))
    return name if off < SAME_TONE else ""


def shares(reading: BeltReading) -> dict[str, float]:
    """Which part of the tension's variance comes from tone, length and mass: 0 … 1 each."""
    if reading.tone is None:
        return {}
    parts = {
        "tone": 2 * reading.tone.standard_uncertainty / reading.tone.value,
        "length": 2 * reading.belt.span.standard_uncertainty / reading.belt.span.value,
        "mass": reading.belt.mass.standard_uncertainty / reading.belt.mass.value,
    }
    whole = relative(*parts.values()) ** 2
    return {name: part**2 / whole for name, part in parts.items()} if whole > 0 else {}

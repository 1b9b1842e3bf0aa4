"""How a machine swings and how to move without it, as a report: modes, shaping, acceleration, culprit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Report, Table
from trysquare.tuning.resonance import Mode, Resonance
from trysquare.tuning.resonance_axis import AxisFound, ResonanceCase, Shaped, axes_told, axis_found
from trysquare.tuning.resonance_compare import Comparison, compare
from trysquare.tuning.resonance_culprit import ComputedMode, culprit_words
from trysquare.tuning.resonance_tables import (
    computed_table,
    impulse_table,
    modes_table,
    percent,
    rounded,
    rounded_or,
    shapers_table,
)
from trysquare.tuning.values import Measured

# Fewer seconds than this are told as too few. Common practice, no source.
SHORT_SECOND = 5.0
# Jitter of times beyond this part of a step spoils high frequencies.
LARGE_JITTER = 0.2
# A swing that near a steady tone, and damped less than any frame of bolted members, is that tone. Ours.
SAME_TONE, DRIVEN_DAMPING = 0.01, 0.012


def resonance_report(case: ResonanceCase) -> tuple[Report, tuple[AxisFound, ...]]:
    """The report, and what was found of each axis that is told."""
    found = tuple(axis_found(case, axis) for axis in axes_told(case))
    parts = [_axis_part(case, one) for one in found]
    if case.before is not None:
        parts.append(_change_part(compare(case.before, case.resonance)))
    return (
        Report(what="resonance", title="Resonance", parts=tuple(parts), cautions=("motion",)),
        found,
    )


def _axis_part(case: ResonanceCase, found: AxisFound) -> Part:
    of, title = f"resonance-{found.axis}", f"Axis {found.axis}"
    notes = (*case.resonance.shake.notes, *_tone_notes(case.resonance))
    doubts = _doubts(case.resonance, found)
    advised = found.advised
    if advised is None:
        return Part(
            of=of,
            title=title,
            verdict=CANNOT_TELL,
            says=(
                "No swing stands out of the noise.",
                "Fix the sensor to the head without play; record ten seconds of quick moves along it.",
            ),
            doubts=doubts,
            notes=notes,
        )
    first = found.modes[0]
    acceleration = _acceleration(advised, case, found)
    return Part(
        of=of,
        title=title,
        verdict=_verdict(case, found, acceleration),
        says=_says(case, found, advised, acceleration),
        lines=_lines(case, found, advised, acceleration),
        tables=(
            modes_table(found, case.resonance.shake.unit),
            shapers_table(case, found),
            impulse_table(advised.shaper),
            *((computed_table(case.computed),) if case.computed else ()),
        ),
        doubts=doubts,
        notes=(
            *notes,
            f"Highest sensible acceleration: {advised.smoothing.says}.",
            "The motors set another limit: see tune drive.",
        ),
        main=first.frequency,
        data={
            "seconds": round(case.resonance.shake.seconds, 3),
            "rate_hz": round(case.resonance.shake.rate_hz, 3),
            "acceleration_unit": case.resonance.shake.unit,
            "tones_hz": list(case.resonance.tones),
            "modes": [_mode_data(mode, found.axis) for mode in found.modes],
            "shapers": [_shaped_data(one) for one in found.shaped],
            "advised": advised.shaper.name,
            "frequency_error": case.error,
            "left_limit": case.limit,
        },
    )


def _acceleration(advised: Shaped, case: ResonanceCase, found: AxisFound) -> Measured | None:
    """The highest sensible acceleration; uncertain as the square of the strongest swing's frequency."""
    value = advised.smoothing.acceleration
    if not math.isfinite(value):
        return None
    frequency = found.modes[0].frequency
    part = 2 * frequency.standard_uncertainty / frequency.value
    basis = f"path {case.path_mm:g} mm, swing {case.swing_mm:g} mm"
    return Measured(value=value, standard_uncertainty=part * value, unit="mm/s²", basis=basis)


def _verdict(case: ResonanceCase, found: AxisFound, acceleration: Measured | None) -> str:
    """Good or bad only against an acceleration that somebody wants."""
    if not found.modes[0].sure or _driven(case.resonance, found):
        return CANNOT_TELL
    if case.wanted is None:
        return TOLD
    if acceleration is None or acceleration.value - acceleration.expanded >= case.wanted:
        return GOOD
    return BAD if acceleration.value + acceleration.expanded < case.wanted else CANNOT_TELL


def _says(
    case: ResonanceCase, found: AxisFound, advised: Shaped, acceleration: Measured | None
) -> tuple[str, ...]:
    first = found.modes[0]
    told = [f"{found.axis} swings most at {first.frequency}, damping {percent(first.damping)}."]
    name = advised.shaper.name
    left = f"{100 * advised.worst:.2g} % of a swing with the frequency off by {100 * case.error:.0f} %"
    if advised.worst > case.limit * (1 + 1e-3):
        told.append(
            f"No shaper of two periods or less keeps below {100 * case.limit:.2g} %; "
            f"{name} leaves least, {left}."
        )
    elif name == "none":
        told.append(f"Moves need no shaping: they leave {left}.")
    else:
        told.append(
            f"Shape its moves with {_named(name)}: {1000 * advised.shaper.seconds:.1f} ms long, "
            f"it leaves at most {left}."
        )
    if acceleration is not None:
        told.append(f"Accelerate by at most {rounded(acceleration.value)} mm/s² with it.")
        if case.wanted is not None:
            held = acceleration.value >= case.wanted
            told.append(
                f"{case.wanted:g} mm/s² is asked for: that is {'within it' if held else 'too much'}; "
                + ("keep it." if held else "stiffen or lighten the axis first, or ask for less.")
            )
    if not first.sure:
        told.append(
            "The strongest swing is not known well: record longer, with quicker moves, before it is set."
        )
    told += [words for mode in found.modes[:2] if (words := _culprit(mode, found.axis, case.computed))]
    return tuple(told)


def _named(shaper: str) -> str:
    return "the robust shaper" if shaper == "robust" else shaper


def _culprit(mode: Mode, axis: str, computed: Sequence[ComputedMode]) -> str:
    if mode.axis != axis:
        return f"{mode.frequency.value:.1f} Hz is stronger along {mode.axis}: look for its cause there."
    words = culprit_words(mode, computed)
    return f"{mode.frequency.value:.1f} Hz: {words[0].lower()}{words[1:]}" if words else ""


def _lines(
    case: ResonanceCase, found: AxisFound, advised: Shaped, acceleration: Measured | None
) -> tuple[Line, ...]:
    first = found.modes[0]
    damping = Measured(
        value=100 * first.damping.value, standard_uncertainty=100 * first.damping.standard_uncertainty,
        unit="%", basis=first.damping.basis,
    )  # fmt: skip
    behind = advised.smoothing.behind_mm_at_1000
    limits = f"{rounded_or(advised.smoothing.acceleration_for_path)} by the path, "
    limits += f"{rounded_or(advised.smoothing.acceleration_for_swing)} by the swing"
    return (
        Line(label="swings most at", value=first.frequency),
        Line(label="damping", value=damping, says="of critical"),
        Line(label="shaper", says=f"{advised.shaper.name}, {1000 * advised.shaper.seconds:.2f} ms"),
        Line(
            label="added smoothing",
            says=f"path {1000 * behind:.1f} µm behind for each 1000 mm/s²",
        ),
        Line(label="acceleration", value=acceleration, says=limits if acceleration else "no limit found"),
        *((Line(label="asked for", says=f"{case.wanted:g} mm/s²"),) if case.wanted is not None else ()),
    )


def _tone_notes(resonance: Resonance) -> tuple[str, ...]:
    if not resonance.tones:
        return ()
    told = ", ".join(f"{hz:.1f}" for hz in resonance.tones)
    return (f"Steady tones of a fan, motor or the mains at {told} Hz are no swings of the machine.",)


def _driven(resonance: Resonance, found: AxisFound) -> bool:
    """Whether the strongest swing is one of the steady tones, and dies away as slowly as they do."""
    if not found.modes:
        return False
    first = found.modes[0]
    near = any(abs(first.frequency.value / tone - 1) < SAME_TONE for tone in resonance.tones if tone > 0)
    return near and first.damping.value < DRIVEN_DAMPING


def _doubts(resonance: Resonance, found: AxisFound) -> tuple[tuple[str, str], ...]:
    shake = resonance.shake
    doubts = []
    if shake.seconds < SHORT_SECOND:
        doubts.append(("short", f"Only {shake.seconds:.1f} s: damping is known better from 20 s or more."))
    if shake.jitter > LARGE_JITTER:
        part = f"{100 * shake.jitter:.0f} %"
        doubts.append(("jitter", f"The times scatter by {part} of a step: high frequencies are blurred."))
    if shake.gaps:
        doubts.append(("gaps", f"{shake.gaps} gaps: let the sensor write without pauses."))
    if any(word in note for word in ("Gravity", "run back") for note in shake.notes):
        doubts.append(("columns", "Something is odd with the columns or times, see the notes below."))
    if any("end of its range" in note for note in shake.notes):
        doubts.append(("range", "The sensor is at the end of its range, see the notes below."))
    if _driven(resonance, found):
        doubts.append((
            "driven", ("What is strongest is a steady tone, not a swing that dies away: a fan, a motor's "
            "hum, the mains. Switch off fans and heaters, shake the axis harder, and record again."),
        ))  # fmt: skip
    if found.modes and not found.modes[0].sure:
        doubts.append(("unsure", "Frequency or damping of the strongest swing is not well known."))
    return tuple(doubts)


def _change_part(change: Comparison) -> Part:
    rows = []
    for one in change.changes:
        place = one.before or one.after
        rows.append(
            (
                place.axis if place else "",
                str(one.before.frequency) if one.before else "not seen",
                str(one.after.frequency) if one.after else "not seen",
                str(one.hz) if one.hz else "",
                f"{one.decibel:+.1f}" if one.decibel is not None else "",
            )
        )
    return Part(
        of="resonance-change",
        title="Before and after",
        verdict=str(change.verdict),
        says=change.says,
        lines=tuple(
            Line(label=f"movement of {axis}", says=f"{level:+.1f} dB")
            for axis, level in change.rms_decibel.items()
        ),
        tables=(
            Table(
                title="Swings before and after",
                columns=("axis", "before", "after", "moved", "dB"),
                rows=tuple(rows),
                right=frozenset({4}),
            ),
        ),
        notes=("Both recordings have to be of the same moves with the sensor in the same place.",),
        data={"change_decibel": {axis: round(level, 3) for axis, level in change.rms_decibel.items()}},
    )


def _mode_data(mode: Mode, axis: str) -> dict[str, object]:
    return {
        "hz": round(mode.frequency.value, 4),
        "hz_expanded": round(mode.frequency.expanded, 4),
        "damping": round(mode.damping.value, 6),
        "damping_expanded": round(mode.damping.expanded, 6),
        "rms": float(f"{mode.rms[axis]:.6g}"),
        "most_along": mode.axis,
        "sure": mode.sure,
    }


def _shaped_data(one: Shaped) -> dict[str, object]:
    acceleration = one.smoothing.acceleration
    return {
        "name": one.shaper.name,
        "times_second": [round(float(at), 7) for at in one.shaper.times_second],
        "amplitudes": [round(float(part), 6) for part in one.shaper.amplitudes],
        "left": round(one.at_zero, 6),
        "left_at_worst": round(one.worst, 6),
        "holds_within": [round(part, 4) for part in one.holds],
        "behind_mm_at_1000_mm_s2": round(one.smoothing.behind_mm_at_1000, 6),
        "acceleration_mm_s2": round(acceleration, 1) if math.isfinite(acceleration) else None,
    }

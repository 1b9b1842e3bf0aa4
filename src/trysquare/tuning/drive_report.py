"""What an axis' travels mean: steps for a millimetre, scale, lost motion; each a part of a report."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.truing.verdicts import Verdict, judge
from trysquare.tuning.drive import steps_per_mm
from trysquare.tuning.drive_file import Travels
from trysquare.tuning.drive_machine import Drive
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Table
from trysquare.tuning.travel import Travel, corrected_per_mm, mistake_of, read_travel, stray_reading
from trysquare.tuning.values import Measured

SCALE_LIMIT_PERCENT, LOST_LIMIT_MM = 0.1, 0.05  # common practice, no source
SAME_STEPS = 1e-4  # relative: settings are typed with four or five digits
# Beyond this no belt or screw is wrong by its making: a count is wrong. Common practice, no source.
COUNTED_WRONG = 0.01
MISSED_TIMES = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """How a motor is stepped: full steps a turn, microsteps, turns of it for one of pulley or screw."""

    full_steps: int = 200
    microsteps: int = 16
    gear: float = 1.0

    def per_mm(self, drive: Drive) -> float:
        return steps_per_mm(self.full_steps, self.microsteps, drive.travel_mm, self.gear)


def steps_part(drives: Sequence[Drive], steps: Steps, now_per_mm: float | None) -> Part:
    """Steps for a millimetre of each drive, against what is set when that is given."""
    rows, says, wrong = [], [], False
    for one in drives:
        per_mm = steps.per_mm(one)
        rows.append(
            (one.of, ", ".join(one.axes) or "?", one.how, f"{one.travel_mm:g}", f"{per_mm:.4f}",
             f"{1000 / per_mm:.3f}")
        )  # fmt: skip
    different = sorted({round(steps.per_mm(one), 9) for one in drives})
    if now_per_mm is not None:
        matching = [one for one in different if abs(now_per_mm / one - 1) <= SAME_STEPS]
        wrong = not matching
        if wrong:
            nearest = min(different, key=lambda one: abs(math.log(now_per_mm / one)))
            says.append(
                f"{now_per_mm:g} steps per mm are set; teeth, pitch and microsteps make {nearest:.4f}."
            )
            screws = {one.screw for one in drives if math.isclose(steps.per_mm(one), nearest)}
            says.append(_wrong_setting(now_per_mm / nearest, screws.pop() if len(screws) == 1 else None))
        else:
            says += _as_set(drives, steps, now_per_mm, matching)
    elif len(different) == 1:
        says.append(f"{different[0]:.4f} steps make a millimetre.")
    else:
        says.append("Steps for a millimetre, by drive:")
    value = Measured(
        value=different[0], standard_uncertainty=0.0, unit="1/mm", basis="counted: teeth, pitch, steps"
    ) if len(different) == 1 else None  # fmt: skip
    return Part(
        of="steps",
        title="Steps per millimetre",
        verdict=TOLD if now_per_mm is None else BAD if wrong else GOOD,
        says=tuple(says),
        main=value,
        tables=(
            Table(
                title="Drives",
                columns=("drive", "axes", "how", "mm a turn", "steps/mm", "µm a step"),
                rows=tuple(rows),
                right=frozenset({3, 4, 5}),
            ),
        ),
        notes=(
            f"{steps.full_steps} full steps a turn, {steps.microsteps} microsteps"
            + (f", {steps.gear:g} turns of the motor for one" if steps.gear != 1 else "")
            + ". A microstep divides the step, not the error: it is no promise of accuracy.",
        ),
        data={
            "drives": [
                {"drive": one.of, "axes": list(one.axes), "travel_mm_per_turn": one.travel_mm,
                 "steps_per_mm": round(steps.per_mm(one), 7)}
                for one in drives
            ],
            "set_steps_per_mm": now_per_mm,
        },
    )  # fmt: skip


def _as_set(drives: Sequence[Drive], steps: Steps, now_per_mm: float, matching: Sequence[float]) -> list[str]:
    """What is right, and which drives want another setting."""
    fits = [
        any(math.isclose(steps.per_mm(one), each, rel_tol=SAME_STEPS) for each in matching) for one in drives
    ]
    if all(fits):
        return [f"{now_per_mm:g} steps per mm are set, and that is what the drive makes."]
    right, other = (
        sorted({axis for one, fit in zip(drives, fits, strict=True) if fit is wanted for axis in one.axes})
        for wanted in (True, False)
    )
    return [
        f"{now_per_mm:g} steps per mm are what the drive of {' and '.join(right) or 'one'} makes.",
        f"The drive of {' and '.join(other) or 'another'} makes another number, see the table (--axis).",
    ]


def _wrong_setting(set_over_true: float, screw: bool | None) -> str:
    """What a wrong setting may come from: it moves `set_over_true` times as far as it should."""
    why = mistake_of(set_over_true, screw=screw)
    if why:
        return f"As it is, the axis would go {set_over_true:.3g} times as far as it should, as if {why}."
    return f"As it is, the axis would go {set_over_true:.4g} times as far as it should."


def travel_part(
    read: Travels,
    now_per_mm: float | None,
    *,
    within_mm: float,
    scale_limit_percent: float = SCALE_LIMIT_PERCENT,
    lost_limit_mm: float = LOST_LIMIT_MM,
) -> tuple[list[Part], Travel]:
    """Scale and lost motion, each judged. Raises ValueError for too few readings."""
    found = read_travel(read.commanded_mm, read.measured_mm, read.from_above, within_mm)
    parts = [_scale(read, found, now_per_mm, scale_limit_percent, within_mm), _lost(found, lost_limit_mm)]
    return parts, found


def _scale(read: Travels, found: Travel, now_per_mm: float | None, limit: float, within_mm: float) -> Part:
    off = Measured(
        value=100 * (found.scale.value - 1), standard_uncertainty=100 * found.scale.standard_uncertainty,
        unit="%", basis=found.scale.basis,
    )  # fmt: skip
    judged = judge(off.value, off.standard_uncertainty, limit)
    says, lines = [], [Line(label="scale", value=found.scale, says="measured over commanded")]
    ratio = found.scale.value
    if ratio <= 0:
        verdict = BAD
        says.append("The axis goes the other way: turn its direction before anything else.")
    elif abs(ratio - 1) > COUNTED_WRONG:
        verdict = BAD
        why = mistake_of(ratio)
        says.append(f"The axis goes {ratio:.4g} times as far as it should: something is counted wrongly.")
        says.append(
            f"As if {why}." if why else "Count the teeth, read the pitch, look at the driver's microsteps."
        )
    else:
        verdict = str(judged.verdict)
        if judged.verdict is Verdict.GOOD:
            says.append("The axis goes as far as it should, to what these readings can tell.")
        elif judged.verdict is Verdict.BAD:
            way = "too far" if off.value > 0 else "too short"
            shown = Measured(value=abs(off.value), standard_uncertainty=off.standard_uncertainty, unit="%")
            says.append(f"The axis goes {shown} {way}; {limit:g} % are allowed.")
            says.append(
                "Teeth and pitch are exact: look for a loose pulley, a stretched belt or the instrument "
                "first, and correct the steps last."
            )
        else:
            says.append(f"Whether the scale is within {limit:g} % cannot be told: it is off by {off}.")
            says.append("Read longer travels, or each of them more often.")
    if now_per_mm is not None and ratio > 0:
        corrected = corrected_per_mm(now_per_mm, found.scale)
        lines.append(Line(label="corrected steps", value=corrected, says=f"now {now_per_mm:g}"))
    lines.append(Line(label="offset", value=found.offset_mm, says="in each reading alike; no scale"))
    lines.append(Line(label="scatter", says=f"{found.scatter_mm:.3f} mm, one reading"))
    if abs(found.offset_mm.value) > max(found.offset_mm.expanded, 0.02):
        says.append("One travel alone would have taken the offset for scale: that is why several are read.")
    allowed = MISSED_TIMES * max(within_mm / math.sqrt(3), found.scatter_mm / 2)
    stray = stray_reading(read.commanded_mm, read.measured_mm, read.from_above)
    doubts = tuple(
        ("reading-off", f"Line {line}: {rest:+.2f} mm off what the others say. Read it again.")
        for line, rest in zip(read.lines, found.rest_mm.tolist(), strict=True)
        if abs(rest) > allowed
    )
    if not doubts and stray is not None and abs(stray[1]) > MISSED_TIMES * max(within_mm, 2 * stray[2]):
        index, far, _ = stray
        doubts = ((
            "reading-off", (f"Line {read.lines[index]} reads {read.measured_mm[index]:g} at "
            f"{read.commanded_mm[index]:g} mm, {far:+.2f} mm off what the others say: did a digit slip? Read "
            "it again, or leave the line out."),
        ),)  # fmt: skip
    return Part(
        of="scale",
        title="Scale of the axis",
        verdict=verdict,
        says=tuple(says),
        main=off,
        lines=tuple(lines),
        doubts=doubts[:5],
        data={
            "scale": round(found.scale.value, 8),
            "readings": len(read.lines),
            "limit_percent": limit,
            "corrected_steps_per_mm": None
            if now_per_mm is None or ratio <= 0
            else round(now_per_mm / ratio, 6),
        },
    )


def _lost(found: Travel, limit: float) -> Part:
    if found.lost_mm is None:
        return Part(
            of="lost-motion",
            title="Lost motion",
            verdict=CANNOT_TELL,
            says=(
                "What is lost on turning back cannot be told: every reading came from the same side.",
                "Come to the same places from below and from above, and write so in the column from.",
            ),
        )
    lost = found.lost_mm
    judged = judge(lost.value, lost.standard_uncertainty, limit)
    if judged.verdict is Verdict.GOOD:
        says = ["Nearly nothing is lost on turning back."]
    elif judged.verdict is Verdict.CANNOT_TELL:
        says = [f"Whether less than {limit:g} mm is lost on turning back cannot be told: {lost}."]
    elif lost.value < 0:
        says = [
            f"From above it stops {-lost.value:.3f} mm lower than from below: no play does that.",
            "Is the column from the wrong way round, or a correction for play set too large?",
        ]
    else:
        says = [
            f"{lost} are lost on turning back; {limit:g} mm are allowed.",
            "Belt: the pulley's set screws, then tension. Screw: nut, coupling, end bearing. Then drag.",
        ]
    return Part(
        of="lost-motion",
        title="Lost motion",
        verdict=str(judged.verdict),
        says=tuple(says),
        main=lost,
        lines=(Line(label="lost", value=lost, says=f"may be {limit:g}"),),
        data={"limit_mm": limit},
    )

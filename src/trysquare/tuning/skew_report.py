"""What a test piece's skew and scale mean, and whether the frame or the numbers are to be corrected."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from trysquare.truing.verdicts import Verdict, judge
from trysquare.tuning.hole_slack import HoleSlack, slack_part
from trysquare.tuning.report import Line, Part, Report
from trysquare.tuning.skew import AXES, PLANES, Skew, read_piece
from trysquare.tuning.skew_file import PieceReading
from trysquare.tuning.skew_matrix import matrix_part
from trysquare.tuning.values import Measured

# Common practice, no source: what a printed part of 100 mm shows, and beyond which a frame is at fault.
LIMIT_MM_PER_100 = 0.05
FRAME_TIMES = 2.0
SCALE_LIMIT_PERCENT = 0.1
WIDE_MM = 0.1  # lines wider by this on every outside are worth a word
MISSED_TIMES = 4.0  # standard uncertainties by which a reading may miss what the others say
_FACE = {"xy": "seen from above", "xz": "seen from the front", "yz": "seen from the right"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SkewCase:
    """What is asked: readings, limits, scales known otherwise by axis, and for each plane the names of
    the machine's squareness characteristics. `frame`: the machine folder as typed, or "". `slacks`: what
    the machine's printed parts may shrink."""

    readings: Sequence[PieceReading]
    limit_mm_per_100: float = LIMIT_MM_PER_100
    scale_limit_percent: float = SCALE_LIMIT_PERCENT
    own_scale: Mapping[str, Measured] = field(default_factory=dict)
    squareness: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    frame: str = ""
    slacks: tuple[HoleSlack, ...] = ()


def read_case(case: SkewCase) -> Skew:
    """The readings solved. Raises ValueError when they do not tell a piece's shape."""
    return read_piece([one.length for one in case.readings], case.own_scale)


def skew_report(case: SkewCase, found: Skew) -> Report:
    """One part for each plane that was read, one for the scales, one with the correction."""
    parts = [_plane(case, found, plane) for plane in PLANES if plane in found.skew]
    parts.append(_scales(case, found))
    shrinks = _shrinks(found)
    if case.slacks and shrinks is not None:
        parts.append(slack_part(case.slacks, shrinks, apart=found.shrinkage is not None))
    parts.append(matrix_part(found))
    return Report(what="skew", title="Skew and scale", parts=tuple(parts), cautions=("motion",))


def per_100(angle: Measured) -> Measured:
    """A small angle as millimetres in a hundred."""
    return Measured(
        value=100 * angle.value, standard_uncertainty=100 * angle.standard_uncertainty, unit="mm/100",
        basis=angle.basis,
    )  # fmt: skip


def _plane(case: SkewCase, found: Skew, plane: str) -> Part:
    angle = found.skew[plane]
    lean = per_100(angle)
    doubts = _doubts(case, found, plane)
    judged = judge(lean.value, lean.standard_uncertainty, case.limit_mm_per_100)
    if found.width_mm is None and any(code == "one-diagonal" for code, _ in doubts):
        judged = replace(judged, verdict=Verdict.CANNOT_TELL)  # a line's width would pass for skew
    first, second = plane[0], plane[1]
    verdict = str(judged.verdict)
    says = [_verdict_words(judged.verdict, plane, lean, case.limit_mm_per_100)]
    if judged.verdict is not Verdict.GOOD:
        way = "+" if angle.value > 0 else "−"
        says.append(
            f"A move of 100 mm along +{second} also goes {abs(lean.value):.2f} mm towards {way}{first}."
        )
    remedy = "none"
    if judged.verdict is Verdict.BAD:
        frame = abs(lean.value) > FRAME_TIMES * case.limit_mm_per_100
        remedy = "frame" if frame else "numbers"
        says += _true_again(case, plane) if frame else _by_numbers(case, plane)
    elif judged.verdict is Verdict.CANNOT_TELL:
        remedy = "read more"
        says.append(
            "Read both diagonals three times, or make a piece of twice the size: that halves the doubt."
        )
    right = math.degrees(math.pi / 2 - angle.value)
    fine = math.degrees(angle.expanded)
    return Part(
        of=f"skew-{plane}",
        title=f"Plane {plane.upper()}",
        verdict=verdict,
        says=tuple(says),
        main=lean,
        lines=(
            Line(label="skew", value=lean, says=f"may be ± {case.limit_mm_per_100:g}"),
            Line(label="angle", says=f"{right:.3f} ± {fine:.3f}° from +{first} to +{second}, {_FACE[plane]}"),
        ),
        doubts=doubts,
        data={
            "plane": plane,
            "skew_radian": round(angle.value, 8),
            "limit_mm_per_100": case.limit_mm_per_100,
            "remedy": remedy,
            "squareness_characteristics": list(case.squareness.get(plane, ())),
        },
    )


def _verdict_words(verdict: Verdict, plane: str, lean: Measured, limit: float) -> str:
    name = plane.upper()
    if verdict is Verdict.GOOD:
        return f"{name} is square, to what this piece can tell."
    if verdict is Verdict.BAD:
        return f"{name} is skew by {lean}; the limit is {limit:g}."
    return f"Whether {name} is square enough cannot be told: {lean} against a limit of {limit:g}."


def _true_again(case: SkewCase, plane: str) -> list[str]:
    names = case.squareness.get(plane, ())
    says = ["That much comes from the frame: true it again first, and correct in numbers only what remains."]
    if names:
        others = f", then {' and '.join(names[1:3])}" if len(names) > 1 else ""
        says.append(f"Look at {names[0]}{others} in: trysquare true {case.frame}")
    elif plane == "xy":
        says.append(
            "Look whether the gantry is square to its rails, and whether both belts are equally taut."
        )
    else:
        says.append(
            f"Look whether the z posts or rails stand square on what carries {plane[0]}, and the bed too."
        )
    return says


def _by_numbers(case: SkewCase, plane: str) -> list[str]:
    names = case.squareness.get(plane, ())
    says = ["That little is quicker corrected in numbers, with the matrix below; then make the piece again."]
    if names:
        says.append(f"If {names[0]} was never read, read it first: a frame that moves undoes any number.")
    return says


def _doubts(case: SkewCase, found: Skew, plane: str) -> tuple[tuple[str, str], ...]:
    told = []
    mine = [one for one in case.readings if one.plane == plane]
    diagonals = {one.along for one in mine} & {"rising", "falling"}
    if len(diagonals) == 1:
        says = (
            f"Only the {diagonals.pop()} diagonal was read: a line's width passes for skew. Read the other."
        )
        told.append(("one-diagonal", says))
    for one, rest in zip(case.readings, found.rest_mm.tolist(), strict=True):
        allowed = max(MISSED_TIMES * one.length.half_width_mm / math.sqrt(3), 0.05)
        if one.plane == plane and abs(rest) > allowed:
            says = f"{one.name} is {rest:+.2f} mm off what the other readings say: read it again."
            told.append(("reading-off", says))
    if any(one.is_upright for one in mine):
        says = (
            "Along z the outside has the first layer in it, the inside a bridge: the depth rod tells better."
        )
        told.append(("upright", says))
    return tuple(told)


def _scales(case: SkewCase, found: Skew) -> Part:
    lines = [
        Line(label=f"scale {axis}", value=_percent(found.scale[axis]), says="of nominal")
        for axis in AXES
        if axis in found.scale
    ]
    if found.shrinkage is not None:
        shrink = Measured(
            value=-100 * found.shrinkage.value,
            standard_uncertainty=100 * found.shrinkage.standard_uncertainty, unit="%",
        )  # fmt: skip
        lines.append(Line(label="shrinkage", value=shrink, says="of the material, the same each way"))
    notes = []
    if found.width_mm is not None:
        width = found.width_mm
        shown = Measured(value=width.value, standard_uncertainty=width.standard_uncertainty, unit="mm")
        lines.append(Line(label="line width", value=shown, says="more outside, less inside; no scale"))
        if abs(width.value) > max(WIDE_MM, width.expanded):
            notes.append(
                "Outside dimensions are off by the line's width, which is set by flow, not by steps."
            )
    verdict, says, main, data = _apart(case, found) if not found.together else _held_together(case, found)
    return Part(
        of="scale",
        title="Scale",
        verdict=verdict,
        says=tuple(says),
        lines=tuple(lines),
        notes=tuple(notes),
        main=main,
        data={
            "scale": {axis: round(one.value, 7) for axis, one in found.scale.items()},
            "shrinkage_told_apart": not found.together,
            "scale_limit_percent": case.scale_limit_percent,
            **data,
        },
    )


_Told = tuple[str, list[str], Measured | None, dict[str, float | None]]


def _held_together(case: SkewCase, found: Skew) -> _Told:
    """Shrinkage hides in the scales: only their difference is the machine's."""
    rest = (
        "What all axes have alike may be the material's shrinkage: measure one axis by a dial or a rule "
        "and give --travel to tell them apart."
    )
    if not {"x", "y"} <= set(found.scale):
        return "cannot tell", ["Scale and shrinkage cannot be told apart from one axis.", rest], None, {}
    assert found.x_over_y is not None  # both scales are there
    apart = Measured(
        value=100 * found.x_over_y.value, standard_uncertainty=100 * found.x_over_y.standard_uncertainty,
        unit="%", basis=found.x_over_y.basis,
    )  # fmt: skip
    judged = judge(apart.value, apart.standard_uncertainty, case.scale_limit_percent)
    if judged.verdict is Verdict.GOOD:
        says = ["X and y have the same scale, to what this piece can tell."]
    elif judged.verdict is Verdict.BAD:
        says = [
            f"X is {apart} longer than y: material shrinks alike both ways, so that is the machine.",
            "Check teeth, pitch and lead: trysquare tune drive --machine FOLDER, then measure travels.",
        ]
    else:
        says = [f"Whether x and y have the same scale cannot be told: they differ by {apart}."]
    return str(judged.verdict), [*says, rest], apart, {"x_over_y_percent": round(apart.value, 5)}


def _apart(case: SkewCase, found: Skew) -> _Told:
    """The scales are the machine's own."""
    if not found.scale:
        return "cannot tell", ["No length along an axis was read."], None, {}
    worst = max(found.scale, key=lambda axis: abs(found.scale[axis].value - 1))
    verdicts, says = [], []
    for axis, one in found.scale.items():
        off = Measured(
            value=100 * (one.value - 1), standard_uncertainty=100 * one.standard_uncertainty, unit="%"
        )
        judged = judge(off.value, off.standard_uncertainty, case.scale_limit_percent)
        verdicts.append(judged.verdict)
        if judged.verdict is Verdict.BAD:
            way = "too far" if off.value > 0 else "too short"
            shown = Measured(value=abs(off.value), standard_uncertainty=off.standard_uncertainty, unit="%")
            says.append(f"Axis {axis} goes {shown} {way}: check its steps: trysquare tune drive.")
    verdict = next((one for one in (Verdict.BAD, Verdict.CANNOT_TELL) if one in verdicts), Verdict.GOOD)
    if verdict is Verdict.GOOD:
        says.append("Every axis that was read goes as far as it should, the material's shrinkage taken out.")
    elif verdict is Verdict.CANNOT_TELL:
        says.append(
            f"Whether every axis goes as far as it should cannot be told to {case.scale_limit_percent:g} %."
        )
    if found.shrinkage is not None:
        percent = -100 * found.shrinkage.value
        sure = abs(percent) > 200 * found.shrinkage.standard_uncertainty
        if sure and percent > 0:
            says.append(
                f"The material shrinks by {percent:.2f} %: scale the part in the slicing, not the steps."
            )
        elif sure:
            verdict = Verdict.BAD
            says.append(
                f"The piece is {-percent:.2f} % too large although its axes go as far as they should, and no "
                "plastic grows: it was scaled for shrinkage when it needed none, or twice, in the file and "
                "again in the slicing. Take the scaling out in one place, make the piece again and read it."
            )
    return (
        str(verdict),
        says,
        _percent(found.scale[worst]),
        {"worst_axis_percent": round(100 * (found.scale[worst].value - 1), 5)},
    )


def _shrinks(found: Skew) -> Measured | None:
    """What the material shrinks, in %: told apart, else all that the axes have alike."""
    if found.shrinkage is not None:
        one = found.shrinkage
        return Measured(value=-100 * one.value, standard_uncertainty=100 * one.standard_uncertainty, unit="%")
    if not found.scale:
        return None
    least = max(found.scale.values(), key=lambda one: one.value)  # what even the longest axis lacks
    return Measured(
        value=100 * (1 - least.value), standard_uncertainty=100 * least.standard_uncertainty, unit="%"
    )


def _percent(one: Measured) -> Measured:
    return Measured(
        value=100 * one.value, standard_uncertainty=100 * one.standard_uncertainty, unit="%", basis=one.basis
    )

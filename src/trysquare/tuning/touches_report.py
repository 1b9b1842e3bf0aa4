"""What repeated touches of a switch or probe mean: good enough for what, creeping, astray, how far apart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from trysquare.tuning.named_rows import named_rows, refuse_faults
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Report, Table
from trysquare.tuning.touches import LEAST_TOUCHES, PART_OF_TOLERANCE, Touches, look_at_touches
from trysquare.tuning.values import Measured

EXAMPLE = "axis,with,position_mm"
WITH = ("switch", "probe", "tool")
AXES = ("x", "y", "z")
# What an axis is asked for when nobody says. Common practice, no source: a quarter of a first layer of
# 0.2 mm along z; a tenth along x and y, where a shifted start shows only between two starts.
TOLERANCES_MM: Mapping[str, float] = {"x": 0.1, "y": 0.1, "z": 0.05}
FARTHEST_MM = 1e4  # of any coordinate
FAR_MM = 5.0  # touches of one place never lie that far apart: the row is of something else
LEAST_SERVED_MM = 5e-4  # less is the last digit of the reading
# Fewer touches leave a deviation unsure by half of itself.
WORTH_TOUCHES = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Touches of one axis with one thing, in the order made. `lines`: where each stands in the file."""

    axis: str
    by: str
    positions_mm: tuple[float, ...]
    lines: tuple[int, ...]

    @property
    def name(self) -> str:
        return f"{self.axis} {self.by}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchesCase:
    """What is asked. `tolerance_mm`: for all axes, else by axis from our table."""

    series: Sequence[Series]
    tolerance_mm: float | None = None
    known_offset_mm: float | None = None

    def tolerance(self, axis: str) -> float:
        return TOLERANCES_MM[axis] if self.tolerance_mm is None else self.tolerance_mm


def parse_touches(text: str, file: str) -> list[Series]:
    """Rows of position_mm, and as you like axis (else z) and with (switch, probe, tool; else switch).

    Raises ReadingErrors, also for a series of fewer than three touches or one that lies far from its others.
    """
    rows = named_rows(text, file, ("position_mm",), EXAMPLE)
    groups: dict[tuple[str, str], list[tuple[float, int]]] = {}
    of_row = {}
    for row in rows:
        axis = row.word("axis", AXES, default="z")
        by = row.word("with", WITH, default="switch")
        position = row.number("position_mm", above=-FARTHEST_MM, most=FARTHEST_MM)
        groups.setdefault((axis, by), []).append((position, row.line))
        of_row[row.line] = row
    refuse_faults(rows)
    for (axis, by), touches in groups.items():
        middle = float(np.median([one for one, _ in touches]))
        for position, line in touches:
            if abs(position - middle) > FAR_MM:
                of_row[line].fault(
                    "position_mm", f"within {FAR_MM:g} mm of the others of {axis} {by}",
                    "Is it of another axis or place? Put each in its own column 'axis' or file.",
                )  # fmt: skip
        if len(touches) < LEAST_TOUCHES:
            of_row[touches[0][1]].fault(
                "position_mm", f"at least {LEAST_TOUCHES} touches of {axis} {by}; there are {len(touches)}",
                "Touch ten times or more.",
            )  # fmt: skip
    refuse_faults(rows)
    return [
        Series(axis=axis, by=by, positions_mm=tuple(p for p, _ in each), lines=tuple(n for _, n in each))
        for (axis, by), each in groups.items()
    ]


def touches_report(case: TouchesCase) -> tuple[Report, dict[str, Touches]]:
    """One part for each series, one for the offset of the probe where probe and tool touched one place."""
    found = {one.name: look_at_touches(one.positions_mm) for one in case.series}
    parts = [_series(case, one, found[one.name]) for one in case.series]
    by = {(one.axis, one.by): one for one in case.series}
    parts += [
        _offset(case, axis, found[f"{axis} probe"], found[f"{axis} tool"])
        for axis in AXES
        if (axis, "probe") in by and (axis, "tool") in by
    ]
    return Report(what="homing", title="Homing", parts=tuple(parts), cautions=("motion",)), found


def deviation_measured(touches: Touches) -> Measured:
    """The deviation with the uncertainty of its own: σ / √(2 (n − 1)).

    Source: JCGM 100:2008, E.4.3.
    """
    count = touches.count
    return Measured(
        value=touches.deviation_mm,
        standard_uncertainty=touches.deviation_mm / math.sqrt(2 * max(1, count - 1)),
        unit="mm",
        basis=f"{count} touches",
    )


def _series(case: TouchesCase, one: Series, touches: Touches) -> Part:
    tolerance = case.tolerance(one.axis)
    allowed = PART_OF_TOLERANCE * tolerance
    low, high = touches.deviation_low_mm, touches.deviation_high_mm
    creeps = touches.drifts and abs(touches.drift_mm) - touches.drift_expanded_mm > tolerance / 2
    name = f"{one.axis.upper()} {one.by}"
    if touches.range_mm <= 0:
        verdict = CANNOT_TELL
        says = [
            f"{name}: all touches read the same, which is the reading's last digit and not the switch.",
            "Read it with an instrument of finer steps, such as a dial of 0.001 mm.",
        ]
    elif high <= allowed and not creeps:
        verdict = GOOD
        says = [f"{name} finds its place well enough for ± {tolerance:g} mm."]
    elif low > allowed:
        verdict = BAD
        says = [
            f"{name} scatters too much for ± {tolerance:g} mm.",
            f"Its deviation is {touches.deviation_mm:.4f} mm; {allowed:.4f} may be.",
            _cure(one.by),
        ]
    elif creeps:
        verdict = BAD
        says = []
    else:
        verdict = CANNOT_TELL
        more = _touches_needed(touches, allowed)
        says = [
            f"{name}: whether it is good for ± {tolerance:g} mm cannot be told from {touches.count} touches.",
            f"Touch {more} times in one go."
            if more
            else "It is too near the bounds for any number of touches.",
        ]
    if touches.drifts:
        way = "up" if touches.drift_mm > 0 else "down"
        says.append(
            f"It creeps {way} by {abs(touches.drift_mm):.3f} ± {touches.drift_expanded_mm:.3f} mm in all: "
            + ("something gets warm or comes loose; " if creeps else "small beside the tolerance; ")
            + "wait until the machine is warm, look at its screws, then touch again."
        )
    doubts = [("astray", _astray_words(one, index)) for index in touches.astray]
    if touches.count < WORTH_TOUCHES:
        doubts.append(
            ("few", f"{touches.count} touches tell a deviation only roughly: ten or more are worth it.")
        )
    return Part(
        of=f"homing-{one.axis}-{one.by}",
        title=name,
        verdict=verdict,
        says=tuple(says),
        doubts=tuple(doubts),
        lines=(
            Line(label="deviation", value=deviation_measured(touches),
                 says=f"95 % bounds {low:.4f} to {high:.4f} mm; may be {allowed:.4f}"),
            Line(label="range", says=f"{touches.range_mm:.4f} mm from lowest to highest"),
            Line(label="drift", value=Measured(value=touches.drift_mm,
                 standard_uncertainty=touches.drift_expanded_mm / 2, unit="mm"), says="first to last touch"),
            Line(label="mean", value=_mean(touches)),
            Line(label="serves", says=_serves(touches, creeps=creeps)),
        ),
        notes=(
            f"A switch serves a tolerance four times its deviation. ± {tolerance:g} mm is "
            + ("common practice, no source." if case.tolerance_mm is None else "as given."),
        ),
        main=deviation_measured(touches),
        data={
            "axis": one.axis,
            "with": one.by,
            "touches": touches.count,
            "tolerance_mm": tolerance,
            "deviation_allowed_mm": round(allowed, 6),
            "deviation_low_mm": round(low, 6),
            "deviation_high_mm": round(high, 6),
            "serves_mm": round(touches.tolerance_it_serves_mm, 6),
            "drifts": touches.drifts,
            "astray_lines": [one.lines[index] for index in touches.astray],
        },
    )  # fmt: skip


def _serves(touches: Touches, *, creeps: bool) -> str:
    """The finest tolerance it serves; nothing where no scatter was seen, or while it creeps."""
    if creeps:
        return "nothing while it creeps"
    if touches.tolerance_it_serves_mm < LEAST_SERVED_MM:
        return "not known: no scatter was seen"
    return f"± {touches.tolerance_it_serves_mm:.3f} mm and coarser"


def _astray_words(one: Series, index: int) -> str:
    where = f"Touch {index + 1} (line {one.lines[index]}, {one.positions_mm[index]:.4f} mm)"
    return (
        f"{where} went astray and is left out: dirt, a hair, a knock? If it comes back, clean and fasten the "
        f"{one.by}."
    )


def _cure(by: str) -> str:
    return {
        "switch": "Look at the switch: fastened, its lever not bent, struck slowly and always at one speed.",
        "probe": "Look at the probe: fastened, clean, away from heat and cables, the same speed always.",
        "tool": "Clean the tip: a drop of plastic on it touches first.",
    }[by]


def _touches_needed(touches: Touches, allowed: float) -> int:
    """How many touches would tell, if the deviation stays as it is; 0: too many."""
    for count in (10, 15, 20, 30, 50, 100):
        if count <= touches.count:
            continue
        freedom = count - 1
        bound = chi2.ppf(0.025 if touches.deviation_mm < allowed else 0.975, freedom)
        reached = touches.deviation_mm * math.sqrt(freedom / float(bound))
        if (reached <= allowed) == (touches.deviation_mm < allowed):
            return count
    return 0


def _mean(touches: Touches) -> Measured:
    count = touches.count
    return Measured(
        value=touches.mean_mm, standard_uncertainty=touches.deviation_mm / math.sqrt(count), unit="mm"
    )


def _offset(case: TouchesCase, axis: str, probe: Touches, tool: Touches) -> Part:
    """How far from the tool's the probe's touch lies, at one place."""
    first, second = _mean(probe), _mean(tool)
    # A drift moves the mean as long as the series lasts: half of it, as a half-width.
    creep = sum((one.drift_mm / 2) ** 2 / 3 for one in (probe, tool) if one.drifts)
    offset = Measured(
        value=first.value - second.value,
        standard_uncertainty=math.sqrt(
            first.standard_uncertainty**2 + second.standard_uncertainty**2 + creep
        ),
        unit="mm",
        basis="probe's mean less tool's mean",
    )
    way = "before" if offset.value > 0 else "after"
    says = [f"The probe touches {abs(offset.value):.3f} ± {offset.expanded:.3f} mm {way} the tool does."]
    rows = (("probe", f"{first.value:.4f}", f"{first.expanded:.4f}", str(probe.count)),
            ("tool", f"{second.value:.4f}", f"{second.expanded:.4f}", str(tool.count)))  # fmt: skip
    verdict = TOLD
    if case.known_offset_mm is not None:
        off = offset.value - case.known_offset_mm
        clear = abs(off) > offset.expanded
        verdict = BAD if clear and abs(off) > case.tolerance(axis) / 2 else GOOD
        if offset.expanded > case.tolerance(axis) / 2:
            verdict = CANNOT_TELL
        says.append(
            f"The machine has {case.known_offset_mm:g} mm, {abs(off):.3f} off: set {offset.value:.3f}."
            if verdict == BAD
            else f"The machine's number, {case.known_offset_mm:g} mm, agrees."
            if verdict == GOOD
            else "That is too unsure to hold the machine's number against: touch more often."
        )
    return Part(
        of=f"offset-{axis}",
        title=f"Offset of the probe, {axis}",
        verdict=verdict,
        says=tuple(says),
        lines=(Line(label="offset", value=offset, says="probe less tool, both at one place"),),
        tables=(Table(title="Means", columns=("with", "mean mm", "± mm", "touches"), rows=rows,
                      right=frozenset({1, 2, 3})),),
        notes=("Both must touch one and the same place of a clean bed, warm as it is used.",),
        main=offset,
        data={"axis": axis, "offset_mm": round(offset.value, 5),
              "offset_expanded_mm": round(offset.expanded, 5)},
    )  # fmt: skip

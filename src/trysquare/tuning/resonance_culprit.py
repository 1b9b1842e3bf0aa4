"""Which part of the machine swings: what its belts and masses would do alone, beside what was measured."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.catalogue.drives import read_belt
from trysquare.catalogue.values import Pulley
from trysquare.machine.values import BeltRun, Machine
from trysquare.tuning.belt import belt_stiffness
from trysquare.tuning.belt_spans import NoTangent, Span, belt_runs, spans_at
from trysquare.tuning.moving_mass import MovingMass, moving_masses
from trysquare.tuning.resonance import Mode
from trysquare.tuning.values import Measured, relative

# A shift of the head by this much tells how a belt's two sides change with it.
PROBE_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ComputedMode:
    """What an axis would do on its belts alone: frequency, spring and mass, and what is not known.

    f = √(k/m) / 2π; k = Σ n² EA (1/L1 + 1/L2) over the belts, L1 and L2 from the motor's pulley to the head
    either way, n how far the belt runs for a millimetre of the axis. Derived here; statics of springs.
    """

    axis: str
    frequency: Measured
    newton_per_mm: float
    mass: MovingMass
    belts: tuple[str, ...]


def computed_modes(machine: Machine, at_mm: Mapping[str, float] | None = None) -> tuple[ComputedMode, ...]:
    """For each axis that belts drive its first mode on them, with the head at a place of its travel.

    Axes on screws, and frames and beams that bend, are not computed.
    """
    masses = {one.axis: one for one in moving_masses(machine)}
    found = []
    for axis in machine.axes:
        springs = [(run.joint, _spring(machine, run, axis.id, at_mm or {})) for run in belt_runs(machine)]
        own = [(joint, spring) for joint, spring in springs if spring > 0]
        mass = masses.get(axis.id)
        if not own or mass is None or mass.gram.value <= 0:
            continue
        spring = sum(one for _, one in own)
        hz = math.sqrt(spring * 1e3 / (mass.gram.value * 1e-3)) / (2 * math.pi)
        part = relative(_spring_part(machine), mass.gram.standard_uncertainty / mass.gram.value) / 2
        found.append(
            ComputedMode(
                axis=axis.id,
                frequency=Measured(
                    value=hz, standard_uncertainty=part * hz, unit="Hz",
                    basis="belts' stiffness from memory, masses reckoned",
                ),
                newton_per_mm=spring,
                mass=mass,
                belts=tuple(joint for joint, _ in own),
            )
        )  # fmt: skip
    return tuple(found)


def _spring_part(machine: Machine) -> float:
    """The relative standard uncertainty of the belts' stiffness: one table, so one error for all of them."""
    parts = []
    for run in belt_runs(machine):
        size = read_belt(run.belt)
        stiffness = belt_stiffness(size.pitch_mm, size.width_mm) if size else None
        if stiffness is not None:
            parts.append(stiffness.standard_uncertainty / stiffness.value)
    return max(parts, default=0.0)


def _spring(machine: Machine, run: BeltRun, axis: str, at_mm: Mapping[str, float]) -> float:
    """N/mm along an axis from one belt; 0 when the belt does not drive it or nothing is known of it."""
    size = read_belt(run.belt)
    stiffness = belt_stiffness(size.pitch_mm, size.width_mm) if size else None
    if stiffness is None or run.closed:
        return 0.0
    drawn = {one.id: one for one in machine.axes}[axis]
    here = at_mm.get(axis, drawn.at_mm)
    there = here + PROBE_MM if here + PROBE_MM <= drawn.travel_mm else here - PROBE_MM
    try:
        first = _sides(machine, run, spans_at(machine, run, at_mm))
        second = _sides(machine, run, spans_at(machine, run, {**at_mm, axis: there}))
    except NoTangent:
        return 0.0
    if first is None or second is None:
        return 0.0
    runs = abs(second[0] - first[0]) / PROBE_MM
    return runs * runs * stiffness.value * (1 / first[0] + 1 / first[1]) if runs > 0.01 else 0.0


def _sides(machine: Machine, run: BeltRun, spans: Sequence[Span]) -> tuple[float, float] | None:
    """Lengths of belt from the motor's pulley to either clamp, arcs shared out; None without one motor."""
    motors = [
        index
        for index, span in enumerate(spans)
        if isinstance(size := machine.part[span.begins].type.standard, Pulley) and not size.driven
    ]
    if len(motors) != 1:
        return None
    arcs = (run.length_mm - sum(span.length_mm for span in run.spans)) / max(1, len(spans) - 1)
    at = motors[0]
    before = sum(span.length_mm for span in spans[:at]) + arcs * max(0, at - 0.5)
    after = sum(span.length_mm for span in spans[at:]) + arcs * max(0, len(spans) - at - 0.5)
    return (before, after) if before > 0 and after > 0 else None


def culprit_words(mode: Mode, computed: Sequence[ComputedMode]) -> str:
    """What a measured mode is likely made of, in a sentence; "" when nothing was computed for its axis."""
    one = next((each for each in computed if each.axis == mode.axis), None)
    if one is None:
        return ""
    measured, own = mode.frequency, one.frequency
    spread = math.hypot(measured.expanded, own.expanded)
    belts = " and ".join(joint.rpartition("/")[2] for joint in one.belts)
    beside = f"on {belts} alone {mode.axis} would swing at {own.value:.0f} ± {own.expanded:.0f} Hz"
    if abs(measured.value - own.value) <= spread:
        return (
            f"Likely the belts' own spring: {beside}. A lighter head, a wider belt or a shorter way "
            "raises it; more tension does not."
        )
    if measured.value < own.value:
        return (
            f"Softer than the belts explain: {beside}. Look for what is loose: set screws, idlers' axles, "
            "the head's and the motors' screws, the frame's feet."
        )
    return f"Stiffer than the belts explain: {beside}. It is rather the frame, a beam or the head itself."

"""The drives of a machine: which pulley or screw moves which axes, and how far a turn goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import LeadScrew, Pulley
from trysquare.fit.axes import motions
from trysquare.machine.values import Machine
from trysquare.tuning.belt_spans import belt_runs
from trysquare.tuning.drive import travel_per_turn_belt_mm, travel_per_turn_screw_mm
from trysquare.tuning.moving_mass import moving_masses

_ALONG = 0.98  # cosine of a screw that stands along its axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """A motor's drive. `of`: the pulley's or screw's placed id; `axes`: those it moves; `how`: in words."""

    of: str
    axes: tuple[str, ...]
    travel_mm: float
    how: str
    screw: bool


def drives_of(machine: Machine) -> tuple[Drive, ...]:
    """Pulleys on shafts that a belt runs over, then lead screws, each in the machine's order."""
    moving = motions(machine)
    found: dict[str, Drive] = {}
    for run in belt_runs(machine):
        touched = {word for span in run.spans for word in (span.begins, span.ends)}
        axes = tuple(one.axis.id for one in moving if not one.moves.isdisjoint(touched))
        for word in dict.fromkeys(word for span in run.spans for word in (span.begins, span.ends)):
            part = machine.part.get(word)
            pulley = part.type.standard if part is not None else None
            if isinstance(pulley, Pulley) and not pulley.driven and pulley.teeth:
                found[word] = Drive(
                    of=word,
                    axes=axes,
                    travel_mm=travel_per_turn_belt_mm(pulley.teeth, pulley.pitch_mm),
                    how=f"{pulley.teeth} teeth of {pulley.pitch_mm:g} mm",
                    screw=False,
                )
    for part in machine.placed:
        screw = part.type.standard
        if isinstance(screw, LeadScrew):
            along = part.placement.turn[:, 2]
            axes = tuple(one.axis.id for one in moving if abs(float(along @ one.way)) > _ALONG)
            starts = f", {screw.starts} starts" if screw.starts > 1 else ", 1 start"
            found[part.id] = Drive(
                of=part.id,
                axes=axes,
                travel_mm=travel_per_turn_screw_mm(screw.pitch_mm, screw.starts),
                how=f"pitch {screw.pitch_mm:g} mm{starts}",
                screw=True,
            )
    return tuple(found.values())


def is_crossed(drives: tuple[Drive, ...]) -> bool:
    """Two belts that each move two axes."""
    return sum(not one.screw and len(one.axes) == 2 for one in drives) >= 2


def moving_gram(machine: Machine, axes: tuple[str, ...]) -> float | None:
    """The heaviest mass that one of these axes moves; None when nobody knows any."""
    masses = [one.gram.value for one in moving_masses(machine) if one.axis in axes]
    heaviest = max(masses, default=0.0)
    return heaviest if np.isfinite(heaviest) and heaviest > 0 else None

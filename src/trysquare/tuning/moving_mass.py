"""What an axis moves, in grams: the mass that belts accelerate and that swings on them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.fit.axes import motions
from trysquare.machine.values import Kind, Machine, PartType
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.weighing import mass_of_one
from trysquare.tuning.values import Measured

# A printed part holds this share of its solid in plastic, from a thin infill to walls all through.
# Common practice, no source.
PRINTED_SHARE, PRINTED_WITHIN = 0.55, 0.3
PLASTIC_GRAM_PER_MM3 = 1.15e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingMass:
    """The mass that moves with an axis. `guessed` are printed parts, reckoned from their solids;
    `unknown` are parts whose mass nobody can know: the true mass is larger by theirs."""

    axis: str
    gram: Measured
    pieces: int
    guessed: int
    unknown: tuple[str, ...]


def moving_masses(machine: Machine) -> tuple[MovingMass, ...]:
    """For each axis what moves with it, screws included; an axis that moves another counts it too."""
    weights: dict[str, tuple[float, float, bool] | None] = {}
    found = []
    for motion in motions(machine):
        total, square, guessed, pieces = 0.0, 0.0, 0, 0
        unknown: set[str] = set()
        for word in sorted(motion.moves):
            part = machine.part.get(word)
            if part is None or part.type.kind is Kind.JIG:
                continue
            kind = part.type.id
            if kind not in weights:
                weights[kind] = _weight(part.type, machine.folder)
            weight = weights[kind]
            if weight is None:
                unknown.add(kind)
                continue
            pieces += 1
            total += weight[0]
            # Errors of like parts go together, those of unlike ones mostly do not: between both.
            square += weight[1] ** 2
            guessed += weight[2]
        spread = max(math.sqrt(square), 0.05 * total) / math.sqrt(3)
        found.append(
            MovingMass(
                axis=motion.axis.id,
                gram=Measured(value=total, standard_uncertainty=spread, unit="g", basis=f"{pieces} pieces"),
                pieces=pieces,
                guessed=guessed,
                unknown=tuple(sorted(unknown)),
            )
        )
    return tuple(found)


def _weight(kind: PartType, folder: str) -> tuple[float, float, bool] | None:
    """Gram, half-width and whether it is a guess."""
    one = mass_of_one(kind, folder)
    if one is not None:
        return one.gram, one.half_width_gram, False
    if kind.kind is Kind.PRINTED and makes_solid(kind):
        solid = solid_of(kind, folder).volume_mm3 * PLASTIC_GRAM_PER_MM3
        return PRINTED_SHARE * solid, PRINTED_WITHIN * solid, True
    return None

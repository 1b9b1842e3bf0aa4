"""Which mistakes a step's page warns of, in which order: the book's words and the picture's marks agree."""

from __future__ import annotations

from trysquare.machine.values import Step
from trysquare.publish.known import Known
from trysquare.sequence.wrong_ways import WrongWay


def grouped_ways(known: Known, step: Step) -> tuple[tuple[WrongWay, ...], ...]:
    """Ways to put the step's parts in wrongly that cost something later; those of one sort of part that fail
    alike and are told by the same feature stand together."""
    found: dict[tuple[str, ...], list[WrongWay]] = {}
    for way in known.ways:
        if way.step == step.id and way.steps_to_undo > 0:
            key = (known.machine.part[way.part].type.id, way.instead, way.code, way.tells)
            found.setdefault(key, []).append(way)
    return tuple(tuple(ways) for ways in found.values())

"""Readings to be asked about before they are believed: kept, marked, and set aside where they cannot be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from trysquare.truing.model import Model, Observation
from trysquare.truing.readings import Reading

FAR_OFF_MM = 5.0  # a size this far from its drawing is another part, another end or a slip of the pen
WIDE_GAP_MM = 3.0  # a gap, rock or rail offset beyond this is no truing any more
FAR_APART_MM = 8.0  # two readings of one setting that differ so much more than drawn: no joint gives that
STEEP = 30.0  # mm per metre that nobody's frame leans


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Something to ask about a reading. `observation`: its number in the model, None when it is not there.
    `sets_aside`: it does not count until somebody has answered."""

    code: str
    says: str
    remedy: str
    readings: tuple[Reading, ...]
    observation: int | None = None
    sets_aside: bool = False


def doubts_of(model: Model, left_out: Sequence[Reading]) -> tuple[Doubt, ...]:
    """All doubts about the observations, and about readings of parts that are not there."""
    found: list[Doubt] = _far_apart(model.observations)
    for index, one in enumerate(model.observations):
        found += [
            Doubt(
                code=code, says=says, remedy=remedy, readings=one.readings, observation=index,
                sets_aside=code != "repeats-identical",
            )
            for code, says, remedy in _about(one)
        ][:1]  # fmt: skip
    for reading in left_out:
        if reading.sort != "direct":
            found.append(
                Doubt(
                    code="not-there-yet",
                    says=f"{reading.what} was read, but not all of its parts stand yet.",
                    remedy="Say the step at which it was read, or read it again when they do.",
                    readings=(reading,),
                    sets_aside=True,
                )
            )
    return tuple(found)


def _far_apart(observations: Sequence[Observation]) -> list[Doubt]:
    """Readings of one setting of a comparator: alone they mean nothing, but they belong together.

    Of two that differ far more than drawn nobody can say which is wrong; of more, those far from the middle.
    """
    groups: dict[tuple[str, str, int, str], list[int]] = {}
    for index, one in enumerate(observations):
        if one.gauge is not None and one.gauge.kind.free_zero and one.first.sort in ("length", "diagonal"):
            first = one.first
            groups.setdefault((first.instrument, first.setting, first.round, first.sort), []).append(index)
    found = []
    for indices in groups.values():
        offs = {index: observations[index].value - observations[index].drawn for index in indices}
        middle = median(offs.values())
        for index, off in offs.items():
            apart = max(offs.values()) - min(offs.values()) if len(offs) == 2 else abs(off - middle)
            if apart > FAR_APART_MM:
                one = observations[index]
                found.append(
                    Doubt(
                        code="not-believed",
                        says=f"{one.first.what}: read {one.value:g} mm, {apart:.1f} mm farther from the "
                        "other readings of that setting than drawn: no frame leans that far.",
                        remedy="Did a digit slip, or were two changed over? Read the setting once more.",
                        readings=one.readings, observation=index, sets_aside=True,
                    )
                )  # fmt: skip
    return found


def _about(one: Observation) -> list[tuple[str, str, str]]:
    reading, gauge = one.first, one.gauge
    found: list[tuple[str, str, str]] = []
    size = reading.sort in ("length", "offset", "diagonal")
    if gauge is not None and size and not gauge.spans(one.drawn):
        found.append((
            "beyond-reach",
            f"{reading.what}: {one.drawn:.0f} mm is beyond the {gauge.reach_mm:g} mm of {gauge.words}.",
            "Was it another instrument, or another feature? Correct the row.",
        ))  # fmt: skip
    if gauge is not None and gauge.kind.free_zero:
        return found  # such figures mean nothing by themselves
    off = one.value - one.drawn
    limit = {"level": STEEP}.get(reading.sort, FAR_OFF_MM if size else WIDE_GAP_MM)
    if abs(off) > limit:
        found.append((
            "not-believed",
            (
                f"{reading.what}: read {one.value:g} {reading.unit}, drawn {one.drawn:.2f}; "
                f"{abs(off):.2f} {'more' if off > 0 else 'less'}.{_unit_hint(one, size=size)}"
            ),
            "Read it once more. It is kept, and does not count until then.",
        ))  # fmt: skip
    if len(one.readings) >= 3 and len({each.value for each in one.readings}) == 1 and not found:
        found.append((
            "repeats-identical",
            f"{reading.what}: {len(one.readings)} repeats are alike to the last figure.",
            "Repeats tell something only when the instrument was put on anew each time.",
        ))  # fmt: skip
    return found


def _unit_hint(one: Observation, *, size: bool) -> str:
    if not size or one.value == 0:
        return ""
    for word, factor in (("centimetres", 10.0), ("inches", 25.4), ("metres", 1000.0)):
        if abs(one.value * factor - one.drawn) <= FAR_OFF_MM:
            return f" In {word} it would fit."
    return ""

"""The likely cause of a blunder: what slip of hand, eye or pen turns what should be read into what was."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.truing.blunders import Blunder
from trysquare.truing.features import UnknownFeature
from trysquare.truing.model import Model, ModelBuilder
from trysquare.truing.network import Adjustment
from trysquare.truing.readings import Reading

INCH_MM = 25.4
EXPLAINS = 3.0  # standard uncertainties within which a slip explains what was read


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A slip that explains a blunder. `says`: in words; `value`: what it then should have been written as,
    None where the figures stand and something else was slipped."""

    says: str
    value: float | None
    misses: float  # how far the explained value is from the expected one, in standard uncertainties


def likely_causes(
    builder: ModelBuilder, model: Model, solved: Adjustment, blunder: Blunder, others: Sequence[Blunder] = ()
) -> tuple[Cause, ...]:
    """Slips that would explain a blunder, the best first; none when nothing does."""
    observation = model.observations[blunder.index]
    sure = math.hypot(blunder.uncertainty, float(model.equations.sigma[model.rows_of[blunder.index]]))
    size = observation.first.sort in ("length", "offset", "diagonal")
    offered = [*_swaps(model, blunder, others)]
    if size:
        offered += _units(observation.value, blunder.expected)
    if len(observation.readings) == 1:
        offered += [
            (says, value, value - blunder.expected) for says, value in _slips(observation.first.written)
        ]
    if observation.value:
        offered.append(("sign turned", -observation.value, -observation.value - blunder.expected))
    for says, elsewhere in _elsewhere(builder, observation.first):
        predicted = _predicted(builder, solved, elsewhere)
        if predicted is not None:
            offered.append((says, None, predicted - observation.value))
    if size:
        for width in _sections(builder, observation.first):
            value = observation.value + math.copysign(width, -blunder.off)
            words = f"a side of {width:g} mm counted in or left out"
            offered.append((words, value, value - blunder.expected))
    found = [Cause(says=says, value=value, misses=abs(off) / sure) for says, value, off in offered]
    return tuple(sorted((one for one in found if one.misses <= EXPLAINS), key=lambda one: one.misses))


_Offered = tuple[str, float | None, float]  # words, the value instead, what is left unexplained


def _swaps(model: Model, blunder: Blunder, others: Sequence[Blunder]) -> Iterator[_Offered]:
    """Another reading that contradicts the rest as well and has the value that this one should have."""
    sort = model.observations[blunder.index].first.sort
    for other in others:
        twin = model.observations[other.index]
        if other.index != blunder.index and twin.first.sort == sort:
            yield f"swapped with {twin.first.what}", twin.value, twin.value - blunder.expected


def _units(value: float, expected: float) -> Iterator[_Offered]:
    for word, factor in (("centimetres", 10.0), ("inches", INCH_MM), ("metres", 1000.0)):
        yield f"read in {word}", value * factor, value * factor - expected


def _slips(written: str) -> Iterator[tuple[str, float]]:
    """Values one slip of the pen away: a digit changed, neighbours changed over, one left out or doubled."""
    text = written.replace("−", "-").replace(",", ".").strip()
    digits = [index for index, char in enumerate(text) if char.isdigit()]
    seen = {text}

    def tell(other: str, says: str) -> Iterator[tuple[str, float]]:
        if other not in seen:
            seen.add(other)
            try:
                yield says.format(other), float(other)
            except ValueError:
                return

    for first, second in itertools.pairwise(digits):
        chars = list(text)
        chars[first], chars[second] = chars[second], chars[first]
        yield from tell("".join(chars), "two digits changed over: {}")
    for index in digits:
        for digit in "0123456789":
            yield from tell(text[:index] + digit + text[index + 1 :], "a digit slipped: {}")
    for index in digits:
        yield from tell(text[:index] + text[index] + text[index:], "a digit left out: {}")
        if len(digits) > 1:
            yield from tell(text[:index] + text[index + 1 :], "a digit too many: {}")


def _elsewhere(builder: ModelBuilder, reading: Reading) -> Iterator[tuple[str, Reading]]:
    """The same reading made at a wrong end, side or blade."""
    for field in ("first", "second"):
        name = getattr(reading, field)
        if not name or " " in name:
            continue
        part, _, spec = name.partition(":")
        swaps: tuple[tuple[str, Callable[[str], str]], ...] = (
            ("read at the other end of {}", lambda spec: _swapped(spec, "ab")),
            (
                "counted from the other end of {}",
                lambda spec: spec.replace("@b", "@_").replace("@", "@b").replace("@b_", "@"),
            ),
            ("read on the other side of {}", lambda spec: _swapped(spec, "+-")),
        )
        for says, swap in swaps:
            other = swap(spec)
            if other != spec:
                try:
                    feature = builder.feature(f"{part}:{other}")
                except UnknownFeature:
                    continue
                there = {"first": reading.first, "second": reading.second, field: feature.name}
                yield says.format(part), replace(reading, first=there["first"], second=there["second"])


def _swapped(spec: str, pair: str) -> str:
    sides, at, station = spec.partition("@")
    return sides.translate(str.maketrans(pair, pair[::-1])) + at + station


def _predicted(builder: ModelBuilder, solved: Adjustment, reading: Reading) -> float | None:
    """What a reading elsewhere should say."""
    probe = builder.build.like()
    try:
        builder.observe(reading, 0.0, 1.0, probe)
    except (UnknownFeature, KeyError):
        return None
    value = probe.done().predict(np.pad(solved.x, (0, max(0, len(probe.names) - len(solved.x)))))
    return float(value[0])


def _sections(builder: ModelBuilder, reading: Reading) -> list[float]:
    """Widths of the parts a reading touches: what is counted in by mistake when the wrong jaw is used."""
    found: dict[float, None] = {}
    for word in [reading.first, *reading.second.split()]:
        body = builder.assembly.bodies[builder.numbers[builder.feature(word).part]]
        for size in sorted(2 * body.box.half_mm):
            if size < body.length_mm - 1:
                found[round(float(size), 3)] = None
    return list(found)

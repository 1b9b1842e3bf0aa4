"""What each sort of reading says, as a row of the equations."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from trysquare.truing.equations import FIXED, EquationsBuilder, Extra
from trysquare.truing.instruments import Gauge
from trysquare.truing.readings import Reading

if TYPE_CHECKING:
    from trysquare.truing.model import ModelBuilder

UP = np.array([0.0, 0.0, 1.0])
UPWARDS = 1e-6

RowMaker = Callable[["ModelBuilder", EquationsBuilder, Reading, float, float, Sequence[Extra]], int]


def _length(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    part = model.feature(reading.first).part
    body = model.assembly.bodies[model.numbers[part]]
    ends = []
    for sign in (-1.0, 1.0):
        at = body.centre_mm + sign * body.length_mm / 2 * body.along
        ends.append(build.point(model.numbers[part], at, sign if body.is_member else 0.0))
    return build.distance(ends[0], ends[1], value, u, extras)


def _diagonal(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    one, other = model.feature(reading.first), model.feature(reading.second)
    return build.distance(model.spot(one, build), model.spot(other, build), value, u, extras)


def _offset(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    one, other = model.feature(reading.first), model.feature(reading.second)
    if not any(one.normal):
        one, other = other, one
    if not any(one.normal):  # two points without a face: as the crow flies
        return build.distance(model.spot(one, build), model.spot(other, build), value, u, extras)
    way = model.way(one)
    sign = -1.0 if float(way @ (model.place(other) - model.place(one))) < -UPWARDS else 1.0
    terms = [(model.spot(other, build), sign), (model.spot(one, build), -sign)]
    return build.projection(terms, way, value, u, turns_with=model.numbers[one.part], extras=extras)


def _gap(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    """The stock lies along the second face's normal on the first face, the blade stands along the first's."""
    one, other = model.feature(reading.first), model.feature(reading.second)
    gauge = model.gauge(reading)
    reach = reading.at_mm or (gauge.full_reach_mm if gauge else 100.0)
    stock = (model.numbers[one.part], model.way(other))
    blade = (model.numbers[other.part], model.way(one))
    return build.angle(-reach, stock, blade, value, u, extras)


def _height(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    feature = model.feature(reading.first)
    at = model.place(feature)
    height, along, across = model.table()
    plate = [
        Extra(column=height, factor=-1.0),
        Extra(column=along, factor=-float(at[0])),
        Extra(column=across, factor=-float(at[1])),
    ]
    return build.projection([(model.spot(feature, build), 1.0)], UP, value, u, extras=[*extras, *plate])


def _rock(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    """Height of one corner over the plane through three others. Shares: their barycentric coordinates."""
    corner = model.feature(reading.first)
    others = [model.feature(word) for word in reading.second.split()]
    places = np.array([model.place(one) for one in others])
    flat = np.vstack([places[:, :2].T, np.ones(3)])
    shares = np.linalg.lstsq(flat, np.array([*model.place(corner)[:2], 1.0]), rcond=None)[0]
    terms = [(model.spot(corner, build), 1.0)]
    terms += [(model.spot(one, build), -float(share)) for one, share in zip(others, shares, strict=True)]
    return build.projection(terms, UP, value, u, turns_with=model.numbers[others[0].part], extras=extras)


def _sweep(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    """The dial goes along the first part; what it touches comes nearer along the second's normal."""
    one = model.feature(reading.first)
    spec, _, station = reading.second.partition("@")
    at_mm = reading.at_mm if not station else None
    other = model.features.find(f"{spec}@{station}" if station else spec, at_mm)
    guide = model.assembly.bodies[model.numbers[one.part]]
    at = model.place(other)
    beside = guide.centre_mm + float((at - guide.centre_mm) @ guide.along) * guide.along
    terms = [(model.spot(other, build), 1.0), (build.point(model.numbers[one.part], beside), -1.0)]
    return build.projection(
        terms, model.way(other), value, u, turns_with=model.numbers[one.part], extras=extras
    )


def _level(
    model: ModelBuilder, build: EquationsBuilder, reading: Reading, value: float, u: float,
    extras: Sequence[Extra],
) -> int:  # fmt: skip
    feature = model.feature(reading.first)
    body = model.numbers[feature.part]
    along = model.assembly.bodies[body].along
    x, y = model.gravity()
    lean = [
        Extra(column=x, factor=1000 * float(along[0])),
        Extra(column=y, factor=1000 * float(along[1])),
    ]
    return build.angle(1000.0, (body, along), (FIXED, UP), value, u, [*extras, *lean])


ROWS: Mapping[str, RowMaker] = {
    "length": _length,
    "offset": _offset,
    "diagonal": _diagonal,
    "gap": _gap,
    "height": _height,
    "rock": _rock,
    "sweep": _sweep,
    "level": _level,
}


def row_of(model: ModelBuilder, build: EquationsBuilder, reading: Reading, gauge: Gauge) -> int:
    """A row for a reading not yet made, without what its instrument shares among readings; its number."""
    reach = reading.at_mm or (gauge.full_reach_mm if reading.sort == "gap" else None)
    return ROWS[reading.sort](model, build, replace(reading, at_mm=reach), 0.0, 1.0, ())

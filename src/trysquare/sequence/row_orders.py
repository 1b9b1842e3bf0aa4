"""Rows of screws: which belong together, from the middle outwards, and whether a stated order does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from trysquare.machine.values import Fastening


def rows_of(fastenings: Sequence[Fastening]) -> Mapping[str, tuple[str, ...]]:
    """Screws row by row, by the part under their heads: one joint may hold two rails."""
    rows: dict[str, tuple[str, ...]] = {}
    for one in fastenings:
        under = one.grips[0].part if one.grips else ""
        rows[under] = (*rows.get(under, ()), one.id)
    return rows


def centre_outwards(fastenings: Sequence[Fastening]) -> tuple[str, ...]:
    """Screws from the middle of their row outwards, alternately, one row after the other.

    Common practice, no source: a rail tightened from the middle lies flat; from both ends it bows.
    """
    return tuple(name for row in rows_of(fastenings).values() for name in _outwards(row))


def _outwards(row: tuple[str, ...]) -> list[str]:
    middle = (len(row) - 1) / 2
    return [name for _, name in sorted(enumerate(row), key=lambda pair: (abs(pair[0] - middle), pair[0]))]


def order_by_joint(order: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    """A stated order of screws, joint by joint: the numbers of its screws in their joint."""
    found: dict[str, tuple[str, ...]] = {}
    for name in order:
        joint, _, number = name.rpartition(".")
        found[joint] = (*found.get(joint, ()), number)
    return found


def is_good_row(row: tuple[str, ...], stated: tuple[str, ...]) -> bool:
    """Whether an order tightens a row without closing it from both ends: at every moment the final
    screws are next to each other.

    Common practice, no source; one end to the other is as good as outwards from the middle.
    """
    place = {name: index for index, name in enumerate(row)}
    low = high = place[stated[0]]
    for name in stated[1:]:
        index = place[name]
        if index == low - 1:
            low = index
        elif index == high + 1:
            high = index
        else:
            return False
    return True

"""Rules of what a reading is made with: an instrument that is owned, and fine enough for its limit."""

from __future__ import annotations

from trysquare.catalogue.designation import written
from trysquare.ground.errors import nearest
from trysquare.ground.findings import Finding
from trysquare.machine.values import Characteristic, Instrument, Machine
from trysquare.sequence.instruments import (
    best_instrument,
    best_of_kinds,
    guard_band,
    is_felt,
    limits_of,
    spans_of,
)
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk


def not_owned(walk: Walk, event: Event) -> list[Finding]:
    """What a reading is made with must be an instrument that is owned, or a jig. A machine that lists no
    instruments says nothing of them."""
    machine = walk.machine
    owned = {one.id for one in machine.instruments}
    known = owned | machine.types.keys() | machine.part.keys() | machine.aliases.keys()
    return [
        Finding(
            code="instrument-not-owned",
            says=f"{word} is no instrument of machine.toml and no part: nobody can tell what it is good for.",
            parts=event.action.parts[:4],
            step=event.step_id,
            remedy=nearest(word[:60], owned),
        )
        for word in event.action.using
        if owned and word not in known
    ]


def too_coarse(walk: Walk) -> list[Finding]:
    """Lengths that a step reads only with instruments which can never call them good; once for each step.

    Electrical and felt readings are left out: they are a sanity check only. So is an instrument that
    nobody vouches for yet: its wide default ends with its own check, such as a square's by reversal.
    """
    machine = walk.machine
    by_id = {one.id: one for one in machine.characteristics}
    owned = {one.id: one for one in machine.instruments}
    using: dict[tuple[str, str], dict[str, Instrument]] = {}
    for event in walk.events:
        taken = {name: owned[name] for name in event.action.using if name in owned}
        for name in event.action.reads if taken else ():
            using.setdefault((event.step_id, name), {}).update(taken)
    found: list[Finding] = []
    for (step, name), with_them in using.items():
        one = by_id.get(name)
        if one is not None and not is_felt(one) and one.unit.startswith("mm"):
            found += _coarse(machine, one, tuple(with_them.values()), step)
    return found


def _coarse(machine: Machine, one: Characteristic, using: tuple[Instrument, ...], step: str) -> list[Finding]:
    spans = spans_of(machine, one)
    judged = [(limits, each) for each in using if (limits := limits_of(one, each, spans)) is not None]
    if not judged or any(not each.marked for _, each in judged):
        return []
    half, finest = min(judged, key=lambda row: row[0])
    if guard_band(one.limit, half).good_to is not None:
        return []
    unit = _words(one)
    return [
        Finding(
            code="instrument-too-coarse",
            says=f"{one.id} is to be within {written(one.limit)} {unit}, and {finest.id} tells it to "
            f"± {written(round(half, 3))} {unit} (± {written(finest.trusted_half_width_mm)} mm each "
            "reading): it can never call it good.",
            parts=one.of[:4],
            step=step,
            value=round(half, 4),
            limit=one.limit,
            unit=one.unit,
            remedy=_finer(machine, one, finest),
        )
    ]


def _finer(machine: Machine, one: Characteristic, finest: Instrument) -> str:
    """The instrument that can call it good: one that is owned, else one of a usual sort."""
    best = best_instrument(machine, one)
    half = limits_of(one, best, spans_of(machine, one)) if best is not None else None
    good = guard_band(one.limit, half).good_to if half is not None else None
    if best is not None and best.id != finest.id and good is not None:
        return f"Read it with {best.id}, which calls it good up to {written(round(good, 3))} {_words(one)}."
    kind = best_of_kinds(machine, one)
    if kind is None:
        return "No usual instrument tells so little here: ask whether the limit must be so narrow."
    return (
        f"No instrument of machine.toml can; {kind.words}, usually ± {written(kind.half_width_mm)} "
        f"{kind.unit}, would do. Or ask whether the limit must be so narrow."
    )


def _words(one: Characteristic) -> str:
    return "mm per 100 mm" if one.unit == "mm/100" else one.unit

"""Rules of what a reading is made with: an instrument that is owned, reaches, and is fine enough."""

from __future__ import annotations

from trysquare.catalogue.designation import written
from trysquare.catalogue.instruments import kind_of
from trysquare.ground.errors import nearest
from trysquare.ground.findings import Finding
from trysquare.machine.values import Characteristic, Instrument, Machine
from trysquare.sequence.instruments import (
    best_instrument,
    best_of_kinds,
    expanded_of,
    guard_band,
    is_felt,
    limits_of,
    reach_missing_mm,
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


def wrong_instruments(walk: Walk) -> list[Finding]:
    """Readings that a step makes only with instruments which do not reach them, or which measure no such
    thing, or which can never call them good; once for each step and characteristic.

    What is only felt is left out: hand and ear tell it, too.
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
        if one is not None and not is_felt(one):
            found += _cannot_read(machine, one, tuple(with_them.values()), step)
            found += _coarse(machine, one, tuple(with_them.values()), step)
    return found


def _cannot_read(
    machine: Machine, one: Characteristic, using: tuple[Instrument, ...], step: str
) -> list[Finding]:
    """Nothing that is named reads it: all fall short, or measure something else. A sort of instrument that
    the catalogue does not know may well read it."""
    spans = spans_of(machine, one)
    if any(
        kind_of(each.sort, each.reach_mm) is None or limits_of(one, each, spans) is not None for each in using
    ):
        return []
    missing = {each.id: reach_missing_mm(one, each, spans) for each in using}
    short = [(each, need) for each in using if (need := missing[each.id]) is not None]
    names = " and ".join(each.id for each in using)
    if not short:
        return [
            Finding(
                code="instrument-cannot-read",
                says=f"{one.id} is a {one.sort.replace('-', ' ')}, which {names} cannot tell here.",
                parts=one.of[:4],
                step=step,
                remedy=_reaches(machine, one),
            )
        ]
    longest, need = max(short, key=lambda row: row[0].reach_mm)
    kind = kind_of(longest.sort, longest.reach_mm)
    reach = longest.reach_mm or (kind.reach_mm if kind is not None else 0.0)
    return [
        Finding(
            code="instrument-cannot-read",
            says=f"{longest.id} reaches {written(reach)} mm, and {one.id} needs "
            f"{written(round(need, 1))} mm: it cannot be read with it.",
            parts=one.of[:4],
            step=step,
            value=reach,
            limit=round(need, 1),
            unit="mm",
            remedy=_reaches(machine, one),
        )
    ]


def _reaches(machine: Machine, one: Characteristic) -> str:
    """The instrument that does read it: the best that is owned, else one of a usual sort."""
    best = best_instrument(machine, one)
    if best is not None:
        reach = f", which reaches {written(best.reach_mm)} mm" if best.reach_mm else ""
        return f"Read it with {best.id}{reach}."
    kind = best_of_kinds(machine, one)
    return f"No instrument of machine.toml can; {kind.words} would do." if kind is not None else ""


def _coarse(machine: Machine, one: Characteristic, using: tuple[Instrument, ...], step: str) -> list[Finding]:
    """Electrical readings are left out: they are a sanity check only. So is an instrument that nobody vouches
    for yet: its wide default ends with its own check, such as a square's by reversal."""
    if not one.unit.startswith("mm"):
        return []
    spans = spans_of(machine, one)
    judged = [(limits, each) for each in using if (limits := expanded_of(one, each, spans)) is not None]
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
    half = expanded_of(one, best, spans_of(machine, one)) if best is not None else None
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

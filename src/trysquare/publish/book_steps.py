"""One step of the book as facts: parts and letters, tools, what to do, read and mind, and what it leaves."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from trysquare.catalogue.designation import written
from trysquare.machine.values import Characteristic, Instrument, Kind, Machine, Step
from trysquare.publish.action_words import action_facts, names_words, short
from trysquare.publish.book_layout import is_long, layout_of
from trysquare.publish.book_tables import step_wires
from trysquare.publish.known import Known
from trysquare.publish.mistakes import grouped_ways
from trysquare.publish.sorts import size_words
from trysquare.publish.step_tools import tools_of
from trysquare.publish.tables import cautions
from trysquare.publish.typst_page import breakable
from trysquare.sequence.instruments import expanded_of, guard_band, spans_of
from trysquare.sequence.state import Tightness
from trysquare.stock.picks import PickLine, SlotNuts

_KINDS = list(Kind)
_LOOK = re.compile(r">look (\d+)<")  # as `look_marks` writes it
MOST_PLACES = 6  # longer lists of places say nothing that the picture does not show
_SORTS = {
    "squareness": "Squareness", "twist": "Twist", "parallelism": "Parallelism", "offset": "Offset",
    "flatness": "Straightness", "flush": "Flush", "height-difference": "Height difference",
    "centring": "Centring", "free-motion": "Drag", "resistance": "Resistance",
}  # fmt: skip


def step_facts(known: Known, step: Step, picture: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """All that a step's page says. `picture`: as `step_picture` gives it; None for a step without."""
    pick = known.picks[step.id]
    texts = cautions()
    facts = {
        "number": known.number_of[step.id],
        "id": step.id,
        "title": breakable(step.title),
        "unit": step.unit,
        "why": step.why,
        "minutes": f"{written(step.minutes)} min" if step.minutes else "",
        "paper": step.paper,
        "cautions": [
            {"id": name, "title": texts[name]["title"], "says": texts[name]["short"]}
            for name in step.caution
            if name in texts
        ],
        "picture": dict(picture) if picture is not None else None,
        "parts": [part_fact(known, line, step.unit) for line in in_order(pick.lines)],
        "tools": tools_of(known, step),
        "supplies": [supply.name for supply in pick.supplies],
        "actions": _actions(known, step),
        "reads": _reads(known, step),
        "nuts": [_nuts(known, row, step.unit) for row in pick.slot_nuts],
        "wires": step_wires(known, step),
        "leaves": _leaves(known, step),
        "mistakes": _pictured(mistakes(known, step), picture),
    }
    return {**facts, "layout": layout_of(facts), "long": is_long(facts)}


def _actions(known: Known, step: Step) -> list[dict[str, Any]]:
    """The actions in order; screws that an action of this step has named are told by their letter alone."""
    named: set[tuple[str, int, str]] = set()
    found = []
    for event in known.events_of[step.id]:
        facts = action_facts(known, step, event)
        for screw in facts["screws"]:
            key = (screw["letter"], screw["pieces"], screw["joints"])
            if key in named and screw["letter"] and screw["torque"]:
                screw |= {"name": "", "key": ""}
            named.add(key)
        found.append(facts)
    return found


def in_order(lines: Iterable[PickLine]) -> list[PickLine]:
    """Parts as they are laid out: large ones first, then what holds them."""
    rank = {Kind.FASTENER: 1, Kind.WIRE: 2}
    return sorted(lines, key=lambda line: (rank.get(line.kind, 0), _KINDS.index(line.kind), line.part))


def part_fact(known: Known, line: PickLine, unit: str) -> dict[str, Any]:
    """One part that a step takes, with where its pieces go when they are few."""
    sort = known.sort_of.get(line.part)
    cuts = sorted({round(cut) for cut in line.cuts_mm})
    where = ""
    if line.kind not in (Kind.FASTENER, Kind.WIRE, Kind.DRIVE) and len(line.pieces) <= MOST_PLACES:
        where = ", ".join(short(name, unit) for name in line.pieces)
    size = size_words(sort, known.machine.folder) if sort is not None and not cuts else ""
    if cuts:
        size = f"{written(sum(line.cuts_mm) / 1000)} m: {', '.join(str(cut) for cut in cuts[:6])}"
        size += " mm" if len(cuts) <= 6 else ", … mm"
    return {
        "letter": known.letter(line.part),
        "part": line.part,
        "pieces": len(line.pieces),
        "name": breakable(line.name),
        "size": "" if size == line.name else size,
        "where": breakable(where),
    }


# --- what to read


def _reads(known: Known, step: Step) -> list[dict[str, Any]]:
    """One row for each characteristic the step reads, in the order of its actions."""
    machine = known.machine
    by_id = {one.id: one for one in machine.characteristics}
    found: dict[str, dict[str, Any]] = {}
    for event in known.events_of[step.id]:
        for name in event.action.reads:
            one = by_id.get(name)
            if one is None:
                continue
            owned = [inst for inst in machine.instruments if inst.id in event.action.using]
            row = found.setdefault(name, _read(known, one, owned, step.unit))
            row["times"] += 1
            if owned and not row["with"]:
                row |= _judged(machine, one, owned)
    return list(found.values())


def _read(known: Known, one: Characteristic, owned: list[Instrument], unit: str) -> dict[str, Any]:
    return {
        "what": _SORTS.get(one.sort) or _in_words(one.id),
        "id": one.id,
        "of": names_words(one.of, unit, known),
        "limit": f"{written(one.limit)} {_unit(one.unit)}",
        "unit": _unit(one.unit),
        "reason": one.reason,
        "times": 0,
        "with": "",
        "verdict": "",
        **(_judged(known.machine, one, owned) if owned else {}),
    }


def _in_words(name: str) -> str:
    """A characteristic of no known sort is called by its name."""
    words = name.rpartition("/")[2].replace("-", " ").replace("_", " ").strip()
    return words[:1].upper() + words[1:]


def _judged(machine: Machine, one: Characteristic, owned: list[Instrument]) -> dict[str, Any]:
    """The instrument, and where its uncertainty leaves no answer, in the characteristic's own unit."""
    spans = spans_of(machine, one)
    limits = [expanded_of(one, each, spans) for each in owned]
    halves = [math.inf if each is None else each for each in limits]
    half, _, instrument = min(
        zip(halves, (each.trusted_half_width_mm for each in owned), owned, strict=True),
        key=lambda row: row[:2],
    )
    if unit_of(instrument) != "mm":
        return {"with": instrument.id, "verdict": ""}
    told = f"{instrument.id}, ± {written(instrument.trusted_half_width_mm)} mm"
    if math.isinf(half) or one.sort in ("free-motion", "other"):
        return {"with": told, "verdict": ""}
    band = guard_band(one.limit, half)
    bad = written(round(band.bad_above, 3))
    if band.good_to is None:
        verdict = f"bad above {bad}; this instrument cannot say good"
    else:
        good = written(round(band.good_to, 3))
        verdict = f"good up to {good}, bad above {bad}, between them it cannot tell"
    return {"with": told, "verdict": verdict}


def unit_of(instrument: Instrument) -> str:
    """The unit of an instrument's error limits, as it is written."""
    return {"ohm": "Ω", "newton": "N", "hertz": "Hz"}.get(instrument.unit, instrument.unit)


def _unit(unit: str) -> str:
    return {"mm/100": "mm per 100 mm", "newton": "N", "ohm": "Ω"}.get(unit, unit)


# --- nuts, states, mistakes


def _nuts(known: Known, row: SlotNuts, unit: str) -> dict[str, Any]:
    ledger = next((slot for slot in known.ledger if (slot.member, slot.slot) == (row.member, row.face)), None)
    looks = ledger.looks if ledger is not None else ""
    return {
        "member": short(row.member, unit),
        "slot": f"{row.face} ({looks})" if looks else row.face,
        "letter": known.letter(row.nut),
        "nut": row.nut,
        "pieces": row.pieces,
        "at": ", ".join(written(round(at, 1)) for at in row.at_mm),
        "end": row.nearer_end,
        "joints": ", ".join(short(name, unit) for name in row.joints),
    }


def _leaves(known: Known, step: Step) -> list[dict[str, Any]]:
    """How tight the step leaves the joints it has turned; what is not final, with the step that goes on."""
    found: list[dict[str, Any]] = []
    events = known.events_of[step.id]
    last = events[-1].at if events else -1
    joints = dict.fromkeys(one.joint for event in events for one in event.screws)
    for name in joints:
        levels = [_level(known, one.id, last) for one in known.machine.joint[name].fastenings]
        level = min(levels)
        if level is Tightness.FINAL:
            found.append({"joint": short(name, step.unit), "state": "final", "until": 0})
            continue
        after = [
            at
            for one in known.machine.joint[name].fastenings
            for at, reached in known.timeline.turned.get(one.id, ())
            if at > last and reached > level
        ]
        until = known.number_of[known.timeline.step_id(min(after))] if after else 0
        word = "partly there" if level is Tightness.ABSENT else level.name.lower()
        found.append({"joint": short(name, step.unit), "state": word, "until": until})
    order = {"final": 0, "snug": 1, "started": 2, "partly there": 3}
    found.sort(key=lambda row: (order[row["state"]], row["until"]))
    return [
        {"state": state, "until": until, "joints": ", ".join(row["joint"] for row in rows)}
        for (state, until), rows in groupby(found, key=lambda row: (row["state"], row["until"]))
    ]


def _level(known: Known, fastening: str, event: int) -> Tightness:
    turns = [reached for at, reached in known.timeline.turned.get(fastening, ()) if at <= event]
    return max(turns, default=Tightness.ABSENT)


def mistakes(known: Known, step: Step) -> list[dict[str, Any]]:
    """Ways to put this step's parts in wrongly that cost something later, those that fail alike together.
    `number`: as the picture's "look" says it."""
    found = []
    for number, ways in enumerate(grouped_ways(known, step), start=1):
        first = ways[0]
        found.append({
            "number": number,
            "part": ", ".join(dict.fromkeys(short(way.part, step.unit) for way in ways)),
            "how": " or ".join(dict.fromkeys(way.way for way in ways)),
            "instead": _instead(known.machine, first.instead),
            "then": first.consequence[:1].upper() + first.consequence[1:],
            "look": first.tells,
        })  # fmt: skip
    return found


def _pictured(rows: list[dict[str, Any]], picture: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """The mistakes, with `unseen` where the step's picture points at others but has no room, or no sight, for
    this one: nobody then looks for a "look 1" that is not there."""
    shown = set(map(int, _LOOK.findall(picture["svg"]))) if picture is not None else set()
    return [{**row, "unseen": bool(shown) and row["number"] not in shown} for row in rows]


def _instead(machine: Machine, part: str) -> str:
    return machine.types[part].name if part in machine.types else part

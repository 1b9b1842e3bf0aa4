"""What the whole machine needs: each part once, how many, who asks for it and which paper says so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.ground.placement import Triple
from trysquare.machine.values import Kind, Machine
from trysquare.stock.picks import Picking, StepPick, pick_all, pick_lists
from trysquare.stock.pieces import NOT_PIECES, Piece
from trysquare.stock.tools import Tool, action_supplies, driving_tools, insert_tools, supply_of

__all__ = ["Need", "NeedLine", "Reason", "StepPick", "SupplyLine", "ToolLine", "need", "pick_lists"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One joint, placed part or list that asks for pieces of a part."""

    asked_by: str  # joint id, placed id, or "list.csv"
    unit: str
    pieces: int
    places: tuple[str, ...] = ()  # piece ids
    at_mm: tuple[Triple, ...] = ()  # machine frame, of the places that have one
    cuts_mm: tuple[float, ...] = ()
    steps: tuple[str, ...] = ()  # steps that pick them up
    paper: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedLine:
    """One part of the need. `cuts_mm` are the lengths to be cut of belts and wires; their sum is the need."""

    part: str
    name: str
    kind: Kind
    pieces: int
    by_unit: Mapping[str, int]
    reasons: tuple[Reason, ...]
    cuts_mm: tuple[float, ...] = ()
    papers: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()
    listed: int | None = None  # pieces in list.csv; None when there is no list
    listed_mm: tuple[tuple[int, float], ...] = ()
    """Of rows of list.csv that say a length: pieces, and the length of each."""

    @property
    def length_mm(self) -> float:
        """Whole length to cut; 0 for what is counted."""
        return sum(self.cuts_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolLine:
    """A tool, the joints it serves and the steps that take it in the hand."""

    tool: Tool
    joints: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLine:
    """A consumable, the joints that ask for it and the steps that use it."""

    name: str
    joints: tuple[str, ...]
    steps: tuple[str, ...]
    listed_mm: tuple[tuple[int, float], ...] = ()  # of list.csv: pieces, and the length of each


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Everything to have on the bench. Lines stand by kind, then by name."""

    lines: tuple[NeedLine, ...]
    supplies: tuple[SupplyLine, ...]
    tools: tuple[ToolLine, ...]
    picking: Picking

    @property
    def pieces(self) -> int:
        return sum(line.pieces for line in self.lines)


def need(machine: Machine) -> Need:
    """The need of the whole machine. With no joints yet, a bare list counts where it says more."""
    picking = pick_all(machine)
    by_part: dict[str, list[Piece]] = {}
    for piece in picking.pieces.values():
        by_part.setdefault(piece.part, []).append(piece)
    names = other_names(machine)
    lines = [
        _line(machine, part, rows, picking.step_of, names.get(part, ())) for part, rows in by_part.items()
    ]
    if not machine.joints:
        lines = _with_list(machine, lines, names)
    order = list(Kind)
    lines.sort(key=lambda line: (order.index(line.kind), _natural(line.part)))
    return Need(
        lines=tuple(lines),
        supplies=_supplies(machine, picking),
        tools=_tools(machine, picking),
        picking=picking,
    )


def other_names(machine: Machine) -> Mapping[str, tuple[str, ...]]:
    """For each part, the names that other papers use for it."""
    names: dict[str, dict[str, None]] = {}
    for part_type in machine.types.values():
        for alias in part_type.aliases:
            names.setdefault(part_type.id, {}).setdefault(alias)
    for alias, part in machine.aliases.items():
        names.setdefault(canonical(machine, part), {}).setdefault(alias)
    return {part: tuple(found) for part, found in names.items()}


def canonical(machine: Machine, word: str) -> str:
    """The one name of a part: an own id or alias as it stands, a designation as the catalogue writes it."""
    if word in machine.types:
        return word
    if word in machine.aliases:
        target = machine.aliases[word]
        return target if target in machine.types or target == word else _standard_name(target)
    return _standard_name(word)


def _standard_name(word: str) -> str:
    try:
        return lookup(word).designation
    except UnknownDesignation:
        return word


def _line(
    machine: Machine, part: str, rows: list[Piece], step_of: Mapping[str, str], aliases: tuple[str, ...]
) -> NeedLine:
    by_unit: dict[str, int] = {}
    by_asker: dict[str, list[Piece]] = {}
    for piece in rows:
        by_unit[piece.unit] = by_unit.get(piece.unit, 0) + 1
        by_asker.setdefault(piece.asked_by, []).append(piece)
    return NeedLine(
        part=part,
        name=rows[0].name,
        kind=rows[0].kind,
        pieces=len(rows),
        by_unit=by_unit,
        reasons=tuple(_reason(asker, asked, step_of) for asker, asked in by_asker.items()),
        cuts_mm=tuple(piece.length_mm for piece in rows if piece.length_mm),
        papers=tuple(dict.fromkeys(piece.paper for piece in rows if piece.paper)),
        aliases=aliases,
        listed=machine.listed.get(part, 0) if machine.listed else None,
        listed_mm=machine.listed_mm.get(part, ()),
    )


def _reason(asker: str, rows: list[Piece], step_of: Mapping[str, str]) -> Reason:
    return Reason(
        asked_by=asker,
        unit=rows[0].unit,
        pieces=len(rows),
        places=tuple(piece.id for piece in rows),
        at_mm=tuple(piece.at_mm for piece in rows if piece.at_mm is not None),
        cuts_mm=tuple(piece.length_mm for piece in rows if piece.length_mm),
        steps=tuple(dict.fromkeys(step_of[piece.id] for piece in rows if piece.id in step_of)),
        paper=rows[0].paper,
    )


def _with_list(
    machine: Machine, lines: list[NeedLine], names: Mapping[str, tuple[str, ...]]
) -> list[NeedLine]:
    """The list laid over what is placed: the greater count of each part."""
    placed = {line.part: line for line in lines}
    found: list[NeedLine] = []
    for part, pieces in machine.listed.items():
        part_type = machine.types[part]
        line = placed.pop(part, None)
        if part_type.kind in NOT_PIECES:
            continue
        if line is not None and line.pieces >= pieces:
            found.append(line)
            continue
        extra = pieces - (line.pieces if line else 0)
        asked = Reason(asked_by="list.csv", unit="", pieces=extra)
        found.append(
            NeedLine(
                part=part,
                name=part_type.name,
                kind=part_type.kind,
                pieces=pieces,
                by_unit={**(line.by_unit if line else {}), "": extra},
                reasons=(*(line.reasons if line else ()), asked),
                papers=line.papers if line else (),
                aliases=names.get(part, ()),
                listed=pieces,
                listed_mm=machine.listed_mm.get(part, ()),
            )
        )
    return [*found, *placed.values()]


def _supplies(machine: Machine, picking: Picking) -> tuple[SupplyLine, ...]:
    joints: dict[str, dict[str, None]] = {}
    steps: dict[str, dict[str, None]] = {}
    for joint in machine.joints:
        for word in joint.locks:
            joints.setdefault(supply_of(machine, word).name, {}).setdefault(joint.id)
    for pick in picking.steps:
        for supply in pick.supplies:
            steps.setdefault(supply.name, {}).setdefault(pick.step)
    for step in machine.steps:
        for action in step.actions:
            for supply in action_supplies(machine, action):
                for name in action.joints:
                    joints.setdefault(supply.name, {}).setdefault(name)
    unplaced = [machine.types[part] for part in machine.listed]
    placed = [one.type for one in machine.placed]
    lengths: dict[str, tuple[tuple[int, float], ...]] = {}
    for part_type in (*placed, *unplaced):
        if part_type.kind is Kind.CONSUMABLE:
            joints.setdefault(part_type.name, {})
            lengths[part_type.name] = machine.listed_mm.get(part_type.id, ())
    return tuple(
        SupplyLine(
            name=name,
            joints=tuple(joints.get(name, ())),
            steps=tuple(steps.get(name, ())),
            listed_mm=lengths.get(name, ()),
        )
        for name in sorted({*joints, *steps})
    )


def _tools(machine: Machine, picking: Picking) -> tuple[ToolLine, ...]:
    joints: dict[Tool, dict[str, None]] = {}
    steps: dict[Tool, dict[str, None]] = {}
    for joint in machine.joints:
        for tool in driving_tools(machine, joint) | insert_tools(joint.brings):
            joints.setdefault(tool, {}).setdefault(joint.id)
    for step in picking.steps:
        for tool in step.tools:
            steps.setdefault(tool, {}).setdefault(step.step)
    jigs: Iterable[Tool] = (
        Tool(sort="jig", name=machine.types[part].name)
        for part in {*machine.listed, *(placed.type.id for placed in machine.placed)}
        if machine.types[part].kind is Kind.JIG
    )
    return tuple(
        ToolLine(tool=tool, joints=tuple(joints.get(tool, ())), steps=tuple(steps.get(tool, ())))
        for tool in sorted({*joints, *steps, *jigs})
    )


def _natural(text: str) -> tuple[tuple[int, float, str], ...]:
    """Sorts M3x8 before M3x10: digits by value, the rest as it stands."""
    words: list[tuple[int, float, str]] = []
    run = ""
    for char in f"{text}\0":
        if run and (char.isdecimal() and char.isascii()) != (run[-1].isdecimal() and run[-1].isascii()):
            words.append((0, float(run), "") if run.isdecimal() and run.isascii() else (1, 0.0, run))
            run = ""
        run += char
    return tuple(words)

"""The book's tables: what must be there, slots, orders, torques, belts, wires, open points, index."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from trysquare.catalogue.designation import written
from trysquare.fit.soft import PRACTICE, gives_way
from trysquare.fit.torque import torque_of
from trysquare.ground.findings import Weight
from trysquare.machine.values import Joint, Kind, Machine, PaperKind, Step
from trysquare.publish.action_words import natural, torque_words
from trysquare.publish.drawing import EDGE, SOLID, THIN, WHITE, Circle, Drawing, Shape, Word, box, line
from trysquare.publish.first_power import first_power as checks
from trysquare.publish.first_power import has
from trysquare.publish.known import Known
from trysquare.publish.sorts import KIND_WORDS, size_words
from trysquare.publish.tables import cautions, table
from trysquare.publish.typst_page import breakable
from trysquare.sequence.slot_ledger import SlotRow
from trysquare.tuning.maintenance import tasks_of
from trysquare.tuning.maintenance_report import due_after
from trysquare.tuning.wiring import ROLES

KIND_HEADINGS = {
    Kind.MEMBER: "Members", Kind.PLATE: "Plates", Kind.PRINTED: "Printed parts", Kind.BOUGHT: "Bought parts",
    Kind.FASTENER: "Fasteners", Kind.GUIDE: "Rails and carriages", Kind.DRIVE: "Belts, pulleys, lead screws",
    Kind.WIRE: "Wires", Kind.CONSUMABLE: "Used up", Kind.JIG: "Jigs",
}  # fmt: skip
SLOT_MM = 86.0  # width of a drawn slot


def needed(known: Known) -> list[dict[str, Any]]:
    """Everything to have, by kind: letter, name, size, pieces, and in which boxes it came."""
    rows: dict[Kind, list[dict[str, Any]]] = {}
    seen: set[str] = set()
    for need_line in known.whole.lines:
        sort = known.sort_of.get(need_line.part)
        if sort is None or sort.part in seen:
            continue
        seen.add(sort.part)
        came: dict[str, int] = {}
        for part in dict.fromkeys((sort.part, *sort.parts)):
            for name, pieces in known.boxes_of.get(part, ()):
                came[name] = came.get(name, 0) + pieces
        size = size_words(sort, known.machine.folder)
        rows.setdefault(sort.kind, []).append({
            "letter": sort.letter,
            "name": breakable(sort.name),
            "also": ", ".join(breakable(name) for name in (*sort.parts[1:], *sort.also_called)),
            "size": size if size != KIND_WORDS.get(sort.kind, "") else "",
            "pieces": sort.pieces if not sort.cuts_mm else 0,
            "length": f"{written(round(sum(sort.cuts_mm) / 1000, 2))} m" if sort.cuts_mm else "",
            "boxes": ", ".join(f"{pieces} in {name}" for name, pieces in came.items()),
            "came": sum(came.values()),
            "short": bool(known.boxes_of) and sum(came.values()) < sort.pieces and not sort.cuts_mm,
        })  # fmt: skip
    return [{"kind": KIND_HEADINGS.get(kind, str(kind)), "rows": of_kind} for kind, of_kind in rows.items()]


def used_cautions(machine: Machine) -> list[dict[str, Any]]:
    """The cautions of this machine's steps, each with its steps, in the order of our table."""
    steps: dict[str, list[int]] = {}
    for number, step in enumerate(machine.steps, start=1):
        for name in step.caution:
            steps.setdefault(name, []).append(number)
    return [
        {
            "id": name,
            "title": row["title"],
            "says": row["says"],
            "source": row["source"],
            "steps": steps[name],
        }
        for name, row in cautions().items()
        if name in steps
    ]


def slots(known: Known) -> list[dict[str, Any]]:
    """Every slot with something in it, member by member, from end a on."""
    found = []
    for row in known.ledger:
        if not row.pieces:
            continue
        found.append({
            "member": row.member,
            "slot": row.slot,
            "looks": row.looks,
            "ends": [
                {"name": end.name, "looks": end.looks, "step": known.number_of.get(end.closed_in, 0),
                 "by": end.closed_by}
                for end in row.ends
            ],
            "drawing": slot_drawing(row).facts(),
            "pieces": lying(known, row),
        })  # fmt: skip
    return found


def lying(known: Known, row: SlotRow) -> list[dict[str, Any]]:
    """What lies in a slot: pieces of one sort for one joint are one line with all their places."""
    lines: dict[tuple[Any, ...], list[str]] = {}
    for piece in row.pieces:
        step, before = known.number_of.get(piece.step, 0), known.number_of.get(piece.closed_in, 0)
        key = (known.letter(piece.part_type), piece.sort, piece.joint, step, before)
        lines.setdefault(key, []).append(written(round(piece.at_mm, 1)))
    names = ("letter", "sort", "joint", "step", "before")
    return [
        {**dict(zip(names, key, strict=True)), "pieces": len(at), "at": ", ".join(at)}
        for key, at in lines.items()
    ]


def slot_drawing(row: SlotRow) -> Drawing:
    """The slot from its open side, end a on the left: nuts and bars black, screw heads as rings; an end that
    is shut some time has a bar before it."""
    left, right, low, high = 3.4, SLOT_MM - 3.4, 0.4, 3.4
    scale = (right - left) / row.length_mm
    shapes: list[Shape] = [box(EDGE, left, low, right, high)]
    shapes += [line(THIN, (left, y), (right, y)) for y in (low + 0.8, high - 0.8)]
    for end, x, way in zip(row.ends, (left, right), (-1.0, 1.0), strict=True):
        shapes.append(Word(text=end.name, at=(x + way * 2.4, 1.9), size_pt=7.0, bold=True))
        if end.closed_by:
            shapes.append(box(SOLID, *sorted_box(x + way * 0.3, x + way * 0.9, low - 0.2, high + 0.2)))
    for piece in row.pieces:
        x = left + piece.at_mm * scale
        if piece.sort in ("head", "set screw"):
            shapes.append(Circle(pen=WHITE, centre=(x, 1.9), radius=0.8))
        elif piece.sort != "carrier":
            half = max(0.45, (piece.to_mm - piece.from_mm) / 2 * scale - 0.15)
            middle = left + (piece.from_mm + piece.to_mm) / 2 * scale
            shapes.append(box(SOLID, middle - half, 1.3, middle + half, 2.5))
    says = (
        f"Slot of {written(row.length_mm)} mm with {len(row.pieces)} pieces; their places are listed below."
    )
    return Drawing(width_mm=SLOT_MM, height_mm=3.8, shapes=tuple(shapes), says=says)


def sorted_box(x: float, other_x: float, top: float, bottom: float) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a box of which two upright sides are known."""
    return min(x, other_x), top, max(x, other_x), bottom


def torques(known: Known) -> list[dict[str, Any]]:
    """The largest torque of every sort of screw in every sort of joint, by thread."""
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    for joint in known.machine.joints:
        for one in joint.fastenings:
            torque = torque_of(known.machine, one)
            part = known.machine.part[one.screw].type.id
            soft = gives_way(known.machine, one)
            final = torque_words(torque.newton_metre) if torque else "none" if soft else "not known"
            limit = torque.limited_by if torque else f"{soft} gives way: to its mark" if soft else ""
            stated = torque_words(joint.torque_newton_metre) if joint.torque_newton_metre > 0 else ""
            key = (one.screw_type.thread.diameter_mm, part, final, limit, stated)
            row = rows.setdefault(key, {
                "letter": known.letter(part), "screw": part, "pieces": 0, "final": final,
                "snug": torque_words(torque.snug_newton_metre) if torque else "",
                "limit": limit, "assumed": bool(torque and torque.is_assumed), "stated": stated,
                "source": torque.source if torque else PRACTICE if soft else "", "joints": {},
                "key": written(one.screw_type.key_mm),
            })  # fmt: skip
            row["pieces"] += 1
            row["joints"][joint.id] = None
    ordered = sorted(rows.items(), key=lambda pair: (pair[0][0], pair[0][1], pair[0][2]))
    sources: dict[str, int] = {}
    found = []
    for _, row in ordered:
        if row["source"]:
            sources.setdefault(row["source"], len(sources) + 1)
        found.append({**row, "joints": list(row["joints"]), "source": sources.get(row["source"], 0)})
    return [{"rows": found, "sources": list(sources)}] if found else []


def open_points(known: Known) -> dict[str, Any]:
    """Findings by weight, parts that no step takes, and the builder's rulings between papers."""
    machine = known.machine
    groups = []
    heads = {Weight.STOP: "Stops the build", Weight.DOUBT: "To be looked at", Weight.NOTE: "Good to know"}
    for weight, head in heads.items():
        rows = [one for one in known.findings if one.weight is weight]
        if rows:
            groups.append({"head": head, "rows": [
                {"code": one.code, "says": breakable(one.says), "step": known.number_of.get(one.step, 0),
                 "remedy": one.remedy or one.kind.remedy}
                for one in rows
            ]})  # fmt: skip
    return {
        "groups": groups,
        "short": [row for group in needed(known) for row in group["rows"] if row["short"]],
        "left": [f"{piece.id} ({piece.name})" for piece in known.whole.picking.left],
        "rulings": [{"line": one.line, "take": one.take, "reason": one.reason} for one in machine.rulings],
        "papers": [
            {"id": paper.id, "title": paper.title, "kind": str(paper.kind), "edition": paper.edition,
             "reason": paper.reason}
            for paper in sorted(machine.papers, key=lambda paper: paper.kind is not PaperKind.BASE)
        ],
    }  # fmt: skip


def belts(known: Known) -> list[dict[str, Any]]:
    """Belts with length, teeth and free spans."""
    found = []
    for joint in known.machine.joints:
        run = joint.belt
        if run is None:
            continue
        found.append({
            "joint": joint.id, "belt": run.belt, "letter": known.letter(run.belt),
            "length": written(round(run.length_mm, 1)), "teeth": written(round(run.teeth, 1)),
            "closed": run.closed, "equal": run.equal_to,
            "spans": [
                {"from": span.begins, "to": span.ends, "length": written(round(span.length_mm, 1))}
                for span in run.spans
            ],
            "step": known.number_of.get(known.timeline.step_id(known.timeline.routed.get(joint.id)), 0),
        })  # fmt: skip
    return found


def wires(known: Known) -> list[dict[str, Any]]:
    """Every cable by what it carries: mains and earth first."""
    heads = {"mains": "Mains", "earth": "Protective earth", "supply": "Supply", "heater": "Heaters",
             "motor": "Motors", "fan": "Fans", "signal": "Signals"}  # fmt: skip
    cables = [joint for joint in known.machine.joints if joint.cable is not None]
    rank = {role: number for number, role in enumerate(ROLES)}

    def role_of(joint: Joint) -> str:
        return joint.cable.role if joint.cable is not None else ""

    cables.sort(key=lambda joint: (rank.get(role_of(joint), len(ROLES)), role_of(joint)))
    return [
        {
            "role": heads.get(role, role.capitalize() or "Others"),
            "rows": [_wire(known, joint) for joint in joints],
        }
        for role, joints in groupby(cables, key=role_of)
    ]


def step_wires(known: Known, step: Step) -> list[dict[str, Any]]:
    """The cables that a step lays or connects, each once, by their labels."""
    joints = {
        joint.id: joint
        for event in known.events_of[step.id]
        for joint in event.joints
        if joint.cable is not None and event.action.verb in ("route", "crimp")
    }
    rows = [_wire(known, joint) for joint in joints.values()]
    return sorted(rows, key=lambda row: natural(row["label"]))


def _wire(known: Known, joint: Joint) -> dict[str, Any]:
    run = joint.cable
    assert run is not None
    return {
        "label": run.label or joint.id.rpartition("/")[2],
        "from": breakable(run.from_terminal),
        "to": breakable(run.to_terminal),
        "wire": f"{run.cores} × {run.wire}" if run.cores > 1 else run.wire,
        "length": str(round(run.length_mm / 10) * 10),
        "volt": written(run.volt) if run.volt else "",
        "ampere": written(run.ampere) if run.ampere else "",
        "through": ", ".join(run.through),
        "step": known.number_of.get(known.timeline.step_id(known.timeline.routed.get(joint.id)), 0),
    }


# --- first power and care


def first_power(machine: Machine) -> list[dict[str, Any]]:
    """The checklist by phases, for what the machine has; a machine without wires has none."""
    return [
        {"phase": phase, "rows": [{"check": breakable(row.words), "signs": row.signs} for row in of_phase]}
        for phase, of_phase in groupby(checks(machine), key=lambda row: row.phase)
    ]


def care(machine: Machine) -> list[dict[str, str]]:
    """The maintenance plan, for what the machine has: what `trysquare tune maintenance` counts, by the same
    intervals, then what only a calendar or an occasion calls for."""
    there = has(machine)
    names = ("first", "then", "what", "look", "source")
    counted = [
        {
            "first": f"after {due_after(task.first, task.first_if_hot if 'heat' in there else '')}",
            "then": f"every {due_after(task.then)}",
            "what": " ".join((f"{task.title}.", *task.does)),
            "look": task.tells,
            "source": task.then.basis,
        }
        for task in tasks_of(machine)[0]
    ]
    return counted + [{name: row[name] for name in names} for row in table("care") if row["when"] in there]


def index(known: Known) -> list[dict[str, Any]]:
    """Every sort by its letter, with the steps that take it; what has no letter stands at the end."""
    steps: dict[str, dict[int, int]] = {}
    for number, pick in enumerate(known.whole.picking.steps, start=1):
        for pick_line in pick.lines:
            sort = known.sort_of.get(pick_line.part)
            if sort is not None:
                taken = steps.setdefault(sort.part, {})
                taken[number] = taken.get(number, 0) + len(pick_line.pieces)
    rows: Iterable[Any] = sorted(
        known.sorts, key=lambda sort: (not sort.letter, len(sort.letter), sort.letter)
    )
    return [
        {"letter": sort.letter, "name": breakable(sort.name),
         "pieces": sort.pieces if not sort.cuts_mm else 0,
         "steps": [{"step": step, "pieces": pieces} for step, pieces in steps.get(sort.part, {}).items()]}
        for sort in rows
    ]  # fmt: skip

"""What is known of one thing of a machine: what it is, where it stands, what holds it, who says so."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from trysquare.cli.facts import point_fact, rounded, saying_fact, where_fact
from trysquare.cli.need_facts import step_fact
from trysquare.cli.show_find import Thing
from trysquare.cli.show_screws import screw_fact
from trysquare.ground.errors import Where
from trysquare.machine.says_so import says_so, where_of
from trysquare.machine.values import Action, Joint, Machine, PlacedPart
from trysquare.sequence.crosswise import orders_of
from trysquare.stock.need import other_names
from trysquare.stock.picks import pick_all
from trysquare.stock.pieces import paper_of_joint


def thing_facts(machine: Machine, thing: Thing) -> dict[str, Any]:
    """The facts of one thing; its `sort` says which keys they have."""
    return {"sort": thing.sort, "id": thing.id, **_FACTS[thing.sort](machine, thing.id)}


def _who_says(machine: Machine, lines: tuple[str, ...], paper: str, where: Where | None) -> dict[str, Any]:
    """The paper and place a thing comes from, and every paper's word on its lines.

    Without a paper of its own (or a place) it has those of the first line that has one.
    """
    said = [(line, says_so(machine, line)) for line in lines]
    places = [where, *(where_of(machine, line) for line in lines)]
    papers = [paper, *(saying.paper for _, spoken in said for saying in spoken if saying.stands)]
    return {
        "paper": next((name for name in papers if name), ""),
        "where": where_fact(next((place for place in places if place is not None), None)),
        "said": [saying_fact(saying) for _, spoken in said for saying in spoken],
        "rulings": [
            {"line": one.line, "take": one.take, "reason": one.reason}
            for one in machine.rulings
            if any(one.line == line or one.line.startswith(f"{line}.") for line in lines)
        ],
    }


def _steps_of(machine: Machine, *, part: str = "", joint: str = "") -> list[dict[str, str]]:
    """The steps that name a part or joint, and what they do to it."""
    found: list[dict[str, str]] = []
    for step in machine.steps:
        for action in step.actions:
            screws = {machine.fastening[name].joint for name in action.fastenings}
            if (part and part in action.parts) or (joint and joint in {*action.joints, *screws}):
                found.append({"step": step.id, "does": action.verb})
    return found


def _unit(machine: Machine, unit: str) -> dict[str, Any]:
    return {
        "parts": [
            {"id": part.id, "part": part.type.id, "at_mm": point_fact(part.placement.origin_mm)}
            for part in machine.placed
            if part.unit == unit and not part.joint
        ],
        "joints": [
            {"joint": joint.id, "recipe": joint.recipe, "screw": screw_words(joint)}
            for joint in machine.joints
            if joint.unit == unit
        ],
        "steps": [{"step": step.id, "title": step.title} for step in machine.steps if step.unit == unit],
        "who_says": _who_says(machine, (f"unit.{unit}",), "", None),
    }


def _placed(machine: Machine, name: str) -> dict[str, Any]:
    part = machine.part[name]
    own = name.rpartition("/")[2]
    lines: tuple[str, ...] = (f"unit.{part.unit}.place.{own}", f"part.{part.type.id}")
    if part.joint:
        joint = machine.joint[part.joint]
        lines = (f"unit.{joint.unit}.joint.{joint.id.rpartition('/')[2]}",)
    holding = [joint for joint in machine.joints if name in joint.parts]
    return {
        "part": part.type.id,
        "name": part.type.name,
        "kind": str(part.type.kind),
        "unit": part.unit,
        "brought_by": part.joint,
        "at_mm": point_fact(part.placement.origin_mm),
        "own_x": _direction(part, 0),
        "own_z": _direction(part, 2),
        "length_mm": rounded(part.type.length_mm) or None,
        "held_by": [
            {
                "joint": joint.id,
                "recipe": joint.recipe,
                "to": [other for other in joint.parts if other != name],
                "screws": [screw_fact(machine, one) for one in joint.fastenings if _touches(one, name)],
            }
            for joint in holding
        ],
        "in_its_slots": _in_slots(machine, name),
        "steps": _steps_of(machine, part=name),
        "who_says": _who_says(machine, lines, part.paper, part.where or part.type.where),
    }


def _touches(fastening: Any, part: str) -> bool:
    grips = {grip.part for grip in fastening.grips}
    return part in {*grips, fastening.host_part, fastening.slot_member, fastening.room_part}


def _in_slots(machine: Machine, member: str) -> list[dict[str, Any]]:
    """What lies in a member's slots, slot by slot from end a."""
    rows = [one for one in machine.fastening.values() if one.slot_member == member]
    rows.sort(key=lambda one: (one.slot_face, one.slot_at_mm))
    return [
        {
            "face": one.slot_face,
            "from_end_a_mm": rounded(one.slot_at_mm, 2),
            "what": one.screw if one.head_in_slot else one.host_part,
            "part": machine.part[one.screw if one.head_in_slot else one.host_part].type.id,
            "joint": one.joint,
        }
        for one in rows
    ]


def _direction(part: PlacedPart, axis: int) -> str:
    """Where one of the part's own axes points: a name such as +x, or its three components."""
    column = [round(float(value), 4) + 0.0 for value in part.placement.turn[:, axis]]
    for index, name in enumerate("xyz"):
        if abs(column[index]) == 1.0:
            return f"{'+' if column[index] > 0 else '-'}{name}"
    return ", ".join(f"{value:g}" for value in column)


def _part_type(machine: Machine, name: str) -> dict[str, Any]:
    kind = machine.types[name]
    pieces = [part.id for part in machine.placed if part.type.id == name]
    standard = kind.standard or kind.profile
    return {
        "name": kind.name,
        "kind": str(kind.kind),
        "standard": getattr(standard, "designation", ""),
        "source": getattr(standard, "source", ""),
        "length_mm": rounded(kind.length_mm) or None,
        "thickness_mm": rounded(kind.thickness_mm) or None,
        "tapped_ends": list(kind.tapped_ends),
        "shape_file": kind.shape_file,
        "has_solid": kind.has_solid,
        "material": kind.material,
        "mass_gram": rounded(kind.mass_gram) or None,
        "hand": kind.hand,
        "revision": kind.revision,
        "also_called": list(other_names(machine).get(name, ())),
        "holes": [
            {
                "hole": hole.name,
                "at_mm": point_fact(hole.at_mm),
                "diameter_mm": rounded(hole.diameter_mm),
                "depth_mm": rounded(hole.depth_mm),
                "through": hole.through,
                "takes": hole.thread or hole.insert or ("key" if hole.access else ""),
            }
            for hole in kind.holes
        ],
        "pieces": len(pieces),
        "pieces_listed": machine.listed.get(name),
        "placed": pieces,
        "who_says": _who_says(machine, (f"part.{name}",), kind.paper, kind.where),
    }


def _profile(machine: Machine, name: str) -> dict[str, Any]:
    """A profile and the members that are cut from it, the longest first."""
    kinds = [
        kind
        for kind in machine.types.values()
        if kind.profile is not None and kind.profile.designation == name
    ]
    rows: list[dict[str, Any]] = []
    for kind in sorted(kinds, key=lambda one: (-one.length_mm, one.id)):
        placed = [part.id for part in machine.placed if part.type.id == kind.id]
        rows.append(
            {
                "part": kind.id,
                "name": kind.name,
                "length_mm": rounded(kind.length_mm),
                "pieces": len(placed),
                "placed": placed,
            }
        )
    profile = next(kind.profile for kind in kinds if kind.profile is not None)
    return {
        "slot_mm": rounded(profile.slot_mm),
        "mouth_mm": rounded(profile.mouth_mm),
        "core_thread": profile.core_thread,
        "source": profile.source,
        "members": rows,
        "pieces": sum(row["pieces"] for row in rows),
        "together_mm": rounded(sum(row["length_mm"] * row["pieces"] for row in rows)),
    }


def _joint(machine: Machine, name: str) -> dict[str, Any]:
    joint = machine.joint[name]
    own = name.rpartition("/")[2]
    counts: dict[str, int] = {}
    for piece in joint.brings:
        counts[piece.type.id] = counts.get(piece.type.id, 0) + 1
    return {
        "recipe": joint.recipe,
        "unit": joint.unit,
        "parts": list(joint.parts),
        "brings": counts,
        "screws": [screw_fact(machine, one) for one in joint.fastenings],
        "orders": [
            {"part": one.part, "says": one.words, "screws": list(one.order)} for one in orders_of(joint)
        ],
        "stated_torque_newton_metre": rounded(joint.torque_newton_metre) or None,
        "locks": list(joint.locks),
        "align": joint.align,
        "note": joint.note,
        "slides_on": dict(joint.slides_on),
        "belt": _belt(joint),
        "cable": _cable(joint),
        "steps": _steps_of(machine, joint=name),
        "who_says": _who_says(
            machine,
            (f"unit.{joint.unit}.joint.{own}",),
            paper_of_joint(machine, joint),
            joint.where,
        ),
    }


def _belt(joint: Joint) -> dict[str, Any] | None:
    run = joint.belt
    if run is None:
        return None
    return {
        "belt": run.belt,
        "length_mm": rounded(run.length_mm, 1),
        "teeth": rounded(run.teeth, 1),
        "closed": run.closed,
        "equal_to": run.equal_to,
        "spans": [
            {"from": span.begins, "to": span.ends, "length_mm": rounded(span.length_mm, 1)}
            for span in run.spans
        ],
        "teeth_in_mesh": {pulley: rounded(teeth, 1) for pulley, teeth in run.teeth_in_mesh.items()},
    }


def _cable(joint: Joint) -> dict[str, Any] | None:
    run = joint.cable
    if run is None:
        return None
    return {
        "wire": run.wire,
        "cores": run.cores,
        "label": run.label,
        "from": run.from_terminal,
        "to": run.to_terminal,
        "through": list(run.through),
        "length_mm": rounded(run.length_mm, 1),
        "ampere": rounded(run.ampere),
        "volt": rounded(run.volt),
        "role": run.role,
    }


def _screw(machine: Machine, name: str) -> dict[str, Any]:
    one = machine.fastening[name]
    joint = machine.joint[one.joint]
    line = f"unit.{joint.unit}.joint.{joint.id.rpartition('/')[2]}"
    return {
        "joint": joint.id,
        "screws": [screw_fact(machine, one)],
        "steps": _steps_of(machine, joint=joint.id),
        "who_says": _who_says(machine, (line,), paper_of_joint(machine, joint), joint.where),
    }


def _step(machine: Machine, name: str) -> dict[str, Any]:
    index, step = next((at, step) for at, step in enumerate(machine.steps) if step.id == name)
    return {
        "title": step.title,
        "unit": step.unit,
        "number": index + 1,
        "of": len(machine.steps),
        "why": step.why,
        "cautions": list(step.caution),
        "minutes": rounded(step.minutes) or None,
        "actions": [_action(action) for action in step.actions],
        "picks": step_fact(pick_all(machine).steps[index]),
        "who_says": _who_says(machine, (f"step.{name}",), step.paper, step.where),
    }


def _action(action: Action) -> dict[str, Any]:
    return {
        "does": action.verb,
        "to": [*action.parts, *action.joints, *action.fastenings],
        "says": action.says,
        "reads": list(action.reads),
        "using": list(action.using),
        "gap_mm": None if action.gap_mm is None else rounded(action.gap_mm),
        "minutes": rounded(action.minutes) or None,
        "celsius": rounded(action.celsius) or None,
        "toward": action.toward,
        "means": action.means,
    }


def paper_head(machine: Machine, name: str) -> dict[str, Any]:
    """What stands on a paper's cover."""
    paper = next(paper for paper in machine.papers if paper.id == name)
    return {
        "paper": paper.id,
        "title": paper.title,
        "kind": str(paper.kind),
        "edition": paper.edition,
        "over": list(paper.over),
        "reason": paper.reason,
    }


def _paper(machine: Machine, name: str) -> dict[str, Any]:
    paper = next(paper for paper in machine.papers if paper.id == name)
    return {
        **paper_head(machine, name),
        "parts": [part.id for part in machine.placed if part.paper == name and not part.joint],
        "steps": [step.id for step in machine.steps if step.paper == name],
        "said": [saying_fact(saying) for saying in machine.sayings if saying.paper == name],
        "rulings": [
            {"line": one.line, "take": one.take, "reason": one.reason}
            for one in machine.rulings
            if one.take == name
        ],
        "where": where_fact(paper.where),
    }


def axis_facts(machine: Machine, name: str) -> dict[str, Any]:
    """An axis: how far, which way, and what moves with it."""
    axis = next(axis for axis in machine.axes if axis.id == name)
    return {
        "travel_mm": rounded(axis.travel_mm),
        "drawn_at_mm": rounded(axis.at_mm),
        "direction": point_fact(axis.direction),
        "moves": list(axis.moves),
    }


def _characteristic(machine: Machine, name: str) -> dict[str, Any]:
    one = next(one for one in machine.characteristics if one.id == name)
    return {
        "read": one.sort,
        "of": list(one.of),
        "limit": rounded(one.limit),
        "limit_unit": one.unit,
        "reason": one.reason,
        "steps": [
            {"step": step.id, "does": action.verb}
            for step in machine.steps
            for action in step.actions
            if name in action.reads
        ],
    }


def _instrument(machine: Machine, name: str) -> dict[str, Any]:
    one = next(one for one in machine.instruments if one.id == name)
    return {
        "instrument": one.sort,
        "half_width_mm": rounded(one.half_width_mm),
        "reach_mm": rounded(one.reach_mm) or None,
        "source": one.source,
    }


def screw_words(joint: Joint) -> str:
    """A joint's screws in words, "10 × ISO 4762 M3x6"; nothing for joints without."""
    counts: dict[str, int] = {}
    for one in joint.fastenings:
        counts[one.screw_type.designation] = counts.get(one.screw_type.designation, 0) + 1
    return ", ".join(f"{pieces} × {screw}" for screw, pieces in counts.items())


_FACTS: Mapping[str, Callable[[Machine, str], dict[str, Any]]] = {
    "unit": _unit,
    "placed part": _placed,
    "part type": _part_type,
    "profile": _profile,
    "joint": _joint,
    "screw": _screw,
    "step": _step,
    "paper": _paper,
    "axis": axis_facts,
    "characteristic": _characteristic,
    "instrument": _instrument,
}

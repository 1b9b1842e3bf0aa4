"""Who says so: from anything in the machine to the line, the place in a file and the papers behind it.

A *line* is written as papers write it, ``unit.frame.place.beam``; an *identity* is what the machine
calls a thing: ``frame/beam``, ``frame/corners``, ``frame/corners.3``, ``frame/corners/screw.1``, a step's
or a part's id, a unit's name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from trysquare.ground.errors import Where, shown
from trysquare.ground.findings import Finding
from trysquare.machine.papers import sayings_on
from trysquare.machine.tree import line_name, line_path
from trysquare.machine.values import Machine, Saying


def line_of(machine: Machine, identity: str) -> str:
    """The line behind an identity; "" when the machine has no such thing.

    A part and a joint may share a name: the part is meant. What a joint brings has the joint's line.
    """
    tree = machine.tree
    if tree is None:
        return ""
    unit, slash, name = identity.partition("/")
    if slash:
        placed = machine.part.get(identity)
        of_joint = identity in machine.fastening or (placed is not None and bool(placed.joint))
        name = re.split(r"[./]", name)[0]  # a screw is frame/corners.3, what it brings frame/corners/screw.3
        lines = [f"unit.{unit}.{sort}.{name}" for sort in (("joint",) if of_joint else ("place", "joint"))]
    else:
        lines = [identity, f"step.{identity}", f"part.{identity}", f"unit.{identity}"]
    return next((line for line in lines if tree.get(line_path(line)) is not None), "")


def where_of(machine: Machine, identity: str) -> Where | None:
    """The place in a file that says a thing (or a line); None when there is none."""
    line = line_of(machine, identity)
    return machine.tree.where(line_path(line)) if line and machine.tree is not None else None


def says_so(machine: Machine, identity: str) -> tuple[Saying, ...]:
    """Every paper's word on a thing or a line, first the line as it stands, then what papers say of it.

    `stands` tells which of them holds. What no paper names has the paper "". Also for a line that is not
    there any more: then only the papers' words remain.
    """
    tree = machine.tree
    line = line_of(machine, identity) or identity
    path = line_path(line)
    spoken = sayings_on(machine.sayings, path)
    if (
        tree is None
        or tree.get(path) is None
        or any(saying.line == line and saying.stands for saying in spoken)
    ):
        return spoken
    first = Saying(
        line=line_name(path),
        paper=tree.paper(path),
        does="says",
        reason="",
        read=shown(tree.get(path)),
        stands=True,
        where=tree.where(path),
    )
    return (first, *spoken)


def located(machine: Machine, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, those without a place in a file given the one of their step, joint or first part."""
    found: list[Finding] = []
    for finding in findings:
        where = finding.where
        joint = machine.joint.get(finding.joint)
        of_joint = f"unit.{joint.unit}.joint.{finding.joint.rpartition('/')[2]}" if joint else ""
        asked = (f"step.{finding.step}" if finding.step else "", of_joint, *finding.parts[:1])
        for identity in asked:
            if where is None and identity:
                where = where_of(machine, identity)
        found.append(finding if where is finding.where else replace(finding, where=where))
    return tuple(found)

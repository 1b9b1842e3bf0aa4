"""Holds what a recipe expands to against what the assembly has, before it is written.

A joint that would bring other pieces, or the same ones elsewhere, is split screw by screw; what still differs
is written as plain placed fasteners. So the folder never says another machine than the file did.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from trysquare.catalogue.values import Nut, SlotNut, Washer
from trysquare.ground.errors import ReadingError
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.intake.folder_lines import Lines, lines_of
from trysquare.intake.joints import Draft, named, split
from trysquare.intake.pieces import Pieces
from trysquare.intake.surroundings import SEAT_MM
from trysquare.machine.fields import RECIPES
from trysquare.machine.recipes import EXPAND
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.scene import Scene, read_scene
from trysquare.machine.schema import check_table
from trysquare.machine.tree import Tree
from trysquare.machine.types import TypeReader
from trysquare.machine.values import Joint, PlacedPart

SAME_PLACE_MM = 0.05  # a builder cannot see it, and the file's own figures scatter by hundredths
SLACK_MM = ON_AXIS_MM  # drawn less exactly than this, a screw is placed by itself
ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tried:
    """Joints that say exactly what the assembly has, and why others are only placed fasteners.

    `joints`: what the recipes make of the lines, by "unit/name".
    """

    drafts: tuple[Draft, ...]
    lines: Lines
    reasons: dict[str, str]  # id of a screw placed by itself -> why
    joints: dict[str, Joint]


def tried(found: Pieces, drafts: Sequence[Draft]) -> Tried:
    """The drafts, split or made plain until their recipes bring exactly the assembly's pieces."""
    reasons: dict[str, str] = {}
    current = list(drafts)
    for _ in range(ROUNDS):
        lines = lines_of(found, current)
        read = expanded(lines)
        wrong = _wrong(read, current)
        if not wrong:
            return Tried(drafts=tuple(current), lines=lines, reasons=reasons, joints=read[1])
        following: list[Draft] = []
        for draft in current:
            why = wrong.get(f"{draft.unit}/{draft.name}") if draft.recipe else None
            if why is None:
                following.append(draft)
            elif len(draft.stacks) > 1:
                following += split(draft)
            else:
                if not draft.stacks or draft.proposed:
                    continue  # nothing of the file is lost with it
                reasons |= {stack.screw.id: why for stack in draft.stacks}
                following.append(replace(draft, recipe=""))
        current = named(following)
    lines = lines_of(found, current)
    return Tried(drafts=tuple(current), lines=lines, reasons=reasons, joints=expanded(lines)[1])


Expanded: TypeAlias = tuple[Scene, dict[str, Joint], list[ReadingError]]


def expanded(lines: Lines) -> Expanded:
    """The lines as the machine room reads them: what is placed, every joint, and what cannot be read."""
    problems: list[ReadingError] = []
    steps: dict[str, object] = {}
    tree = Tree(lines={"machine": {}, "part": dict(lines.parts), "unit": dict(lines.units), "step": steps})
    types = TypeReader(
        raw=tree.lines["part"],
        where=tree.where,
        paper=tree.paper,
        shape_digest=lambda _name, _where: "",
        problems=problems,
    )
    types.read_all()
    scene = read_scene(tree, types, problems)
    joints: dict[str, Joint] = {}
    for unit, tables in lines.units.items():
        for name, row in tables["joint"].items():
            path = ("unit", unit, "joint", name)
            before = len(problems)
            checked = check_table(row, RECIPES[row["recipe"]], path, tree.where, problems)
            builder = JointBuilder(
                id=f"{unit}/{name}", unit=unit, recipe=row["recipe"], raw=checked, path=path, scene=scene
            )
            if len(problems) == before:
                EXPAND[row["recipe"]](builder)
            if len(problems) == before:
                joints[builder.id] = builder.done()
    return scene, joints, problems


def _wrong(read: Expanded, drafts: Sequence[Draft]) -> dict[str, str]:
    """Joints whose recipe brings something else than the assembly has, with what is different."""
    scene, joints, problems = read
    doubts = {finding.joint: finding.says for finding in scene.findings}
    said = {problem.where.key: problem for problem in problems}
    wrong: dict[str, str] = {}
    for draft in drafts:
        if not draft.recipe:
            continue
        name = f"{draft.unit}/{draft.name}"
        joint = joints.get(name)
        if joint is None:
            key = f"unit.{draft.unit}.joint.{draft.name}"
            problem = next(
                (one for where, one in said.items() if where == key or where.startswith(f"{key}.")), None
            )
            wrong[name] = (
                f"read {problem.read}, expected {problem.expected}" if problem else "it cannot be read"
            )
        elif draft.proposed:
            if name in doubts or len(joint.fastenings) != len(draft.stacks):
                wrong[name] = "no standard screw fits"
        elif draft.stacks and (why := _differs(joint, draft)):
            wrong[name] = doubts.get(name, why)
    return wrong


def moved_mm(result: Tried) -> dict[str, float]:
    """Screws that a joint puts elsewhere than they are drawn, by their ids, with how far; never far."""
    moved: dict[str, float] = {}
    for draft in result.drafts:
        joint = (
            result.joints.get(f"{draft.unit}/{draft.name}") if draft.recipe and not draft.proposed else None
        )
        if joint is None:
            continue
        heads = np.array([one.head_mm for one in joint.fastenings]).reshape(-1, 3)
        for stack in draft.stacks:
            off = float(np.linalg.norm(heads - stack.head_mm, axis=1).min()) if len(heads) else 0.0
            if off > SAME_PLACE_MM:
                moved[stack.screw.id] = off
    return moved


def _differs(joint: Joint, draft: Draft) -> str:
    wants = [(one.word, one.placement.origin_mm, one.placement.turn) for one in draft.fasteners]
    brings = list(joint.brings)
    missing = Counter(word for word, _at, _turn in wants) - Counter(part.type.id for part in brings)
    if missing:
        return "the recipe does not bring " + ", ".join(missing)
    if len(brings) != len(wants):
        more = Counter(part.type.id for part in brings) - Counter(word for word, _at, _turn in wants)
        return "the recipe also brings " + ", ".join(more)
    for word, at, turn in wants:
        alike = [part for part in brings if part.type.id == word]
        nearest = min(alike, key=lambda part: float(np.linalg.norm(part.placement.origin_mm - at)))
        off = float(np.linalg.norm(nearest.placement.origin_mm - at))
        if off > _slack_mm(nearest):
            return f"{word} would stand {off:.2f} mm from where it is drawn"
        if abs(float(nearest.placement.turn[:, 2] @ turn[:, 2])) < 1 - 1e-4:
            return f"{word} would be turned"
        brings.remove(nearest)
    return ""


def _slack_mm(part: PlacedPart) -> float:
    """How far a brought piece may be from the drawing: as far as a screw may stand beside its hole.

    A washer and a plain nut have no up, they may be drawn from their other face; a slot nut is drawn against
    the lip or lying in the slot.
    """
    standard = part.type.standard
    if isinstance(standard, Washer):
        return standard.thickness_mm + SLACK_MM
    if isinstance(standard, Nut):
        return standard.height_mm + SLACK_MM
    return SEAT_MM if isinstance(standard, SlotNut) else SLACK_MM

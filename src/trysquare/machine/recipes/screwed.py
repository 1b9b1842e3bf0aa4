"""Recipes whose screws follow the holes of a placed part: rails, plates, bolts, inserts, blocks."""

from __future__ import annotations

import numpy as np

from trysquare.catalogue.values import BlockSize, Head, RailSize, Screw
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.recipes.rail_ends import check_first_nut
from trysquare.machine.recipes.screw_bites import (
    bar_in_slot,
    finish,
    free_nut_bite,
    insert_bite,
    into_bite,
    slot_nut_bite,
    tapped_in,
)
from trysquare.machine.recipes.screw_lines import lines_of, through_lines
from trysquare.machine.values import PlacedPart


def rail_on_slot(joint: JointBuilder) -> None:
    """A rail screwed to the slot under it: every hole, or every n-th from the middle."""
    where = joint.where("rail")
    for rail in joint.scene.find_all(joint.raw.get("rail", ()), joint.unit, where):
        if not isinstance(rail.type.standard, RailSize):
            joint.problem("rail", rail.id, "a placed rail", "Name a part whose type is a rail.")
            continue
        joint.from_centre = True
        joint.joins(rail)
        every = max(1, joint.raw.get("every", 1))
        holes = rail.type.holes
        middle = (len(holes) - 1) // 2
        chosen = [hole for index, hole in enumerate(holes) if (index - middle) % every == 0]
        lines = lines_of(joint, rail, chosen, back=False)
        if "bar" in joint.raw:
            bar_in_slot(joint, lines)
            continue
        check_first_nut(joint, rail, lines, every)
        for line in lines:
            finish(joint, line, slot_nut_bite)


def plate_on_slots(joint: JointBuilder) -> None:
    """A plate or bracket screwed to whatever slots lie under its holes."""
    for line in through_lines(joint):
        finish(joint, line, slot_nut_bite)


def through_bolt(joint: JointBuilder) -> None:
    """Screws through one part or several, into tapped holes, a member's tapped end (base:a) or nuts."""
    if "into" in joint.raw and "nut" in joint.raw:
        joint.problem("nut", joint.raw["nut"], "either into or nut", "Keep the one the screws bite into.")
        return
    biter = into_bite if "into" in joint.raw else free_nut_bite
    for line in through_lines(joint):
        finish(joint, line, biter)


def insert_and_screw(joint: JointBuilder) -> None:
    """Screws through parts into heat-set inserts."""
    for line in through_lines(joint):
        finish(joint, line, insert_bite)


def block_on_rail(joint: JointBuilder) -> None:
    """Carriages on their rail, and the screws of what they carry."""
    rail = joint.scene.find(joint.raw.get("rail", ""), joint.unit, joint.where("rail"))
    blocks = joint.scene.find_all(joint.raw.get("blocks", ()), joint.unit, joint.where("blocks"))
    if rail is None or not blocks:
        return
    joint.joins(rail, *blocks)
    for block in blocks:
        joint.slides_on[block.id] = rail.id
        _check_block(joint, block, rail)
    if "through" not in joint.raw:
        return
    if "screw" not in joint.raw:
        joint.problem("screw", "nothing", "the screws into the blocks", 'Add screw = "ISO 4762 M3x8".')
        return
    for line in through_lines(joint):
        finish(joint, line, lambda j, at: tapped_in(j, at, blocks))


def _check_block(joint: JointBuilder, block: PlacedPart, rail: PlacedPart) -> None:
    block_size, rail_size = block.type.standard, rail.type.standard
    if not isinstance(rail_size, RailSize) or not isinstance(block_size, BlockSize):
        joint.problem("blocks", block.id, "a block and a rail", "Name parts whose types are these.")
        return
    if block_size.rail_width_mm != rail_size.width_mm:
        joint.scene.say(
            "block-of-another-size",
            f"{block.id} is for rails {block_size.rail_width_mm:g} mm wide, "
            f"{rail.id} is {rail_size.width_mm:g}.",
            parts=(block.id, rail.id),
            joint=joint.id,
            value=block_size.rail_width_mm,
            limit=rail_size.width_mm,
            unit="mm",
            where=joint.where("blocks"),
        )
    spot = rail.placement.back(block.placement.origin_mm)
    aside = float(np.hypot(spot[1], spot[2]))
    turned = abs(float(block.placement.turn[:, 0] @ rail.placement.turn[:, 0]))
    upright = float(block.placement.turn[:, 2] @ rail.placement.turn[:, 2])
    half = block_size.length_mm / 2
    inside = half - 1e-6 <= spot[0] <= rail_size.length_mm - half + 1e-6
    if aside > 0.05 or turned < 1 - 1e-6 or upright < 1 - 1e-6 or not inside:
        joint.scene.say(
            "block-off-rail",
            f"{block.id} does not sit on {rail.id}: {aside:.2f} mm beside it, at {spot[0]:.1f} mm of "
            f"{rail_size.length_mm:g} mm.",
            parts=(block.id, rail.id),
            joint=joint.id,
            value=aside,
            limit=0.05,
            unit="mm",
            at_mm=block.placement.origin_mm,
            where=joint.where("blocks"),
        )


def is_set_screw(screw: Screw) -> bool:
    """Whether the screw has no head: its tip presses instead of clamping."""
    return screw.head is Head.NONE

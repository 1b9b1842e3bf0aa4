"""A joint as a table of a unit's file: its recipe, and what the recipe is asked for."""

from __future__ import annotations

from typing import Any

from trysquare.catalogue.values import SlotNut
from trysquare.intake.hole_names import HoleNames
from trysquare.intake.joints import Draft, is_back, reference
from trysquare.intake.stacks import Stack
from trysquare.machine.values import Host

PROPOSED = "Not in the CAD file: proposed for empty holes that stand in line."
Row = dict[str, Any]


def row_of(draft: Draft, names: HoleNames) -> Row:
    """The joint as a table. A plain draft has none."""
    if draft.recipe == "blind-joint":
        row = _blind(draft)
    elif draft.recipe == "shaft-and-coupling":
        row = _on_shaft(draft, names)
    elif draft.recipe == "rail-on-slot":
        row = _rail(draft)
    elif draft.recipe == "block-on-rail":
        assert draft.rail is not None
        blocks = [reference(block, draft.unit) for block in draft.blocks]
        row = {"rail": reference(draft.rail, draft.unit), "blocks": blocks}
        row |= _through(draft, names) if draft.stacks else {}
    else:
        row = _through(draft, names)
    if draft.carriers:
        row["carrier"] = draft.carriers[0].word
    note = {"note": PROPOSED} if draft.proposed else {}
    return _single({"recipe": draft.recipe, **row, **note})


def _blind(draft: Draft) -> Row:
    ends = [f"{reference(one.member, draft.unit)}:{one.end}" for one in draft.stacks if one.member]
    return {"ends": list(dict.fromkeys(ends)), "screw": draft.stacks[0].screw.word}


def _on_shaft(draft: Draft, names: HoleNames) -> Row:
    assert draft.shaft is not None
    piece, shaft = draft.shaft
    words = names.words([one.bitten for one in draft.stacks if one.bitten], draft.unit)
    group = words[0].rpartition(":")[2] if words else "set"
    return {
        "shaft": reference(piece, draft.unit) + ("" if piece.standard else f":{shaft}"),
        "onto": reference(draft.first, draft.unit),
        "screw": draft.stacks[0].screw.word,
        **({"holes": group} if group != "set" else {}),
    }


def _rail(draft: Draft) -> Row:
    assert draft.rail is not None
    every = {"every": draft.every} if draft.every > 1 else {}
    stack = draft.stacks[0]
    return {
        "rail": reference(draft.rail, draft.unit), "screw": stack.screw.word, "nut": _nut_word(stack), **every
    }  # fmt: skip


def _through(draft: Draft, names: HoleNames) -> Row:
    """What the screws pass, layer by layer, and what they bite."""
    unit, stack = draft.unit, draft.stacks[0]
    depth = max(len(one.passed) for one in draft.stacks)
    row: Row = {
        "through": [
            word
            for level in range(depth)
            for word in names.words(
                [one.passed[level] for one in draft.stacks if len(one.passed) > level], unit
            )
        ]
    }
    if draft.recipe in ("through-bolt", "insert-and-screw") and stack.host is not Host.NUT:
        if stack.member is not None:
            row["into"] = f"{reference(stack.member, unit)}:{stack.end}"
        else:
            words = names.words([one.bitten for one in draft.stacks if one.bitten], unit)
            row["into"] = words[0] if words else ""
    row["screw"] = stack.screw.word
    if stack.nut is not None and stack.host in (Host.NUT, Host.SLOT_NUT):
        row["nut"] = _nut_word(stack)
    if stack.washers:
        row["washer"] = stack.washers[0].word
    if stack.far_washers:
        row["washer_under_nut"] = stack.far_washers[0].word
    if is_back(stack):
        row["from"] = "back"
    return row


def _nut_word(stack: Stack) -> str:
    nut = stack.nut
    assert nut is not None
    size = nut.standard.standard if nut.standard is not None else None
    if isinstance(size, SlotNut) and stack.hit and size.slot_mm == stack.hit.channel.profile.slot_mm:
        return str(size.shape)
    return nut.word


def _single(row: Row) -> Row:
    """Lists of one as the one itself, as people write them."""
    return {
        key: value[0] if isinstance(value, list) and len(value) == 1 else value for key, value in row.items()
    }

"""What a drawing left out: screws that bite nothing, and nuts, inserts and washers on no screw's line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from trysquare.catalogue.values import Screw, Washer
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, Triple
from trysquare.intake.joints import Draft
from trysquare.intake.pieces import Pieces
from trysquare.intake.rounding import rounded
from trysquare.intake.stacks import Stack
from trysquare.machine.values import Host


def loose(stacks: Sequence[Stack], found: Pieces) -> list[Finding]:
    """Screws that bite nothing, and nuts, inserts and washers that no screw passes."""
    findings = [
        Finding(
            code="screw-bites-nothing",
            says=f"{stack.screw.word} passes {_listed(layer.piece.id for layer in stack.passed)}"
            " and meets no nut, insert or thread."
            if stack.passed
            else f"{stack.screw.word} passes no hole and meets no thread.",
            parts=(stack.screw.id, *(layer.piece.id for layer in stack.passed)),
            at_mm=_spot(stack.head_mm),
        )
        for stack in stacks
        if stack.host is Host.NONE
    ]
    held = {piece.id for stack in stacks for piece in stack.fasteners}
    for piece in found.pieces:
        if not piece.is_fastener or piece.id in held:
            continue
        sort = piece.standard.standard if piece.standard else None
        if isinstance(sort, Screw):
            continue
        code = "washer-without-screw" if isinstance(sort, Washer) else "nut-without-screw"
        findings.append(
            Finding(
                code=code,
                says=f"{piece.word} is on no screw's line.",
                parts=(piece.id,),
                at_mm=_spot(piece.placement.origin_mm),
            )
        )
    return findings


def proposals_told(drafts: Iterable[Draft]) -> list[Finding]:
    """Says which screws were proposed, joint by joint."""
    return [
        Finding(
            code="screws-proposed",
            says=f"{_listed(dict.fromkeys(layer.piece.id for layer in draft.stacks[0].passed))}: "
            f"{len(draft.stacks)} × {draft.stacks[0].screw.word} "
            f"{_into(draft.stacks[0])}; the file has holes in line there and no screws.",
            parts=tuple(dict.fromkeys(layer.piece.id for stack in draft.stacks for layer in stack.passed)),
            joint=f"{draft.unit}/{draft.name}",
            value=float(len(draft.stacks)),
            unit="pieces",
            at_mm=_spot(draft.stacks[0].head_mm),
        )
        for draft in drafts
        if draft.proposed and draft.recipe and draft.stacks
    ]


def _into(stack: Stack) -> str:
    if stack.host is Host.SLOT_NUT:
        return "into the slot, with slide-in nuts"
    if stack.host is Host.NUT and stack.nut is not None:
        return f"with {stack.nut.word}"
    return f"into {stack.bitten.piece.id}" if stack.bitten else "into the thread"


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def _spot(point_mm: Array) -> Triple:
    return rounded(point_mm, 3)

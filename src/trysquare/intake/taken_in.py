"""An assembly taken in whole: recognised, joined, written as lines, with what a person should look at."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from trysquare.ground.findings import Finding
from trysquare.intake.bodies import Assembly, FaceKind, Recognition, Shape, Sort
from trysquare.intake.carriers import with_carriers
from trysquare.intake.inserts_turned import inserts_turned
from trysquare.intake.joints import Draft, drafts_of, named
from trysquare.intake.lone import loose, proposals_told
from trysquare.intake.pieces import Pieces, pieces_of
from trysquare.intake.proposals import proposed
from trysquare.intake.rulings import OWN, Memory, as_ruled, seen_in
from trysquare.intake.stacks import Stack, stacks_of
from trysquare.intake.threads_apart import threads_joined
from trysquare.intake.touching import held_by_nothing
from trysquare.intake.tried import Tried, tried

LEAST_FLATS = 8  # a hole of eight flats is the coarsest that anybody draws
SHARPEST, FLATTEST = 0.69, 0.999  # cosines: an octagon's corner, and what may be a draught
_PRINTED = re.compile(
    r"print|petg|\bpla\b|\babs\b|\basa\b|\btpu\b|\.stl|gedruckt|druckteil|imprim", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A shape that a person should look at. `about`: "designation" or "printed"; `choices`: what it may be,
    the likeliest first, "own part" last; `evidence`: what was seen; `pieces`: how many stand in the file."""

    shape: int
    digest: str
    about: str
    called: str
    pieces: int
    choices: tuple[str, ...]
    confidence: float
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TakenIn:
    """What an import made of a file."""

    assembly: Assembly
    recognitions: Mapping[int, Recognition]
    pieces: Pieces
    stacks: tuple[Stack, ...]
    result: Tried
    findings: tuple[Finding, ...]
    proposals: tuple[Draft, ...]


def looked_at(assembly: Assembly) -> tuple[Assembly, dict[int, Recognition]]:
    """What every shape is by its faces, and the assembly without threads that are drawn apart."""
    return threads_joined(assembly, seen_in(assembly))


def questions_of(assembly: Assembly, memory: Memory, seen: Mapping[int, Recognition]) -> list[Question]:
    """What is unsure and not ruled yet: designations first, then parts that look printed. `seen`: what
    `looked_at` said of the assembly."""
    found = as_ruled(assembly, seen, memory)
    pieces = {shape.number: len(assembly.bodies_of(shape.number)) for shape in assembly.shapes}
    asked, printed = [], []
    for shape in assembly.shapes:
        one, ruling = found[shape.number], memory.rulings.get(shape.digest)
        common: dict[str, Any] = {
            "shape": shape.number, "digest": shape.digest, "called": shape.name or f"shape {shape.number}",
            "pieces": pieces[shape.number],
        }  # fmt: skip
        if one.designation and not one.is_sure and not (ruling and ruling.says):
            asked.append(
                Question(
                    **common, about="designation", confidence=one.confidence,
                    choices=(one.designation, *one.alternatives[:4], OWN),
                    evidence=(*one.evidence, *(f"against it: {doubt}" for doubt in one.doubts)),
                )
            )  # fmt: skip
        elif (why := _looks_printed(shape, one)) and not (ruling and ruling.printed is not None):
            printed.append(
                Question(
                    **common, about="printed", confidence=0.5, choices=("printed", "bought"), evidence=(why,)
                )
            )  # fmt: skip
    return asked + printed


def taken_in(
    assembly: Assembly,
    memory: Memory,
    *,
    seen: Mapping[int, Recognition] | None = None,
    name: str = "",
    propose: bool = True,
) -> TakenIn:
    """The machine of an assembly. `seen`: what `looked_at` said of it, which is asked when it is None;
    `propose`: also screws for empty holes in line."""
    if seen is None:
        assembly, seen = looked_at(assembly)
    found = as_ruled(assembly, seen, memory)
    printed = frozenset(
        shape.number
        for shape in assembly.shapes
        if (ruling := memory.rulings.get(shape.digest)) and ruling.printed
    )
    pieces = inserts_turned(pieces_of(assembly, found, printed=printed, name=name, known=memory.types))
    stacks = stacks_of(pieces)
    drafts = drafts_of(pieces, stacks)
    extra = proposed(pieces, stacks) if propose else []
    pieces, drafts = with_carriers(pieces, drafts)
    result = tried(pieces, named([*drafts, *extra]))
    kept = tuple(draft for draft in result.drafts if draft.proposed and draft.recipe)
    return TakenIn(
        assembly=assembly,
        recognitions=found,
        pieces=pieces,
        stacks=tuple(stacks),
        result=result,
        findings=(*loose(stacks, pieces), *proposals_told(kept), *held_by_nothing(pieces, result.drafts)),
        proposals=kept,
    )


def _looks_printed(shape: Shape, found: Recognition) -> str:
    """Why an own part may be a printed one; "" when nothing speaks for it."""
    if found.sort not in (Sort.OWN, Sort.PLATE) or shape.source != "step":
        return ""
    if _PRINTED.search(shape.name):
        return "its name says so"
    if any(face.kind is not FaceKind.PLANE for face in shape.faces):
        return ""
    return "its rounds are drawn as flats, as in files to be printed" if _flats_for_rounds(shape) else ""


def _flats_for_rounds(shape: Shape) -> bool:
    """Whether enough faces lie between two others that are turned by a little, as the flats of a round do."""
    flats = 0
    for face in shape.faces:
        bends = [float(face.direction @ shape.faces[other].direction) for other in face.neighbours]
        flats += sum(SHARPEST < bend < FLATTEST for bend in bends) > 1
    return flats >= LEAST_FLATS

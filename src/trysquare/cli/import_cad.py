"""`trysquare import` of a CAD file: an assembly as STEP, 3MF or STL becomes a machine folder."""

from __future__ import annotations

import contextlib
import gc
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, print_json

if TYPE_CHECKING:
    from trysquare.intake.bodies import Assembly
    from trysquare.intake.rulings import Memory, Ruling
    from trysquare.intake.taken_in import Question, TakenIn


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """Over in seconds and then the process ends: looking for garbage would only cost time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@_uncollected()
def run(
    file: str,
    folder: str,
    *,
    asks: bool = False,
    look: bool = False,
    tell_all: bool = False,
    as_json: bool = False,
    yes: bool = False,
    propose: bool = True,
    name: str = "",
    built: str = "",
) -> int:
    """Brings one CAD file into a folder; the exit status. Raises ReadingError for a file that cannot be used.

    `asks`: unsure parts are asked at the terminal; `yes`: the likeliest is taken, and texts of the builder's
    give way after a backup; `look`: nothing is written; `propose`: standard screws for empty holes in line;
    `name`: of the machine, "" as in the file; `built`: the last step that is done.
    """
    from trysquare.cli.import_after import after, look_at_built, machine_in
    from trysquare.cli.import_child import read_in_child
    from trysquare.cli.import_tell import tell
    from trysquare.intake.limits import LEFT_OUT
    from trysquare.intake.taken_in import looked_at, questions_of, taken_in

    path, place = Path(file), Path(folder)
    memory = _looked_at(place)
    assembly, seen = looked_at(read_in_child(path, say=_saying(as_json=as_json)))
    questions = questions_of(assembly, memory, seen)
    rulings = [] if look else _rulings(questions, yes=yes, asks=asks)
    memory = memory.with_rulings(rulings)
    taken = taken_in(assembly, memory, seen=seen, name=name, propose=propose)
    ruled = {one.shape for one in rulings}
    left = [one for one in questions if one.digest not in ruled]
    old = machine_in(place)
    look_at_built(old, built)
    facts = {
        "file": file,
        "folder": folder,
        "look": look,
        **import_facts(taken),
        "unsure": [_question_fact(one) for one in left],
        "ruled": [asdict(one) for one in rulings],
        **_write(place, taken, memory, source=path.name, yes=yes, asks=asks, look=look),
    }
    if not look:
        _keep_asked(place, assembly, memory, seen, path.name)
    if facts["written"]:
        facts |= after(place, old, built)
    if as_json:
        print_json(facts)
    else:
        tell(facts, whole=tell_all)
    weighs = any(finding["weight"] != "note" for finding in facts["findings"])
    unsure = any(one.about == "designation" for one in left)
    stopped = not facts["written"] and not look
    lost = any(problem.code in LEFT_OUT for problem in assembly.problems)
    open_ = unsure or stopped or weighs or lost or facts["plain_fasteners"] or facts.get("unreadable")
    return FOUND if open_ else CLEAN


def import_facts(taken: TakenIn) -> dict[str, Any]:
    """What was found, as plain facts."""
    from trysquare.cli.facts import point_fact
    from trysquare.intake.tried import moved_mm

    pieces = taken.pieces.pieces
    by_type = Counter(piece.word for piece in pieces)
    shape_of = {piece.word: piece.body.shape for piece in reversed(pieces)}
    drafts = [draft for draft in taken.result.drafts if draft.recipe]
    facts = taken.assembly.facts
    return {
        "machine": taken.pieces.name,
        "read": {
            "kind": facts.kind, "schema": facts.schema, "unit": facts.unit, "system": facts.system,
            "shapes": len(taken.assembly.shapes), "bodies": len(taken.assembly.bodies),
        },
        "problems": [asdict(problem) for problem in taken.assembly.problems],
        "parts": [
            {
                "part": word,
                "pieces": number,
                "sort": str(taken.recognitions[shape_of[word]].sort),
                "designation": taken.recognitions[shape_of[word]].designation,
                "confidence": round(taken.recognitions[shape_of[word]].confidence, 2),
                "evidence": list(taken.recognitions[shape_of[word]].evidence),
                "doubts": list(taken.recognitions[shape_of[word]].doubts),
            }
            for word, number in by_type.items()
        ],
        "materials": [
            {"part": own.id, "material": own.material, "guessed_from": own.material_why}
            for own in taken.pieces.types
            if own.material_why
        ],
        "joints": dict(sorted(Counter(draft.recipe for draft in drafts).items())),
        "screws": len(taken.stacks),
        "screws_in_joints": sum(len(draft.stacks) for draft in drafts if not draft.proposed),
        "plain_fasteners": [
            {"screw": screw, "why": why} for screw, why in sorted(taken.result.reasons.items())
        ],
        "moved": [
            {"screw": screw, "by_mm": round(by, 3)} for screw, by in sorted(moved_mm(taken.result).items())
        ],
        "proposed": sum(len(draft.stacks) for draft in taken.proposals),
        "findings": [
            {
                "code": one.code, "weight": str(one.weight), "says": one.says, "parts": list(one.parts),
                "joint": one.joint, "at_mm": point_fact(one.at_mm) if one.at_mm else None,
            }
            for one in taken.findings
        ],
    }  # fmt: skip


def _looked_at(place: Path) -> Memory:
    """The folder's memory. Raises NotThere when nothing can be written there, ReadingError for its text."""
    from trysquare.cli.files_out import look_at_folder
    from trysquare.record.rulings_kept import read_kept

    look_at_folder(place)
    return read_kept(place)


def _saying(*, as_json: bool) -> Any:
    from trysquare.cli.answers import talk

    if as_json or not sys.stderr.isatty():
        return lambda _text: None
    return lambda text: talk(f"{text} …")


def _rulings(questions: list[Question], *, yes: bool, asks: bool) -> list[Ruling]:
    from trysquare.cli.import_ask import agreed, asked

    if yes:
        return agreed(questions)
    return asked(questions) if asks and questions else []


def _question_fact(question: Question) -> dict[str, Any]:
    facts = asdict(question)
    return {**facts, "choices": list(question.choices), "evidence": list(question.evidence)}


def _write(
    place: Path, taken: TakenIn, memory: Memory, *, source: str, yes: bool, asks: bool, look: bool
) -> dict[str, Any]:
    """Writes the folder if nothing of the builder's stands against it, or if the builder says so."""
    from trysquare.cli import import_write
    from trysquare.intake.folder_text import folder_files
    from trysquare.record.rulings_kept import keep

    files = folder_files(taken.result.lines, source=source)
    changes = import_write.planned(place, files)
    conflicts = [change for change in changes if change.does == "conflict"]
    facts: dict[str, Any] = {
        "files": {change.name: change.does for change in changes},
        "diff": [line for change in changes if change.touches for line in change.diff],
        "backup": "",
        "waits_in": "",
        "written": False,
    }
    if look:
        return facts
    if conflicts and asks:
        yes = _gives_way(conflicts)
    place.mkdir(parents=True, exist_ok=True)
    if conflicts and not yes:
        keep(place, memory)  # what was answered need not be asked again
        return {**facts, "waits_in": import_write.left_waiting(place, files)}
    facts["backup"] = import_write.written(place, changes, files)
    types = {own.shape.digest: own.id for own in taken.pieces.types}
    digest = taken.assembly.facts.digest
    keep(place, replace(memory, source=source, digest=digest, types={**memory.types, **types}))
    return {**facts, "written": True}


def _gives_way(conflicts: list[Any]) -> bool:
    for change in conflicts:
        for line in change.diff:
            click.echo(words.one_line(line))
    names = words.listed(change.name for change in conflicts)
    return click.confirm(
        f"You changed {names} where the file changed too. Let yours give way? A backup is kept"
    )


def _keep_asked(place: Path, assembly: Assembly, memory: Memory, seen: dict[int, Any], source: str) -> None:
    """Leaves the questions with their meshes for the bench, those that are answered as well."""
    from trysquare.intake.taken_in import questions_of
    from trysquare.record.rulings_kept import Asked, KeptMesh, keep_asked

    every = [
        *questions_of(assembly, replace(memory, rulings={}), seen),
        *questions_of(assembly, memory, seen),
    ]
    questions = {(one.digest, one.about): one for one in every}
    wanted = {one.digest for one in questions.values()}
    meshes = {
        shape.digest: KeptMesh.of(shape.points_mm, shape.triangles)
        for shape in assembly.shapes
        if shape.digest in wanted and shape.closed and len(shape.triangles)
    }
    keep_asked(place, Asked(source=source, questions=tuple(questions.values()), meshes=meshes))

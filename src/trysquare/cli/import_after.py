"""What a re-issued file, an assembly or a parts list, changed in the machine, and what must be redone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trysquare.cli import words
from trysquare.cli.answers import NotThere

if TYPE_CHECKING:
    from trysquare.machine.values import Machine


def machine_in(place: Path) -> Machine | None:
    """The machine in a folder; None when there is none, or none that can be read."""
    from trysquare.ground.errors import ReadingErrors
    from trysquare.machine.load import load_machine

    if not (place / "machine.toml").is_file():
        return None
    try:
        return load_machine(place)
    except ReadingErrors:
        return None


def after(place: Path, old: Machine | None, built: str) -> dict[str, Any]:
    """What the written folder is, and against what was there before: what changed and must be redone."""
    from trysquare.cli.answers import problem_facts
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.machine.load import load_machine

    try:
        new = load_machine(place)
    except ReadingErrors as errors:  # the builder's own files name what is no longer there
        return {"unreadable": [problem_facts(problem) for problem in errors.problems], "changes": None}
    facts: dict[str, Any] = {"unreadable": [], "changes": None}
    if old is not None:
        from trysquare.cli.changes import change_facts
        from trysquare.publish.changes import changes

        try:
            facts["changes"] = change_facts(changes(old, new, built))
        except ReadingError as error:
            raise NotThere(f"'{words.one_line(built)}' is not {error.expected}. {error.remedy}") from error
    return facts


def look_at_built(old: Machine | None, built: str) -> None:
    """Raises NotThere, before anything is written, when there is no such step that could be done."""
    from trysquare.ground.errors import nearest

    steps = [step.id for step in old.steps] if old is not None else []
    if built and built not in steps:
        what = f"'{words.one_line(built)}' is not a step of the machine in the folder."
        raise NotThere(f"{what} {nearest(built, steps)} Nothing was written.")

"""`trysquare import` of a parts list: read, decide, show what changes, keep what was, write."""

from __future__ import annotations

from trysquare.cli.answers import CLEAN, FOUND
from trysquare.cli.import_list_decide import take_words
from trysquare.cli.import_list_read import Asked, read_import
from trysquare.cli.import_list_write import planned, write_planned

__all__ = ["Asked", "run"]


def run(
    file: str,
    folder: str,
    asked: Asked,
    *,
    asks: bool,
    look: bool,
    tell_all: bool,
    as_json: bool,
    built: str = "",
) -> int:
    """Reads, asks where `asks`, writes unless `look`, tells. `built`: the last step that is done."""
    from trysquare.cli.answers import print_json
    from trysquare.cli.import_after import after, look_at_built, machine_in
    from trysquare.cli.import_list_tell import ask, import_facts, tell

    found = read_import(file, folder, asked)
    take_words(found, asked)
    if asks and found.waiting:
        ask(found)
    plan = planned(found)
    old = machine_in(found.place.path) if plan.reissued else None
    look_at_built(old, built)
    written, kept = ([], []) if look or not plan.texts else write_planned(found, plan)
    facts = import_facts(found, plan, written, kept)
    facts |= {"file": file, "folder": folder, "looked": look}
    told = after(found.place.path, old, built) if old is not None and written else {}
    facts["machine_changes"] = told.get("changes")
    if as_json:
        print_json(facts)
    else:
        tell(facts, tell_all=tell_all)
    return FOUND if found.waiting else CLEAN

"""`trysquare import` of a parts list: read, decide, show what changes, keep what was, write."""

from __future__ import annotations

from trysquare.cli.answers import CLEAN, FOUND
from trysquare.cli.import_list_decide import take_words
from trysquare.cli.import_list_read import Asked, read_import
from trysquare.cli.import_list_write import planned, write_planned

__all__ = ["Asked", "run"]


def run(
    file: str, folder: str, asked: Asked, *, asks: bool, look: bool, tell_all: bool, as_json: bool
) -> int:
    """Reads, asks where `asks`, writes unless `look`, tells."""
    from trysquare.cli.answers import print_json
    from trysquare.cli.import_list_tell import ask, import_facts, tell

    found = read_import(file, folder, asked)
    take_words(found, asked)
    if asks and found.waiting:
        ask(found)
    plan = planned(found)
    written, kept = ([], []) if look or not plan.texts else write_planned(found, plan)
    facts = import_facts(found, plan, written, kept)
    facts |= {"file": file, "folder": folder, "looked": look}
    if as_json:
        print_json(facts)
    else:
        tell(facts, tell_all=tell_all)
    return FOUND if found.waiting else CLEAN

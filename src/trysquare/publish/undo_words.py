"""How undoing is told: what to loosen, take out and take off."""

from __future__ import annotations

from collections.abc import Iterator

from trysquare.publish.taking_back import TakingBack
from trysquare.sequence.operations import Operation, Work


def undo_words(work: Work, back: TakingBack) -> Iterator[tuple[str, str, str]]:
    """Sentence, what it is done to, and why; in order, each joint's screws told once.

    Readings are undone by nobody: they are told as readings to be made again.
    """
    taken_out = {
        work.operations[number].of for number in back.order if work.operations[number].verb == "start"
    }
    said: set[str] = set()
    for number in back.order:
        one = work.operations[number]
        turns = one.verb in ("snug", "tighten")
        if one.verb == "read" or (turns and (one.of in taken_out or one.of in said)):
            continue
        if turns:
            said.add(one.of)
        yield _words(one), one.of, back.because[number]


def _words(one: Operation) -> str:
    if one.verb in ("snug", "tighten"):
        return f"Loosen {one.of} ({_count(len(one.fast), 'screw')})."
    if one.verb == "start":
        return f"Take {_count(len(one.fast), 'screw')} of {one.of} out."
    if one.verb == "insert":
        members = ", ".join(dict.fromkeys(fast.slot_member for fast in one.fast if fast.slot_member))
        nuts = len({fast.host_part for fast in one.fast})
        return f"Take {_count(nuts, 'nut or bar', 'nuts or bars')} of {one.of} out" + (
            f" of {members}." if members else "."
        )
    if one.verb == "press":
        inserts = _count(len(one.pieces), "heat-set insert")
        return f"Draw the {inserts} of {one.of} with the hot iron; use new ones."
    if one.verb == "crimp":
        return f"Open the connector of {one.of}."
    if one.sort == "bracket":
        return f"Take off {_count(len(one.pieces), 'bracket')} of {one.of}."
    return f"Take off {one.of}."


def _count(pieces: int, one: str, many: str = "") -> str:
    return f"{pieces} {one if pieces == 1 else many or one + 's'}"

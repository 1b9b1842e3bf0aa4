"""Three versions of a text made one: what the last import wrote, what the builder made of it, what comes."""

from __future__ import annotations

import difflib
from collections.abc import Sequence


def merged(base: str, mine: str, theirs: str) -> tuple[str, bool]:
    """`theirs` with the builder's changes, and whether both agree.

    Lines that only one side changed are taken from that side; where both changed the same lines in different
    ways, `theirs` stand.
    """
    agree = True
    old, left, right = (text.splitlines(keepends=True) for text in (base, mine, theirs))
    out: list[str] = []
    at_old = at_left = at_right = 0
    for a, b, c, size in _shared(old, left, right):
        piece = _between(old[at_old:a], left[at_left:b], right[at_right:c])
        if piece is None:
            agree, piece = False, right[at_right:c]
        out += piece
        out += old[a : a + size]
        at_old, at_left, at_right = a + size, b + size, c + size
    return "".join(out), agree


def differences(old: str, new: str, name: str) -> list[str]:
    """What would become another in a text, as lines of a unified diff."""
    lines = difflib.unified_diff(
        old.splitlines(), new.splitlines(), f"{name} (yours)", f"{name} (from the file)", lineterm="", n=1
    )
    return list(lines)


def _between(old: Sequence[str], left: Sequence[str], right: Sequence[str]) -> list[str] | None:
    if right in (left, old):
        return list(left)
    return list(right) if left == old else None


def _shared(old: Sequence[str], left: Sequence[str], right: Sequence[str]) -> list[tuple[int, int, int, int]]:
    """Stretches of `old` that both others have kept: where they begin, how many lines; then the ends."""
    one = difflib.SequenceMatcher(None, old, left, autojunk=False).get_matching_blocks()
    two = difflib.SequenceMatcher(None, old, right, autojunk=False).get_matching_blocks()
    shared, i, j = [], 0, 0
    while i < len(one) and j < len(two):
        begin = max(one[i].a, two[j].a)
        end = min(one[i].a + one[i].size, two[j].a + two[j].size)
        if begin < end:
            shared.append((begin, one[i].b + begin - one[i].a, two[j].b + begin - two[j].a, end - begin))
        if one[i].a + one[i].size < two[j].a + two[j].size:
            i += 1
        else:
            j += 1
    shared.append((len(old), len(left), len(right), 0))
    return shared

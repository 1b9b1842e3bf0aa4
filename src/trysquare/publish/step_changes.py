"""What is another about a step: what is done, or only how it is worded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from trysquare.machine.values import Step
from trysquare.publish.same_thing import Matched, atoms


def step_differences(old: Step, new: Step, matched: Matched) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is done otherwise in a step, and what is only worded otherwise."""
    before = [atom for action in old.actions for atom in atoms(action, matched)]
    after = [atom for action in new.actions for atom in atoms(action)]
    less, more = Counter(before) - Counter(after), Counter(after) - Counter(before)
    deeds = [_deed("now", more, less), _deed("no longer", less, more)]
    if not more and not less and before != after:
        deeds.append("its actions in another order")
    deeds += [f"caution: {word}" for word in new.caution if word not in old.caution]
    words: list[str] = []
    if old.title != new.title:
        words.append(f"now called “{new.title}”")
    if old.why != new.why and new.why:
        words.append(f"why: {new.why}")
    said = [one.says for one in old.actions]
    words += [f"says: {one.says}" for one in new.actions if one.says and one.says not in said]
    return tuple(word for word in deeds if word), tuple(words)


def _deed(word: str, these: Counter[tuple[str, str, tuple[object, ...]]], those: Iterable[object]) -> str:
    """Deeds as "now: tighten a, b; read c", those that are only done otherwise as such."""
    others = {atom[:2] for atom in those if isinstance(atom, tuple)}
    by_verb: dict[str, list[str]] = {}
    for verb, thing, how in these:
        if (verb, thing) in others and word != "now":
            continue  # said once, as what is done now
        what = thing or str(how[-1])
        by_verb.setdefault(verb, []).append(
            f"{what} otherwise" if (verb, thing) in others and thing else what
        )
    told = "; ".join(f"{verb} {', '.join(names)}" for verb, names in by_verb.items())
    return f"{word}: {told}" if told else ""

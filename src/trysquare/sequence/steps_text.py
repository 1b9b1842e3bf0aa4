"""Steps as the text of `steps.toml`, which the folder's reader takes back as the same steps."""

from __future__ import annotations

import json
from collections.abc import Iterable

from trysquare.machine.steps import JOINT_VERBS
from trysquare.machine.values import Action, Machine, Step


def steps_text(machine: Machine, steps: Iterable[Step], *, heading: str = "") -> str:
    """TOML, one table a step and one line an action."""
    names = {part.id for part in machine.placed if not part.joint}
    blocks = [f"# {line}" for line in heading.splitlines()]
    for step in steps:
        lines = [
            "[[step]]",
            f"id = {quoted(step.id)}",
            f"title = {quoted(step.title)}",
            f"unit = {quoted(step.unit)}",
        ]
        if step.why:
            lines.append(f"why = {quoted(step.why)}")
        if step.caution:
            lines.append(f"caution = {_list(step.caution)}")
        if step.minutes:
            lines.append(f"minutes = {_number(step.minutes)}")
        lines.append("actions = [")
        lines += [f"  {_action(action, step.unit, names)}," for action in step.actions]
        lines.append("]")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n" if blocks else ""


def quoted(text: str) -> str:
    """A TOML basic string. JSON's escapes are TOML's too, save that TOML also escapes DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(words: Iterable[str]) -> str:
    return "[" + ", ".join(quoted(word) for word in words) + "]"


def _number(value: float) -> str:
    return f"{value:g}" if value == float(f"{value:g}") else repr(value)


def _action(action: Action, unit: str, parts: set[str]) -> str:
    words = [*action.parts, *action.joints, *action.fastenings]
    keys = [f"{action.verb} = {_list(_shorter(word, unit, action.verb, parts) for word in words)}"]
    if action.says:
        keys.append(f"says = {quoted(action.says)}")
    if action.reads:
        keys.append(f"reads = {_list(action.reads)}")
    if action.using:
        keys.append(f"using = {_list(action.using)}")
    if action.gap_mm is not None:
        keys.append(f"gap_mm = {_number(action.gap_mm)}")
    if action.minutes:
        keys.append(f"minutes = {_number(action.minutes)}")
    if action.celsius:
        keys.append(f"celsius = {_number(action.celsius)}")
    if action.toward:
        keys.append(f"toward = {_direction(action.toward)}")
    if action.means:
        keys.append(f"means = {quoted(action.means)}")
    if action.matters:
        keys.append(f"matters = {quoted(action.matters)}")
    if action.order:
        keys.append(f"order = {_list(_shorter(word, unit, action.verb, parts) for word in action.order)}")
    return "{ " + ", ".join(keys) + " }"


def _direction(toward: str) -> str:
    return quoted(toward) if toward[0] in "+-" and toward[1:] in "xyz" else f"[{toward.replace(',', ', ')}]"


def _shorter(word: str, unit: str, verb: str, parts: set[str]) -> str:
    """The name inside the step's own unit, unless something else would be found under it."""
    short = word.removeprefix(f"{unit}/") if unit else word
    clash = verb not in JOINT_VERBS and word not in parts and f"{unit}/{short}" in parts
    return word if clash else short

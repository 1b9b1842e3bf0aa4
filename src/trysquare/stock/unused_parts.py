"""Parts that the folder describes and that stand nowhere: not placed, brought, listed or used by a step."""

from __future__ import annotations

import re

from trysquare.ground.errors import nearest
from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine

_WORDS = re.compile(r"""[^\s"',\[\]{}=]+""")


def unused_findings(machine: Machine) -> tuple[Finding, ...]:
    """A note for each part of parts.toml that nothing uses; nothing for a folder that places no part yet.

    What a paper took out stays described by the paper before it: such a part is not spoken of.
    """
    if not machine.placed or machine.tree is None:
        return ()
    used = {placed.type.id for placed in machine.placed}
    used |= {placed.type.id for joint in machine.joints for placed in joint.brings}
    used |= set(machine.listed)
    used |= {word for step in machine.steps for action in step.actions for word in action.using}
    said = (saying.read for saying in machine.sayings if not saying.line.startswith("part."))
    used |= {word for text in said for word in _WORDS.findall(text)}
    used |= {part for name, part in machine.aliases.items() if name in used}
    return tuple(
        Finding(
            code="part-unused",
            says=f"{part.id} is described and stands nowhere: no unit places it, no joint brings it, no step "
            f"uses it.{_meant(part.id, used & machine.types.keys())}",
            where=part.where,
            remedy=f"Place it in a unit, name it in a step's using, or delete [part.{part.id}].",
        )
        for part in machine.types.values()
        if part.id in machine.tree.lines["part"] and part.id not in used
    )


def _meant(part: str, used: set[str]) -> str:
    near = nearest(part, used)
    return f" {near.replace('Did you mean', 'Is it')}" if near.startswith("Did") else ""

"""What is told of a characteristic, and what follows where some were read as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from trysquare.machine.values import Characteristic, Machine
from trysquare.truing.characteristics import Components
from trysquare.truing.readings import Reading
from trysquare.truing.standing import Standing
from trysquare.truing.verdicts import Judged, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentResult:
    """One number of a characteristic, judged. `seen`: share of what was not known before that readings
    took away, 0 to 1; `determined`: False when it may be anything, whatever was read."""

    says: str
    judged: Judged
    seen: float
    determined: bool
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CharacteristicResult:
    """A characteristic with its components, the worst first in `worst`. `why_not`: why it has none."""

    characteristic: Characteristic
    components: tuple[ComponentResult, ...]
    verdict: Verdict
    why_not: str = ""

    @property
    def worst(self) -> ComponentResult | None:
        """The component that decides: of the worst verdict the largest."""
        same = [one for one in self.components if one.judged.verdict is self.verdict] or self.components
        return max(same, key=lambda one: abs(one.judged.value), default=None)


def but_good(
    judged: Sequence[Judged],
    components: Components,
    characteristics: Sequence[CharacteristicResult],
    direct: Mapping[str, tuple[tuple[str, Judged], ...]],
) -> list[Judged]:
    """The components' verdicts; what was read as it is, and is good, is nothing to push for."""
    good = {
        one.characteristic.id
        for one in characteristics
        if one.characteristic.id in direct and one.verdict is Verdict.GOOD
    }
    return [
        replace(one, verdict=Verdict.GOOD) if row.characteristic in good else one
        for one, row in zip(judged, components.rows, strict=True)
    ]


def opened(
    machine: Machine,
    standing: Standing,
    characteristics: Sequence[CharacteristicResult],
    direct: Mapping[str, tuple[tuple[str, Judged], ...]],
    current: Sequence[Reading],
) -> list[tuple[Characteristic, Judged | None, frozenset[str]]]:
    """What is open and may be read as it is: what was so read and is not decided, or is due and not read."""
    step = next((one for one in machine.steps if one.id == standing.step), None)
    due = {name for action in step.actions for name in action.reads} if step is not None else set()
    found: list[tuple[Characteristic, Judged | None, frozenset[str]]] = []
    for one in characteristics:
        name = one.characteristic.id
        if one.verdict is Verdict.CANNOT_TELL and name in direct and one.worst is not None:
            used = frozenset(each.instrument for each in current if each.first == name)
            found.append((one.characteristic, one.worst.judged, used))
        elif one.verdict is Verdict.NOT_READ and name in due:
            found.append((one.characteristic, None, frozenset()))
    return found

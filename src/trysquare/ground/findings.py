"""Imperfect work is a finding, not an exception: what a check says of a machine.

Codes, their meaning and their physical consequence stand in `findings.csv` beside this file;
`docs/findings.md` is generated from it. A code is never reused.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources

from trysquare.ground.errors import Where


class Weight(StrEnum):
    """How much a finding weighs."""

    STOP = "stop"  # do not go on building before this is settled
    DOUBT = "doubt"  # could not be checked, or a person must judge
    NOTE = "note"  # good to know; nothing is wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingKind:
    """One row of `findings.csv`: what a code means, for every machine."""

    code: str
    weight: Weight
    meaning: str
    consequence: str
    remedy: str
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is wrong, doubtful or worth knowing about this machine.

    `parts` are instance ids (``frame/front-left``), `joint` and `step` are ids or "".
    `value` and `limit` share `unit` ("mm", "mm3", "N·m", "pieces" …).
    `at_mm` is a point in the machine frame, x y z, where a person should look. `cause` is the finding that
    this one follows from as far as can be told; None: it stands for itself.
    """

    code: str
    says: str
    parts: tuple[str, ...] = ()
    joint: str = ""
    step: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    at_mm: tuple[float, float, float] | None = None
    remedy: str = ""
    where: Where | None = None
    cause: Finding | None = None

    @property
    def root(self) -> Finding:
        """The first of the findings that this one follows from; itself when it follows from none."""
        return self if self.cause is None else self.cause.root

    @property
    def follows(self) -> str:
        """What this finding follows from, in words: "hole-missing of panels/lid"; "" when from nothing."""
        if self.cause is None:
            return ""
        of = self.cause.joint or next(iter(self.cause.parts), "") or self.cause.step
        return f"{self.cause.code} of {of}" if of else self.cause.code

    @property
    def kind(self) -> FindingKind:
        return finding_kinds()[self.code]

    @property
    def weight(self) -> Weight:
        return self.kind.weight


def places_alike(says: str, places: int) -> str:
    """A finding's words with how many places it speaks for, said once however often it is gathered."""
    return f"{_ALIKE.sub('', says)} {places} places alike."


_ALIKE = re.compile(r" \d+ places alike\.$")


@cache
def finding_kinds() -> dict[str, FindingKind]:
    """All codes, in the order of `findings.csv`."""
    text = (resources.files("trysquare.ground") / "findings.csv").read_text(encoding="utf-8")
    return {
        row["code"]: FindingKind(
            code=row["code"],
            weight=Weight(row["weight"]),
            meaning=row["meaning"],
            consequence=row["consequence"],
            remedy=row["remedy"],
            basis=row["basis"],
        )
        for row in csv.DictReader(text.splitlines())
    }

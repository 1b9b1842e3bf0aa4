"""What the families of faults share: what they are given, and what they give back."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random

from faulting.folders import Templates
from faulting.outcome import Limits, Outcome, call


@dataclass(frozen=True, slots=True)
class Workplace:
    """Where faults are tried: `home` is a folder of this run, `templates` what is copied from."""

    home: Path
    templates: Templates

    @contextmanager
    def place(self) -> Iterator[Path]:
        """A folder for one fault, some way down, so that `..` stays inside; gone afterwards."""
        top = self.home / "fault"
        place = top / "a" / "b" / "c"
        shutil.rmtree(top, ignore_errors=True)
        place.mkdir(parents=True)
        try:
            yield place
        finally:
            for folder, _, _ in os.walk(top):
                Path(folder).chmod(0o755)
            shutil.rmtree(top, ignore_errors=True)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of a fault: `tried` and `survived` count, `wrong` and `lost` say what was not right."""

    tried: int = 1
    wrong: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()

    @property
    def survived(self) -> int:
        return self.tried - min(self.tried, max(len(self.wrong), 1 if self.lost else 0))


Fault = Callable[[Workplace, Random], Verdict]
"""One fault of a family, wholly decided by its own source of chance."""


@dataclass(frozen=True, slots=True)
class Family:
    """Faults of one sort. `share`: how much of the time it may take, against the others."""

    name: str
    what: str
    share: float
    fault: Fault


def called(words: Sequence[str], place: Path, limits: Limits | None = None) -> Outcome:
    """`trysquare WORDS` in the place."""
    return call(words, place / "said", limits, before=lambda: os.chdir(place))


def said(words: Sequence[str]) -> str:
    """A call as one types it, long words cut."""
    return "trysquare " + " ".join(
        word if word and len(word) < 60 and word.isprintable() and " " not in word else ascii(word)[:80]
        for word in words
    )


def problem(outcome: Outcome, more: str = "") -> tuple[str, ...]:
    """What was wrong with a call, with the call; nothing when it was survived."""
    if not outcome.wrong:
        return ()
    return (f"{said(outcome.words)}{f' ({more})' if more else ''}: {outcome.wrong}",)

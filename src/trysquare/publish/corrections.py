"""What a new version of a machine asks of a builder, as values."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.publish.compare import Comparison


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap:
    """Pieces of one sort that give way to another. `old` "": they come; `new` "": they go.

    `built`: how many are in already (of those that come: how many are wanted before going on).
    """

    old: str
    new: str
    pieces: int
    built: int
    where: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo:
    """One thing to undo, by the names of the old version."""

    says: str
    of: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Redo:
    """A step of the new version to do now. `whole`: it is new, or comes earlier than it did; else only what
    `does` names is done once more."""

    step: str
    title: str
    whole: bool
    does: tuple[str, ...]
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reread:
    """A characteristic to read again before going on, by the new version's limit."""

    characteristic: str
    limit: float
    unit: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What the new version asks of a builder. `built`: the last step done, "" when nothing is built.

    `undo` in that order; `stuck`: what no way was found to undo. `do_now` in the new order. `words`: steps
    that are done and only worded otherwise. `next_step`: where the new order goes on, "" at its end;
    `ahead`: steps from there on that are not as they were. `unaffected`: steps done that stay as they are.
    """

    comparison: Comparison
    built: str
    swaps: tuple[Swap, ...]
    undo: tuple[Undo, ...]
    stuck: tuple[str, ...]
    do_now: tuple[Redo, ...]
    reread: tuple[Reread, ...]
    words: tuple[str, ...]
    next_step: str
    ahead: tuple[str, ...]
    unaffected: tuple[str, ...]

    @property
    def matters(self) -> bool:
        """Whether anything is built, done or read otherwise."""
        return any(change.matters for change in self.comparison.changes) or bool(self.do_now)

"""What one step shows, as values: its pieces and where they come from, turns, settings and looks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing import Scene


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Away:
    """A part drawn away from its place by `offset_mm` (3,). `lead_mm`: array (n, 3), the path of one of its
    points from where it is drawn to where it goes; empty where another part's path says the same."""

    offset_mm: Array
    lead_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """A screw that the step turns. `head_mm`, `axis` as drawn; `key_mm`: its key's size."""

    fastening: str
    screw: str
    head_mm: Array
    axis: Array
    key_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setting:
    """An offset to be set: from the datum end of a member, the one that the place is stated from, to the
    nearest end of a part on it."""

    datum_mm: Array
    to_mm: Array
    out: Array  # away from the member's face, for the dimension line
    value_mm: float
    member: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """A feature to look at, lest a part goes in wrong. `number`: of the mistake in the book's step;
    `at_mm`: points (n, 3) at which it can be seen, n > 0."""

    number: int
    part: str
    at_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepScene:
    """One step's scene. Everything is in the machine frame as the work lies in this step.

    `new`: ids drawn strong; `sorts`: what each call-out of a letter points at; `threads`: belts and cables
    as lines (n, 3) with their names; `turned`: the side that is up, when it is not the top.
    """

    scene: Scene
    new: tuple[str, ...]
    away: Mapping[str, Away]
    turns: tuple[Turn, ...]
    settings: tuple[Setting, ...]
    empty_holes_mm: Array
    empty_diameters_mm: Array
    threads: tuple[tuple[str, Array], ...]
    reads: Mapping[str, str]  # characteristic -> a part it is read on, "" for none that can be drawn
    looks: tuple[Look, ...] = ()
    up: str = "+z"
    turned_now: bool = False
    moving: tuple[str, ...] = field(default=())  # structural parts that come as one unit

    @property
    def is_empty(self) -> bool:
        """Nothing of this step can be drawn."""
        return not self.new and not self.threads

    def facts(self) -> list[bytes]:
        """All that a picture of it follows from, as bytes."""
        rows = facts_of(self.scene)
        for name, away in self.away.items():
            rows.append(
                name.encode("utf-8", "surrogatepass") + _rounded(away.offset_mm) + _rounded(away.lead_mm)
            )
        for turn in self.turns:
            rows.append(
                f"{turn.fastening}{turn.key_mm}".encode() + _rounded(turn.head_mm) + _rounded(turn.axis)
            )
        for one in self.settings:
            rows.append(_rounded(one.datum_mm) + _rounded(one.to_mm) + _rounded(one.out))
        rows += [f"{look.number} {look.part}".encode() + _rounded(look.at_mm) for look in self.looks]
        rows += [
            _rounded(self.empty_holes_mm),
            _rounded(self.empty_diameters_mm),
            *(name.encode() + _rounded(points) for name, points in self.threads),
        ]
        rows.append(repr((sorted(self.reads.items()), self.up, self.turned_now, self.moving)).encode())
        return rows


def facts_of(scene: Scene) -> list[bytes]:
    """What stands where in a scene, as bytes."""
    return [
        f"{piece.id} {piece.role} {piece.says} ".encode("utf-8", "surrogatepass")
        + piece.body.digest + _rounded(piece.placement.turn) + _rounded(piece.placement.origin_mm)
        for piece in scene.pieces
    ]  # fmt: skip


def _rounded(values: Array) -> bytes:
    """To a tenth of a micrometre."""
    return np.rint(np.asarray(values) * 1e4).astype(np.int64).tobytes()

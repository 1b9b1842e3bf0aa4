"""Slots as channels: where every T-slot of every placed member runs, in the machine frame.

Whatever lies in a slot (nuts, bars, screw heads) is an interval on its channel; both the recipes
and the order rules ask here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Profile
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.values import PlacedPart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One slot of one member.

    `name` is its face, with the cell counted along the face where there are several ("+y.2").
    `start_mm` lies on the face, mid-slot, at end a; `along` points to end b, `out` out of the face.
    """

    member: str
    name: str
    start_mm: Array
    along: Array
    out: Array
    length_mm: float
    profile: Profile

    def point(self, at_mm: float, below_mm: float = 0.0) -> Array:
        """The point `at_mm` from end a and `below_mm` under the face, in the machine frame."""
        point: Array = self.start_mm + self.along * at_mm - self.out * below_mm
        return point


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A line meets a slot: how far under the asked point its face is, where along, and how far beside."""

    channel: Channel
    below_mm: float
    at_mm: float
    beside_mm: float


def member_channels(placed: PlacedPart) -> list[Channel]:
    """All slots of a placed member; empty for other parts."""
    profile = placed.type.profile
    if profile is None:
        return []
    channels: list[Channel] = []
    for face, out in DIRECTIONS.items():
        if face.endswith("x"):
            continue
        across_y = face.endswith("z")  # cells of a ±z face are counted along y
        cells = profile.cells_y if across_y else profile.cells_z
        half = (profile.size_z_mm if across_y else profile.size_y_mm) / 2
        for cell in range(cells):
            beside = (cell - (cells - 1) / 2) * profile.cell_mm
            start = np.asarray(out) * half + np.array([0.0, beside, 0.0] if across_y else [0.0, 0.0, beside])
            channels.append(
                Channel(
                    member=placed.id,
                    name=face if cells == 1 else f"{face}.{cell + 1}",
                    start_mm=placed.placement.point(start),
                    along=placed.placement.turn[:, 0],
                    out=placed.placement.direction(out),
                    length_mm=placed.type.length_mm,
                    profile=profile,
                )
            )
    return channels


def core_points_mm(profile: Profile) -> Array:
    """Array (n, 3): the cores' centres in the member's own coordinates at x = 0."""
    return np.array(
        [
            (
                0.0,
                (y - (profile.cells_y - 1) / 2) * profile.cell_mm,
                (z - (profile.cells_z - 1) / 2) * profile.cell_mm,
            )
            for y in range(profile.cells_y)
            for z in range(profile.cells_z)
        ]
    )


class ChannelMap:
    """All channels of a machine, asked for by a line; vectorised."""

    def __init__(self, placed: Iterable[PlacedPart]) -> None:
        self.channels: Sequence[Channel] = [
            channel for part in placed if part.type.profile is not None for channel in member_channels(part)
        ]
        if self.channels:
            self._start = np.array([channel.start_mm for channel in self.channels])
            self._along = np.array([channel.along for channel in self.channels])
            self._out = np.array([channel.out for channel in self.channels])
            self._length = np.array([channel.length_mm for channel in self.channels])

    def below(
        self,
        point_mm: Array,
        out: Array,
        *,
        beside_mm: float,
        reach_mm: float = 60.0,
        only: frozenset[str] | None = None,
    ) -> Hit | None:
        """The nearest slot whose face lies under `point_mm` against `out`, within `beside_mm` of its middle.

        `only` limits the search to these members. None when no slot is there.
        """
        if not self.channels:
            return None
        delta = point_mm - self._start
        facing = self._out @ out > 1 - 1e-6
        at = np.einsum("ij,ij->i", delta, self._along)
        below = delta @ out
        beside = np.linalg.norm(delta - at[:, None] * self._along - below[:, None] * out, axis=1)
        good = (
            facing & (at > -1e-6) & (at < self._length + 1e-6) & (beside <= beside_mm)
            & (below > -0.5) & (below <= reach_mm)
        )  # fmt: skip
        if only is not None:
            good &= np.array([channel.member in only for channel in self.channels])
        if not good.any():
            return None
        index = int(np.flatnonzero(good)[np.argmin(below[good])])
        return Hit(
            channel=self.channels[index],
            below_mm=float(below[index]),
            at_mm=float(at[index]),
            beside_mm=float(beside[index]),
        )

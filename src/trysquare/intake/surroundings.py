"""What a screw can meet: holes, nuts, washers, slots and tapped ends, asked for by its line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.values import Insert, Nut, SlotNut, Washer
from trysquare.ground.placement import Array
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.intake.pieces import Piece
from trysquare.machine.slots import ChannelMap, Hit, core_points_mm
from trysquare.machine.values import Hole

SAME_LINE = 1 - 1e-5  # cosine: CAD files turn parts by matrices of six digits
TOUCH_MM = 0.25  # layers that are this near to one another touch; CAD draws them so
BELOW_HEAD_MM = 0.05
DEEPEST_LIP_MM = 8.0  # no profile of the catalogue has a thicker lip
SEAT_MM = 0.6  # a slot nut is drawn this near to its lip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layer:
    """One hole that a screw passes or bites. `hole`: number of the piece's hole; distances below the head."""

    piece: Piece
    hole: int
    from_mm: float
    to_mm: float

    @property
    def of(self) -> Hole:
        return self.piece.holes[self.hole]


class Points:
    """Pieces of one sort, asked for by a line."""

    def __init__(self, pieces: Iterable[Piece]) -> None:
        self.pieces = list(pieces)
        self.at = np.array([piece.placement.origin_mm for piece in self.pieces]).reshape(-1, 3)
        self.z = np.array([piece.placement.turn[:, 2] for piece in self.pieces]).reshape(-1, 3)

    def on(self, head_mm: Array, axis: Array) -> list[tuple[float, Piece]]:
        """Pieces whose own z is the line, with their distance below the head, nearest first."""
        if not self.pieces:
            return []
        delta = head_mm - self.at
        below = delta @ axis
        beside = np.linalg.norm(delta - below[:, None] * axis, axis=1)
        good = (np.abs(self.z @ axis) > SAME_LINE) & (beside < ON_AXIS_MM)
        return sorted(
            ((float(below[i]), self.pieces[i]) for i in np.flatnonzero(good)), key=lambda one: one[0]
        )


class HoleMap:
    """All holes of all pieces, in the machine's frame, asked for by a line."""

    def __init__(self, pieces: Iterable[Piece]) -> None:
        self.keys: list[tuple[Piece, int]] = []
        at, out, depth = [], [], []
        for piece in pieces:
            for number, hole in enumerate(piece.holes):
                self.keys.append((piece, number))
                at.append(piece.placement.point(hole.at_mm))
                out.append(piece.placement.direction(hole.direction))
                depth.append(hole.depth_mm)
        self.at = np.array(at).reshape(-1, 3)
        self.out = np.array(out).reshape(-1, 3)
        self.depth = np.array(depth)

    def on(self, head_mm: Array, axis: Array) -> list[Layer]:
        """The holes on a line, with where they begin and end below the head, first come first."""
        if not self.keys:
            return []
        delta = head_mm - self.at
        below = delta @ axis
        beside = np.linalg.norm(delta - below[:, None] * axis, axis=1)
        along = self.out @ axis
        good = (np.abs(along) > SAME_LINE) & (beside < ON_AXIS_MM)
        layers = []
        for index in np.flatnonzero(good):
            far = below[index] + self.depth[index] * (1.0 if along[index] > 0 else -1.0)
            piece, number = self.keys[index]
            low, high = sorted((float(below[index]), float(far)))
            layers.append(Layer(piece=piece, hole=number, from_mm=low, to_mm=high))
        return sorted(layers, key=lambda layer: layer.from_mm)


class Ends:
    """The cores of all members' ends, in the machine's frame."""

    def __init__(self, members: Iterable[Piece]) -> None:
        self.keys: list[tuple[Piece, str]] = []
        at, out, diameter = [], [], []
        for member in members:
            own = member.own
            if own is None or own.profile is None:
                continue
            for name, x, way in (("a", 0.0, -1.0), ("b", own.length_mm, 1.0)):
                for core in core_points_mm(own.profile):
                    self.keys.append((member, name))
                    at.append(member.placement.point(core + np.array([x, 0.0, 0.0])))
                    out.append(way * member.placement.turn[:, 0])
                    diameter.append(float(own.profile.core_thread.removeprefix("M")))
        self.at = np.array(at).reshape(-1, 3)
        self.out = np.array(out).reshape(-1, 3)
        self.diameter_mm = np.array(diameter)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """Everything that screws can meet."""

    holes: HoleMap
    channels: ChannelMap
    members: dict[str, Piece]
    ends: Ends
    nuts: Points
    washers: Points

    @classmethod
    def of(cls, pieces: Iterable[Piece]) -> Surroundings:
        pieces = list(pieces)

        def those(*sorts: type) -> Points:
            return Points(
                piece for piece in pieces if piece.standard and isinstance(piece.standard.standard, sorts)
            )

        members = [piece for piece in pieces if piece.own and piece.own.profile]
        return cls(
            holes=HoleMap(piece for piece in pieces if not piece.is_fastener),
            channels=ChannelMap(piece.placed() for piece in members),
            members={piece.id: piece for piece in members},
            ends=Ends(members),
            nuts=those(Nut, SlotNut, Insert),
            washers=those(Washer),
        )


def slot_at(
    around: Surroundings, head: Array, axis: Array, below_mm: float, neighbour_of: str = ""
) -> Hit | None:
    """The slot in which something lies `below_mm` under the head; for a blind joint, at an end."""
    if neighbour_of:
        hit = around.channels.below(
            head - axis * TOUCH_MM, -axis, beside_mm=ON_AXIS_MM, reach_mm=2 * TOUCH_MM
        )
        return hit if hit is not None and hit.channel.member != neighbour_of else None
    start = head - axis * (below_mm - DEEPEST_LIP_MM)
    hit = around.channels.below(start, axis, beside_mm=ON_AXIS_MM, reach_mm=DEEPEST_LIP_MM)
    if hit is None or abs(DEEPEST_LIP_MM - hit.below_mm - hit.channel.profile.lip_mm) > SEAT_MM:
        return None
    return replace(hit, below_mm=hit.below_mm + below_mm - DEEPEST_LIP_MM)


def core_at(
    around: Surroundings, head: Array, axis: Array, reach_mm: float, diameter_mm: float
) -> tuple[Piece, str, float] | None:
    """The member's end in whose core the screw bites, and how far below its head the end is."""
    ends = around.ends
    if not ends.keys:
        return None
    delta = head - ends.at
    below = delta @ axis
    beside = np.linalg.norm(delta - below[:, None] * axis, axis=1)
    good = (ends.out @ axis > SAME_LINE) & (ends.diameter_mm == diameter_mm) & (beside < ON_AXIS_MM)
    good &= (below >= -0.1) & (below < reach_mm - BELOW_HEAD_MM)
    if not good.any():
        return None
    index = int(np.flatnonzero(good)[np.argmin(below[good])])
    member, name = ends.keys[index]
    return member, name, float(below[index])

"""The solids round each screw: whether a larger head or a longer tip finds its room free.

Solids take a while to make, so only those are made that can be near: told from the parts' own boxes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut, Washer
from trysquare.fit.slots import SlotPiece, slot_pieces
from trysquare.ground.placement import Array, unit
from trysquare.machine.values import Fastening, Joint, Machine, PartType, PlacedPart, Primitive

if TYPE_CHECKING:
    from trysquare.solid.overlap import Standing

BEYOND_MM = 20.0  # how far above the head and below the tip of its longest screw a joint is looked at
NEAR_MM = 12.0  # no head up to M8, with its air, stands farther out than that from points on its screw's line
NEAR_PER_DIAMETER = 1.5  # the same for larger ones: the widest head is some 2.4 diameters wide
SMALL_MM = 15.0  # half of the largest nut, washer or insert
OTHER_MM = 80.0  # nothing of another standard part lies farther from its origin, but for its length


class Neighbours:
    """The solids of the finished machine round each joint's screws, made ready when first asked for."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self._near: dict[str, Standing] = {}
        self._pieces: dict[tuple[str, str], list[SlotPiece]] | None = None
        self._placed: list[PlacedPart] = []
        self._origins: Array = np.zeros((0, 3))
        self._reach: Array = np.zeros(0)

    def free(
        self, fastening: Fastening, from_mm: Array, way: Array, diameter_mm: float, length_mm: float
    ) -> bool:
        """Whether a round space is free of all but the screw's own nut, washers and host."""
        from trysquare.solid.keyline import line_free  # noqa: PLC0415  # solids are heavy: only when asked

        own = {fastening.screw, fastening.host_part, fastening.carrier, *fastening.washers}
        return line_free(from_mm, way, diameter_mm, length_mm, self._standing(fastening), ignoring=own)

    def in_slot(self, fastening: Fastening) -> list[SlotPiece]:
        """What else lies in the slot of a screw's nut."""
        if self._pieces is None:
            self._pieces = {}
            for piece in slot_pieces(self.machine):
                self._pieces.setdefault((piece.member, piece.face), []).append(piece)
        there = self._pieces.get((fastening.slot_member, fastening.slot_face), [])
        return [piece for piece in there if piece.part != fastening.host_part]

    def _standing(self, fastening: Fastening) -> Standing:
        from trysquare.solid.overlap import standing  # noqa: PLC0415  # as above

        joint = self.machine.joint[fastening.joint]
        if joint.id not in self._near:
            self._near[joint.id] = standing(self._candidates(joint), self.machine.folder)
        return self._near[joint.id]

    def _candidates(self, joint: Joint) -> list[PlacedPart]:
        """Parts that may stand near the line of one of the joint's screws."""
        from trysquare.solid.shapes import makes_solid  # noqa: PLC0415  # as above

        if not self._placed:
            self._placed = [part for part in self.machine.placed if makes_solid(part.type)]
            self._origins = np.array([part.placement.origin_mm for part in self._placed])
            self._reach = np.array([_reach_mm(part.type) for part in self._placed])
        heads = np.array([one.head_mm for one in joint.fastenings])
        axes = np.array([one.axis for one in joint.fastenings])
        longest = max(one.screw_type.length_mm for one in joint.fastenings) + BEYOND_MM
        widest = max(one.screw_type.thread.diameter_mm for one in joint.fastenings)
        near_mm = max(NEAR_MM, NEAR_PER_DIAMETER * widest)
        ways = np.linspace(BEYOND_MM, -longest, 2 + int((longest + BEYOND_MM) / 10))
        points = (heads[:, None, :] + axes[:, None, :] * ways[None, :, None]).reshape(-1, 3)
        apart = self._origins[:, None, :] - points[None, :, :]
        coarse = np.sqrt(np.einsum("ijk,ijk->ij", apart, apart).min(axis=1)) <= self._reach + near_mm
        near = [self._placed[at] for at in np.flatnonzero(coarse)]
        return [part for part in near if _box_distance_mm(part, points) <= near_mm]


def _box_distance_mm(part: PlacedPart, points_mm: Array) -> float:
    """The least distance of points (n, 3), machine frame, from the part's own box; 0 where it has none
    that is known without its solid."""
    box = _own_box(part.type)
    if box is None:
        return 0.0
    low, high = box
    own = part.placement.back(points_mm)
    outside = np.maximum(np.maximum(low - own, own - high), 0.0)
    return float(np.min(np.linalg.norm(outside, axis=1)))


def _own_box(part_type: PartType) -> tuple[Array, Array] | None:
    if part_type.shape_file:
        return None
    if part_type.primitives:
        return _box_of_bodies(part_type.primitives)
    if part_type.profile is not None:
        y, z = part_type.profile.size_y_mm / 2, part_type.profile.size_z_mm / 2
        return np.array([0.0, -y, -z]), np.array([part_type.length_mm, y, z])
    if part_type.outline_mm:
        corners = np.array(part_type.outline_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        return np.array([*low, 0.0]), np.array([*high, part_type.thickness_mm])
    return None


def _box_of_bodies(primitives: Sequence[Primitive]) -> tuple[Array, Array]:
    """Corners of a box round all bodies that are no cuts; a cylinder's is never too small."""
    corners: list[Array] = []
    for one in primitives:
        if one.cut:
            continue
        at, size = np.array(one.at_mm, dtype=float), np.array(one.size_mm, dtype=float)
        if one.shape == "box":
            corners += [at, at + size]
        else:
            radius, far = size[0] / 2, at + unit(np.array(one.along, dtype=float)) * size[-1]
            corners += [np.minimum(at, far) - radius, np.maximum(at, far) + radius]
    every = np.array(corners).reshape(-1, 3)
    return (every.min(axis=0), every.max(axis=0)) if len(every) else (np.zeros(3), np.zeros(3))


def _reach_mm(part_type: PartType) -> float:
    """A distance from its own origin within which a part surely lies; infinite for a shape from a file."""
    if part_type.shape_file:
        return math.inf
    if part_type.profile is not None:
        return part_type.length_mm + part_type.profile.size_y_mm + part_type.profile.size_z_mm
    if part_type.outline_mm:
        return max(math.hypot(x, y) for x, y in part_type.outline_mm) + part_type.thickness_mm
    if part_type.primitives:
        return max(math.hypot(*one.at_mm) + math.hypot(*one.size_mm) for one in part_type.primitives)
    standard = part_type.standard
    if isinstance(standard, Screw):
        return standard.length_mm + standard.head_height_mm + standard.head_diameter_mm
    if isinstance(standard, Nut | SlotNut | Washer | Insert):
        return SMALL_MM
    return OTHER_MM + float(getattr(standard, "length_mm", 0.0))

"""What stands in the way: of a part coming in, of a nut in its slot, of a key, of a hot iron.

Every question is asked of the finished machine's solids: which parts does this swept body cross? The
answer for one pair never changes with the order, so it is kept; an order only says which of the
parts are there yet.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from manifold3d import CrossSection

from trysquare.catalogue.keys import HexKey, hex_key
from trysquare.ground.placement import DIRECTIONS, Array, Placement, Triple, unit
from trysquare.machine.slots import Channel, ChannelMap
from trysquare.machine.values import Fastening, Machine, PlacedPart
from trysquare.solid.broad import Crowd, candidates_on, crowd_at, shelf_of
from trysquare.solid.keyline import key_place, key_shaft
from trysquare.solid.overlap import Standing, standing
from trysquare.solid.shapes import Solid, makes_solid, solid_from, solid_of
from trysquare.solid.shared import any_shared
from trysquare.solid.sweep import swept_pieces

SWING_RAD = math.radians(60.0)  # a hexagon key must turn by one flat before it is set anew
SWING_WINDOWS = 12
IRON_MM = (8.0, 60.0)  # a soldering iron's tip and shaft: diameter, length; common practice, no source
BEYOND_MM = 5.0  # how far past an open slot end a nut is held before it goes in
MOUTH_ROOM_MM = 12.0  # above a slot's mouth, to drop in an insertable nut; common practice, no source


@dataclass(slots=True)
class Probe:
    """Bodies held into the machine: for each part near them the bodies that may cross it.

    `verdict` says for a part whether any of the bodies crosses it, as far as that is known.
    """

    bodies: Crowd | None
    near: Mapping[str, tuple[int, ...]]
    verdict: dict[str, bool] = field(default_factory=dict)


class Reach:
    """Answers questions about one machine, keeping every pair's verdict."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.folder = machine.folder
        self.part = machine.part
        self.standing: Standing = standing(machine.placed, machine.folder)
        self.row = {identity: index for index, identity in enumerate(self.standing.ids)}
        self.shelf = shelf_of(self.standing.crowd)
        sides = self.standing.crowd.box_mm[:, 3:] - self.standing.crowd.box_mm[:, :3]
        self.bulk = dict(zip(self.standing.ids, sides.prod(axis=1).tolist(), strict=True))
        self.channels = ChannelMap(machine.placed)
        self.channel: dict[tuple[str, str], Channel] = {
            (channel.member, channel.name): channel for channel in self.channels.channels
        }
        boxes = self.standing.crowd.box_mm
        if len(boxes):
            low, high = boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)
            self.far_mm = float(math.ceil(np.linalg.norm(high - low) / 50.0) * 50.0)
        else:
            self.far_mm = 100.0
        self.probes: dict[Hashable, Probe | None] = {}

    # -- probes ---------------------------------------------------------------------------------

    def _probe(self, solids: Sequence[Solid], placement: Placement) -> Probe:
        if not solids:
            return Probe(None, {})
        bodies = crowd_at(solids, placement)
        near: dict[str, tuple[int, ...]] = {}
        for body, row in candidates_on(bodies, self.shelf).tolist():
            name = self.standing.ids[row]
            near[name] = (*near.get(name, ()), body)
        return Probe(bodies, near)

    def _meets(self, probe: Probe, others: Collection[str]) -> bool:
        assert probe.bodies is not None  # something is near it
        pairs = [(body, self.row[other]) for other in others for body in probe.near[other]]
        return any_shared(probe.bodies, self.standing.crowd, np.array(pairs, dtype=np.int64))

    def blockers(
        self, probe: Probe | None, present: Collection[str], ignoring: Collection[str] = ()
    ) -> list[str]:
        """Which of the present parts the probe crosses."""
        if probe is None:
            return []
        found: list[str] = []
        for other in probe.near:
            if other not in present or other in ignoring:
                continue
            known = probe.verdict.get(other)
            if known is None:
                known = probe.verdict[other] = self._meets(probe, [other])
            if known:
                found.append(other)
        return found

    def is_free(self, probe: Probe | None, present: Collection[str], ignoring: Collection[str] = ()) -> bool:
        """Whether the probe crosses none of the present parts; stops at the first it crosses."""
        if probe is None:
            return True
        near = [other for other in probe.near if other in present and other not in ignoring]
        if any(probe.verdict.get(other) for other in near):
            return False
        new = [other for other in near if other not in probe.verdict]
        if new and self._meets(probe, new):
            return False
        probe.verdict.update(dict.fromkeys(new, False))
        return True

    # -- parts coming in ------------------------------------------------------------------------

    def path(self, identity: str, direction: Array, distance_mm: float | None = None) -> Probe | None:
        """The space a part sweeps when it comes in from `direction` (points the way it came from)."""
        way = np.round(unit(direction), 9)
        far = self.far_mm if distance_mm is None else distance_mm
        key = ("path", identity, way.tobytes(), round(far, 3))
        if key not in self.probes:
            part = self.part[identity]
            if not makes_solid(part.type):
                self.probes[key] = None
            else:
                own = part.placement.back_direction(way)
                pieces = swept_pieces(solid_of(part.type, self.folder), own, far)
                self.probes[key] = self._probe(pieces, part.placement)
        return self.probes[key]

    def corner(self, identity: str, first: Array, leg_mm: float, second: Array) -> Probe | None:
        """The second leg of a way round a corner: `leg_mm` out along `first`, then out along `second`."""
        one, two = np.round(unit(first), 9), np.round(unit(second), 9)
        key = ("corner", identity, one.tobytes(), leg_mm, two.tobytes())
        if key not in self.probes:
            part = self.part[identity]
            if not makes_solid(part.type):
                self.probes[key] = None
            else:
                solid, own = solid_of(part.type, self.folder), part.placement.back_direction(two)
                moved = Placement(part.placement.turn, part.placement.origin_mm + one * leg_mm)
                # Its place at the corner is no finished place: the part itself must be free there, too.
                self.probes[key] = self._probe((solid, *swept_pieces(solid, own, self.far_mm)), moved)
        return self.probes[key]

    def group_blockers(
        self,
        moving: Iterable[str],
        direction: Array,
        present: Collection[str],
        distance_mm: float | None = None,
    ) -> list[tuple[str, str]]:
        """Pairs (moving part, part in its way) when a group comes in together."""
        group = set(moving)
        return [
            (identity, other)
            for identity in sorted(group)
            for other in self.blockers(self.path(identity, direction, distance_mm), present, group)
        ]

    def group_is_free(self, moving: Collection[str], direction: Array, present: Collection[str]) -> bool:
        """Whether a group that comes in together meets nothing; its largest parts are asked first."""
        group = set(moving)
        rest = present - group if isinstance(present, set) else set(present) - group
        order = sorted(group, key=lambda name: (-self.bulk.get(name, 0.0), name))
        return all(self.is_free(self.path(identity, direction), rest) for identity in order)

    def turns_a_corner(
        self,
        moving: Collection[str],
        first: Array,
        leg_mm: float,
        ways: Iterable[Array],
        present: Collection[str],
    ) -> bool:
        """Whether a group gets out by a short first leg and then straight on along some other way."""
        group = set(moving)
        rest = set(present) - group
        order = sorted(group, key=lambda name: (-self.bulk.get(name, 0.0), name))
        if not all(self.is_free(self.path(identity, first, leg_mm), rest) for identity in order):
            return False
        return any(
            abs(float(first @ second)) < 0.9
            and all(self.is_free(self.corner(identity, first, leg_mm, second), rest) for identity in order)
            for second in ways
        )

    # -- slots ----------------------------------------------------------------------------------

    def slot_way(self, nut: PlacedPart, channel: Channel, end: str) -> Probe | None:
        """The space a nut or bar sweeps in a slot between its place and beyond the slot's end."""
        at = float((nut.placement.origin_mm - channel.start_mm) @ channel.along)
        solid = solid_of(nut.type, self.folder) if makes_solid(nut.type) else None
        length = float(solid.high_mm[0] - solid.low_mm[0]) if solid is not None else 10.0
        if end == "a":
            return self.path(nut.id, -channel.along, at + length + BEYOND_MM)
        return self.path(nut.id, channel.along, channel.length_mm - at + length + BEYOND_MM)

    def mouth_way(self, nut: PlacedPart, channel: Channel) -> Probe | None:
        """The space above the mouth through which an insertable nut is dropped."""
        return self.path(nut.id, channel.out, channel.profile.depth_mm + MOUTH_ROOM_MM)

    # -- keys and irons -------------------------------------------------------------------------

    def key_for(self, fastening: Fastening) -> HexKey:
        return hex_key(fastening.screw_type.key_mm)

    def straight_key(self, fastening: Fastening) -> Probe:
        """The line of a straight key or of a hexagon key's long arm, out of the socket."""
        key: Hashable = ("key", fastening.id)
        if key not in self.probes:
            tool = self.key_for(fastening)
            start, out = self._socket(fastening)
            self.probes[key] = self._probe((key_shaft(tool.corners_mm, tool.long_mm),), key_place(start, out))
        found = self.probes[key]
        assert found is not None
        return found

    def key_beside(self, fastening: Fastening, direction: Triple, shift_mm: float) -> Probe:
        """The straight key's line as it stands to parts that were run `shift_mm` along an axis."""
        key: Hashable = ("key beside", fastening.id, direction, shift_mm)
        if key not in self.probes:
            tool = self.key_for(fastening)
            start, out = self._socket(fastening)
            start = start - unit(direction) * shift_mm
            self.probes[key] = self._probe((key_shaft(tool.corners_mm, tool.long_mm),), key_place(start, out))
        found = self.probes[key]
        assert found is not None
        return found

    def short_key(self, fastening: Fastening, window: int) -> Probe:
        """A hexagon key's short arm in the socket, its long arm sweeping 60° from one of twelve starts."""
        key: Hashable = ("swing", fastening.id, window)
        if key not in self.probes:
            tool = self.key_for(fastening)
            start, out = self._socket(fastening)
            self.probes[key] = self._probe(_swing(tool, window), key_place(start, out))
        found = self.probes[key]
        assert found is not None
        return found

    def iron(self, identity: str) -> Probe:
        """The line of a hot iron that presses this insert in."""
        key: Hashable = ("iron", identity)
        if key not in self.probes:
            part = self.part[identity]
            self.probes[key] = self._probe(
                (key_shaft(*IRON_MM),), key_place(part.placement.origin_mm, part.placement.turn[:, 2])
            )
        found = self.probes[key]
        assert found is not None
        return found

    def _socket(self, fastening: Fastening) -> tuple[Array, Array]:
        """Top of the head (a set screw's end) and the way out: where a key stands free of its screw."""
        out = np.asarray(fastening.axis)
        head = np.asarray(fastening.head_mm)
        screw = fastening.screw_type
        tall = 0.0 if screw.standard in ("ISO 10642", "DIN 7991") else screw.head_height_mm
        return head + out * (tall + 0.05), out


def _swing(tool: HexKey, window: int) -> tuple[Solid, ...]:
    """Short arm along z and the flat sector its long arm sweeps, in the key's own coordinates."""
    known = _swings.get((tool.size_mm, window))
    if known is None:
        begin = window * 2 * math.pi / SWING_WINDOWS
        angles = np.linspace(begin, begin + SWING_RAD, 7)
        reach = tool.long_mm
        corners = [(0.0, 0.0), *((reach * math.cos(a), reach * math.sin(a)) for a in angles)]
        sector = CrossSection([corners]).offset(tool.corners_mm / 2).extrude(tool.corners_mm)
        top = sector.translate((0.0, 0.0, tool.short_mm - tool.corners_mm))
        known = (key_shaft(tool.corners_mm, tool.short_mm), solid_from(top))
        _swings[(tool.size_mm, window)] = known
    return known


_swings: dict[tuple[float, int], tuple[Solid, ...]] = {}


def frame_directions() -> list[Array]:
    """The six directions of the machine frame, up first: gravity helps a part that comes from above."""
    order = ("+z", "+y", "-y", "+x", "-x", "-z")
    return [np.asarray(DIRECTIONS[name]) for name in order]


def joint_directions(machine: Machine, identity: str, joints: Iterable[str]) -> list[Array]:
    """Ways that a part's joints suggest: out along their screws, along its own axes; no doubles."""
    ways: list[Array] = []
    for joint_id in joints:
        for fastening in machine.joint[joint_id].fastenings[:1]:
            if fastening.head_in_slot:  # its head slides along the neighbour's slot and no other way
                along = machine.part[fastening.slot_member].placement.turn[:, 0]
                ways += [along, -along]
            ways += [np.asarray(fastening.axis), -np.asarray(fastening.axis)]
    turn = machine.part[identity].placement.turn
    ways += [turn[:, i] * sign for i in range(3) for sign in (1.0, -1.0)]
    ways += frame_directions()
    kept: list[Array] = []
    for way in ways:
        if not any(float(way @ other) > 1 - 1e-6 for other in kept):
            kept.append(way)
    return kept

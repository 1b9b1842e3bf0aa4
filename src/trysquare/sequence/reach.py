"""What stands in the way: of a part coming in, of a nut in its slot, of a key, of a hot iron.

Every question is asked of the finished machine's solids: which parts does this swept body cross? The
answer for one pair never changes with the order, so it is kept; an order only says which of the
parts are there yet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from manifold3d import CrossSection

from trysquare.catalogue.keys import HexKey, hex_key
from trysquare.ground.placement import Array, Placement, Triple, unit
from trysquare.machine.slots import Channel, ChannelMap
from trysquare.machine.values import Fastening, Machine, PlacedPart
from trysquare.sequence.memory import Answer, Memory, merged, stamp, stamp_of_part
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


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """Bodies held into the machine, and for each part near them the bodies that may cross it."""

    bodies: Crowd | None
    pairs: Mapping[str, tuple[int, ...]]


@dataclass(slots=True, eq=False)
class Probe:
    """A question to the machine: bodies held into it, the parts near them, what is known of each.

    `about` names the bodies by all they follow from. `verdict` says for a part whether any of them
    crosses it. `make` makes the bodies: an answer that is remembered needs none.
    """

    about: bytes
    near: tuple[str, ...]  # in the machine's order
    box_mm: Array
    make: Callable[[], Held]
    verdict: dict[str, bool] = field(default_factory=dict)
    made: Held | None = None

    @property
    def held(self) -> Held:
        if self.made is None:
            self.made = self.make()
        return self.made

    @property
    def bodies(self) -> Crowd | None:
        return self.held.bodies


class Reach:
    """Answers questions about one machine, keeping every pair's verdict.

    `memory`: answers kept from an earlier check of this machine or one like it.
    """

    def __init__(self, machine: Machine, memory: Memory | None = None) -> None:
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
        self.memory = memory or Memory()
        self.stamp = self._stamps()
        self.named: dict[bytes, list[str]] = {}
        for identity, name in self.stamp.items():
            self.named.setdefault(name, []).append(identity)
        new = [index for index, name in enumerate(self.stamp.values()) if name not in self.memory.stamps]
        self.new_rows = np.array(new, dtype=np.int64)

    def _stamps(self) -> dict[str, bytes]:
        """A name for every standing solid that says its shape and its place; in the order of rows."""
        crowd = self.standing.crowd
        digests = [crowd.solids[index].digest for index in crowd.which.tolist()]
        return {
            identity: stamp_of_part(digest, self.part[identity].placement)
            for identity, digest in zip(self.standing.ids, digests, strict=True)
        }

    def remembered(self) -> Memory:
        """All that is known by now, to be kept for the next check."""
        answers = {
            probe.about: Answer(
                tuple(self.stamp[name] for name in probe.near),
                tuple(probe.verdict.get(name) for name in probe.near),
                probe.box_mm,
            )
            for probe in self.probes.values()
            if probe is not None
        }
        return merged(Memory(frozenset(self.named), answers), self.memory)

    def learn(self, found: Memory) -> None:
        """Takes over what was found about this machine elsewhere, in a process beside this one."""
        self.memory = merged(found, self.memory)
        for probe in self.probes.values():
            known = found.answers.get(probe.about) if probe is not None else None
            if probe is None or known is None:
                continue
            crosses = dict(zip(known.near, known.crosses, strict=True))
            for name in probe.near:
                verdict = crosses.get(self.stamp[name])
                if verdict is not None:
                    probe.verdict.setdefault(name, verdict)

    # -- probes ---------------------------------------------------------------------------------

    def _probe(self, about: bytes, solids: Callable[[], tuple[Sequence[Solid], Placement]]) -> Probe:
        """A probe whose bodies are these solids at this placement, remembered where it can be."""

        def make() -> Held:
            return self._held(*solids())

        known = self.memory.answers.get(about)
        if known is not None:
            return self._recalled(about, known, make)
        held = make()
        box = np.array([np.inf] * 3 + [-np.inf] * 3)
        if held.bodies is not None:
            box = np.hstack([held.bodies.box_mm[:, :3].min(axis=0), held.bodies.box_mm[:, 3:].max(axis=0)])
        near = tuple(sorted(held.pairs, key=self.row.__getitem__))
        return Probe(about, near, box, make, made=held)

    def _held(self, solids: Sequence[Solid], placement: Placement) -> Held:
        if not solids:
            return Held(None, {})
        bodies = crowd_at(solids, placement)
        pairs: dict[str, tuple[int, ...]] = {}
        for body, row in candidates_on(bodies, self.shelf).tolist():
            name = self.standing.ids[row]
            pairs[name] = (*pairs.get(name, ()), body)
        return Held(bodies, pairs)

    def _recalled(self, about: bytes, known: Answer, make: Callable[[], Held]) -> Probe:
        """A probe as it is remembered; of parts that are new it only says that they may be near."""
        verdict: dict[str, bool] = {}
        near: set[str] = set()
        for name, crosses in zip(known.near, known.crosses, strict=True):
            for identity in self.named.get(name, ()):
                near.add(identity)
                if crosses is not None:
                    verdict[identity] = crosses
        if len(self.new_rows):
            boxes = self.standing.crowd.box_mm[self.new_rows]
            close = (boxes[:, :3] <= known.box_mm[3:]) & (boxes[:, 3:] >= known.box_mm[:3])
            near |= {self.standing.ids[row] for row in self.new_rows[close.all(axis=1)].tolist()}
        return Probe(about, tuple(sorted(near, key=self.row.__getitem__)), known.box_mm, make, verdict)

    def _meets(self, probe: Probe, others: Collection[str]) -> bool:
        held = probe.held
        pairs = [(body, self.row[other]) for other in others for body in held.pairs.get(other, ())]
        if held.bodies is None or not pairs:
            return False
        return any_shared(held.bodies, self.standing.crowd, np.array(pairs, dtype=np.int64))

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
            # Which one it was is found again among kept verdicts, and then never asked for anew.
            for other in sorted(new, key=self._triangles):
                probe.verdict[other] = self._meets(probe, [other])
                if probe.verdict[other]:
                    break
            return False
        probe.verdict.update(dict.fromkeys(new, False))
        return True

    def _triangles(self, identity: str) -> int:
        crowd = self.standing.crowd
        solid: Solid = crowd.solids[crowd.which[self.row[identity]]]
        return solid.triangle_count

    # -- parts coming in ------------------------------------------------------------------------

    def path(self, identity: str, direction: Array, distance_mm: float | None = None) -> Probe | None:
        """The space a part sweeps when it comes in from `direction` (points the way it came from)."""
        way = np.round(unit(direction), 9)
        far = self.far_mm if distance_mm is None else distance_mm
        key = ("path", identity, way.tobytes(), round(far, 3))
        if key not in self.probes:
            part = self.part[identity]

            def pieces() -> tuple[Sequence[Solid], Placement]:
                own = part.placement.back_direction(way)
                return swept_pieces(solid_of(part.type, self.folder), own, far), part.placement

            name = self.stamp.get(identity)
            about = stamp("path", name, way.tolist(), far)
            self.probes[key] = None if name is None else self._probe(about, pieces)
        return self.probes[key]

    def corner(self, identity: str, first: Array, leg_mm: float, second: Array) -> Probe | None:
        """The second leg of a way round a corner: `leg_mm` out along `first`, then out along `second`."""
        one, two = np.round(unit(first), 9), np.round(unit(second), 9)
        key = ("corner", identity, one.tobytes(), leg_mm, two.tobytes())
        if key not in self.probes:
            part = self.part[identity]

            def pieces() -> tuple[Sequence[Solid], Placement]:
                solid, own = solid_of(part.type, self.folder), part.placement.back_direction(two)
                moved = Placement(part.placement.turn, part.placement.origin_mm + one * leg_mm)
                # Its place at the corner is no finished place: the part itself must be free there, too.
                return (solid, *swept_pieces(solid, own, self.far_mm)), moved

            name = self.stamp.get(identity)
            about = stamp("corner", name, one.tolist(), leg_mm, two.tolist(), self.far_mm)
            self.probes[key] = None if name is None else self._probe(about, pieces)
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
        start, out = self._socket(fastening)
        return self._line(("key", fastening.id), self.key_for(fastening), start, out)

    def _line(self, key: Hashable, tool: HexKey, start: Array, out: Array) -> Probe:
        found = self.probes.get(key)
        if found is None:
            about = stamp("line", tool.corners_mm, tool.long_mm, start.tolist(), out.tolist())
            found = self.probes[key] = self._probe(
                about, lambda: ((key_shaft(tool.corners_mm, tool.long_mm),), key_place(start, out))
            )
        return found

    def key_beside(self, fastening: Fastening, direction: Triple, shift_mm: float) -> Probe:
        """The straight key's line as it stands to parts that were run `shift_mm` along an axis."""
        key: Hashable = ("key beside", fastening.id, direction, shift_mm)
        start, out = self._socket(fastening)
        return self._line(key, self.key_for(fastening), start - unit(direction) * shift_mm, out)

    def short_key(self, fastening: Fastening, window: int) -> Probe:
        """A hexagon key's short arm in the socket, its long arm sweeping 60° from one of twelve starts."""
        key: Hashable = ("swing", fastening.id, window)
        found = self.probes.get(key)
        if found is None:
            tool = self.key_for(fastening)
            start, out = self._socket(fastening)
            about = stamp("swing", tool.size_mm, window, start.tolist(), out.tolist())
            found = self.probes[key] = self._probe(
                about, lambda: (_swing(tool, window), key_place(start, out))
            )
        return found

    def iron(self, identity: str) -> Probe:
        """The line of a hot iron that presses this insert in."""
        key: Hashable = ("iron", identity)
        found = self.probes.get(key)
        if found is None:
            start = self.part[identity].placement.origin_mm
            out = self.part[identity].placement.turn[:, 2]
            found = self.probes[key] = self._probe(
                stamp("iron", start.tolist(), out.tolist()),
                lambda: ((key_shaft(*IRON_MM),), key_place(start, out)),
            )
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

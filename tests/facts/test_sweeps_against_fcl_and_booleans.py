"""Swept verdicts against judges that are not ours: python-fcl along the way, booleans of hulls by manifold3d.

A way is surely free when python-fcl's distance, taken every millimetre, is always more than a millimetre: no
moment between two of them can then touch. It is surely blocked when at some moment the two solids share
more than a facet's volume. Between the two lies touching, on which the judges may differ.
"""

from __future__ import annotations

import math
from collections import Counter

import fcl
import numpy as np
import pytest

from sequence.judge_bodies import Bodies
from trysquare.catalogue.keys import hex_key
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Profile
from trysquare.ground.placement import Array, Placement, facing, unit
from trysquare.machine.slots import member_channels
from trysquare.machine.standard_types import standard_type
from trysquare.machine.values import Fastening, Host, Kind, Machine, PartType, PlacedPart, Primitive
from trysquare.sequence.reach import SWING_WINDOWS, Reach
from trysquare.solid.shapes import Solid, solid_of

pytestmark = pytest.mark.outside

STEP_MM = 1.0
SURE_MM3 = 1.0  # far more than a facet
Chance = np.random.Generator


def machine_of(*placed: PlacedPart) -> Machine:
    """A machine of these parts and nothing else."""
    return Machine(
        id="m", name="m", folder="", types={part.type.id: part.type for part in placed}, placed=placed,
        joints=(), units=("",), steps=(), papers=(), sayings=(), rulings=(), aliases={},
    )  # fmt: skip


def random_type(chance: Chance, name: str, size_mm: float) -> PartType:
    """Two boxes and a round bar, and something cut away."""

    def box(cut: bool) -> Primitive:
        size = chance.uniform(0.3, 1.0, 3) * size_mm
        at = chance.uniform(-0.5, 0.1, 3) * size_mm
        return Primitive(shape="box", size_mm=tuple(size), at_mm=tuple(at), along=(0.0, 0.0, 1.0), cut=cut)

    bar = Primitive(
        shape="cylinder", size_mm=(0.4 * size_mm, size_mm),
        at_mm=tuple(chance.uniform(-0.2, 0.2, 3) * size_mm),
        along=tuple(unit(chance.normal(size=3))), cut=False,
    )  # fmt: skip
    bodies = (box(False), box(False), bar, box(True))
    return PartType(id=name, name=name, kind=Kind.PRINTED, primitives=bodies)


def random_turn(chance: Chance) -> Array:
    """Square to the machine as often as not: there faces lie on each other."""
    if chance.random() < 0.5:
        turn = np.eye(3)[chance.permutation(3)] * chance.choice([-1.0, 1.0], 3)[:, None]
    else:
        turn = np.linalg.qr(chance.normal(size=(3, 3)))[0]
    return np.asarray(turn * np.sign(np.linalg.det(turn)))


def random_way(chance: Chance) -> Array:
    if chance.random() < 0.5:
        return np.asarray(np.eye(3)[chance.integers(3)] * chance.choice([-1.0, 1.0]))
    return unit(chance.normal(size=3))


def random_pair(seed: int) -> tuple[Machine, Chance]:
    """Two parts near each other, not in each other."""
    chance = np.random.default_rng(seed)
    here = random_type(chance, "moving", 30.0)
    there = random_type(chance, "standing", 50.0)
    while True:
        moving = PlacedPart(id="moving", type=here, placement=Placement(random_turn(chance)), unit="")
        spot = chance.uniform(-70, 70, 3)
        standing = PlacedPart(
            id="standing", type=there, placement=Placement(random_turn(chance), spot), unit=""
        )
        if shared_mm3(moving, standing, np.zeros(3)) == 0.0:
            return machine_of(moving, standing), chance


def body(part: PlacedPart, shift: Array) -> object:
    return solid_of(part.type).manifold.transform(part.placement.matrix()).translate(tuple(shift))


def shared_mm3(one: PlacedPart, other: PlacedPart, shift: Array) -> float:
    return float((body(one, shift) ^ body(other, np.zeros(3))).volume())


def fcl_object(solid: Solid, placement: Placement) -> fcl.CollisionObject:
    model = fcl.BVHModel()
    model.beginModel(len(solid.points_mm), len(solid.triangles))
    model.addSubModel(placement.point(solid.points_mm), solid.triangles)
    model.endModel()
    return fcl.CollisionObject(model, fcl.Transform())


def told_by_fcl(moving: PlacedPart, standing: PlacedPart, begin: Array, way: Array, far_mm: float) -> str:
    """ "free", "blocked" or "touching"."""
    mine = fcl_object(solid_of(moving.type), moving.placement)
    other = fcl_object(solid_of(standing.type), standing.placement)
    least = math.inf
    for along in np.arange(STEP_MM, far_mm + 1e-9, STEP_MM):
        shift = begin + way * along
        mine.setTranslation(shift)
        distance = fcl.distance(mine, other, fcl.DistanceRequest(), fcl.DistanceResult())
        if distance <= 0 and shared_mm3(moving, standing, shift) > SURE_MM3:
            return "blocked"
        least = min(least, distance)
    return "free" if least > STEP_MM else "touching"


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_straight_ways_agree_with_fcl_all_along(seed: int) -> None:
    told: Counter[str] = Counter()
    for pair in range(12):
        machine, chance = random_pair(1000 * seed + pair)
        reach, (moving, standing) = Reach(machine), machine.placed
        way, far = random_way(chance), float(chance.uniform(20, 120))
        free = reach.is_free(reach.path("moving", way, far), {"standing"})
        judged = told_by_fcl(moving, standing, np.zeros(3), way, far)
        assert judged != ("blocked" if free else "free"), (seed, pair)
        told[judged] += 1
    assert told["touching"] <= 6, told


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_ways_round_a_corner_agree_with_fcl_all_along(seed: int) -> None:
    for pair in range(8):
        machine, chance = random_pair(77_000 + 1000 * seed + pair)
        reach, (moving, standing) = Reach(machine), machine.placed
        first, second, leg = random_way(chance), random_way(chance), float(chance.choice([15.0, 40.0]))
        free = reach.is_free(reach.corner("moving", first, leg, second), {"standing"})
        judged = told_by_fcl(moving, standing, first * leg, second, reach.far_mm)
        if shared_mm3(moving, standing, first * leg) > SURE_MM3:
            judged = "blocked"
        assert judged != ("blocked" if free else "free"), (seed, pair)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10))
def test_ways_agree_with_booleans_of_united_hulls(seed: int) -> None:
    for pair in range(20):
        machine, chance = random_pair(5000 + 100 * seed + pair)
        reach, bodies = Reach(machine), Bodies(machine)
        first, second, far = random_way(chance), random_way(chance), float(chance.uniform(5, 150))
        straight = reach.blockers(reach.path("moving", first, far), {"standing"})
        assert straight == bodies.blockers(bodies.sweep("moving", first, far), {"standing"}), (seed, pair)
        corner = reach.blockers(reach.corner("moving", first, 15.0, second), {"standing"})
        hulls = bodies.sweep("moving", second, reach.far_mm, first * 15.0)
        assert corner == bodies.blockers(hulls, {"standing"}), (seed, pair)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_free_and_blockers_give_one_verdict_in_whichever_order_they_are_asked(seed: int) -> None:
    for pair in range(10):
        machine, chance = random_pair(9000 + 100 * seed + pair)
        way = random_way(chance)
        one, other = Reach(machine), Reach(machine)
        free = one.is_free(one.path("moving", way, 80.0), {"standing"})
        assert free is not bool(one.blockers(one.path("moving", way, 80.0), {"standing"}))
        assert free is not bool(other.blockers(other.path("moving", way, 80.0), {"standing"}))
        assert free is other.is_free(other.path("moving", way, 80.0), {"standing"})


# -- slots ------------------------------------------------------------------------------------------


def slot_machine(seed: int) -> tuple[Machine, Chance]:
    """A member with a nut in one of its slots and something that may stand in the nut's way."""
    chance = np.random.default_rng(seed)
    member = standard_member()
    beam = PlacedPart(id="beam", type=member, placement=Placement(random_turn(chance)), unit="")
    channel = member_channels(beam)[int(chance.integers(4))]
    sort = str(chance.choice(["slide-in nut slot 6 M5", "roll-in nut slot 6 M5"]))
    turn = np.column_stack([channel.along, np.cross(channel.out, channel.along), channel.out])
    nut = PlacedPart(
        id="nut", type=standard_type(sort), unit="",
        placement=Placement(turn, channel.point(float(chance.uniform(20, 100)), channel.profile.lip_mm)),
    )  # fmt: skip
    box = Primitive(
        shape="box", size_mm=(14.0, 5.0, 9.0), at_mm=(-7.0, -2.5, -4.5), along=(0.0, 0.0, 1.0), cut=False
    )
    block = PartType(id="block", name="block", kind=Kind.PRINTED, primitives=(box,))
    while True:
        spot = channel.point(float(chance.uniform(-25, 145)), float(chance.uniform(-12, 3)))
        standing = PlacedPart(id="block", type=block, placement=Placement(turn, spot), unit="")
        if shared_mm3(standing, nut, np.zeros(3)) == 0.0:
            return machine_of(beam, nut, standing), chance


def standard_member() -> PartType:
    profile = lookup("profile 20x20 slot 6")
    assert isinstance(profile, Profile)
    return PartType(id="beam", name="beam", kind=Kind.MEMBER, profile=profile, length_mm=120.0)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_a_nut_s_ways_in_agree_with_fcl_and_booleans(seed: int) -> None:
    told: Counter[str] = Counter()
    for pair in range(8):
        machine, _ = slot_machine(300 * seed + pair)
        reach, bodies = Reach(machine), Bodies(machine)
        _, nut, block = machine.placed
        (channel,) = [
            c for c in reach.channels.channels if float(c.out @ nut.placement.turn[:, 2]) > 1 - 1e-9
        ]
        at = float((nut.placement.origin_mm - channel.start_mm) @ channel.along)
        size = solid_of(nut.type)
        long = float(size.high_mm[0] - size.low_mm[0])
        for end, way, far in (
            ("a", -channel.along, at + long + 5.0),
            ("b", channel.along, channel.length_mm - at + long + 5.0),
            ("mouth", channel.out, channel.profile.depth_mm + 12.0),
        ):
            probe = reach.mouth_way(nut, channel) if end == "mouth" else reach.slot_way(nut, channel, end)
            free = reach.is_free(probe, {"block"})
            assert free is not bool(bodies.blockers(bodies.sweep("nut", way, far), {"block"}))
            judged = told_by_fcl(nut, block, np.zeros(3), way, far)
            assert judged != ("blocked" if free else "free"), (seed, pair, end)
            told[judged] += 1
            if end != "mouth":
                assert reach.is_free(probe, {"beam"}), "a slot keeps its own nut from sliding"
    assert told["blocked"], told
    assert told["free"], told


# -- keys -------------------------------------------------------------------------------------------


def key_machine(seed: int) -> tuple[Machine, Fastening]:
    """A screw, and something that may stand in its key's way."""
    chance = np.random.default_rng(seed)
    screw_type = standard_type("ISO 4762 M5x16")
    out = random_way(chance)
    there = random_type(chance, "standing", 40.0)
    spot = out * chance.uniform(20, 70) + chance.normal(size=3) * 18
    screw = PlacedPart(id="j/screw.1", type=screw_type, placement=Placement(facing(out)), unit="", joint="j")
    standing = PlacedPart(id="standing", type=there, placement=Placement(random_turn(chance), spot), unit="")
    fastening = Fastening(
        id="j.1", joint="j", screw="j/screw.1", screw_type=screw_type.standard, head_mm=(0.0, 0.0, 0.0),
        axis=tuple(out), grips=(), host=Host.NONE, host_part="", host_thread="", host_material="",
        thread_from_mm=0.0, thread_to_mm=0.0, room_mm=math.inf,
    )  # fmt: skip
    return machine_of(screw, standing), fastening


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_straight_keys_agree_with_a_round_line_of_fcl(seed: int) -> None:
    told: Counter[str] = Counter()
    for pair in range(30):
        machine, fastening = key_machine(40_000 + 100 * seed + pair)
        reach, standing = Reach(machine), machine.placed[1]
        tool = hex_key(4.0)
        out = np.asarray(fastening.axis)
        begin = out * (fastening.screw_type.head_height_mm + 0.05)
        line = fcl.CollisionObject(
            fcl.Cylinder(tool.corners_mm / 2, tool.long_mm),
            fcl.Transform(facing(out), begin + out * tool.long_mm / 2),
        )
        other = fcl_object(solid_of(standing.type), standing.placement)
        distance = fcl.distance(line, other, fcl.DistanceRequest(), fcl.DistanceResult())
        free = reach.is_free(reach.straight_key(fastening), {"standing"})
        bodies = Bodies(machine)
        key = bodies.line(begin, out, tool.corners_mm, tool.long_mm)
        volume = float((bodies._made(key) ^ bodies.body["standing"]).volume())
        if (
            distance > 0.1
        ):  # a line inside a solid would be at no distance from its skin, but no key is so short
            assert free or volume > SURE_MM3
            told["free"] += 1
        if volume > SURE_MM3:
            assert not free, (seed, pair)
            told["blocked"] += 1
        assert free is not bool(bodies.blockers(key, {"standing"})), (seed, pair)
    assert min(told["free"], told["blocked"]) >= 3, told


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_short_arms_agree_with_booleans_of_their_own_swing(seed: int) -> None:
    for pair in range(10):
        machine, fastening = key_machine(60_000 + 100 * seed + pair)
        reach, bodies = Reach(machine), Bodies(machine)
        out = np.asarray(fastening.axis)
        begin = out * (fastening.screw_type.head_height_mm + 0.05)
        for window in range(SWING_WINDOWS):
            free = reach.is_free(reach.short_key(fastening, window), {"standing"})
            swing = bodies.swing(begin, out, 4.0, window)
            assert free is not bool(bodies.blockers(swing, {"standing"})), (seed, pair, window)

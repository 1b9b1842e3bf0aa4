"""Small random assemblies of boxes, plates and pins that touch and block each other, and a slow judge.

Every two parts that touch are joined by one screw. The screws stand far away from everything: they make
the joints, and nothing is in their way. The judge tries all orders of the joints.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Screw
from trysquare.ground.placement import DIRECTIONS, Placement, facing
from trysquare.machine.types import standard_type
from trysquare.machine.values import (
    Fastening,
    Grip,
    Host,
    Joint,
    Kind,
    Machine,
    PartType,
    PlacedPart,
    Primitive,
)
from trysquare.sequence.ways_in import TWO_LEG_MM
from trysquare.solid.overlap import standing
from trysquare.solid.sweep import path_blockers

FAR_MM = 20000.0
GRID_MM = 10.0
WORD = "ISO 4762 M3x8"
WAYS = tuple(DIRECTIONS.values())

Box = tuple[int, int, int, int, int, int]  # lowest, then highest corner, in grid cells


def random_boxes(seed: int) -> list[Box]:
    """Six to ten boxes that do not overlap, each touching one before it; shells and pins among them."""
    rng = random.Random(seed)
    count = rng.randint(6, 10)
    boxes: list[Box] = [(0, 0, 0, 4, 4, 1)]
    tries = 0
    while len(boxes) < count and tries < 4000:
        tries += 1
        size = rng.choice(
            [(1, 1, 3), (3, 1, 1), (1, 3, 1), (4, 4, 1), (1, 4, 3), (4, 1, 3), (2, 2, 1), (1, 1, 1)]
        )
        at = (rng.randint(-1, 4), rng.randint(-1, 4), rng.randint(-1, 4))
        box: Box = (*at, at[0] + size[0], at[1] + size[1], at[2] + size[2])
        if any(_overlap(box, other) for other in boxes):
            continue
        if any(_touch(box, other) for other in boxes):
            boxes.append(box)
    return boxes


def _overlap(one: Box, other: Box) -> bool:
    return all(one[i] < other[i + 3] and other[i] < one[i + 3] for i in range(3))


def _touch(one: Box, other: Box) -> bool:
    """Whether two boxes share a piece of a face."""
    gaps = [min(one[i + 3], other[i + 3]) - max(one[i], other[i]) for i in range(3)]
    least, next_least, _ = sorted(gaps)
    return least == 0 and next_least > 0


def assembly(shapes: Sequence[Sequence[Box]], seed: int = 0, spare: bool = True) -> Machine:
    """A machine of parts made of boxes (in grid cells), with a joint for each two that touch.

    With `spare`, joints that close a circle are left out by chance."""
    rng = random.Random(seed)
    parts = [_part(index, boxes) for index, boxes in enumerate(shapes)]
    pairs = [
        (i, j)
        for i, j in itertools.combinations(range(len(shapes)), 2)
        if any(_touch(one, other) for one in shapes[i] for other in shapes[j])
    ]
    rng.shuffle(pairs)
    group = list(range(len(shapes)))
    joints: list[Joint] = []
    for i, j in pairs:
        closes = group[i] == group[j]
        if closes and spare and rng.random() < 0.6:
            continue
        group = [group[i] if one == group[j] else one for one in group]
        joints.append(_joint(len(joints), parts[i], parts[j]))
    pieces = [piece for joint in joints for piece in joint.brings]
    return machine_of(parts, joints, pieces)


def machine_of(parts: Sequence[PlacedPart], joints: Sequence[Joint], pieces: Sequence[PlacedPart]) -> Machine:
    """A machine that stands in no folder."""
    placed = (*parts, *pieces)
    return Machine(
        id="random", name="Random", folder="", types={part.type.id: part.type for part in placed},
        placed=placed,
        joints=tuple(joints), units=("",), steps=(), papers=(), sayings=(), rulings=(), aliases={},
    )  # fmt: skip


def random_assembly(seed: int) -> Machine:
    """Two of three are heaps of boxes, plates and pins or grown puzzles; every third has two links of a
    chain, whole or with a gap, among boxes."""
    if seed % 3 == 0:
        return assembly([[box] for box in random_boxes(seed)], seed)
    return assembly(_puzzle(seed) if seed % 3 == 1 else _chain_links(seed), seed)


def _puzzle(seed: int) -> list[list[Box]]:
    """Six or seven parts that grew cell by cell from random seeds until a block is nearly full."""
    rng = random.Random(seed)
    cells = list(itertools.product(range(4), range(4), range(3)))
    count = rng.randint(6, 7)
    owner = dict(zip(rng.sample(cells, count), range(count), strict=True))
    for _ in range(40):
        edge = [
            (cell, owner[near])
            for cell in cells
            if cell not in owner
            for axis in range(3)
            for step in (-1, 1)
            if (near := (*cell[:axis], cell[axis] + step, *cell[axis + 1 :])) in owner
        ]
        if not edge:
            break
        cell, part = rng.choice(edge)
        owner[cell] = part
    return _one_heap(
        [[_cell(cell) for cell in sorted(owner) if owner[cell] == part] for part in range(count)]
    )


def _cell(cell: tuple[int, int, int]) -> Box:
    return (*cell, cell[0] + 1, cell[1] + 1, cell[2] + 1)


def _chain_links(seed: int) -> list[list[Box]]:
    """Two square links, one through the other. A link with a gap can be hooked in, if the gap is where the
    other one passes; whole links cannot."""
    rng = random.Random(seed)
    flat = [(x, y, 0) for x in range(3) for y in range(3) if (x, y) != (1, 1)]
    upright = [(1, 1, z) for z in (-1, 0, 1)] + [(3, 1, z) for z in (-1, 0, 1)] + [(2, 1, -1), (2, 1, 1)]
    for link in (flat, upright):
        if rng.random() < 0.5:
            link.remove(rng.choice(link))
    shapes = [[_cell(cell) for cell in flat], [_cell(cell) for cell in upright]]
    taken = [box for shape in shapes for box in shape]
    count = rng.randint(6, 8)
    while len(shapes) < count:
        size = rng.choice([(1, 1, 2), (2, 1, 1), (1, 1, 1), (1, 3, 1)])
        at = (rng.randint(-2, 4), rng.randint(-2, 3), rng.randint(-2, 2))
        box: Box = (*at, at[0] + size[0], at[1] + size[1], at[2] + size[2])
        if not any(_overlap(box, other) for other in taken) and any(_touch(box, other) for other in taken):
            shapes.append([box])
            taken.append(box)
    return shapes


def _one_heap(shapes: list[list[Box]]) -> list[list[Box]]:
    """Those that hang together with the first."""
    heap, todo = [shapes[0]], shapes[1:]
    while True:
        near = [one for one in todo if any(_touch(a, b) for shape in heap for a in shape for b in one)]
        if not near:
            return heap
        heap += near
        todo = [one for one in todo if one not in near]


def _part(index: int, boxes: Sequence[Box]) -> PlacedPart:
    solids = tuple(
        Primitive(
            shape="box",
            size_mm=tuple(GRID_MM * (box[i + 3] - box[i]) for i in range(3)),
            at_mm=(GRID_MM * box[0], GRID_MM * box[1], GRID_MM * box[2]),
            along=(0.0, 0.0, 1.0),
            cut=False,
        )
        for box in boxes
    )
    sort = PartType(
        id=f"sort-{index}", name=f"part {index}", kind=Kind.PRINTED, primitives=solids, material="PETG"
    )
    return PlacedPart(id=f"p{index}", type=sort, placement=Placement(), unit="")


@cache
def _screw() -> Screw:
    found = lookup(WORD)
    assert isinstance(found, Screw)
    return found


def _joint(index: int, one: PlacedPart, other: PlacedPart) -> Joint:
    name = f"j{index}"
    spot = (5000.0 + 60 * index, 6000.0 + 60 * index, 7000.0 + 60 * index)
    screw = PlacedPart(
        id=f"{name}/screw.1", type=standard_type(WORD),
        placement=Placement(facing((0, 0, 1)), np.array(spot)),
        unit="", joint=name,
    )  # fmt: skip
    fastening = Fastening(
        id=f"{name}.1", joint=name, screw=screw.id, screw_type=_screw(), head_mm=spot, axis=(0.0, 0.0, 1.0),
        grips=(Grip(part=one.id, from_mm=0.0, to_mm=1.0, hole_mm=3.4),), host=Host.TAPPED, host_part=other.id,
        host_thread="M3", host_material="steel", thread_from_mm=1.0, thread_to_mm=8.0, room_mm=20.0,
    )  # fmt: skip
    return Joint(
        id=name,
        recipe="through-bolt",
        unit="",
        parts=(one.id, other.id),
        brings=(screw,),
        fastenings=(fastening,),
    )


@dataclass
class SlowJudge:
    """Tries all orders of the joints, straight on the swept meshes, knowing nothing of the rules' code."""

    machine: Machine

    def __post_init__(self) -> None:
        self.parts = [part for part in self.machine.placed if not part.joint]
        self.number = {part.id: index for index, part in enumerate(self.parts)}
        self.stand = standing(self.parts, "")
        self.straight = [[self._hits(part, way, FAR_MM) for way in WAYS] for part in self.parts]
        self.bends = [self._bends(part) for part in self.parts]

    def _hits(self, part: PlacedPart, way: tuple[float, float, float], far: float) -> int:
        found = path_blockers(part, way, far, self.stand)
        return sum(
            1 << self.number[name] for one in found for name in (one.a_id, one.b_id) if name != part.id
        )

    def _bends(self, part: PlacedPart) -> list[int]:
        found = []
        for first in WAYS:
            for leg in TWO_LEG_MM:
                one = self._hits(part, first, leg)
                moved = replace(
                    part,
                    placement=Placement(
                        part.placement.turn, part.placement.origin_mm + leg * np.array(first)
                    ),
                )
                aside = [second for second in WAYS if abs(float(np.dot(first, second))) < 0.9]
                found += [one | self._hits(moved, second, FAR_MM) for second in aside]
        return found

    def can_meet(self, moving: int, still: int) -> bool:
        """Whether one set of parts has a way to another, straight or, alone, round a corner."""
        members = [index for index in range(len(self.parts)) if moving >> index & 1]
        for way in range(len(WAYS)):
            if not any(self.straight[index][way] & still for index in members):
                return True
        return len(members) == 1 and any(not hits & still for hits in self.bends[members[0]])

    def feasible(self) -> bool:
        """Whether some order of the joints brings everything together."""
        pairs = [tuple(self.number[name] for name in joint.parts) for joint in self.machine.joints]
        full = (1 << len(pairs)) - 1
        dead: set[int] = set()

        def groups(done: int) -> list[int]:
            label = [1 << index for index in range(len(self.parts))]
            for at, (one, other) in enumerate(pairs):
                if done >> at & 1 and not label[one] >> other & 1:
                    both = label[one] | label[other]
                    label = [both if label[i] & both else label[i] for i in range(len(label))]
            return label

        def search(done: int) -> bool:
            if done == full:
                return True
            if done in dead:
                return False
            label = groups(done)
            for at, (one, other) in enumerate(pairs):
                if done >> at & 1:
                    continue
                first, second = label[one], label[other]
                small, large = sorted((first, second), key=int.bit_count)
                free = (
                    first == second
                    or self.can_meet(small, large)
                    or (small.bit_count() == large.bit_count() and self.can_meet(large, small))
                )
                if free and search(done | 1 << at):
                    return True
            dead.add(done)
            return False

        return search(0)

"""What tests of imports share: demos given out as STEP and taken in again, and what both machines say."""

from __future__ import annotations

import functools
import gzip
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from intake.made_step import bored, box, shape_of, some_placement
from trysquare.ground.placement import Array, Placement, turned
from trysquare.intake.bodies import Assembly, Body, FileFacts, Shape, Sort
from trysquare.intake.folder_text import folder_files
from trysquare.intake.recognise import recognised
from trysquare.intake.rulings import Memory
from trysquare.intake.step_file import read_step
from trysquare.intake.taken_in import TakenIn, taken_in
from trysquare.machine.load import load_machine
from trysquare.machine.values import Fastening, Machine
from trysquare.publish.given_tree import given_tree
from trysquare.publish.step_file import step_bytes

DEMO = Path(__file__).resolve().parents[2] / "demo"
ASKEW = Placement(turned((0.3, 0.5, -0.8), (0.2, 0.9, 0.1)), np.array([1234.5, -77.7, 31.1]))
FASTENERS = frozenset({Sort.SCREW, Sort.NUT, Sort.SLOT_NUT, Sort.WASHER, Sort.INSERT})
BESIDE_MM = 0.013  # so that no figure of the demos lies where rounding turns
Spot = tuple[float, float, float]
Where = Array | Spot


@dataclass(frozen=True)
class Back:
    """A demo and what came back of it. `standing`: how the import stands in the demo's frame."""

    demo: Machine
    taken: TakenIn
    machine: Machine
    standing: Placement = Placement()  # noqa: RUF009  # placements are never changed

    def spot(self, point: Where) -> Spot:
        return _as_it_is(self.standing.back(np.asarray(point)))


@functools.cache
def assembly_of(name: str) -> Assembly:
    """A demo as it is read from a STEP file."""
    machine = load_machine(DEMO / name)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.step"
        path.write_bytes(step_bytes(given_tree(machine), machine.folder))
        return read_step(path)


def back(name: str, folder: Path, change: Callable[[Assembly], Assembly] | None = None) -> Back:
    """A demo given out, changed as the test wants it, and taken in into a folder."""
    assembly = assembly_of(name)
    assembly = change(assembly) if change else assembly
    taken = taken_in(assembly, Memory())
    written(folder, taken)
    standing = ASKEW if change is nameless_and_turned else Placement()
    return Back(load_machine(DEMO / name), taken, load_machine(folder), standing)


def written(folder: Path, taken: TakenIn) -> None:
    for name, content in folder_files(taken.result.lines).items():
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)


def nameless_and_turned(assembly: Assembly) -> Assembly:
    """The same without any name, without sub-assemblies, turned and moved arbitrarily."""
    return replace(
        assembly,
        shapes=tuple(replace(shape, name="") for shape in assembly.shapes),
        bodies=tuple(
            replace(body, name="", path=(), placement=ASKEW.then(body.placement)) for body in assembly.bodies
        ),
    )


def scattered(assembly: Assembly, by_mm: float) -> Assembly:
    """The assembly as somebody draws it who does not snap to points: each body a little beside its place."""
    chance = np.random.default_rng(1)
    bodies = tuple(
        replace(
            body,
            placement=Placement(
                body.placement.turn, body.placement.origin_mm + chance.uniform(-by_mm, by_mm, 3)
            ),
        )
        for body in assembly.bodies
    )
    return replace(assembly, bodies=bodies)


def bolted_plates(screw: str, nut: str, washer: str) -> Assembly:
    """Two plates of 3 mm with two screws through them, nuts below; fasteners of another program's files."""
    drilled = bored(bored(box(40, 20, 3), (10, 10, 3), (0, 0, -1), 3.4, 3), (30, 10, 3), (0, 0, -1), 3.4, 3)
    names = [name for name in (screw, nut, washer) if name]
    shapes = [shape_of(drilled), *(_drawn_elsewhere(name) for name in names)]
    shapes = [replace(shape, number=number, name="") for number, shape in enumerate(shapes)]
    frames = [recognised(shape).frame for shape in shapes]
    whole = some_placement(3)

    def standing(number: int, x: float, y: float, z: float) -> Body:
        spot = whole.then(Placement(np.eye(3), np.array([x, y, z])))
        placement = spot.then(frames[number].inverse()) if number else spot
        return Body(name="", path=(), shape=number, placement=placement)

    bodies = [standing(0, 0, 0, 3), standing(0, 0, 0, 0)]
    for x in (10, 30):
        bodies += [standing(1, x, 10, 6.5 if washer else 6), standing(2, x, 10, 0)]
        bodies += [standing(3, x, 10, 6)] if washer else []
    facts = FileFacts(name="made.step", kind="step", size_bytes=1, digest="0")
    return Assembly(facts=facts, shapes=tuple(shapes), bodies=tuple(bodies))


def _drawn_elsewhere(name: str) -> Shape:
    packed = Path(__file__).parent / "files" / f"{name}.step.gz"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        path.write_bytes(gzip.decompress(packed.read_bytes()))
        return read_step(path).shapes[0]


def without(assembly: Assembly, *sorts: Sort) -> Assembly:
    """The assembly as a program draws it that leaves some parts out."""
    gone = {shape.number for shape in assembly.shapes if recognised(shape).sort in sorts}
    return replace(assembly, bodies=tuple(body for body in assembly.bodies if body.shape not in gone))


def screws(side: Back, machine: Machine) -> Counter[tuple[object, ...]]:
    """Every screw of a machine: designation, what it bites, where its head is, how many layers it clamps."""
    where = side.spot if machine is side.machine else _as_it_is
    return Counter(_screw(one, where) for joint in machine.joints for one in joint.fastenings)


def _screw(one: Fastening, where: Callable[[Where], Spot]) -> tuple[object, ...]:
    slot = bool(one.slot_member)
    return (
        one.screw_type.designation,
        str(one.host),
        len(one.grips),
        slot,
        one.head_in_slot,
        where(one.head_mm),
    )


def _as_it_is(point: Where) -> Spot:
    x, y, z = (round(float(each) + BESIDE_MM, 1) + 0.0 for each in point)
    return x, y, z


def members(side: Back, machine: Machine) -> Counter[tuple[object, ...]]:
    """Every member: profile, length, where its ends are, which of them are tapped."""
    where = side.spot if machine is side.machine else _as_it_is
    found: Counter[tuple[object, ...]] = Counter()
    for piece in machine.placed:
        kind = piece.type
        if kind.profile is None:
            continue
        ends = {
            where(piece.placement.point((0.0 if end == "a" else kind.length_mm, 0.0, 0.0))): end
            in kind.tapped_ends
            for end in "ab"
        }
        found[kind.profile.designation, round(kind.length_mm, 2), tuple(sorted(ends.items()))] += 1
    return found


def member_holes(side: Back, machine: Machine) -> Counter[tuple[object, ...]]:
    """Every hole of every member: where it opens, its diameter, whether it goes through or is for a key."""
    where = side.spot if machine is side.machine else _as_it_is
    found: Counter[tuple[object, ...]] = Counter()
    for piece in machine.placed:
        for hole in piece.type.holes if piece.type.profile else ():
            mouths = [np.asarray(hole.at_mm)]
            if hole.through:
                mouths.append(mouths[0] - np.asarray(hole.direction) * hole.depth_mm)
            spots = tuple(sorted(where(piece.placement.point(mouth)) for mouth in mouths))
            found[spots, round(hole.diameter_mm, 2), hole.through, hole.access] += 1
    return found


def counted(machine: Machine) -> Counter[str]:
    """How many of each standard part there are, in whatever joint or place."""
    return Counter(
        piece.type.standard.designation for piece in machine.placed if piece.type.standard is not None
    )


def rides(side: Back, machine: Machine) -> set[tuple[Spot, Spot]]:
    """Which block rides on which rail, by where they stand."""
    where = side.spot if machine is side.machine else _as_it_is
    part = machine.part
    return {
        (where(part[block].placement.origin_mm), where(_middle(machine, rail)))
        for joint in machine.joints
        for block, rail in joint.slides_on.items()
    }


def _middle(machine: Machine, rail: str) -> Array:
    piece = machine.part[rail]
    return piece.placement.point((piece.type.standard.length_mm / 2, 0.0, 0.0))  # type: ignore[union-attr]

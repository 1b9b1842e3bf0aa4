"""A machine as rigid bodies and the links between them: what can be out of place, and by how much.

Members, rails and carriages are bodies; so is any other part that a characteristic or reading names, and
every part screwed to a carriage, for motion goes through it. A member has a length error besides. Where
two bodies of a joint lie flat against each other there is a link: what it holds, and how far it can be
shifted while it is snug.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

import numpy as np

from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.ground.placement import Array
from trysquare.machine.values import Fastening, Joint, Machine, PlacedPart
from trysquare.sequence.state import Tightness
from trysquare.truing.contacts import Box, Patch, patch_between
from trysquare.truing.features import own_box
from trysquare.truing.play import Play, play_of, running
from trysquare.truing.standing import Standing, tightness_of
from trysquare.truing.uncertainty import standard_uncertainty

CUT_MM = 0.2  # a good saw's length, ± this. common practice, no source
END_MM = 0.05  # a good saw's end across its section, ± this. common practice, no source
ON_PLATE_MM = 5.0  # undersides this near the lowest one stand on the plate
NEAR_END_MM = 40.0  # what stands this near an end was set flush with it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A rigid body. `centre_mm`, `along` (3,): its middle as drawn and its long direction, machine frame.
    `length_mm`: along it. `cut_mm`: half-width of a member's length error, 0 for others; `end_rad`: of the
    lean of a cut end about its own y and z.
    """

    id: str
    placed: PlacedPart
    box: Box
    centre_mm: Array
    along: Array
    length_mm: float
    cut_mm: float = 0.0
    end_rad: tuple[float, float] = (0.0, 0.0)

    @property
    def is_member(self) -> bool:
        return self.placed.type.profile is not None

    @property
    def is_rail(self) -> bool:
        return isinstance(self.placed.type.standard, RailSize)

    @property
    def has_ends(self) -> bool:
        return self.is_member or self.is_rail


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """Two bodies held together in one place by one joint.

    `one`, `other`: numbers of the bodies; a member's end is always on `one`. `at_mm` (3,): the place as
    drawn. `axes` (3, 3): columns are the normal into `one` and two directions across. `with_end`,
    `other_with_end`: as of a Feature. `end`: "a" or "b" when an end of `one` stands here. `end_rad` (3,):
    half-widths of the cut end's lean about the columns of `axes`.
    """

    joint: str
    one: int
    other: int
    at_mm: Array
    axes: Array
    play: Play
    screws: tuple[str, ...] = ()
    with_end: float = 0.0
    other_with_end: float = 0.0
    end: str = ""
    end_rad: Array = field(default_factory=lambda: np.zeros(3))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """The bodies of a machine, or of what stands of it, and their links."""

    machine: Machine
    bodies: tuple[Body, ...]
    links: tuple[Link, ...]

    def number(self, part: str) -> int | None:
        """The number of a body by its placed id."""
        return next((index for index, body in enumerate(self.bodies) if body.id == part), None)


def assembly_of(machine: Machine, standing: Standing | None = None, named: Collection[str] = ()) -> Assembly:
    """The bodies and links of a machine, or of what stands of it: links whose screws are in. `named`: parts
    that readings name."""
    standing = standing or Standing()
    wanted = {*named}
    for characteristic in machine.characteristics:
        if characteristic.unit in ("mm", "mm/100"):
            wanted |= {*characteristic.of, *characteristic.against}
    wanted |= _carried(machine)
    bodies: list[Body] = []
    for placed in machine.placed:
        sort = placed.type.standard
        chosen = placed.type.profile is not None or isinstance(sort, RailSize | BlockSize)
        if placed.joint or not (chosen or placed.id in wanted):
            continue
        if standing.present is not None and placed.id not in standing.present:
            continue
        body = _body(machine, placed)
        if body is not None:
            bodies.append(body)
    numbers = {body.id: index for index, body in enumerate(bodies)}
    links: dict[tuple[int, int], Link] = {}
    for joint in machine.joints:
        for link in _links(machine, joint, bodies, numbers):
            if tightness_of(machine, link.joint, link.screws, standing) > Tightness.ABSENT:
                links.setdefault((link.one, link.other), link)  # a carriage is on its rail once
    return Assembly(machine=machine, bodies=tuple(bodies), links=tuple(links.values()))


def _carried(machine: Machine) -> set[str]:
    """Parts screwed to a carriage."""
    found: set[str] = set()
    for joint in machine.joints:
        if joint.slides_on:
            found |= {*joint.parts}
    return found


def _body(machine: Machine, placed: PlacedPart) -> Body | None:
    corners = own_box(placed.type, machine.folder)
    if corners is None:
        return None
    low, high = corners
    box = Box(placement=placed.placement, low_mm=low, high_mm=high)
    profile = placed.type.profile
    size = high - low
    has_ends = profile is not None or isinstance(placed.type.standard, RailSize)
    axis = 0 if has_ends else int(np.argmax(size))
    cut, end_rad = 0.0, (0.0, 0.0)
    if profile is not None:
        cut = placed.type.cut_mm or CUT_MM
        end = placed.type.end_mm or END_MM
        end_rad = (end / profile.size_z_mm, end / profile.size_y_mm)
    return Body(
        id=placed.id,
        placed=placed,
        box=box,
        centre_mm=box.middle_mm,
        along=placed.placement.turn[:, axis].copy(),
        length_mm=float(size[axis]),
        cut_mm=cut,
        end_rad=end_rad,
    )


def _links(machine: Machine, joint: Joint, bodies: list[Body], numbers: dict[str, int]) -> Iterator[Link]:
    here = [part for part in dict.fromkeys(joint.parts) if part in numbers]
    held = [(one, _holds(one)) for one in joint.fastenings]
    for index, first in enumerate(here):
        for second in here[index + 1 :]:
            link = _link(machine, joint, bodies, (numbers[first], numbers[second]), held)
            if link is not None:
                yield link


def _holds(one: Fastening) -> set[str]:
    return {*(grip.part for grip in one.grips), one.host_part, one.slot_member} - {""}


def _link(
    machine: Machine,
    joint: Joint,
    bodies: list[Body],
    pair: tuple[int, int],
    held: list[tuple[Fastening, set[str]]],
) -> Link | None:
    first, second = pair
    runs = joint.slides_on.get(bodies[first].id) == bodies[second].id
    if not runs and joint.slides_on.get(bodies[second].id) == bodies[first].id:
        first, second, runs = second, first, True
    one, other = bodies[first], bodies[second]
    if runs:
        axes, play = running(_over(one, other), other.along)
        return Link(joint=joint.id, one=first, other=second, at_mm=one.centre_mm.copy(), axes=axes, play=play)
    screws = [fastening for fastening, parts in held if {one.id, other.id} <= parts]
    if not screws and joint.recipe != "bracket":
        return None
    patch = patch_between(one.box, other.box)
    if patch is None:
        if not screws:
            return None
        patch = _around(screws)
    if patch.other_face[0] == 0 and other.has_ends and not (patch.face[0] == 0 and one.has_ends):
        turned = patch_between(other.box, one.box)
        if turned is not None:
            first, second, one, other, patch = second, first, other, one, turned
    end = patch.face[0] == 0 and one.is_member
    sign = patch.face[1]
    return Link(
        joint=joint.id,
        one=first,
        other=second,
        at_mm=patch.at_mm,
        axes=patch.axes,
        play=play_of(machine, joint, patch, screws, end=end),
        screws=tuple(screw.id for screw in screws) or tuple(screw.id for screw, _ in _nearest(held, patch)),
        with_end=float(sign) if end else _with_end(one, patch.at_mm),
        other_with_end=_with_end(other, patch.at_mm),
        end=("b" if sign > 0 else "a") if end else "",
        end_rad=_end_lean(one, patch) if end else np.zeros(3),
    )


def _nearest(held: list[tuple[Fastening, set[str]]], patch: Patch) -> list[tuple[Fastening, set[str]]]:
    """The screws of a bracket, which clasps two members without one screw passing both: those nearby."""
    return [
        (one, parts)
        for one, parts in held
        if float(np.linalg.norm(np.asarray(one.head_mm) - patch.at_mm)) <= NEAR_END_MM
    ]


def _over(block: Body, rail: Body) -> Patch:
    """A carriage over its rail: no faces touch, the balls do."""
    return Patch(
        at_mm=block.centre_mm,
        axes=np.column_stack([rail.placed.placement.turn[:, 2], rail.along, np.zeros(3)]),
        half_mm=np.array([10.0, 5.0]),
        face=(2, -1),
        other_face=(2, 1),
    )


def _around(screws: list[Fastening]) -> Patch:
    """Parts that one screw passes although their boxes do not touch: held at the screws."""
    normal = np.asarray(screws[0].axis, dtype=float)
    helper = np.array([1.0, 0.0, 0.0]) if abs(normal[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    u = np.cross(normal, helper)
    u /= np.linalg.norm(u)
    spots = np.array([one.head_mm for one in screws])
    return Patch(
        at_mm=spots.mean(axis=0),
        axes=np.column_stack([normal, u, np.cross(normal, u)]),
        half_mm=np.array([10.0, 10.0]),
        face=(2, 1),
        other_face=(2, 1),
    )


def _with_end(body: Body, at_mm: Array) -> float:
    """Which end of a member a place goes with: the near one, or its middle."""
    if not body.is_member:
        return 0.0
    x = float((at_mm - body.centre_mm) @ body.along)
    if body.length_mm / 2 - abs(x) > NEAR_END_MM:
        return 2 * x / body.length_mm
    return -1.0 if x < 0 else 1.0


def _end_lean(body: Body, patch: Patch) -> Array:
    """Half-widths of a cut end's lean about the columns of the patch's axes."""
    turn = body.placed.placement.turn
    across = np.column_stack([turn[:, 1], turn[:, 2]])
    lean: Array = np.abs(patch.axes.T @ across) @ np.array(body.end_rad)
    lean[0] = 0.0
    return lean


def lowest_mm(body: Body) -> float:
    """The height of a body's lowest point."""
    return float(body.centre_mm[2] - (np.abs(body.placed.placement.turn) @ body.box.half_mm)[2])


def lies_low(assembly: Assembly, number: int) -> bool:
    """Whether a body lies on whatever the lowest member lies on."""
    lowest = min((lowest_mm(body) for body in assembly.bodies if body.is_member), default=0.0)
    return lowest_mm(assembly.bodies[number]) - lowest <= ON_PLATE_MM


def cut_uncertainty_mm(body: Body) -> float:
    """Standard uncertainty of a member's cut length."""
    return standard_uncertainty(body.cut_mm)

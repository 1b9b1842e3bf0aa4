"""What an imported file is made of: faces, shapes, placed bodies and what was noticed on the way.

Everything is in millimetres, whatever the file's unit was. A *shape* is one different solid; a
*body* is a shape that stands somewhere. Arrays are read-only.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array, Placement

if TYPE_CHECKING:
    from collections.abc import Mapping

Triangles: TypeAlias = NDArray[np.int64]
Colour: TypeAlias = tuple[float, float, float]


class FaceKind(StrEnum):
    """The surface a face lies on."""

    PLANE = "plane"
    CYLINDER = "cylinder"
    CONE = "cone"
    SPHERE = "sphere"
    TORUS = "torus"
    OTHER = "other"  # splines, helices, swept and ruled surfaces


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """One face of a shape, in the shape's own coordinates.

    `origin_mm`: array (3,). Plane: a point on it, its centre of area. Cylinder, cone: some
    point of the axis. Torus, sphere: its centre.
    `direction`: array (3,), unit. Plane: the normal, out of the material. Cylinder, cone, torus: the
    axis; a cone's points to where the cone grows. Sphere and other: zeros.
    `hollow`: the material is outside the round (a hole, a fillet in an inner corner).
    `low_mm`, `high_mm`: extent along `direction`, counted from `origin_mm`. Plane: both 0.
    `radius_mm`: cylinder, sphere; of a cone the larger end; of a torus the ring's middle circle.
    `second_radius_mm`: of a cone the smaller end; of a torus the tube.
    `sweep_rad`: how far it goes round its axis, up to 2π; 0 for planes and others.
    `centre_mm`: array (3,), centre of area.
    `neighbours`: numbers of the faces that share an edge with it, ascending.
    `rings`: how many closed outlines bound it; a plane with one hole has two.
    `corners_mm`: array (n, 3), ends of its edges, without the seams of closed rounds.
    """

    kind: FaceKind
    origin_mm: Array
    direction: Array
    area_mm2: float
    centre_mm: Array
    hollow: bool = False
    radius_mm: float = 0.0
    second_radius_mm: float = 0.0
    half_angle_rad: float = 0.0
    low_mm: float = 0.0
    high_mm: float = 0.0
    sweep_rad: float = 0.0
    rings: int = 1
    neighbours: tuple[int, ...] = ()
    corners_mm: Array = field(default_factory=lambda: np.zeros((0, 3)))

    @property
    def length_mm(self) -> float:
        """How long the face is along its axis."""
        return self.high_mm - self.low_mm

    @property
    def is_round(self) -> bool:
        """Whether it goes the whole way round its axis by itself."""
        return self.sweep_rad > 2 * np.pi - 1e-4

    def end_mm(self, *, high: bool) -> Array:
        """Array (3,): the axis point where the face ends."""
        along = self.high_mm if high else self.low_mm
        end: Array = self.origin_mm + self.direction * along
        return end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """One different solid, in its own coordinates.

    `moments_mm5`: array (3,), principal moments of inertia of the volume about its centroid, ascending
    (density 1). `axes`: array (3, 3), columns are the principal axes that belong to them.
    `box_mm`: array (2, 3), lowest and highest corner.
    `points_mm`: array (n, 3); `triangles`: array (m, 3), counter-clockwise from outside.
    `digest`: a name by content, the same wherever the solid stands and however it is turned; mirror
    images have different ones. It is for keeping; to compare two shapes use `shapes_apart.motion_between`.
    `mirror_of`: number of the shape whose mirror image this is, None when there is none in the file.
    `closed`: the solid's shells have no open edge. `name`: what the file calls it, "" when nothing.
    `source`: "step", "stl" or "3mf"; a shape from a mesh has no faces.
    """

    number: int
    name: str
    faces: tuple[Face, ...]
    volume_mm3: float
    area_mm2: float
    centroid_mm: Array
    moments_mm5: Array
    axes: Array
    box_mm: Array
    points_mm: Array
    triangles: Triangles
    digest: str
    mirror_of: int | None = None
    closed: bool = True
    source: str = "step"

    @property
    def size_mm(self) -> Array:
        """Array (3,): extents of the box."""
        size: Array = self.box_mm[1] - self.box_mm[0]
        return size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """One placed shape. `path`: names of the assemblies it stands in, outermost first, without its own.

    `placement` takes the shape's own coordinates to the file's world, in millimetres.
    `colour`: red, green, blue from 0 to 1, None when the file gives none.
    """

    name: str
    path: tuple[str, ...]
    shape: int
    placement: Placement
    colour: Colour | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something about the file that a person should know; the import went on.

    `code` is one of `limits.TROUBLES`; `says` is a sentence; `names` the bodies it is about.
    """

    code: str
    says: str
    remedy: str = ""
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFacts:
    """What the file says of itself. `kind`: "step", "stl", "3mf". `schema`: "AP203", "AP214", "AP242"
    or "". `unit`: the file's own length unit, "mm", "inch" … `system`: the program that wrote it."""

    name: str
    kind: str
    size_bytes: int
    digest: str
    schema: str = ""
    unit: str = "mm"
    system: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """A file as read: its different shapes, the bodies made of them, and what was noticed."""

    facts: FileFacts
    shapes: tuple[Shape, ...]
    bodies: tuple[Body, ...]
    problems: tuple[Problem, ...] = ()

    def bodies_of(self, shape: int) -> tuple[Body, ...]:
        """All bodies of one shape, in file order."""
        return tuple(body for body in self.bodies if body.shape == shape)


class Sort(StrEnum):
    """What a shape was recognised as."""

    MEMBER = "member"
    SCREW = "screw"
    NUT = "nut"
    SLOT_NUT = "slot nut"
    WASHER = "washer"
    INSERT = "insert"
    RAIL = "rail"
    BLOCK = "block"
    PULLEY = "pulley"
    BEARING = "bearing"
    SHAFT = "shaft"
    LEAD_SCREW = "lead screw"
    MOTOR = "motor"
    PLATE = "plate"
    OWN = "own part"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """A round hole that opens on a face.

    `at_mm`: array (3,), centre of its opening, in the coordinates of the recognised part (see
    `Recognition.frame`). `direction`: array (3,), out of the material. `diameter_mm`: its narrowest
    part that goes on; `depth_mm`: along the axis, from the opening to the end of that part.
    `through`: it comes out on the other side. `thread`: "M5" when its diameter is a tap drill, a
    nominal diameter or a modelled thread, "" otherwise. `counterbore_mm` = (diameter, depth);
    `countersink_mm`: diameter at the opening; both None without.
    `face`: of a member the face it opens on ("+y", "-z", ends "a", "b"), else "".
    `from_a_mm`: of a member the distance from end a, else None.
    """

    at_mm: Array
    direction: Array
    diameter_mm: float
    depth_mm: float
    through: bool
    thread: str = ""
    counterbore_mm: tuple[float, float] | None = None
    countersink_mm: float | None = None
    face: str = ""
    from_a_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recognition:
    """What a shape is, how sure, and why.

    `designation`: of the catalogue ("ISO 4762 M3x8", "rail 9x200", a member's *profile*), "" when it
    has none that fits. `parameters`: figures by name, units in the names ("length_mm", "slot_mm").
    `confidence`: 0 to 1; from `SURE` on nobody needs to be asked. `evidence`: what was seen, in words.
    `alternatives`: other designations or sorts it could be, best first. `doubts`: what speaks against.
    `frame`: takes the recognised part's own coordinates (see `catalogue.values`: a screw's z along its
    axis, z = 0 under its head …) to the shape's. `holes`: of members, plates, own parts.
    `tapped`: of a member, ends ("a", "b") whose cores are threaded.
    """

    sort: Sort
    designation: str = ""
    parameters: Mapping[str, float] = field(default_factory=dict)
    confidence: float = 0.0
    evidence: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()
    frame: Placement = field(default_factory=Placement)
    holes: tuple[Hole, ...] = ()
    tapped: tuple[str, ...] = ()

    @property
    def is_sure(self) -> bool:
        """Whether nobody needs to be asked."""
        return self.confidence >= SURE


SURE = 0.8
"""From this confidence on a recognition is taken without asking: every dimension seen agreed with one
row of a table and no other; common practice, no source."""

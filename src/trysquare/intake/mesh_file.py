"""Reads STL and 3MF files into an `Assembly`: bodies of triangles, such as are printed.

3MF is a zip archive with XML in it (3MF Core Specification 1.3: objects, components, build items, units;
of the Production Extension the reference to other parts of the archive). Colours are those of base materials.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Assembly, Body, Colour, FileFacts, Problem, Shape, Triangles
from trysquare.intake.limits import (
    DEEPEST_NESTING,
    LARGEST_MESH_MB,
    MEGABYTE,
    MOST_BODIES,
    checked_size,
    digest_of,
    kind_of,
    trouble,
)
from trysquare.intake.shapes_apart import digest_of_shape, is_handed
from trysquare.intake.solids import open_edge_count
from trysquare.solid.shapes import mesh_of
from trysquare.solid.stl import solid_from_stl

UNITS_MM = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
_NAMES = {"millimeter": "mm", "centimeter": "centimetre", "meter": "metre"}
CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
PRODUCTION = "{http://schemas.microsoft.com/3dmanufacturing/production/2015/06}"
MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_AGAIN = "Export it again as 3MF or STL, closed, in millimetres."
RIGID = 1e-6
# what the standard library raises for an archive that is damaged, locked or packed in a way it does not know
_BAD_ARCHIVE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    RuntimeError,
)


def read_mesh(path: Path, say: Callable[[str], None] = lambda _text: None) -> Assembly:
    """The bodies of an STL or 3MF file in millimetres; a ReadingError when nothing can be made of it."""
    size = checked_size(path, LARGEST_MESH_MB)
    kind = kind_of(path)
    say("reading")
    facts = FileFacts(name=path.name, kind=kind, size_bytes=size, digest=digest_of(path))
    if kind == "stl":
        return _with_extension(path, _stl(path, facts))
    if kind == "3mf":
        return _with_extension(path, _ThreeMf(path, facts).assembly())
    with path.open("rb") as file:
        start = file.read(40).decode("latin-1")
    known = "a STEP file" if kind == "step" else start
    raise trouble(
        path.name, known, "an STL or 3MF file", "Give it its right extension, .step, and import it as that."
        if kind == "step" else _AGAIN,
    )  # fmt: skip


def _with_extension(path: Path, assembly: Assembly) -> Assembly:
    said, kind = path.suffix.lower().lstrip("."), assembly.facts.kind
    if said == kind:
        return assembly
    problem = Problem(
        code="wrong-extension", says=f"The file is called .{said}; by its content it is {kind.upper()}."
    )
    return replace(assembly, problems=(*assembly.problems, problem))


def _stl(path: Path, facts: FileFacts) -> Assembly:
    mesh = mesh_of(solid_from_stl(path.read_bytes(), path.name))
    shape = mesh_shape(0, path.stem, mesh.points_mm, mesh.triangles, "stl")
    body = Body(name=path.stem, path=(), shape=0, placement=Placement())
    return Assembly(facts=facts, shapes=(shape,), bodies=(body,))


def mesh_shape(number: int, name: str, points: Array, triangles: Triangles, source: str) -> Shape:
    """A closed mesh with its figures. Volume and moments: sums over tetrahedra from the middle of the box.

    Source: the tetrahedra's second moments after F. Tonon, Explicit exact formulas for the 3-D tetrahedron
    inertia tensor (2004), from memory; checked against another library in the tests.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low + high) / 2
    corners = points[triangles] - middle
    volumes = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
    volume = float(volumes.sum())
    away = (volumes[:, None] * corners.sum(axis=1)).sum(axis=0) / (4 * volume) if volume else np.zeros(3)
    whole = corners.sum(axis=1)
    second = np.einsum("i,ij,ik->jk", volumes, whole, whole) + np.einsum(
        "i,imj,imk->jk", volumes, corners, corners
    )
    second = second / 20 - volume * np.outer(away, away)
    moments, axes = np.linalg.eigh(np.eye(3) * np.trace(second) - second)
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    shape = Shape(
        number=number, name=name, faces=(), volume_mm3=volume,
        area_mm2=float(np.linalg.norm(doubled, axis=1).sum() / 2), centroid_mm=middle + away,
        moments_mm5=moments, axes=axes, box_mm=np.stack([low, high]), points_mm=points, triangles=triangles,
        digest="", closed=open_edge_count(triangles) == 0, source=source,
    )  # fmt: skip
    return replace(shape, digest=digest_of_shape(shape, handed=is_handed(shape)))


@dataclass(frozen=True, slots=True, eq=False)
class _Object:
    """An object of a 3MF model: a mesh, or components (part, object id, matrix)."""

    name: str
    points: Array
    triangles: Triangles
    components: tuple[tuple[str, str, Array], ...]
    colour: Colour | None


class _ThreeMf:
    """A 3MF archive being read."""

    def __init__(self, path: Path, facts: FileFacts) -> None:
        self.path, self.facts = path, facts
        self.objects: dict[tuple[str, str], _Object] = {}
        self.shapes: list[Shape] = []
        self.numbers: dict[tuple[str, str, bytes], int] = {}
        self.bodies: list[Body] = []
        self.problems: list[Problem] = []
        self.scale, self.unit = 1.0, "millimeter"

    def assembly(self) -> Assembly:
        try:
            with zipfile.ZipFile(self.path) as archive:
                self._read(archive)
        except _BAD_ARCHIVE as error:
            raise self._trouble(
                f"an archive that cannot be opened ({error})", "a whole 3MF archive"
            ) from error
        except ET.ParseError as error:
            raise self._trouble(f"XML that breaks off ({error})", "a whole 3MF model") from error
        except (ValueError, TypeError) as error:
            raise self._trouble(f"a value that is no number ({error})", "a 3MF model") from error
        if not self.bodies:
            raise self._trouble("no bodies", "at least one closed mesh")
        facts = replace(self.facts, unit=_NAMES.get(self.unit, self.unit))
        if self.unit == "inch":
            self.problems.append(
                Problem(code="inch", says="The file is in inches; all lengths were taken to millimetres.")
            )
        return Assembly(
            facts=facts, shapes=tuple(self.shapes), bodies=tuple(self.bodies), problems=tuple(self.problems)
        )

    def _trouble(self, read: str, expected: str) -> ReadingError:
        return trouble(self.path.name, read, expected, _AGAIN)

    def _read(self, archive: zipfile.ZipFile) -> None:
        whole = sum(each.file_size for each in archive.infolist() if each.filename.endswith(".model"))
        if whole > 4 * LARGEST_MESH_MB * MEGABYTE:
            raise self._trouble(
                f"{whole / MEGABYTE:.0f} MB when unpacked", f"at most {4 * LARGEST_MESH_MB} MB"
            )
        root = self._root_part(archive)
        items = self._part(archive, root)
        waiting = {part for each in self.objects.values() for part, _id, _matrix in each.components}
        for part in sorted((waiting | {part for part, _id, _matrix in items}) - {root}):
            self._part(archive, part)
        for part, number, matrix in items:
            self._place(part, number, matrix, (), ())

    def _root_part(self, archive: zipfile.ZipFile) -> str:
        names = archive.namelist()
        if "_rels/.rels" in names:
            for each in ET.fromstring(self._plain(archive, "_rels/.rels")):
                if each.get("Type") == MODEL_RELATION:
                    return (each.get("Target") or "").lstrip("/")
        models = [name for name in names if name.endswith(".model")]
        if not models:
            raise self._trouble("a zip archive without a 3D model", "a 3MF file")
        return models[0]

    def _plain(self, archive: zipfile.ZipFile, part: str) -> bytes:
        """A part's XML; refused when it defines entities, which can grow without end."""
        data = archive.read(part)
        if b"<!DOCTYPE" in data[:4096] or b"<!ENTITY" in data:
            raise self._trouble("XML with a document type of its own", "plain 3MF XML")
        return data

    def _part(self, archive: zipfile.ZipFile, part: str) -> list[tuple[str, str, Array]]:
        """Reads the objects of one model of the archive; the build items it names."""
        model = ET.fromstring(self._plain(archive, part))
        self.unit = model.get("unit", "millimeter")
        scale = UNITS_MM.get(self.unit)
        if scale is None:
            raise self._trouble(
                f"the unit {self.unit}", "millimeter, micron, centimeter, meter, inch or foot"
            )
        self.scale = scale
        colours = _base_colours(model)
        for each in model.iter(f"{CORE}object"):
            number = each.get("id", "")
            self.objects[part, number] = self._object(each, part, colours)
        return [
            (
                (item.get(f"{PRODUCTION}path") or part).lstrip("/"),
                item.get("objectid", ""),
                self._matrix(item),
            )
            for item in model.iter(f"{CORE}item")
        ]

    def _object(self, element: ET.Element, part: str, colours: dict[tuple[str, int], Colour]) -> _Object:
        mesh = element.find(f"{CORE}mesh")
        points, triangles = np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
        if mesh is not None:
            points = np.array(
                [[float(each.get(axis, "nan")) for axis in "xyz"] for each in mesh.iter(f"{CORE}vertex")]
            ).reshape(-1, 3)
            triangles = np.array(
                [
                    [int(each.get(v, "-1")) for v in ("v1", "v2", "v3")]
                    for each in mesh.iter(f"{CORE}triangle")
                ],
                dtype=np.int64,
            ).reshape(-1, 3)
        components = tuple(
            (
                (each.get(f"{PRODUCTION}path") or part).lstrip("/"),
                each.get("objectid", ""),
                self._matrix(each),
            )
            for each in element.iter(f"{CORE}component")
        )
        key = (element.get("pid", ""), int(element.get("pindex", "0")))
        return _Object(element.get("name", ""), points * self.scale, triangles, components, colours.get(key))

    def _matrix(self, element: ET.Element) -> Array:
        """Array (3, 4) that takes points to where the item or component stands, millimetres."""
        words = (element.get("transform") or "1 0 0 0 1 0 0 0 1 0 0 0").split()
        rows = np.array([float(word) for word in words]).reshape(4, 3)  # points are rows there
        return np.column_stack([rows[:3].T, rows[3] * self.scale])

    def _place(
        self, part: str, number: str, matrix: Array, path: tuple[str, ...], above: tuple[tuple[str, str], ...]
    ) -> None:
        key = (part, number)
        found = self.objects.get(key)
        if found is None:
            raise self._trouble(f"a reference to object {number}, which is not there", "objects of the file")
        name = found.name or f"{self.path.stem} {number}"
        if key in above or len(above) > DEEPEST_NESTING:
            self.problems.append(
                Problem(code="refers-to-itself", names=(name,),
                        says=f"'{name}' contains itself; the inner one was left out.")
            )  # fmt: skip
            return
        for inner_part, inner, move in found.components:
            self._place(inner_part, inner, _after(matrix, move), (*path, name), (*above, key))
        if len(found.triangles):
            self._body(key, found, name, matrix, path)

    def _body(
        self, key: tuple[str, str], found: _Object, name: str, matrix: Array, path: tuple[str, ...]
    ) -> None:
        if len(self.bodies) >= MOST_BODIES:
            raise self._trouble(f"more than {MOST_BODIES} bodies", f"at most {MOST_BODIES}")
        turn = matrix[:, :3]
        rigid = float(np.abs(turn.T @ turn - np.eye(3)).max()) < RIGID and float(np.linalg.det(turn)) > 0
        baked = b"" if rigid else np.round(turn, 9).tobytes()
        if (*key, baked) not in self.numbers:
            shape = self._shape(found, name, np.eye(3) if rigid else turn)
            if shape is None:
                return
            self.numbers[*key, baked] = len(self.shapes)
            self.shapes.append(shape)
        placement = Placement(turn if rigid else np.eye(3), matrix[:, 3])
        self.bodies.append(
            Body(
                name=name,
                path=path,
                shape=self.numbers[*key, baked],
                placement=placement,
                colour=found.colour,
            )
        )

    def _shape(self, found: _Object, name: str, turn: Array) -> Shape | None:
        triangles = found.triangles
        count = len(found.points)
        if int(triangles.min()) < 0 or int(triangles.max()) >= count or not np.isfinite(found.points).all():
            raise self._trouble(
                f"triangles of '{name}' with a corner that is not there", "three corners each"
            )
        points = found.points @ turn.T
        if np.linalg.det(turn) < 0:
            triangles = triangles[:, ::-1]
        shape = mesh_shape(len(self.shapes), name, points, np.ascontiguousarray(triangles), "3mf")
        code, says = "", ""
        if not shape.closed:
            code, says = "open-shell", f"The skin of '{name}' has gaps; it was left out."
        elif shape.volume_mm3 < 1e-6:
            code, says = "no-thickness", f"'{name}' encloses no volume, or is inside out; it was left out."
        if code:
            self.problems.append(
                Problem(code=code, says=says, remedy="Repair the mesh, then export again.", names=(name,))
            )
            return None
        return shape


def _after(outer: Array, inner: Array) -> Array:
    return np.column_stack([outer[:, :3] @ inner[:, :3], outer[:, :3] @ inner[:, 3] + outer[:, 3]])


def _base_colours(model: ET.Element) -> dict[tuple[str, int], Colour]:
    found: dict[tuple[str, int], Colour] = {}
    for group in model.iter(f"{CORE}basematerials"):
        for number, base in enumerate(group.iter(f"{CORE}base")):
            text = base.get("displaycolor", "").lstrip("#")[:6]
            if len(text) == 6:
                red, green, blue = (int(text[at : at + 2], 16) / 255 for at in (0, 2, 4))
                found[group.get("id", ""), number] = (red, green, blue)
    return found

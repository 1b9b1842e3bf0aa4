"""A second writer of STEP, by text alone, with habits unlike the CAD kernel's.

It writes prisms: an outline of straight lines with round holes, drawn out along z. Rounds are two halves, as
many programs cut them; directions carry few digits; lengths are metres; copies are mapped items in one part.
Source: ISO 10303-21:2016 (the file) and ISO 10303-42 (geometry and topology), entity by entity, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from trysquare.ground.placement import Array, Placement

Corner = tuple[float, float]
HEADER = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('plain','2000-01-01T00:00:00',(''),(''),'plain text','plain text','');
FILE_SCHEMA(('CONFIG_CONTROL_DESIGN'));
ENDSEC;
DATA;
"""
METRE = 0.001  # a millimetre in metres


@dataclass
class Text:
    """The lines of the data section, each entity with its number."""

    lines: list[str] = field(default_factory=list)

    def add(self, entity: str) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={entity};")
        return f"#{len(self.lines)}"

    def point(self, at_mm: Array) -> str:
        return self.add(f"CARTESIAN_POINT('',({','.join(f'{each * METRE:.12E}' for each in at_mm)}))")

    def direction(self, way: Array) -> str:
        return self.add(f"DIRECTION('',({','.join(f'{each:.7E}' for each in way)}))")

    def axes(self, at_mm: Array, z: Array, x: Array) -> str:
        given = f"{self.point(at_mm)},{self.direction(z)},{self.direction(x)}"
        return self.add(f"AXIS2_PLACEMENT_3D('',{given})")

    def vertex(self, at_mm: Array) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(at_mm)})")

    def line(self, a: Array, b: Array, first: str, last: str) -> str:
        way = (b - a) / np.linalg.norm(b - a)
        vector = self.add(f"VECTOR('',{self.direction(way)},1.)")
        return self.add(
            f"EDGE_CURVE('',{first},{last},{self.add(f'LINE({chr(39) * 2},{self.point(a)},{vector})')},.T.)"
        )

    def loop(self, edges: Sequence[tuple[str, bool]]) -> str:
        turned = [
            self.add(f"ORIENTED_EDGE('',*,*,{edge},{'.T.' if same else '.F.'})") for edge, same in edges
        ]
        return self.add(f"EDGE_LOOP('',({','.join(turned)}))")

    def face(self, outer: str, inner: Sequence[str], surface: str, *, same: bool) -> str:
        bounds = [self.add(f"FACE_OUTER_BOUND('',{outer},.T.)")]
        bounds += [self.add(f"FACE_BOUND('',{loop},.T.)") for loop in inner]
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},{'.T.' if same else '.F.'})")


X, Y, Z = np.eye(3)


def prism(
    text: Text, outline: Sequence[Corner], holes: Sequence[tuple[float, float, float]], high_mm: float
) -> str:
    """A MANIFOLD_SOLID_BREP from z = 0 to `high_mm`. Outline anticlockwise; holes as (x, y, diameter)."""
    faces: list[str] = []
    low = [np.array([x, y, 0.0]) for x, y in outline]
    high = [each + Z * high_mm for each in low]
    low_points, high_points = [text.vertex(each) for each in low], [text.vertex(each) for each in high]
    count = len(low)
    after = [(number + 1) % count for number in range(count)]
    below = [text.line(low[n], low[m], low_points[n], low_points[m]) for n, m in enumerate(after)]
    above = [text.line(high[n], high[m], high_points[n], high_points[m]) for n, m in enumerate(after)]
    up = [text.line(low[n], high[n], low_points[n], high_points[n]) for n in range(count)]
    for n, m in enumerate(after):
        along = (low[m] - low[n]) / np.linalg.norm(low[m] - low[n])
        plane = text.add(f"PLANE('',{text.axes(low[n], np.cross(along, Z), along)})")
        loop = text.loop([(below[n], True), (up[m], True), (above[n], False), (up[n], False)])
        faces.append(text.face(loop, [], plane, same=True))
    low_rings, high_rings = [], []
    for x, y, diameter in holes:
        low_ring, high_ring, halves = _hole(text, np.array([x, y, 0.0]), diameter / 2, high_mm)
        low_rings.append(low_ring)
        high_rings.append(high_ring)
        faces += halves
    bottom = text.add(f"PLANE('',{text.axes(low[0], -Z, X)})")
    top = text.add(f"PLANE('',{text.axes(high[0], Z, X)})")
    faces.append(
        text.face(text.loop([(edge, False) for edge in reversed(below)]), low_rings, bottom, same=True)
    )
    faces.append(text.face(text.loop([(edge, True) for edge in above]), high_rings, top, same=True))
    shell = text.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    return text.add(f"MANIFOLD_SOLID_BREP('',{shell})")


def _hole(text: Text, centre: Array, radius: float, high_mm: float) -> tuple[str, str, list[str]]:
    """The ring of a hole in the bottom face, that in the top face, and its two half cylinders."""
    right, left = centre + X * radius, centre - X * radius
    points = [[text.vertex(each + Z * z) for each in (right, left)] for z in (0.0, high_mm)]
    arcs = []
    for level, z in enumerate((0.0, high_mm)):
        circle = text.add(f"CIRCLE('',{text.axes(centre + Z * z, Z, X)},{radius * METRE:.12E})")
        first, last = points[level]
        arcs.append(
            [
                text.add(f"EDGE_CURVE('',{first},{last},{circle},.T.)"),
                text.add(f"EDGE_CURVE('',{last},{first},{circle},.T.)"),
            ]
        )
    walls = [
        text.line(each, each + Z * high_mm, points[0][n], points[1][n])
        for n, each in enumerate((right, left))
    ]
    cylinder = text.add(f"CYLINDRICAL_SURFACE('',{text.axes(centre, Z, X)},{radius * METRE:.12E})")
    halves = []
    for n, m in ((0, 1), (1, 0)):
        loop = text.loop([(walls[n], True), (arcs[1][n], True), (walls[m], False), (arcs[0][n], False)])
        halves.append(text.face(loop, [], cylinder, same=False))
    low_ring = text.loop([(arcs[0][0], True), (arcs[0][1], True)])
    high_ring = text.loop([(arcs[1][1], False), (arcs[1][0], False)])
    return low_ring, high_ring, halves


def step_text(
    solids: Sequence[tuple[Sequence[Corner], Sequence[tuple[float, float, float]], float, Placement]],
) -> str:
    """A whole file of prisms."""
    text = Text()
    return file_text(
        text, [(prism(text, outline, holes, high_mm), place) for outline, holes, high_mm, place in solids]
    )


def file_text(text: Text, placed: Sequence[tuple[str, Placement]]) -> str:
    """A whole file: each solid as a representation of its own, placed by mapped items."""
    application = text.add("APPLICATION_CONTEXT('design')")
    length = text.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))")
    angle = text.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid_angle = text.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    near = text.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-8),{length},'','')")
    context = text.add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({near}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle}))REPRESENTATION_CONTEXT('',''))"
    )
    items = []
    maps: dict[str, str] = {}
    for solid, placement in placed:
        if solid not in maps:
            origin = text.axes(np.zeros(3), Z, X)
            part = text.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({solid},{origin}),{context})")
            maps[solid] = text.add(f"REPRESENTATION_MAP({origin},{part})")
        target = text.axes(placement.origin_mm, placement.turn[:, 2], placement.turn[:, 0])
        items.append(text.add(f"MAPPED_ITEM('',{maps[solid]},{target})"))
    whole = text.add(
        f"SHAPE_REPRESENTATION('',({','.join([*items, text.axes(np.zeros(3), Z, X)])}),{context})"
    )
    product_context = text.add(f"MECHANICAL_CONTEXT('',{application},'mechanical')")
    product = text.add(f"PRODUCT('x','x','',({product_context}))")
    source = f"PRODUCT_DEFINITION_FORMATION_WITH_SPECIFIED_SOURCE('','',{product},.MADE.)"
    formation = text.add(source)
    definition_context = text.add(f"DESIGN_CONTEXT('',{application},'design')")
    definition = text.add(f"PRODUCT_DEFINITION('','',{formation},{definition_context})")
    shape = text.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    text.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{whole})")
    return HEADER + "\n".join(text.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"

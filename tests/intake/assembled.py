"""Parts that other kernels wrote as STEP, put together into one assembly by text alone.

Each part's entities keep their text, only their numbers move on; every use of a part is a NEXT_ASSEMBLY_USAGE
with a transformation between two axes, as CAD programs write it. No name says anything.
Source: ISO 10303-44 (product structure) and ISO 10303-21, entity by entity, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trysquare.ground.placement import Placement

INCH_MM = 25.4
HEADER = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('x','2000-01-01T00:00:00',(''),(''),'assembled','assembled','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""
_NUMBER = re.compile(r"#(\d+)")
_STRING = re.compile(r"('(?:[^']|'')*')")


@dataclass(frozen=True)
class _Part:
    """A part's entities in the whole file: its definition, its representation, that one's context."""

    definition: str
    representation: str
    context: str


class Assembled:
    """A growing file. `unit_mm`: the length unit of all parts and of the assembly."""

    def __init__(self, unit_mm: float = 1.0) -> None:
        self._lines: list[str] = []
        self._last = 0
        self._unit_mm = unit_mm

    def add(self, entity: str) -> str:
        self._last += 1
        self._lines.append(f"#{self._last}={entity};")
        return f"#{self._last}"

    def part(self, text: str) -> _Part:
        """Takes in all of a part's entities."""
        data = text.partition("DATA;")[2].rpartition("ENDSEC;")[0]
        shift = self._last

        def moved(piece: str) -> str:
            return piece if piece.startswith("'") else _NUMBER.sub(lambda m: f"#{int(m[1]) + shift}", piece)

        data = "".join(moved(piece) for piece in _STRING.split(data))
        numbers = [int(one) for one in re.findall(r"^\s*#(\d+)\s*=", data, re.MULTILINE)]
        self._last = max(numbers)
        self._lines.append(data.strip())
        shape, representation = self._one(data, r"SHAPE_DEFINITION_REPRESENTATION\((#\d+),(#\d+)\)")
        (definition,) = self._one(data, rf"{shape}\s*=\s*PRODUCT_DEFINITION_SHAPE\('[^']*','[^']*',(#\d+)\)")
        (context,) = self._one(data, rf"{representation}\s*=\s*\w+\('[^']*',\([^)]*\),(#\d+)\)")
        return _Part(definition, representation, context)

    @staticmethod
    def _one(data: str, pattern: str) -> tuple[str, ...]:
        found = re.search(pattern, data)
        assert found is not None, pattern
        return found.groups()

    def axes(self, placement: Placement) -> str:
        def text(kind: str, values: Iterable[float]) -> str:
            return self.add(f"{kind}('',({','.join(f'{value:.12E}' for value in values)}))")

        at = text("CARTESIAN_POINT", placement.origin_mm / self._unit_mm)
        z, x = (text("DIRECTION", placement.turn[:, column]) for column in (2, 0))
        return self.add(f"AXIS2_PLACEMENT_3D('',{at},{z},{x})")

    def whole(self, uses: Sequence[tuple[_Part, Placement]]) -> str:
        """The file's text."""
        application = self.add("APPLICATION_CONTEXT('design')")
        product_context = self.add(f"PRODUCT_CONTEXT('',{application},'mechanical')")
        product = self.add(f"PRODUCT('x','','',({product_context}))")
        formation = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        of_design = self.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
        definition = self.add(f"PRODUCT_DEFINITION('','',{formation},{of_design})")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        origin = self.axes(Placement())
        targets = [self.axes(placement) for _part, placement in uses]
        context = uses[0][0].context
        whole = self.add(f"SHAPE_REPRESENTATION('',({','.join([origin, *targets])}),{context})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{whole})")
        for number, ((part, _placement), target) in enumerate(zip(uses, targets, strict=True)):
            use = self.add(
                f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}','','',{definition},{part.definition},$)"
            )
            use_shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{use})")
            move = self.add(f"ITEM_DEFINED_TRANSFORMATION('','',{origin},{target})")
            relation = self.add(
                f"(REPRESENTATION_RELATIONSHIP('','',{part.representation},{whole})"
                f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({move})SHAPE_REPRESENTATION_RELATIONSHIP())"
            )
            self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({relation},{use_shape})")
        return HEADER + "\n".join(self._lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"

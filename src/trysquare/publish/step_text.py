"""The last hand on a STEP file's text: names as they are, colours, and the same bytes for the same machine.

The CAD kernel orders colours by where its memory happens to lie and counts placements over all files of one
process. So it writes neither: names stand in its file as marks, and here marks become names, placements are
counted anew, and the colours are appended in the order of the parts.

Source: ISO 10303-21:2016, 6.4.3 and annex on strings (how other letters are written), from memory.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence

Colour = tuple[float, float, float]

_MARK = re.compile(rb"~(\d+)~")
_USE = re.compile(rb"(#\d+ = NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d+'(.*?;)\n", re.DOTALL)
_STATEMENT = re.compile(
    rb"#(\d+) = (PRODUCT|PRODUCT_DEFINITION_FORMATION|PRODUCT_DEFINITION|PRODUCT_DEFINITION_SHAPE|"
    rb"SHAPE_DEFINITION_REPRESENTATION|ADVANCED_BREP_SHAPE_REPRESENTATION|"
    rb"MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS)\((.*?)\);\n",
    re.DOTALL,
)
_BODIES = (b"MANIFOLD_SOLID_BREP", b"BREP_WITH_VOIDS")


def mark(number: int) -> str:
    """What stands for a name until `settled` puts it in."""
    return f"~{number}~"


def settled(content: bytes, names: Sequence[str], colours: Mapping[int, Colour]) -> bytes:
    """The kernel's file with its names and colours. `names`: by their marks' numbers; `colours`: by the
    number of a product's mark."""
    numbers = itertools.count(1)

    def counted(found: re.Match[bytes]) -> bytes:
        rest = re.sub(rb"\n *", b"", found[2])  # names of what is placed hold neither
        return b"%s'%d'%s\n" % (found[1], next(numbers), rest)

    content = _USE.sub(counted, content)
    end = content.rindex(b"ENDSEC;")
    content = content[:end] + _styles(content, colours) + content[end:]
    return _MARK.sub(lambda found: quoted(names[int(found[1])]), content)


def quoted(name: str) -> bytes:
    """A text as it stands between quotes in the file: letters beyond ASCII by their numbers."""
    out: list[str] = []
    for wide, run in itertools.groupby(name, key=_width):
        if wide == 0:
            out.append("".join(run).replace("\\", "\\\\").replace("'", "''"))
        else:
            sort = "X2" if wide == 4 else "X4"
            out.append(f"\\{sort}\\{''.join(f'{ord(one):0{wide}X}' for one in run)}\\X0\\")
    return "".join(out).encode("ascii")


def _width(letter: str) -> int:
    """Digits that a letter takes when it is written by its number; 0 when it stands for itself."""
    if " " <= letter <= "~":
        return 0
    return 4 if ord(letter) < 0x10000 else 8


def _styles(content: bytes, colours: Mapping[int, Colour]) -> bytes:
    """The statements that give each product's bodies their colour."""
    by_sort: dict[bytes, dict[int, bytes]] = {}
    last = 0
    for found in _STATEMENT.finditer(content):
        by_sort.setdefault(found[2], {})[int(found[1])] = found[3]
    for found in re.finditer(rb"^#(\d+) = ", content, re.MULTILINE):
        last = max(last, int(found[1]))
    numbers = itertools.count(last + 1)
    bodies = {number for sort in _BODIES for number in by_sort.get(sort, ())}
    lines: list[bytes] = []
    for product, shape in _shapes_of_products(by_sort):
        colour = colours.get(product)
        items, _, context = shape.rpartition(b"),#")
        styled = [number for number in _references(items) if number in bodies]
        if colour is not None and styled:
            lines += _style(numbers, styled, int(context), colour)
    return b"".join(lines)


def _shapes_of_products(by_sort: Mapping[bytes, Mapping[int, bytes]]) -> Iterator[tuple[int, bytes]]:
    """Each product's mark with what its shape holds, in the order of the file."""
    product_of: dict[int, int] = {}
    for number, says in by_sort.get(b"PRODUCT", {}).items():
        found = _MARK.search(says)
        if found:
            product_of[number] = int(found[1])
    chain = (b"PRODUCT_DEFINITION_FORMATION", b"PRODUCT_DEFINITION", b"PRODUCT_DEFINITION_SHAPE")
    for sort in chain:
        for number, says in by_sort.get(sort, {}).items():
            above = next((one for one in _references(says) if one in product_of), None)
            if above is not None:
                product_of[number] = product_of[above]
    shapes = by_sort.get(b"ADVANCED_BREP_SHAPE_REPRESENTATION", {})
    for says in by_sort.get(b"SHAPE_DEFINITION_REPRESENTATION", {}).values():
        of, shape = _references(says)
        if of in product_of and shape in shapes:
            yield product_of[of], shapes[shape]


def _references(says: bytes) -> list[int]:
    return [int(one) for one in re.findall(rb"#(\d+)", says)]


def _style(numbers: Iterator[int], bodies: Sequence[int], context: int, colour: Colour) -> Iterator[bytes]:
    """One colour for some bodies. Source: ISO 10303-46, as AP 214 uses it, from memory."""
    rgb, fill, area, face, side, use, style = (next(numbers) for _ in range(7))
    yield b"#%d = COLOUR_RGB('',%s);\n" % (rgb, ",".join(f"{part:.6g}" for part in colour).encode())
    yield b"#%d = FILL_AREA_STYLE_COLOUR('',#%d);\n" % (fill, rgb)
    yield b"#%d = FILL_AREA_STYLE('',(#%d));\n" % (area, fill)
    yield b"#%d = SURFACE_STYLE_FILL_AREA(#%d);\n" % (face, area)
    yield b"#%d = SURFACE_SIDE_STYLE('',(#%d));\n" % (side, face)
    yield b"#%d = SURFACE_STYLE_USAGE(.BOTH.,#%d);\n" % (use, side)
    yield b"#%d = PRESENTATION_STYLE_ASSIGNMENT((#%d));\n" % (style, use)
    items = [next(numbers) for _ in bodies]
    for item, body in zip(items, bodies, strict=True):
        yield b"#%d = STYLED_ITEM('color',(#%d),#%d);\n" % (item, style, body)
    listed = b",".join(b"#%d" % item for item in items)
    yield b"#%d = MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',(%s),#%d);\n" % (
        next(numbers), listed, context,
    )  # fmt: skip

"""The machine as a STEP file, read back by the CAD kernel and by a reader that is not of it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish.given_tree import given_tree
from trysquare.publish.step_file import step_bytes
from trysquare.publish.step_text import quoted
from trysquare.solid.shapes import solid_of

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("frame")), [])


@pytest.fixture(scope="module")
def content(machine: Machine) -> bytes:
    return step_bytes(given_tree(machine), machine.folder)


def test_the_same_machine_gives_the_same_bytes(machine: Machine, content: bytes) -> None:
    assert step_bytes(given_tree(machine), machine.folder) == content


def test_the_head_bears_no_time_no_person_and_no_path(machine: Machine, content: bytes) -> None:
    head = content[: content.index(b"DATA;")]
    assert b"1980-01-01T00:00:00" in head
    assert b"AUTOMOTIVE_DESIGN" in head
    assert machine.folder.encode() not in content
    assert b"~" not in content


def test_the_newer_edition_says_so(machine: Machine) -> None:
    assert b"AP242" in step_bytes(given_tree(machine), machine.folder, "AP242").split(b"DATA;")[0]


@pytest.mark.slow
def test_an_outside_reader_finds_each_sort_once_and_every_piece(
    machine: Machine, content: bytes, tmp_path: Path
) -> None:
    # Source: steputils, a reader of ISO 10303-21 that shares nothing with the kernel that wrote the file.
    from steputils import p21

    file = p21.loads(content.decode("ascii"))
    rows = file.data[0].instances.values()
    entities = [one.entity for one in rows if hasattr(one, "entity")]
    count = Counter(entity.name for entity in entities)
    whole = given_tree(machine)
    pieces = list(whole.all_pieces())
    products = {entity.params[0] for entity in entities if entity.name == "PRODUCT"}
    assert {piece.type.id for piece in pieces} <= products
    assert count["PRODUCT"] == len(products)
    placed = [entity.params[1] for entity in entities if entity.name == "NEXT_ASSEMBLY_USAGE_OCCURRENCE"]
    assert {piece.id for piece in pieces} <= set(placed)
    assert len(placed) == len(set(placed)) == len(pieces) + len(whole.units)
    assert count["STYLED_ITEM"] == count["MANIFOLD_SOLID_BREP"] == len({piece.type.id for piece in pieces})


@pytest.mark.slow
def test_the_kernel_reads_back_names_places_colours_and_volumes(
    machine: Machine, content: bytes, tmp_path: Path
) -> None:
    file = tmp_path / "frame.step"
    file.write_bytes(content)
    found = {name: (part, at, volume, painted) for name, part, at, volume, painted in read_back(file)}
    pieces = list(given_tree(machine).all_pieces())
    assert set(found) == {piece.id for piece in pieces}
    for piece in pieces:
        part, at, volume, painted = found[piece.id]
        assert part == piece.type.id
        assert at == pytest.approx(piece.placement.origin_mm.tolist(), abs=1e-6)
        # Flats for rounds hold up to some hundredths less than the round itself.
        assert volume == pytest.approx(solid_of(piece.type, machine.folder).volume_mm3, rel=0.04)
        assert painted


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("plain", b"plain"),
        ("it's a \\", b"it''s a \\\\"),
        ("Führung", b"F\\X2\\00FC\\X0\\hrung"),
        ("木🌲", b"\\X2\\6728\\X0\\\\X4\\0001F332\\X0\\"),
        ("a\nb", b"a\\X2\\000A\\X0\\b"),
        ("~0~", b"~0~"),
    ],
)
def test_a_name_is_written_as_the_standard_wants_it(name: str, written: bytes) -> None:
    # Source: ISO 10303-21, annex on control directives in strings, from memory.
    assert quoted(name) == written


@pytest.mark.slow
def test_odd_names_come_back_as_they_were(tmp_path: Path) -> None:
    folder = write_frame(tmp_path / "frame")
    text = (folder / "machine.toml").read_text("utf-8")
    odd = "Erle's ~1~ Führung; #7 = 木"
    (folder / "machine.toml").write_text(re.sub(r'name = ".*"', f'name = "{odd}"', text, count=1), "utf-8")
    machine = load_machine(folder, [])
    file = tmp_path / "odd.step"
    file.write_bytes(step_bytes(given_tree(machine), machine.folder))
    assert top_name(file) == odd


def opened(file: Path) -> tuple[Any, Any, Any]:
    from OCP.Message import Message, Message_PrinterOStream
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())
    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.ReadFile(str(file))
    assert reader.Transfer(document)
    main = document.Main()
    return document, XCAFDoc_DocumentTool.ShapeTool_s(main), XCAFDoc_DocumentTool.ColorTool_s(main)


def name_of(label: Any) -> str:
    from OCP.TDataStd import TDataStd_Name

    name = TDataStd_Name()
    return name.Get().ToExtString() if label.FindAttribute(TDataStd_Name.GetID_s(), name) else ""


def root_of(shapes: Any) -> Any:
    from OCP.collections import Sequence_TDF_Label

    free = Sequence_TDF_Label()
    shapes.GetFreeShapes(free)
    assert free.Length() == 1
    return free.Value(1)


def top_name(file: Path) -> str:
    document, shapes, _ = opened(file)
    assert document is not None
    return name_of(root_of(shapes))


def read_back(file: Path) -> Iterator[tuple[str, str, list[float], float, bool]]:
    """Each placed piece: its name, its part's name, where it stands, its volume, whether it has a colour."""
    from OCP.collections import Sequence_TDF_Label
    from OCP.Quantity import Quantity_Color
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ColorType

    from trysquare.solid.brep_bodies import volume_mm3

    _document, shapes, colours = opened(file)

    def walk(label: Any) -> Iterator[tuple[str, str, list[float], float, bool]]:
        inside = Sequence_TDF_Label()
        shapes.GetComponents_s(label, inside)
        for number in range(1, inside.Length() + 1):
            one, what = inside.Value(number), TDF_Label()
            shapes.GetReferredShape_s(one, what)
            if shapes.IsAssembly_s(what):
                yield from walk(what)
                continue
            move = shapes.GetLocation_s(one).Transformation().TranslationPart()
            shape = shapes.GetShape_s(what)
            painted = any(
                colours.GetColor(shape, sort, Quantity_Color())
                for sort in (XCAFDoc_ColorType.XCAFDoc_ColorGen, XCAFDoc_ColorType.XCAFDoc_ColorSurf)
            )
            yield name_of(one), name_of(what), [move.X(), move.Y(), move.Z()], volume_mm3(shape), painted

    yield from walk(root_of(shapes))

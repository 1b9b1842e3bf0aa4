"""The machine as a STEP file: each part type once, placed as often as it is there, units one in the other."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trysquare import __version__
from trysquare.ground.placement import Placement
from trysquare.machine.values import PartType
from trysquare.publish.given_tree import Colour, GivenUnit, colour_of
from trysquare.publish.step_text import mark, settled
from trysquare.solid.brep import Exact, exact_of
from trysquare.solid.brep_bodies import location
from trysquare.solid.shapes import content_of

if TYPE_CHECKING:
    from OCP.TDF import TDF_Label

NO_TIME = "1980-01-01T00:00:00"  # the clock must not change the bytes
SCHEMAS = {"AP214": "AP214IS", "AP242": "AP242DIS"}


def flat_faced(whole: GivenUnit, folder: str | Path) -> list[str]:
    """Ids of the part types that are flat where the part itself is round, in order."""
    types = {piece.type.id: piece.type for piece in whole.all_pieces()}
    return [name for name, part_type in types.items() if exact_of(part_type, folder).faceted]


def step_bytes(whole: GivenUnit, folder: str | Path, schema: str = "AP214") -> bytes:
    """The STEP file in millimetres. Types with the same content and name are one product.

    `folder`: that of the machine, for shape files. Source: ISO 10303-21:2016 for the header, from memory.
    """
    from OCP.Interface import Interface_Static
    from OCP.Message import Message, Message_PrinterOStream
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_Controller

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())
    STEPControl_Controller.Init_s()
    Interface_Static.SetCVal_s("write.step.schema", SCHEMAS[schema])
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    document = _Document(folder)
    document.add_root(whole)
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(False)
    writer.SetNameMode(True)
    writer.Transfer(document.document)
    _head(writer.ChangeWriter().Model(), mark(0))
    stream = io.BytesIO()
    writer.WriteStream(stream)
    return settled(stream.getvalue(), document.names, document.colours)


def _head(model: Any, title: str) -> None:
    """Says what the file is; no time, no person, no path."""
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.TCollection import TCollection_HAsciiString

    head = APIHeaderSection_MakeHeader(model)

    def text(says: str) -> Any:
        return TCollection_HAsciiString(says)

    head.SetName(text(title))
    head.SetTimeStamp(text(NO_TIME))
    head.SetAuthorValue(1, text(""))
    head.SetOrganizationValue(1, text(""))
    head.SetOriginatingSystem(text(f"Trysquare {__version__}"))
    head.SetAuthorisation(text(""))
    head.SetDescriptionValue(1, text(f"{title}, as given out by Trysquare"))


class _Document:
    """The kernel's document: products by part type, and what is placed of them."""

    def __init__(self, folder: str | Path) -> None:
        from OCP.TCollection import TCollection_ExtendedString
        from OCP.TDocStd import TDocStd_Document
        from OCP.XCAFDoc import XCAFDoc_DocumentTool

        self.document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
        main = self.document.Main()
        self._shapes = XCAFDoc_DocumentTool.ShapeTool_s(main)
        self.names: list[str] = []
        self.colours: dict[int, Colour] = {}
        self._products: dict[tuple[object, ...], TDF_Label] = {}
        self._folder = folder

    def add_root(self, whole: GivenUnit) -> None:
        self._unit(whole)
        self._shapes.UpdateAssemblies()

    def _unit(self, unit: GivenUnit) -> TDF_Label:
        label = self._shapes.NewShape()
        self._name(label, unit.title)
        for piece in unit.pieces:
            self._place(label, self._product(piece.type), piece.placement, piece.id)
        for inner in unit.units:
            self._place(label, self._unit(inner), Placement(), inner.id)
        return label

    def _place(self, into: TDF_Label, what: TDF_Label, placement: Placement, name: str) -> None:
        _named(self._shapes.AddComponent(into, what, location(placement)), name)

    def _product(self, part_type: PartType) -> TDF_Label:
        key = (part_type.id, content_of(part_type, self._folder))
        if key not in self._products:
            exact: Exact = exact_of(part_type, self._folder)
            label = self._shapes.AddShape(exact.shape, False)  # the kernel's own
            self.colours[self._name(label, part_type.id)] = colour_of(part_type)
            self._products[key] = label
        return self._products[key]

    def _name(self, label: TDF_Label, name: str) -> int:
        """Marks a product; the name itself is put in when the file is written."""
        self.names.append(name)
        _named(label, mark(len(self.names) - 1))
        return len(self.names) - 1


def _named(label: TDF_Label, name: str) -> None:
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name

    TDataStd_Name.Set_s(label, TCollection_ExtendedString(name, True))

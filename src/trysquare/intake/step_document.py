"""Opening a STEP file by the CAD kernel: names in the right encoding, lengths in millimetres."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from trysquare.intake.bodies import Problem
from trysquare.intake.limits import CHUNK_BYTES, trouble
from trysquare.intake.step_scan import line_of_circle

_AGAIN = "Export it again as STEP AP214 or AP242, or open and save it with another CAD program."
_UNITS = {"millimetre": "mm", "mm": "mm", "milli metre": "mm", "inch": "inch", "metre": "metre", "m": "metre",
          "centimetre": "centimetre", "cm": "centimetre", "foot": "foot"}  # fmt: skip


def opened(path: Path, keep: list[object] | None = None) -> tuple[Any, str, list[Problem]]:
    """The kernel's document of a STEP file, its length unit, and what was noticed. A ReadingError when it is
    none. `keep` is given what the kernel read: taking it apart takes a while."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Message import Message
    from OCP.Standard import Standard_Failure
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document

    Message.DefaultMessenger_s().ChangePrinters().Clear()  # it would print to our output
    problems: list[Problem] = []
    encoding = encoding_of(path)
    reader = STEPCAFControl_Reader()
    _prepare(reader, encoding)
    if encoding == "other":
        problems.append(
            Problem(code="names-unreadable", says="Names are in an old encoding; some letters may be wrong.",
                    remedy="Export as STEP AP242, which writes UTF-8, if names matter.")
        )  # fmt: skip
    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    if keep is not None:
        keep += [reader, document]
    try:
        status = reader.ReadFile(str(path))
        if status != IFSelect_RetDone:
            raise trouble(path.name, "text that is no valid STEP", "a STEP file", _AGAIN)
        unit = _unit(reader.ChangeReader())
        done = reader.Transfer(document)
    except (Standard_Failure, RuntimeError, ValueError) as error:  # the kernel's own failures
        raise trouble(path.name, f"what the CAD kernel calls {error}", "a STEP file", _AGAIN) from error
    if not done:
        circle = line_of_circle(path)
        if circle is not None:
            raise trouble(
                path.name, f"an assembly that contains itself, at line {circle}", "assemblies of other parts",
                "Break the circle in the CAD program, then export again.",
            )  # fmt: skip
        raise trouble(path.name, "no shape that the CAD kernel can build", "at least one solid", _AGAIN)
    return document, unit, problems


def encoding_of(path: Path) -> str:
    """How the bytes of a file read: as ascii, utf-8 or other."""
    import codecs

    decoder = codecs.getincrementaldecoder("utf-8")()
    plain = True
    with path.open("rb") as file:
        while piece := file.read(CHUNK_BYTES):
            if plain and piece.isascii():
                continue
            plain = False
            try:
                decoder.decode(piece)
            except UnicodeDecodeError:
                return "other"
    return "ascii" if plain else "utf-8"


def _prepare(reader: Any, encoding: str) -> None:
    from OCP.Interface import Interface_Static

    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.SetLayerMode(False)
    reader.SetPropsMode(False)
    reader.SetGDTMode(False)
    reader.SetMatMode(False)
    reader.SetViewMode(False)
    reader.SetMetaMode(False)
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    codepage = "iso8859-1" if encoding == "other" else "UTF8"
    Interface_Static.SetCVal_s("read.step.codepage", codepage)


def _unit(reader: Any) -> str:
    from OCP.collections import Sequence_TCollection_AsciiString as Names

    lengths, angles, solid_angles = Names(), Names(), Names()
    reader.FileUnits(lengths, angles, solid_angles)
    for length in lengths:
        text = str(length.ToCString()).strip().lower()
        return _UNITS.get(text, text)
    return ""

"""Our PDFs as outsiders read them: qpdf for what they hold, PDFium for what a viewer shows."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pikepdf
import pypdfium2
from numpy.typing import NDArray

POINT_MM = 25.4 / 72
DOTS_PER_INCH = 300
DOT_MM = 25.4 / DOTS_PER_INCH


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The box of one painted path on its page, x to the right and y up, as its numbers in the PDF say."""

    page: int
    left_mm: float
    right_mm: float
    bottom_mm: float
    top_mm: float
    filled: bool

    @property
    def width_mm(self) -> float:
        return self.right_mm - self.left_mm

    @property
    def height_mm(self) -> float:
        return self.top_mm - self.bottom_mm


def opened(pdf: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    """All text, page after page, with line ends as spaces."""
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return " ".join(" ".join(texts).split())


def pixels_of(pdf: bytes, page: int = 0, dots_per_inch: float = DOTS_PER_INCH) -> NDArray[np.uint8]:
    """A page as a viewer shows it: array (rows, columns), 0 black to 255 white."""
    document = pypdfium2.PdfDocument(pdf)
    shown = document[page].render(scale=dots_per_inch / 72, grayscale=True).to_numpy()
    picture = np.array(shown).reshape(shown.shape[0], shown.shape[1])
    document.close()
    return picture


def fonts_of(pdf: bytes) -> dict[str, bool]:
    """Every font by name, and whether its glyphs are in the file."""
    found = {}
    document = opened(pdf)  # held: its objects go when it goes
    for one in document.objects:
        if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == pikepdf.Name.FontDescriptor:
            found[str(one.FontName)] = any(key in one for key in ("/FontFile", "/FontFile2", "/FontFile3"))
    return found


def paths_of(pdf: bytes) -> list[Drawn]:
    """Every painted path of every page. Our pages have no nested forms, which a test would not see."""
    document = opened(pdf)
    return [drawn for number, page in enumerate(document.pages) for drawn in _paths(page, number)]


def _paths(page: pikepdf.Page, number: int) -> Iterator[Drawn]:
    matrix, kept = np.eye(3), []
    points: list[NDArray[np.float64]] = []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        assert name != "Do"
        values = [float(each) for each in operands if not isinstance(each, pikepdf.Object)]
        if name == "q":
            kept.append(matrix)
        elif name == "Q":
            matrix = kept.pop()
        elif name == "cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif name in ("m", "l", "c"):
            points += [np.array([x, y, 1.0]) @ matrix for x, y in zip(values[::2], values[1::2], strict=True)]
        elif name == "re":
            x, y, width, height = values
            corners = ((x, y), (x + width, y + height))
            points += [np.array([*corner, 1.0]) @ matrix for corner in corners]
        elif name in ("S", "s", "f", "f*", "B", "B*", "b", "b*", "n"):
            if points and name != "n":
                low, high = np.min(points, axis=0) * POINT_MM, np.max(points, axis=0) * POINT_MM
                yield Drawn(
                    page=number, left_mm=low[0], right_mm=high[0], bottom_mm=low[1], top_mm=high[1],
                    filled=name not in ("S", "s"),
                )  # fmt: skip
            points = []

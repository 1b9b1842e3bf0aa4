"""A picture as PNG: typst sets our fonts and draws the SVG; no further program is needed."""

from __future__ import annotations

import json

from trysquare.publish.fonts import font_folder
from trysquare.publish.typst_page import TEMPLATES, PageError

INCH_MM = 25.4


def png_of(svg: str, width_mm: float, height_mm: float, width_px: int, *, clear: bool = False) -> bytes:
    """The picture `width_px` wide. `clear`: without paper behind it. Raises PageError when typst refuses."""
    import typst  # noqa: PLC0415  # 80 MB: loaded when a picture is made, not when a command starts

    folder = font_folder()
    values = {"svg": svg, "width": width_mm, "height": height_mm, "clear": clear}
    try:
        compiler = typst.Compiler(
            str(TEMPLATES / "picture.typ"),
            root=str(TEMPLATES),
            font_paths=typst.Fonts(
                include_system_fonts=False,
                include_embedded_fonts=True,
                font_paths=[str(folder)] if folder is not None else [],
            ),
            sys_inputs={"data": json.dumps(values, ensure_ascii=True)},
        )
        png = compiler.compile(format="png", ppi=width_px / width_mm * INCH_MM)
    except typst.TypstError as error:
        raise PageError(f"The picture could not be drawn: {error.message}") from error
    assert isinstance(png, bytes)
    return png

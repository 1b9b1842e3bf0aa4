"""From values to a PDF: a template of ours, the values as JSON beside it, and the same bytes every time.

No text of a user ever becomes markup: a template reads its values with `json(…)` and typst then sets them as
they stand. The clock is not asked: the PDF bears no date.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from trysquare.ground.errors import TrysquareError
from trysquare.publish.fonts import FALLBACKS, SANS, font_folder

TEMPLATES = Path(__file__).with_name("templates")
LANGUAGE = "en"
UNSHOWN = "could not be displayed"  # in what typst says when no font has a sign
LONGEST_WORD = 18  # characters; the narrowest label holds about so many
# Of drawings: long, with no text of a user in them, or made plain where they are written.
NUMBERS_ONLY = frozenset({"path", "circle", "at", "svg"})

# Characters that turn the direction of what stands around them; a name must not reach beyond itself.
_TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
BREAK = "\u200b"  # a place to break a word, not seen
_JOINERS = frozenset("\u200c\u200d")  # they shape Persian and Indian words and must stay


class PageError(TrysquareError):
    """A page that typst could not set. It is a fault of ours, and says what typst said."""


class Fonts(StrEnum):
    """Whose fonts a page needed."""

    OURS = "ours"  # the same bytes on every computer
    COMPUTERS = "the computer's"  # some signs are in none of ours; another computer may give other bytes
    LACKING = "lacking"  # some signs are in no font here, and an empty box stands for them


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """A finished PDF."""

    pdf: bytes
    count: int
    fonts: Fonts


def set_pages(template: str, data: Mapping[str, Any], *, title: str) -> Pages:
    """Sets the pages of ``templates/<template>.typ``; `data` is all that the template may read.

    The PDF follows PDF/UA-1 (ISO 14289-1: for readers who cannot see it), as long as every sign has a font.
    Raises PageError when typst refuses, which no text in `data` can bring about.
    """
    import typst  # noqa: PLC0415  # 80 MB: loaded when a page is set, not when a command starts

    values = {"title": plain(title), "language": LANGUAGE, "fonts": [SANS, *FALLBACKS], **_plain(data)}
    inputs = {"data": json.dumps(values, ensure_ascii=True, sort_keys=True)}
    folder = font_folder()
    for fonts in Fonts:
        try:
            compiler = typst.Compiler(
                str(TEMPLATES / f"{template}.typ"),
                root=str(TEMPLATES),
                font_paths=typst.Fonts(
                    include_system_fonts=fonts is not Fonts.OURS,
                    include_embedded_fonts=True,
                    font_paths=[str(folder)] if folder is not None else [],
                ),
                sys_inputs=inputs,
            )
            # Typst checks for the standard that no sign is without a font; that is how we know.
            pdf = compiler.compile(
                format="pdf", timestamp=0, pdf_standards=None if fonts is Fonts.LACKING else "ua-1"
            )
            count = int(json.loads(compiler.query("<pages>", field="value", one=True)))
        except typst.TypstError as error:
            if fonts is not Fonts.LACKING and UNSHOWN in error.message:
                continue
            raise PageError(f"The page '{template}' could not be set: {error.message}") from error
        assert isinstance(pdf, bytes)
        return Pages(pdf=pdf, count=count, fonts=fonts)
    raise AssertionError("the last of the fonts either sets the pages or raises")


def plain(text: str) -> str:
    """A text as it can be printed: one line, no control characters, nothing that turns its surroundings.

    Text from right to left keeps its own direction: that is in its letters.
    """
    kept = []
    for sign in text:
        if sign in _TURNING:
            continue
        category = unicodedata.category(sign)
        if category in {"Cc", "Zl", "Zp"}:
            kept.append(" ")
        elif category == "Cs":
            kept.append("\ufffd")
        elif category != "Cf" or sign in _JOINERS or sign == BREAK:
            kept.append(sign)
    return " ".join("".join(kept).split())


def breakable(text: str) -> str:
    """The same text, with places to break words that no line holds."""
    return re.sub(rf"(\S{{{LONGEST_WORD}}})(?=\S{{{LONGEST_WORD // 2}}})", rf"\1{BREAK}", text)


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, Mapping):
        return {key: item if key in NUMBERS_ONLY else _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value

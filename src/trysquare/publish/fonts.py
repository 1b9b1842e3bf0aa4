"""The fonts that our pages are set in.

Typst brings a serif, a mathematical and a fixed-width font of its own, and no proportional sans. On a label
of 38 mm a sans is narrower and stays readable at 6 pt, where the serif's thin strokes break up on a laser
printer; so the sans comes as a package of its own, and typst's fonts stand behind it (Hebrew from its serif,
Arabic from its fixed-width). The computer's own fonts are asked only for what none of these has, so that
the same machine gives the same bytes everywhere.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterable
from pathlib import Path

SANS = "Source Sans 3"
FALLBACKS = ("Libertinus Serif", "DejaVu Sans Mono")
_PACKAGE = "fontpkg_source_sans_3"

# What the fonts above have between them, as ranges of code points.
_OURS: tuple[tuple[int, int], ...] = (
    (0x0020, 0x052F),  # Latin with all its accents, Greek, Cyrillic
    (0x0591, 0x05F4),  # Hebrew
    (0x0606, 0x06FF),  # Arabic
    (0x1E00, 0x1FFF),  # Latin and Greek with further accents
    (0x2000, 0x23FF),  # punctuation, currencies, arrows, mathematics
    (0x2500, 0x25FF),  # lines and simple shapes
)


def font_folder() -> Path | None:
    """Where the sans lies; None when its package is not installed."""
    found = importlib.util.find_spec(_PACKAGE)
    if found is None or found.origin is None:
        return None
    folder = Path(found.origin).with_name("files")
    return folder if folder.is_dir() else None


def foreign_characters(texts: Iterable[str]) -> str:
    """The characters that none of our fonts has, each once, in rising order; mostly ""."""
    signs = {sign for text in texts for sign in text}
    return "".join(sorted(sign for sign in signs if not _has(ord(sign))))


def _has(point: int) -> bool:
    return any(first <= point <= last for first, last in _OURS)

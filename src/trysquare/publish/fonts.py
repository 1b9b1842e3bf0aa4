"""The fonts that our pages are set in.

Typst brings a serif, a mathematical and a fixed-width font of its own, and no proportional sans. On a label
of 38 mm a sans is narrower and stays readable at 6 pt, where the serif's thin strokes break up on a laser
printer; so the sans comes as a package of its own, and typst's fonts stand behind it (Hebrew from its serif,
Arabic from its fixed-width). The computer's own fonts are asked only for what none of these has, so that
the same machine gives the same bytes everywhere.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

SANS = "Source Sans 3"
FALLBACKS = ("Libertinus Serif", "DejaVu Sans Mono")
_PACKAGE = "fontpkg_source_sans_3"


def font_folder() -> Path | None:
    """Where the sans lies; None when its package is not installed."""
    found = importlib.util.find_spec(_PACKAGE)
    if found is None or found.origin is None:
        return None
    folder = Path(found.origin).with_name("files")
    return folder if folder.is_dir() else None

"""How designations are read and written: tolerant of case, spaces, × and the decimal comma."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

LONGEST_READ = 120  # no designation is longer; what is cannot be a slip of the pen

# A number as people write it in a designation; ASCII digits only, no sign, no exponent.
NUMBER = r"([0-9]{1,6}(?:\.[0-9]{1,6})?)"


def tidy(text: str) -> str:
    """The designation in lower case, one space between words, ``x`` for times, point for comma.

    Anything may come in; what cannot be a designation comes out as something no pattern accepts.
    """
    text = text[: LONGEST_READ + 1].casefold()
    text = re.sub(r"[×✕✖*]", "x", text)
    text = re.sub(r"[‐‑–—−]", "-", text)  # hyphens and dashes that people paste
    text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    text = text.replace("²", "2")
    text = " ".join(text.split())
    return re.sub(r"(?<=[0-9]) ?x ?(?=[0-9])", "x", text)


def written(value: float) -> str:
    """A number as designations print it: thousandths at most, no trailing zeros.

    >>> written(5.70), written(8.0)
    ('5.7', '8')
    """
    return f"{value:.3f}".rstrip("0").rstrip(".")


def near(word: str, known: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """Known designations that look like the word, best first; compared after tidying."""
    by_tidy = {tidy(name): name for name in known}
    close = difflib.get_close_matches(tidy(word), list(by_tidy), n=most, cutoff=0.6)
    return tuple(by_tidy[name] for name in close)


def neighbours(value: float, known: Sequence[float]) -> tuple[float, ...]:
    """The nearest known value below and the nearest above, those that exist, in rising order."""
    below = [item for item in known if item < value]
    above = [item for item in known if item > value]
    return (*([max(below)] if below else []), *([min(above)] if above else []))

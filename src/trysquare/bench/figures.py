"""A value as it is read: digits as far as its uncertainty lets them count."""

from __future__ import annotations

MINUS = "\u2212"


def with_half(value: float | None, half: float | None, unit: str) -> str:
    """Value and U, "−0.235 ± 0.022 mm"; "" for nothing."""
    if value is None:
        return ""
    if not half:
        return f"{fixed(value, places_of(value))} {unit}".strip()
    places = min(6, max(0, 1 - int(f"{half:.1e}".partition("e")[2])))
    return f"{fixed(value, places)} ± {fixed(half, places)} {unit}".strip()


def places_of(value: float) -> int:
    """Decimal places that a number was said with, at most four."""
    text = f"{value:.4f}".rstrip("0")
    return len(text.partition(".")[2])


def fixed(value: float, places: int) -> str:
    """With so many places, and a minus that stands as high as the digits."""
    text = f"{value:.{places}f}"
    return text.replace("-", MINUS) if float(text) else text.lstrip("-")

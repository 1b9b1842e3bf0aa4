"""A flat outline laid as large as fits into a small space, turned a quarter where that is larger."""

from __future__ import annotations

from dataclasses import dataclass

MARGIN_MM = 0.15  # half a pen and a little, all round


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Where an outline's points come on paper. `low_mm`, `high_mm`: its box; `scale`: paper to outline."""

    low_mm: tuple[float, float]
    high_mm: tuple[float, float]
    scale: float
    turned: bool

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height on paper, with the margin."""
        across = (self.high_mm[0] - self.low_mm[0]) * self.scale + 2 * MARGIN_MM
        up = (self.high_mm[1] - self.low_mm[1]) * self.scale + 2 * MARGIN_MM
        return (up, across) if self.turned else (across, up)

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A point on paper, y down. Turned a quarter, never mirrored."""
        up = MARGIN_MM + (self.high_mm[1] - y) * self.scale
        if self.turned:
            return (up, MARGIN_MM + (self.high_mm[0] - x) * self.scale)
        return (MARGIN_MM + (x - self.low_mm[0]) * self.scale, up)


def fitted(
    low_mm: tuple[float, float], high_mm: tuple[float, float], width_mm: float, height_mm: float
) -> Fitted | None:
    """An outline's box laid into a space; None for a box without an area."""
    across, up = high_mm[0] - low_mm[0], high_mm[1] - low_mm[1]
    if not (across > 0 and up > 0):
        return None
    turned = (up > across) != (height_mm > width_mm)
    wide, tall = (up, across) if turned else (across, up)
    scale = min((width_mm - 2 * MARGIN_MM) / wide, (height_mm - 2 * MARGIN_MM) / tall)
    return Fitted(low_mm=low_mm, high_mm=high_mm, scale=scale, turned=turned)

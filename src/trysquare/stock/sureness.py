"""How sure words make a reading, what stands against it, and a number as names have it; common practice, no
source."""

from __future__ import annotations

from dataclasses import dataclass

SURE, LIKELY, MAYBE, POOR = 0.95, 0.8, 0.6, 0.4
NAMED = 0.98  # the text itself names the standard
NUMBER = r"([0-9]{1,4}(?:\.[0-9]{1,3})?)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A canonical designation that a text may mean, and how sure the words make it, between 0 and 1."""

    designation: str
    confidence: float


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why a reading may not be taken unasked. Without `asks` no reading can be right: it is an own part."""

    says: str
    asks: bool

"""How sure words make a reading, and a number as names have it; common practice, no source."""

SURE, LIKELY, MAYBE, POOR = 0.95, 0.8, 0.6, 0.4
NUMBER = r"([0-9]{1,4}(?:\.[0-9]{1,3})?)"

"""Pulleys, idlers, belts and lead screws as vendors write them: "20T pulley bore 5, 2 mm pitch"."""

from __future__ import annotations

import re
from collections.abc import Iterator

from trysquare.catalogue.designation import written
from trysquare.catalogue.rows import rows
from trysquare.stock.sureness import LIKELY, MAYBE, NUMBER, POOR, SURE, Obstacle

_TEETH = re.compile(r"\b([0-9]{2}) ?-?(?:t\b|tooth|teeth|z\b)")
_BELT_SAID = (
    re.compile(
        r"\b(?:belt|riemen)(?: width)?:? ?(?:of )?(6|9|10|15)(?![0-9.]| ?-?(?:t|teeth|tooth|z|mm pitch)\b)"
    ),
    re.compile(r"(?<![0-9.])(6|9|10|15) ?-?(?:mm)? ?-?(?:wide )?(?:belt|riemen)\b"),
)
_USUAL_BELT_MM = "6"  # common practice, no source
_SAID = re.compile(r"\b(?:bore|pitch|width|wide)\b")


def _sized(text: str, word: str) -> str:
    """The number that stands at one of the words: behind it, where the text's first such word leads its
    number ("pitch 2 mm bore 5"), else before it ("2 mm pitch 5 mm bore"); "" without."""
    first = _SAID.search(text)
    behind = rf"\b(?:{word})\b ?(?:of )?[=:]? ?{NUMBER}"
    before = rf"(?<![a-z0-9.]){NUMBER} ?-?(?:mm)? ?-?(?:{word})\b"
    leads = first is not None and not re.search(
        r"(?<![a-z0-9.])[0-9.]+ ?-?(?:mm)? ?-?$", text[: first.start()]
    )
    for pattern in (behind, before) if leads else (before, behind):
        if found := re.search(pattern, text):
            return found[1]
    return ""


def drives(text: str) -> Iterator[tuple[str, float]]:
    """Pulleys, idlers, belts and lead screws in a tidy text: designations, and how sure each is."""
    across = _sized(text, "bore")
    teeth = _TEETH.search(text)
    pitch = _sized(text, "pitch")
    step = pitch or "2"
    if teeth and across:
        idler = bool(re.search(r"idler|umlenk", text))
        words = "idler" if idler else "pulley"
        sure = LIKELY + 0.1 * (bool(pitch) and (idler or "pulley" in text or "wheel" in text))
        said = _belt_mm(text)
        for row in rows("belts"):
            if row["pitch_mm"] != step or said not in ("", row["width_mm"]):
                continue
            usual = row["width_mm"] == _USUAL_BELT_MM
            belt = "" if usual else f" belt {row['width_mm']}"
            yield (
                f"{words} {step} mm pitch {teeth[1]} teeth bore {across}{belt}",
                sure if said else min(sure, LIKELY) if usual else POOR,
            )
    elif ("belt" in text or "riemen" in text) and not re.search(r"closed|loop|endless|endlos", text):
        alone = re.search(r"\b(6|9|10|15) ?mm\b", text)
        if width := _sized(text, "width|wide|w") or (alone[1] if alone else ""):
            yield f"belt {step} mm pitch {width} mm wide", LIKELY + 0.1 if pitch else MAYBE
    if not teeth and across and re.search(r"idler", text) and re.search(r"smooth|plain|glatt|lisse", text):
        numbers = {float(found) for found in re.findall(NUMBER, text)} - {float(across)}
        for row in rows("smooth_idlers"):
            if float(row["running_mm"]) in numbers:
                yield f"idler smooth {row['running_mm']} bore {across}", LIKELY
    if re.search(r"lead ?-?screw|trapez|spindle|\btr ?[0-9]", text):
        yield from _lead_screws(text)


def _belt_mm(text: str) -> str:
    """The width of belt that a pulley's text says; "" without."""
    found = next((found for pattern in _BELT_SAID if (found := pattern.search(text))), None)
    return found[1] if found else _sized(text, "width|wide")


def belt_not_said(text: str) -> Obstacle | None:
    """What stands against a toothed pulley or idler whose belt's width is not said."""
    if _TEETH.search(text) and not _belt_mm(text):
        return Obstacle(
            f"Its belt's width is not said; the usual {_USUAL_BELT_MM} mm comes first.", asks=True
        )
    return None


_STARTS = (("single|one", "1"), ("two|double|twin", "2"), ("four|quad", "4"))


def _lead_screws(text: str) -> Iterator[tuple[str, float]]:
    """A lead screw by its diameter and length; what is said of lead, pitch and starts must agree."""
    text = text.replace("lead screw", "spindle").replace("leadscrew", "spindle")
    said: dict[str, float] = {}
    for word, number in _STARTS:
        text = re.sub(rf"\b(?:{word})(?=[ -]?starts?\b)", number, text)
    for what, words in (
        ("lead", r"lead ?=? ?([0-9]{1,2}(?:\.[0-9])?)(?![0-9.]| ?x)"),
        ("lead", rf"{NUMBER} ?mm lead\b"),
        ("pitch", rf"{NUMBER} ?mm pitch|pitch ?=? ?{NUMBER}|\bp ?{NUMBER}"),
        ("starts", rf"{NUMBER} ?-?starts?\b|starts ?{NUMBER}"),
    ):
        if what not in said and (found := re.search(words, text)):
            said[what] = float(next(group for group in found.groups() if group))
            text = f"{text[: found.start()]} {text[found.end() :]}"
    numbers = [float(found) for found in re.findall(NUMBER, text)]
    lengths = [value for value in numbers if value >= 60]
    diameters = {float(row["diameter_mm"]) for row in rows("lead_screws")}
    diameter = next((value for value in numbers if value in diameters), 0.0)
    for row in rows("lead_screws") if lengths and diameter else ():
        pitch, starts = float(row["pitch_mm"]), int(row["starts"])
        is_so = {"lead": pitch * starts, "pitch": pitch, "starts": starts}
        if float(row["diameter_mm"]) == diameter and all(
            is_so[what] == value for what, value in said.items()
        ):
            size = f"{written(diameter)}x{written(pitch)}"
            words = f"lead screw {size} starts {starts} length {written(lengths[0])}"
            yield words, SURE if len(said) > 1 else LIKELY + 0.05 if "lead" in said else POOR

"""Sizes of fasteners in a tidy text: "M3x8", "M3 x 0.5 x 8", "M5, length 20 mm", "3x8 mm screw".

One size has one form for all who read names: m3x8. The catalogue's threads are coarse.
"""

from __future__ import annotations

import re

from trysquare.catalogue.designation import tidy, written
from trysquare.catalogue.lookup import UnknownDesignation, thread
from trysquare.stock.sureness import NUMBER, Obstacle

SCREW_WORD = re.compile(
    r"screw|bolt|\b[sbf]hcs\b|\bbhs\b|\bshs\b|\bchcs\b|button|socket|countersunk|\bcsk\b|grub|schraube|"
    r"linsenkopf|senkkopf|zylinderkopf|gewindestift|inbus|allen|\bcap\b"
)
NUT_WORD = re.compile(r"\bnuts?\b|mutter")

_DIAMETER = r"(?<![a-z0-9])m ?([0-9]{1,2}(?:\.[0-9])?)"
_THREAD = re.compile(rf"{_DIAMETER}(?![0-9])")
_SIZE = re.compile(
    rf"{_DIAMETER} ?(?:mm)?(?:[ x/,-]+|\bby\b)?(?: ?by )?(?:l ?=? ?)?"
    r"(?<![0-9.])([0-9]{1,4}(?:\.[0-9]{1,3})?)(?![0-9]|\.[0-9])(?! ?series| ?slot)"
)
_SIZE_APART = re.compile(
    rf"\bm ?{NUMBER}\b.*?(?<![0-9.])\b{NUMBER} ?mm(?! slot| wide)|\b{NUMBER} ?mm\b.*?\bm ?{NUMBER}\b"
)
_PITCH = re.compile(
    rf"{_DIAMETER} ?[x-] ?(0?\.[0-9]{{1,2}}|[12]\.[0-9]{{1,2}}|1)(?: ?p)?"
    r"(?: ?mm)?(?: ?[x-] ?([0-9]{1,3}(?:\.[0-9])?)|(?= ?nut| ?mutter|$))"
)
_LENGTH_SAID = re.compile(
    r"[ ,;-]*\b(?:length|len|lg|länge|laenge|lang|long|l) ?[:= ] ?([0-9]{1,3}(?:\.[0-9])?)(?: ?mm)?\b"
    r"|[ ,;-]*\b([0-9]{1,3}(?:\.[0-9])?) ?(?:mm )?(?:long|lang|lg)\b"
)
_MILLIMETRES = re.compile(r"(?<![0-9.x])([0-9]{1,2}(?:\.[0-9])?) ?mm(?= ?x)|(?<=[0-9]) ?mm(?= ?$|[ ,;x)-])")
_WITHOUT_M = re.compile(
    r"(?<![a-z0-9.#/])([0-9]{1,2}(?:\.[0-9])?)x([0-9]{1,3}(?:\.[0-9])?)(?![0-9x/.]| slot)"
)
_STRENGTH = re.compile(
    r"(?<![0-9.])(8\.8|10\.9|12\.9)(?![0-9.])|\b(a[24])[-/ ]?([578]0)\b|"
    r"\b(14h|22h|33h|45h)\b|\b(a[24])-?(21h)\b"
)


def plain_sizes(text: str, says: list[str], *, is_screw: bool = False) -> tuple[str, Obstacle | None]:
    """The text with every size as m3x8: the coarse pitch left out, the M put in, the length to its thread.

    `says` takes what was put in. `is_screw`: the text names a screw otherwise than by a word. Equal texts
    come out equal a second time. The obstacle: a fine thread.
    """
    found = _PITCH.search(text)
    if found and (found[3] or NUT_WORD.search(text)):
        size, pitch = f"M{written(float(found[1]))}", float(found[2])
        coarse = _coarse_pitch_mm(size)
        if coarse is not None and abs(coarse - pitch) < 1e-6:
            plain = f"m{found[1]}x{found[3]}" if found[3] else f"m{found[1]}"
            text = text[: found.start()] + plain + text[found.end() :]
        elif found[3] or coarse is not None:
            against = f"{size}x{written(pitch)} is a fine thread; the catalogue's are coarse."
            return text, Obstacle(against, asks=False)
    length = _LENGTH_SAID.search(text)
    found_thread = _THREAD.search(text)
    if length and found_thread and not re.match(r" ?[x-] ?[0-9]", text[found_thread.end() :]):
        value = written(float(length[1] or length[2]))
        rest = text[: length.start()] + " " + text[length.end() :]
        text = _THREAD.sub(f"m{found_thread[1]}x{value} ", rest, count=1)
    if not _THREAD.search(text) and (is_screw or SCREW_WORD.search(text)):
        bare = tidy(_MILLIMETRES.sub(r"\1", text))
        size_only = _WITHOUT_M.search(bare)
        if size_only and _coarse_pitch_mm(f"M{written(float(size_only[1]))}") is not None:
            says.append(f"{size_only[1]} mm is read as M{written(float(size_only[1]))}.")
            text = bare[: size_only.start()] + f"m{size_only[1]}x{size_only[2]}" + bare[size_only.end() :]
    return tidy(text), None


def thread_in(text: str) -> str:
    """The thread that a tidy text names, "M3"; "" without."""
    found = _THREAD.search(text)
    return f"M{written(float(found[1]))}" if found else ""


def thread_and_length(text: str) -> tuple[str, str] | None:
    """Thread and length, ("M3", "8"), also where they stand apart; None where one is not said."""
    found = _SIZE.search(text)
    if found:
        return f"M{written(float(found[1]))}", written(float(found[2]))
    found = _SIZE_APART.search(text)
    if found:
        size, length = (found[1], found[2]) if found[1] else (found[4], found[3])
        return f"M{written(float(size))}", written(float(length))
    return None


def with_length(text: str, length: str) -> str:
    """The text with another length behind its thread; the same text where it has no size."""
    found = _SIZE.search(text)
    return text if found is None else f"{text[: found.start()]}m{found[1]}x{length}{text[found.end() :]}"


def without_thread(text: str) -> str:
    """The text without the thread that it names."""
    return _THREAD.sub(" ", text, count=1)


def strength_in(text: str) -> str:
    """The strength or hardness class that a tidy text names, as the standards write it; "" without."""
    found = _STRENGTH.search(text)
    if not found:
        return ""
    tensile, steel, tenth, hard, hard_steel, hardness = found.groups()
    if tensile or hard:
        return (tensile or hard).upper()
    return f"{steel or hard_steel}-{tenth or hardness}".upper()


def _coarse_pitch_mm(name: str) -> float | None:
    try:
        return thread(name).pitch_mm
    except UnknownDesignation:
        return None

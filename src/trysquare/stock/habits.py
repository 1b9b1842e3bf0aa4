"""Designations as vendors write them: "M3×8 BHCS", "screw, button head, M3 x 8", "T-nut M5 20 series".

Each reading gives canonical designations with a confidence between 0 and 1. A reading is a guess: that a
vendor's word means one standard is common practice, no source, and the builder confirms it once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from trysquare.catalogue.designation import LONGEST_READ, tidy, written
from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.rows import rows
from trysquare.stock.boxes import without_pack
from trysquare.stock.drive_habits import drives
from trysquare.stock.sureness import LIKELY, MAYBE, NUMBER, POOR, SURE
from trysquare.stock.tongues import in_our_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A canonical designation that a vendor's name may mean, and how sure the words make it."""

    designation: str
    confidence: float


_THREAD = re.compile(rf"\bm ?{NUMBER}\b|\bm{NUMBER}(?=x)")
_SIZE = re.compile(
    rf"\bm ?{NUMBER} ?(?:x ?0\.[0-9]+ ?)?(?:x|-|/|\bl ?=? ?|, | by )? ?(?:l ?=? ?)?"
    rf"{NUMBER}(?![0-9]|\.[0-9])(?! ?series| ?slot)"
)
_SIZE_APART = re.compile(
    rf"\bm ?{NUMBER}\b.*?\b{NUMBER} ?mm(?! slot| wide)|\b{NUMBER} ?mm\b.*?\bm ?{NUMBER}\b"
)

# Words that name a screw's head, with the standard; the more particular first.
_HEADS: tuple[tuple[str, str, float], ...] = (
    (r"iso ?7380(?:-1)?|\bbhcs\b|\bbhs\b|button|\bdome|linsen(?:flach)?kopf", "ISO 7380-1", SURE),
    (r"iso ?10642", "ISO 10642", SURE),
    (r"din ?7991", "DIN 7991", SURE),
    (r"\bfhcs\b|counter ?-?sunk|\bcsk\b|flat ?-?head|senkkopf", "ISO 10642", SURE),
    (r"iso ?4029|din ?916|cup ?-?point", "ISO 4029", SURE),
    (r"iso ?4026|din ?913|flat ?-?point", "ISO 4026", SURE),
    (r"\bgrub|set ?-?screw|\bssgs\b|gewindestift", "ISO 4026", LIKELY),
    (r"\bgrub|set ?-?screw|\bssgs\b|gewindestift", "ISO 4029", MAYBE),
    (r"iso ?4762|din ?912|\bshcs\b|cylinder|cap ?-?head|zylinderkopf|zylinderschraube", "ISO 4762", SURE),
    (r"socket ?-?(?:head ?-?)?cap|cap ?-?screw|\ballen|hex(?:agon)? ?-?socket|inbus", "ISO 4762", LIKELY),
    (r"\bscrews?\b|\bbolts?\b|schraube", "ISO 4762", POOR),
    (r"\bscrews?\b|\bbolts?\b|schraube", "ISO 7380-1", POOR),
)
_CLASS = re.compile(r"\b(a[24]-?[57]0|a[24]-80|8\.8|10\.9|12\.9|14h|22h|33h|45h|a[24]-21h)\b")
_NOT_OURS = re.compile(
    r"nyl(?:oc|on)|lock ?-?nut|self ?-?lock|flange|wing|spring washer|fender|large washer|wood ?screw|"
    r"self ?-?tapping"
)
_SLOT_NUT = re.compile(
    r"\bt(?:ee)? ?-?nuts?\b|slot ?-?nut|nutenstein|sliding nut|hammer|drop ?-?in|roll ?-?in|quarter|"
    r"slide ?-?in|\bnuts? for .*\bslot"
)
_SHAPES: tuple[tuple[str, str, float], ...] = (
    (r"roll ?-?in|drop ?-?in|spring|ball|swing|einschwenk", "roll-in", 0.0),
    (r"hammer|quarter|quick|half ?-?turn|twist", "quarter-turn", 0.0),
    (r"slide|sliding|\bpre ?-?load|end ?-?load", "slide-in", 0.0),
    (r"hex", "hex-in-slot", 0.0),
    (r"", "slide-in", -0.13),
    (r"", "roll-in", -0.14),
    (r"", "quarter-turn", -0.15),
)


def readings(name: str) -> list[Reading]:
    """What a vendor's name may mean, the likeliest first; each designation once, none that does not exist."""
    text = in_our_words(tidy(without_pack(name)))
    if len(text) > LONGEST_READ:
        return []
    best: dict[str, float] = {}
    for read in _HABITS:
        for words, confidence in read(text):
            try:
                designation = lookup(words).designation
            except UnknownDesignation:
                continue
            # a lock nut is a relative of a nut, but another part
            sure = min(confidence, POOR) - 0.1 if _NOT_OURS.search(text) else confidence
            best[designation] = max(best.get(designation, 0.0), sure)
    found = [Reading(designation=name, confidence=sure) for name, sure in best.items()]
    return sorted(found, key=lambda reading: -reading.confidence)


def _thread_and_length(text: str) -> tuple[str, str] | None:
    found = _SIZE.search(text)
    if found:
        return f"M{written(float(found[1]))}", written(float(found[2]))
    found = _SIZE_APART.search(text)
    if found:
        size, length = (found[1], found[2]) if found[1] else (found[4], found[3])
        return f"M{written(float(size))}", written(float(length))
    return None


def _thread(text: str) -> str:
    found = _THREAD.search(text)
    return f"M{written(float(found[1] or found[2]))}" if found else ""


def _screws(text: str) -> Iterator[tuple[str, float]]:
    if _SLOT_NUT.search(text) or re.search(r"insert|heat ?-?set|washer|\bnuts?\b|mutter|scheibe", text):
        return
    size = _thread_and_length(text)
    if size is None:
        return
    found_class = _CLASS.search(text)
    strength = f" {found_class[1].upper()}" if found_class else ""
    if strength and re.match(r" A[24][57]0", strength):
        strength = f"{strength[:3]}-{strength[3:]}"
    top = 0.0
    for words, standard, confidence in _HEADS:
        if top >= SURE > confidence or not re.search(words, text) or confidence < top - 0.25:
            continue  # "button head socket cap screw" is said by its first words
        top = max(top, confidence)
        yield f"{standard} {size[0]}x{size[1]}{strength}", confidence
    if not top:  # a size alone
        for standard in ("ISO 4762", "ISO 7380-1"):
            yield f"{standard} {size[0]}x{size[1]}{strength}", POOR - 0.05


def _slot_nuts(text: str) -> Iterator[tuple[str, float]]:
    thread = _thread(text)
    if not thread or not _SLOT_NUT.search(text):
        return
    slots: dict[str, float] = {}
    said = re.search(rf"\bslot ?{NUMBER}\b|\b{NUMBER} ?mm slot|\bnut ?{NUMBER}\b|\bn{NUMBER}\b", text)
    if said:
        slots[written(float(next(group for group in said.groups() if group)))] = SURE
    series = re.search(
        r"\b(15|20|30|40|45) ?-?series|\b(15|20|30|40|45)(?:x?)\2\b|\b(?:type|for|on) (15|20|30|40|45)\b",
        text,
    )
    if series and not slots:
        cell = float(next(group for group in series.groups() if group))
        known = [row for row in rows("slots") if float(row["cell_mm"]) == cell]
        for row in reversed(known):  # one series comes with more than one slot, the wider is usual
            slots[row["slot_mm"]] = LIKELY if len(known) == 1 else MAYBE + 0.1
    if not slots:
        slots = dict.fromkeys((row["slot_mm"] for row in rows("slots")), POOR + 0.1)
    shape_said = [shape for words, shape, _ in _SHAPES if words and re.search(words, text)]
    for slot, sure in slots.items():
        for words, shape, less in _SHAPES:
            if (shape in shape_said and words) or (not shape_said and not words):
                yield f"{shape} nut slot {slot} {thread}", sure + less


def _nuts(text: str) -> Iterator[tuple[str, float]]:
    thread = _thread(text)
    if not thread or _SLOT_NUT.search(text) or not re.search(r"\bnuts?\b|mutter", text):
        return
    if re.search(r"square|vierkant|din ?56|din ?55", text):
        thin = bool(re.search(r"thin|flat|562|niedrig", text))
        yield f"DIN 562 {thread}", SURE if thin else MAYBE
        yield f"DIN 557 {thread}", LIKELY if "557" in text else POOR
    elif re.search(r"thin|half|jam|439|4035|niedrig", text):
        yield f"ISO 4035 {thread}", SURE
    else:
        yield f"ISO 4032 {thread}", SURE if re.search(r"hex|934|4032|sechskant", text) else LIKELY


def fits_washer(thread: str, text: str) -> bool:
    """Whether an outer diameter that the text says, as in "M5x20" or "5.3x15x1.2", is the plain washer's."""
    said = re.search(rf"(?<![0-9.]){NUMBER}x{NUMBER}(?![0-9.])", text)
    row = next((row for row in rows("washers") if row["thread"] == thread), None)
    return said is None or row is None or written(float(said[2])) in (row["outer_mm"], row["thickness_mm"])


def _washers(text: str) -> Iterator[tuple[str, float]]:
    thread = _thread(text)
    if thread and re.search(r"washer|scheibe|din ?125|iso ?7089", text) and fits_washer(thread, text):
        yield f"ISO 7089 {thread}", SURE if re.search(r"plain|flat|125|7089|form a", text) else LIKELY


def _inserts(text: str) -> Iterator[tuple[str, float]]:
    if not re.search(r"insert|heat ?-?set|einpress|einschmelz", text) or "hex insert" in text:
        return
    size = _thread_and_length(text)
    if size is None:
        return
    yield (
        f"heat-set insert {size[0]}x{size[1]}",
        SURE if re.search(r"heat|melt|press|brass|thread", text) else LIKELY,
    )


def _guides(text: str) -> Iterator[tuple[str, float]]:
    numbers = [float(found) for found in re.findall(NUMBER, text)]
    widths = [value for value in numbers if value in (5, 7, 9, 12, 15)]
    if not widths:
        return
    width = written(widths[0])
    is_block = bool(re.search(r"block|carriage|slider|wagen|runner|truck", text))
    if is_block:
        kind = "long" if re.search(r"\blong|extended|lang", text) else "standard"
        plain = bool(re.search(r"\blong|standard|normal|regular|short|extended|lang", text))
        beside = bool(re.search(r"rail", text)) and not re.search(r"(?:for|to|on|für|auf)\b.*rail", text)
        yield f"block {width} {kind}", (LIKELY + 0.05 if plain else MAYBE) - 0.3 * beside
    if re.search(r"rail|guide|schiene", text):
        lengths = [value for value in numbers if value >= 40]
        for length in lengths[:2]:
            plain = len(lengths) == 1 and len(widths) == 1 and not is_block
            yield f"rail {width}x{written(length)}", LIKELY + 0.05 if plain else MAYBE


def _supplies(text: str) -> Iterator[tuple[str, float]]:
    gauge = re.search(r"\bawg ?([0-9]{2})\b|\b([0-9]{2}) ?awg\b|\b([0-9]{2}) ?gauge\b", text)
    if gauge:
        yield f"wire AWG {next(group for group in gauge.groups() if group)}", LIKELY + 0.1
    area = re.search(rf"{NUMBER} ?(?:mm2|mm\^2|sq ?mm|qmm)\b", text)
    if area:
        yield f"wire {written(float(area[1]))} mm2", LIKELY + 0.1
    grade = re.search(r"nlgi ?(0{1,3}|[1-6])\b|\b(?:ep|no\.?) ?(0{1,3}|[1-3])\b", text)
    if grade and ("grease" in text or "fett" in text or "nlgi" in text):
        yield f"grease NLGI {grade[1] or grade[2]}", SURE if grade[1] else LIKELY


_HABITS: tuple[Callable[[str], Iterator[tuple[str, float]]], ...] = (
    _screws, _slot_nuts, _nuts, _washers, _inserts, _guides, drives, _supplies,
)  # fmt: skip

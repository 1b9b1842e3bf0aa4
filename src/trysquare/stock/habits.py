"""Designations as people write them: "M3×8 BHCS", "screw, button head, M3 x 8", "T-nut M5 20 series".

The one reader of parts' names, for packing lists and for parts lists. Each reading gives a canonical
designation with a confidence between 0 and 1. A reading is a guess: that a word means one standard is common
practice, no source. A standard that is named in the text goes before every word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from trysquare.catalogue.designation import LONGEST_READ, neighbours, tidy, written
from trysquare.catalogue.lookup import UnknownDesignation, lookup, sold_lengths_mm
from trysquare.catalogue.rows import rows
from trysquare.catalogue.values import Profile
from trysquare.stock.drive_habits import belt_not_said, drives
from trysquare.stock.guide_habits import guides
from trysquare.stock.named_standards import named, names_a_screw, standards_in
from trysquare.stock.quantities import without_pack
from trysquare.stock.sizes import (
    NUT_WORD,
    SCREW_WORD,
    plain_sizes,
    strength_in,
    thread_and_length,
    thread_in,
    with_length,
    without_thread,
)
from trysquare.stock.standard_parts import standard_of
from trysquare.stock.sureness import LIKELY, MAYBE, NAMED, NUMBER, POOR, SURE, Obstacle, Reading
from trysquare.stock.tongues import in_our_words

__all__ = ["Heard", "Reading", "hear", "plain_text", "readings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a text says of a standard part. `readings`: the likeliest first; `says`: what was put in, in
    sentences; `against`: what stands against taking the first of them, None where nothing does."""

    readings: tuple[Reading, ...] = ()
    says: tuple[str, ...] = ()
    against: Obstacle | None = None


_SOCKET_CAP = re.compile(
    r"socket ?-?(?:head)? ?-?cap|\bchcs\b|\bshs\b|socket ?-?head(?! ?cap)|\bcap, socket|inbusschraube|"
    r"cap ?screw,? (?:hex|socket)|cap,? (?:allen|hex)|allen (?:head )?cap"
)
_OTHER_HEAD = re.compile(r"button|dome|counter|\bcsk|flat|grub|set ?-?screw|low|linsen|senk|bhcs|fhcs")
# Words that name a screw's head, with the standard; the more particular first.
_HEADS: tuple[tuple[str, str, float], ...] = (
    (r"\bbhcs\b|\bbhs\b|button|\bdome|linsen(?:flach)?kopf", "ISO 7380-1", SURE),
    (r"\bfhcs\b|counter ?-?sunk|\bcsk\b|flat ?-?head|senkkopf", "ISO 10642", SURE),
    (r"cup ?-?point", "ISO 4029", SURE),
    (r"flat ?-?point", "ISO 4026", SURE),
    (r"\bgrub|set ?-?screw|\bssgs\b|gewindestift", "ISO 4026", LIKELY),
    (r"\bgrub|set ?-?screw|\bssgs\b|gewindestift", "ISO 4029", MAYBE),
    (r"\bshcs\b|cylinder|cap ?-?head|zylinderkopf|zylinderschraube", "ISO 4762", SURE),
    (r"socket ?-?(?:head ?-?)?cap|cap ?-?screw|\ballen|hex(?:agon)? ?-?socket|inbus", "ISO 4762", LIKELY),
    (r"\bscrews?\b|\bbolts?\b|schraube", "ISO 4762", POOR),
    (r"\bscrews?\b|\bbolts?\b|schraube", "ISO 7380-1", POOR),
)
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
    text = plain_text(name)
    return list(hear(text).readings) if len(text) <= LONGEST_READ else []


def plain_text(name: str) -> str:
    """A name as `hear` reads it: tidy, in our words, without what it says of packs."""
    return in_our_words(tidy(re.sub("[_øØ]", " ", without_pack(name)).replace('"', " inch ")))


def hear(text: str) -> Heard:
    """Reads a plain text (`plain_text`). Anything may come in."""
    exact = standard_of(text)
    if exact is not None and not isinstance(exact, Profile):
        return Heard(readings=(Reading(designation=exact.designation, confidence=1.0),))
    says: list[str] = []
    is_screw = names_a_screw(text)
    text, fine = plain_sizes(text, says, is_screw=is_screw)
    if fine is not None:
        return Heard(says=tuple(says), against=fine)
    found, against = _heard(text, says)
    if not found and (is_screw or SCREW_WORD.search(text)) and (near := _near_lengths(text)):
        found, against = near, Obstacle("No such length is made; the nearest are offered.", asks=True)
    return Heard(readings=tuple(found), says=tuple(says), against=against)


def _heard(text: str, says: list[str]) -> tuple[list[Reading], Obstacle | None]:
    """The readings of a text with plain sizes: by the standard that it names, else by its words."""
    standards, unknown = standards_in(text, says)
    if unknown and not standards and unknown.startswith(("ISO", "DIN")):
        return [], Obstacle(f"{unknown} is not in the catalogue.", asks=False)
    if standards:
        found = [one for standard in standards for one in named(standard, text)]
        if found:
            return [Reading(designation=one, confidence=NAMED) for one in dict.fromkeys(found)], None
        if thread_in(text):
            return [], Obstacle(f"No such size in {' or '.join(standards)}.", asks=False)
        return [], None
    by_words = _of_words(text)
    if unknown and by_words:  # a country's own number, beside the words of a standard that we know
        return by_words, Obstacle(f"{unknown} is not in the catalogue.", asks=True)
    return by_words, belt_not_said(text) if by_words else None


def _of_words(text: str) -> list[Reading]:
    if _SOCKET_CAP.search(text) and not _OTHER_HEAD.search(text) and not NUT_WORD.search(text):
        text = f"{text} shcs"
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


def _near_lengths(text: str) -> list[Reading]:
    """What the text would be with the next shorter and the next longer length that is made."""
    size = thread_and_length(text)
    try:
        made = sold_lengths_mm("ISO 4762", size[0]) if size is not None else ()
    except UnknownDesignation:
        made = ()
    if size is None or float(size[1]) in made:
        return []
    found: list[Reading] = []
    for other in neighbours(float(size[1]), made):
        near = _heard(with_length(text, written(other)), [])[0]
        found += [replace(one, confidence=min(one.confidence, MAYBE)) for one in near]
    return found


def _screws(text: str) -> Iterator[tuple[str, float]]:
    if _SLOT_NUT.search(text) or re.search(r"insert|heat ?-?set|washer|\bnuts?\b|mutter|scheibe", text):
        return
    size = thread_and_length(text)
    if size is None:
        return
    strength = f" {strength_in(text)}".rstrip()
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
    thread = thread_in(text)
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
    thread = thread_in(text)
    if not thread or _SLOT_NUT.search(text) or not re.search(r"\bnuts?\b|mutter", text):
        return
    if re.search(r"square|vierkant", text):
        thin = bool(re.search(r"thin|flat|flach|niedrig", text))
        yield f"DIN 562 {thread}", SURE if thin else MAYBE
        yield f"DIN 557 {thread}", POOR
    elif re.search(r"thin|half|jam|niedrig", text):
        yield f"ISO 4035 {thread}", SURE
    else:
        yield f"ISO 4032 {thread}", SURE if re.search(r"hex|sechskant", text) else LIKELY


def fits_washer(thread: str, text: str) -> bool:
    """Whether what the text says of the outer diameter and the thickness, as in "M5x20", "5.3x15x1.2" or "OD
    15", is so of the plain washer."""
    row = next((row for row in rows("washers") if row["thread"] == thread), None)
    if row is None:
        return True
    plain = (row["outer_mm"], row["thickness_mm"])
    said = re.search(rf"(?<![0-9.]){NUMBER}x{NUMBER}(?:x{NUMBER})?(?![0-9.])", text)
    if said and (written(float(said[2])) not in plain or (said[3] and written(float(said[3])) != plain[1])):
        return False
    across = re.findall(
        rf"\b(?:od|o\.d\.?|outer|outside|außen)[^0-9]{{0,12}}{NUMBER}|(?<![0-9.]){NUMBER} ?mm\b", text
    )
    return all(float(one or other) <= float(plain[0]) for one, other in across)


def _washers(text: str) -> Iterator[tuple[str, float]]:
    if not re.search(r"washer|scheibe", text):
        return
    chamfered = bool(re.search(r"chamfer|\bfase\b|gefast|form b|biseaut|smussat|biselad", text))
    standard = "ISO 7090" if chamfered else "ISO 7089"
    sure = SURE if chamfered or re.search(r"plain|flat|form a", text) else LIKELY
    if thread := thread_in(text):
        if fits_washer(thread, text):
            yield f"{standard} {thread}", sure
        return
    holes = re.findall(r"(?<![0-9.])[0-9]{1,2}\.[0-9](?![0-9.])", text)  # a washer goes by its hole as well
    for row in rows("washers"):
        if row["standard"] != standard:
            continue
        if holes and row["inner_mm"] == holes[0] and fits_washer(row["thread"], text):
            yield f"{row['standard']} {row['thread']}", LIKELY


def _inserts(text: str) -> Iterator[tuple[str, float]]:
    name = thread_in(text)
    if not name or not re.search(r"insert|heat ?-?set|einpress|einschmelz", text) or "hex insert" in text:
        return
    size = thread_and_length(text)
    made = [row["length_mm"] for row in rows("inserts") if row["thread"] == name]
    if size is not None and size[1] in made:
        sure = SURE if re.search(r"heat|melt|press|brass|thread", text) else LIKELY
        yield f"heat-set insert {name}x{size[1]}", sure
        return
    numbers = re.findall(r"(?<![0-9.])[0-9]{1,2}(?:\.[0-9])?(?![0-9.])", without_thread(text))
    lengths = {written(float(one)) for one in numbers}
    fit = [length for length in made if not lengths or length in lengths]
    sure = SURE if len(fit) == 1 and lengths else LIKELY - 0.1 * (not lengths)
    for rank, length in enumerate(reversed(fit)):  # where none is said, the longest is mostly meant
        yield f"heat-set insert {name}x{length}", sure - 0.02 * rank * (not lengths)


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
    _screws, _slot_nuts, _nuts, _washers, _inserts, guides, drives, _supplies,
)  # fmt: skip

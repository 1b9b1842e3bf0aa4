"""What a line of somebody's parts list means: "M3×8 BHCS", "screw, button head, M3 x 8", "DIN 912 M3x8 8.8".

A text becomes readings, each a canonical designation with a confidence, beside what else the words say:
strength class, coating, pieces in a pack. That a dealer's word means one standard is common practice, no
source; a standard that is named in the text goes before every word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from trysquare.catalogue.designation import LONGEST_READ, neighbours, tidy, written
from trysquare.catalogue.lookup import UnknownDesignation, designation_of, lookup, sold_lengths_mm, thread
from trysquare.catalogue.rows import rows
from trysquare.catalogue.values import Profile
from trysquare.intake.list_members import Member, member_in
from trysquare.intake.list_words import (
    Obstacle,
    coating_in,
    counted_in,
    material_in,
    obstacle_in,
    own_kind,
    strength_in,
)
from trysquare.stock.boxes import pack_size_in, without_pack
from trysquare.stock.habits import Reading, fits_washer, readings
from trysquare.stock.standard_parts import standard_of
from trysquare.stock.sureness import LIKELY, MAYBE, SURE
from trysquare.stock.tongues import in_our_words

NAMED = 0.98  # the text itself names the standard
CERTAIN_FROM = 0.9  # from here on a reading is taken without a question
APART = 0.1  # and only where the next reading is so much less sure
ASKED_FROM = 0.35  # below it a reading is noise

_NUMBER = r"([0-9]{0,4}(?:\.[0-9]{1,3})?)"
_STANDARD = re.compile(r"\b(iso|din|ansi|asme|jis|uni|gost|bs|nf)[ .:-]?(?:b ?)?([0-9]{2,5}(?:-[0-9])?)")
_THREAD = re.compile(r"(?<![a-z])m ?([0-9]{1,2}(?:\.[0-9])?)(?![0-9])")
_PITCH = re.compile(
    r"(?<![a-z])m ?([0-9]{1,2}(?:\.[0-9])?) ?[x-] ?(0?\.[0-9]{1,2}|[12]\.[0-9]{1,2}|1)(?: ?p)?"
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
_SCREW_WORD = re.compile(
    r"screw|bolt|\b[sbf]hcs\b|\bbhs\b|\bshs\b|\bchcs\b|button|socket|countersunk|\bcsk\b|grub|schraube|"
    r"linsenkopf|senkkopf|zylinderkopf|gewindestift|inbus|allen|\bcap\b"
)
_SOCKET_CAP = re.compile(
    r"socket ?-?(?:head)? ?-?cap|\bchcs\b|\bshs\b|socket ?-?head(?! ?cap)|\bcap, socket|inbusschraube|"
    r"cap ?screw,? (?:hex|socket)|cap,? (?:allen|hex)|allen cap"
)
_OTHER_HEAD = re.compile(r"button|dome|counter|\bcsk|flat|grub|set ?-?screw|low|linsen|senk|bhcs|fhcs")
_NUT_WORD = re.compile(r"\bnuts?\b|mutter")


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """What a text says. `readings`: the likeliest first. `obstacle`: why no reading may be taken unasked.

    `pieces`: a number of pieces in the text itself ("12 pcs", "4x M3x8"), `pack_size` what it says of a
    pack; 0 where it says nothing. `says`: sentences for the reader. `kind`: what it is, if an own part.
    """

    text: str
    readings: tuple[Reading, ...]
    obstacle: str = ""
    strength: str = ""
    coating: str = ""
    material: str = ""
    pieces: int = 0
    pack_size: int = 0
    member: Member | None = None
    kind: str = "bought"
    says: tuple[str, ...] = ()

    @property
    def certain(self) -> Reading | None:
        """The reading that is taken without a question; None where there is something to ask."""
        if self.obstacle or not self.readings or self.readings[0].confidence < CERTAIN_FROM:
            return None
        if len(self.readings) > 1 and self.readings[0].confidence - self.readings[1].confidence < APART:
            return None
        return self.readings[0]


@lru_cache(maxsize=1024)  # a row is read for its pieces and again for its part
def understand(name: str) -> Understood:
    """Reads one text. Anything may come in; what is no standard part has no readings."""
    if len(name) > LONGEST_READ:
        return Understood(text=name, readings=(), kind=own_kind(name[:LONGEST_READ].casefold()))
    text = tidy(without_pack(name).replace("_", " ").replace("ø", " ").replace('"', " inch "))
    text = in_our_words(text)
    text, pieces = counted_in(re.sub(r"\b(a[24])[/ ]([578]0)\b", r"\1-\2", text))
    coating, material = coating_in(text), material_in(text)
    says: list[str] = []
    obstacle = obstacle_in(text)
    member = None
    if obstacle is None or obstacle.asks:
        # a screw of nylon is like one of steel; the word itself also stands for lock nuts
        found, fine = _readings(text.replace("nylon ", "") if material == "plastic" else text, says)
        obstacle = obstacle or fine
        member = None if found else member_in(text)
    else:
        found = []
    if material and found and not material.startswith(("stainless", "steel")):
        against = f"It is said to be of {material}; the catalogue's is of steel."
        obstacle = obstacle or Obstacle(against, asks=True)
    return Understood(
        text=name,
        readings=tuple(one for one in found if one.confidence >= ASKED_FROM),
        obstacle=obstacle.says if obstacle is not None else "",
        strength=strength_in(text),
        coating=coating,
        material=material,
        pieces=pieces,
        pack_size=pack_size_in(name),
        member=member,
        kind="member" if member is not None else own_kind(text, "fastener" if found else "bought"),
        says=tuple(says),
    )


def _readings(text: str, says: list[str]) -> tuple[list[Reading], Obstacle | None]:
    """The readings of a tidy text, and what stands against taking them."""
    exact = standard_of(text)
    if exact is not None and not isinstance(exact, Profile):
        return [Reading(designation=exact.designation, confidence=1.0)], None
    text, fine = _plain_sizes(text, says)
    if fine is not None:
        return [], fine
    found, obstacle = _of_words(text, says)
    near = _near_lengths(text) if not found and _SCREW_WORD.search(text + _screw_of(text)) else []
    if near:
        return near, Obstacle("No such length is made; the nearest are offered.", asks=True)
    return found, obstacle


def _of_words(text: str, says: list[str]) -> tuple[list[Reading], Obstacle | None]:
    """The readings of a text with plain sizes: by the standard that it names, else by its words."""
    standards, unknown = _standards(text, says)
    if unknown and not standards and unknown.startswith(("ISO", "DIN")):
        return [], Obstacle(f"{unknown} is not in the catalogue.", asks=False)
    if standards:
        found = [one for standard in standards for one in _named(standard, text)]
        if found:
            return [Reading(designation=one, confidence=NAMED) for one in dict.fromkeys(found)], None
        if _THREAD.search(text):
            return [], Obstacle(f"No such size in {' or '.join(standards)}.", asks=False)
        return [], None
    if _SOCKET_CAP.search(text) and not _OTHER_HEAD.search(text) and not _NUT_WORD.search(text):
        text = f"{text} shcs"
    by_words = readings(text) or _by_hole(text) or _insert(text)
    if unknown and by_words:  # a country's own number, beside the words of a standard that we know
        return by_words, Obstacle(f"{unknown} is not in the catalogue.", asks=True)
    return by_words, None


def _screw_of(text: str) -> str:
    """A screw's word where the text names a screw standard of the catalogue; "" otherwise."""
    screws = {row["standard"] for row in rows("screw_standards")}
    return " screw" if screws & set(_standards(text, [])[0]) else ""


def _near_lengths(text: str) -> list[Reading]:
    """What the text would be with the next shorter and the next longer length that is made."""
    size = re.search(
        r"(?<![a-z])m ?([0-9]{1,2}(?:\.[0-9])?)(?: ?x ?| |, ?| ?- ?)([0-9]{1,3}(?:\.[0-9])?)(?![0-9.])", text
    )
    if size is None:
        return []
    name, length = f"M{written(float(size[1]))}", float(size[2])
    try:
        made = sold_lengths_mm("ISO 4762", name)
    except UnknownDesignation:
        return []
    found: list[Reading] = []
    for other in neighbours(length, made) if length not in made else ():
        words = f"{text[: size.start()]}{name.lower()}x{written(other)}{text[size.end() :]}"
        found += [replace(one, confidence=min(one.confidence, MAYBE)) for one in _of_words(words, [])[0]]
    return found


def _by_hole(text: str) -> list[Reading]:
    """A washer that goes by its hole: "washer 3.2"."""
    holes = re.findall(r"(?<![0-9.])[0-9]{1,2}\.[0-9](?![0-9.])", text)
    if not re.search(r"washer|scheibe", text) or not holes:
        return []
    fit = [row for row in rows("washers") if row["inner_mm"] == holes[0] and fits_washer(row["thread"], text)]
    return [Reading(designation=f"{row['standard']} {row['thread']}", confidence=LIKELY) for row in fit]


def _insert(text: str) -> list[Reading]:
    """An insert whose length stands apart from its thread: "M3 heat set insert 5.7"."""
    size = _THREAD.search(text)
    if not size or not re.search(r"insert|heat ?-?set|einpress|einschmelz", text):
        return []
    name = f"M{written(float(size[1]))}"
    rest = text[: size.start()] + " " + text[size.end() :]
    numbers = re.findall(r"(?<![0-9.])[0-9]{1,2}(?:\.[0-9])?(?![0-9.])", rest)
    lengths = {written(float(one)) for one in numbers}
    sizes = [row for row in rows("inserts") if row["thread"] == name]
    fit = [row for row in sizes if not lengths or row["length_mm"] in lengths]
    sure = SURE if len(fit) == 1 and lengths else LIKELY - 0.1 * (not lengths)
    return [
        Reading(designation=f"heat-set insert {name}x{row['length_mm']}", confidence=sure) for row in fit[:4]
    ]


# --- sizes


def _plain_sizes(text: str, says: list[str]) -> tuple[str, Obstacle | None]:
    """The text with every size as m3x8: the coarse pitch left out, the M put in, the length to its thread."""
    found = _PITCH.search(text)
    if found and (found[3] or _NUT_WORD.search(text)):
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
    if not _THREAD.search(text) and _SCREW_WORD.search(text):
        bare = tidy(_MILLIMETRES.sub(r"\1", text))
        size_only = _WITHOUT_M.search(bare)
        if size_only and _coarse_pitch_mm(f"M{written(float(size_only[1]))}") is not None:
            says.append(f"{size_only[1]} mm is read as M{written(float(size_only[1]))}.")
            text = bare[: size_only.start()] + f"m{size_only[1]}x{size_only[2]}" + bare[size_only.end() :]
    return tidy(text), None


def _coarse_pitch_mm(name: str) -> float | None:
    try:
        return thread(name).pitch_mm
    except UnknownDesignation:
        return None


# --- standards named in the text


def _standards(text: str, says: list[str]) -> tuple[list[str], str]:
    """Standards of the catalogue that the text names, and the first that is none of it."""
    known = {row["standard"] for row in rows("screw_standards")}
    known |= {row["standard"] for table in ("nuts", "washers") for row in rows(table)}
    former = {row["written"]: row["means"] for row in rows("former_names")}
    found: list[str] = []
    unknown = ""
    for match in _STANDARD.finditer(text):
        body, number = match[1].upper(), match[2]
        name = f"{body} {number}"
        whole = f"{body} {number.partition('-')[0]}"
        means = name if name in known else former.get(name, former.get(whole, ""))
        if name.startswith("ISO 7380-") and name not in known:
            means = ""  # part 2 has a collar
        if not means:
            unknown = unknown or name
        elif means not in found:
            if means != name:
                says.append(f"{means} took the place of {name}.")
            found.append(means)
    return found, unknown


def _named(standard: str, text: str) -> list[str]:
    """Designations of the standard with the sizes of the text; none when it has no such size."""
    rest = _STANDARD.sub(" ", text)
    sizes = [(size, length) for size, length in _sizes(rest, standard) if size]
    strength = strength_in(rest) or _nut_class(rest, standard)
    for size, length in sizes:
        for words in dict.fromkeys((strength, "")):
            try:
                return [lookup(designation_of(standard, size, length, words)).designation]
            except UnknownDesignation:
                continue
    return []


def _sizes(text: str, standard: str) -> list[tuple[str, str]]:
    """Thread and length as the text may mean them."""
    found = re.search(
        r"(?<![a-z])m ?([0-9]{1,2}(?:\.[0-9])?) ?(?:mm)?[ x/,-]+(?:l ?=? ?)?"
        r"([0-9]{1,3}(?:\.[0-9])?)(?![0-9.])",
        text,
    )
    whole = _THREAD.search(text)
    answers: list[tuple[str, str]] = []
    if found:
        answers.append((f"M{written(float(found[1]))}", written(float(found[2]))))
    elif whole and (apart := re.search(r"(?<![0-9.m])([0-9]{1,3}(?:\.[0-9])?) ?mm", text)):
        answers.append((f"M{written(float(whole[1]))}", written(float(apart[1]))))
    if whole:
        answers.append((f"M{written(float(whole[1]))}", ""))
    elif standard.startswith("ISO 7089"):  # washers go by their hole as well
        holes = re.search(r"(?<![0-9.])([0-9]{1,2}\.[0-9])(?![0-9.])", text)
        answers += [
            (row["thread"], "")
            for row in rows("washers")
            if holes and row["inner_mm"] == written(float(holes[1]))
        ]
    elif size := re.search(r"(?<![0-9.])([0-9]{1,2}(?:\.5)?)(?: ?mm)?x([0-9]{1,3})", text):
        answers.append((f"M{written(float(size[1]))}", written(float(size[2]))))
    return answers


def _nut_class(text: str, standard: str) -> str:
    """A nut's class stands alone behind the size: "ISO 4032 - M5 - 8"."""
    found = re.search(r"m ?[0-9.]+[ ,-]+(?:(?:class|cl\.?|kl\.?|grade|gr\.?) ?)?(8|10|04|05)\b(?!\.)", text)
    return found[1] if found and any(row["standard"] == standard for row in rows("nuts")) else ""

"""Socket screws by standard, thread, length and property class."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, neighbours, tidy, written
from trysquare.catalogue.rows import numbers, rows
from trysquare.catalogue.strengths import strength_among
from trysquare.catalogue.threads import near_threads, thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Head, Screw

# "iso 4762 m3x10 8.8"; the standards' own "ISO 4762 - M3 x 10 - 8.8" reads as well
_SCREW = rf"(iso|din) ?([0-9]+(?:-[0-9])?)[ -]*m{NUMBER}(?:x{NUMBER})?(?:[ -]+(.+))?"


def split_standard(text: str) -> tuple[str, str, str, str] | None:
    """Standard, thread, length and the words after it, of a tidy text; None when it has another form.

    The length is "" when none was written (nuts and washers have none).
    """
    found = re.fullmatch(_SCREW, text)
    if not found:
        return None
    body, number, size, length, rest = found.groups()
    return f"{body.upper()} {number}", f"M{written(float(size))}", length or "", rest or ""


def screw_standards() -> tuple[str, ...]:
    """All screw standards, in table order."""
    return tuple(row["standard"] for row in rows("screw_standards"))


@cache
def standard_lengths_mm(standard: str, thread_name: str) -> tuple[float, ...]:
    """The commercial lengths that the standard itself lists for the thread, shortest first."""
    row = _length_row(standard, thread_name)
    series = numbers(_standard_row(standard)["lengths_mm"])
    shortest_mm, longest_mm = float(row["shortest_mm"]), float(row["longest_mm"])
    return tuple(length for length in series if shortest_mm <= length <= longest_mm)


@cache
def sold_lengths_mm(standard: str, thread_name: str) -> tuple[float, ...]:
    """The standard's lengths and those also sold by dealers (common practice, no source)."""
    also = numbers(_length_row(standard, thread_name)["also_sold_mm"])
    return tuple(sorted({*standard_lengths_mm(standard, thread_name), *also}))


@cache
def screw(standard: str, thread_name: str, length_mm: float, strength: str = "") -> Screw:
    """One screw; raises UnknownDesignation with the nearest lengths or names.

    Only lengths that are made resolve: those of the standard and a few that dealers also sell.
    """
    kind = _standard_row(standard)
    dimensions = _dimension_row(standard, thread_name)
    name = f"{kind['standard']} {dimensions['thread']}x{written(length_mm)}"
    lengths_mm = sold_lengths_mm(standard, thread_name)
    if length_mm not in lengths_mm:
        near_names = tuple(
            f"{kind['standard']} {dimensions['thread']}x{written(length)}"
            for length in neighbours(length_mm, lengths_mm)
        )
        raise UnknownDesignation(
            read=name,
            expected=f"a length that is made: {', '.join(written(length) for length in lengths_mm)} mm",
            suggestions=near_names,
        )
    allowed = kind["strengths"].split()
    strength_class = strength_among(strength, allowed) if strength else ""
    if strength_class is None:
        raise UnknownDesignation(
            read=f"{name} {strength}",
            expected=f"a property class of {kind['standard']}: {', '.join(allowed)}",
            suggestions=tuple(f"{name} {word}" for word in near(strength, allowed)) or (name,),
        )
    plus_mm, minus_mm = length_tolerance_mm(length_mm)
    is_short = bool(dimensions["short_up_to_mm"]) and length_mm <= float(dimensions["short_up_to_mm"])
    source = dimensions["source"]
    if length_mm not in standard_lengths_mm(standard, thread_name):
        source += "; a length outside the standard's table: common practice, no source"
    return Screw(
        designation=f"{name} {strength_class}".rstrip(),
        standard=kind["standard"],
        thread=thread(thread_name),
        length_mm=float(length_mm),
        head=Head(kind["head"]),
        head_diameter_mm=float(dimensions["head_diameter_mm"]),
        head_height_mm=float(dimensions["head_height_mm"]),
        key_mm=float(dimensions["key_mm"]),
        key_depth_mm=float(dimensions["short_key_depth_mm" if is_short else "key_depth_mm"]),
        length_plus_mm=plus_mm,
        length_minus_mm=minus_mm,
        strength=strength_class,
        point=kind["point"],
        source=source,
    )


def length_tolerance_mm(length_mm: float) -> tuple[float, float]:
    """How much longer and how much shorter than nominal a screw may be delivered (both positive).

    Source: ISO 4759-1:2000, product grade A, js15.
    """
    for row in rows("length_tolerances"):
        if float(row["over_mm"]) < length_mm <= float(row["up_to_mm"]):
            return float(row["plus_mm"]), float(row["minus_mm"])
    raise UnknownDesignation(
        read=length_mm, expected="a screw length over 0 and up to 120 mm", where="length_mm"
    )


def screw_designations() -> Iterator[str]:
    """Every screw that resolves, without a property class."""
    for row in rows("screw_lengths"):
        for length in sold_lengths_mm(row["standard"], row["thread"]):
            yield f"{row['standard']} {row['thread']}x{written(length)}"


def _standard_row(standard: str) -> Mapping[str, str]:
    asked = tidy(standard).upper()
    for row in rows("screw_standards"):
        if row["standard"] == asked:
            return row
    raise UnknownDesignation(
        read=standard,
        expected=f"a screw standard: {', '.join(screw_standards())}",
        suggestions=near(standard, screw_standards()),
    )


def _dimension_row(standard: str, thread_name: str) -> Mapping[str, str]:
    return _row_of_thread("screws", standard, thread_name)


def _length_row(standard: str, thread_name: str) -> Mapping[str, str]:
    return _row_of_thread("screw_lengths", standard, thread_name)


def _row_of_thread(table: str, standard: str, thread_name: str) -> Mapping[str, str]:
    kind, name = _standard_row(standard)["standard"], tidy(thread_name).upper()
    for row in rows(table):
        if row["standard"] == kind and row["thread"] == name:
            return row
    known = [row["thread"] for row in rows(table) if row["standard"] == kind]
    raise UnknownDesignation(
        read=f"{kind} {name}",
        expected=f"a thread that {kind} has here: {', '.join(known)}",
        suggestions=tuple(f"{kind} {word}" for word in near_threads(name, known)),
    )

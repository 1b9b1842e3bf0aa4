"""Nuts, washers and heat-set inserts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from trysquare.catalogue.designation import NUMBER, near, neighbours, written
from trysquare.catalogue.rows import rows
from trysquare.catalogue.strengths import strength_among
from trysquare.catalogue.threads import near_threads, thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Insert, Nut, NutShape, Washer

_INSERT = rf"heat[- ]?set insert m{NUMBER}x{NUMBER}"


@cache
def nut(standard: str, thread_name: str, strength: str = "") -> Nut:
    """One nut of a standard as canonically written ("ISO 4032"); raises UnknownDesignation."""
    for row in rows("nuts"):
        if row["standard"] == standard and row["thread"] == thread_name:
            break
    else:
        raise _no_such_thread("nuts", standard, thread_name)
    allowed = row["strengths"].split()
    strength_class = strength_among(strength, allowed) if strength else ""
    name = f"{standard} {thread_name}"
    if strength_class is None:
        raise UnknownDesignation(
            read=f"{name} {strength}",
            expected=f"a property class of {standard}: {', '.join(allowed)}",
            suggestions=tuple(f"{name} {word}" for word in near(strength, allowed)) or (name,),
        )
    return Nut(
        designation=f"{name} {strength_class}".rstrip(),
        standard=standard,
        thread=thread(thread_name),
        shape=NutShape(row["shape"]),
        across_flats_mm=float(row["across_flats_mm"]),
        height_mm=float(row["height_mm"]),
        strength=strength_class,
        source=row["source"],
    )


@cache
def washer(standard: str, thread_name: str) -> Washer:
    """One plain washer; its thickness is the nominal one. Raises UnknownDesignation."""
    for row in rows("washers"):
        if row["standard"] == standard and row["thread"] == thread_name:
            return Washer(
                designation=f"{standard} {thread_name}",
                standard=standard,
                thread=thread(thread_name),
                inner_mm=float(row["inner_mm"]),
                outer_mm=float(row["outer_mm"]),
                thickness_mm=float(row["thickness_mm"]),
                source=row["source"],
            )
    raise _no_such_thread("washers", standard, thread_name)


def nut_standards() -> tuple[str, ...]:
    """All nut standards, in table order."""
    return tuple(dict.fromkeys(row["standard"] for row in rows("nuts")))


def washer_standards() -> tuple[str, ...]:
    """All washer standards, in table order."""
    return tuple(dict.fromkeys(row["standard"] for row in rows("washers")))


@cache
def insert(thread_name: str, length_mm: float) -> Insert:
    """One heat-set insert; raises UnknownDesignation with the nearest lengths."""
    for row in rows("inserts"):
        if row["thread"] == thread_name and float(row["length_mm"]) == length_mm:
            return Insert(
                designation=f"heat-set insert {thread_name}x{written(length_mm)}",
                thread=thread(thread_name),
                length_mm=float(length_mm),
                outer_mm=float(row["outer_mm"]),
                hole_mm=float(row["hole_mm"]),
                boss_mm=float(row["boss_mm"]),
                source=row["source"],
            )
    lengths = [float(row["length_mm"]) for row in rows("inserts") if row["thread"] == thread_name]
    raise UnknownDesignation(
        read=f"heat-set insert {thread_name}x{written(length_mm)}",
        expected="a heat-set insert of the table inserts.csv",
        suggestions=tuple(
            f"heat-set insert {thread_name}x{written(length)}" for length in neighbours(length_mm, lengths)
        ),
    )


def read_insert(text: str) -> Insert | None:
    """The insert that a tidy text names; None when it has another form."""
    found = re.fullmatch(_INSERT, text)
    return insert(f"M{written(float(found[1]))}", float(found[2])) if found else None


def insert_designations() -> Iterator[str]:
    """Every heat-set insert."""
    for row in rows("inserts"):
        yield f"heat-set insert {row['thread']}x{row['length_mm']}"


def nut_and_washer_designations() -> Iterator[str]:
    """Every nut and washer, without a property class."""
    for row in (*rows("nuts"), *rows("washers")):
        yield f"{row['standard']} {row['thread']}"


def _no_such_thread(table: str, standard: str, thread_name: str) -> UnknownDesignation:
    known = [row["thread"] for row in rows(table) if row["standard"] == standard]
    return UnknownDesignation(
        read=f"{standard} {thread_name}",
        expected=f"a thread that {standard} has here: {', '.join(known) or 'none'}",
        suggestions=tuple(f"{standard} {word}" for word in near_threads(thread_name, known)),
    )

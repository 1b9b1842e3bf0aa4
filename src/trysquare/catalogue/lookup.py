"""A standard part from its designation.

Read tolerantly (case, spaces, ×, decimal comma), answered canonically: `lookup(x).designation` is
the one name under which lists, stock and drawings know the part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

from trysquare.catalogue.designation import LONGEST_READ, near, tidy
from trysquare.catalogue.drives import (
    belt_designations,
    lead_screw_designations,
    read_belt,
    read_lead_screw,
    read_smooth_idler,
    read_toothed,
    smooth_idler_designations,
    toothed_designations,
)
from trysquare.catalogue.guides import block_designations, rail_designations, read_block, read_rail
from trysquare.catalogue.holes import clearance_hole_mm
from trysquare.catalogue.nuts import (
    insert_designations,
    nut,
    nut_and_washer_designations,
    nut_standards,
    read_insert,
    washer,
    washer_standards,
)
from trysquare.catalogue.profiles import (
    profile,
    profile_designations,
    read_profile,
    read_slot_nut,
    slot_nut_designations,
)
from trysquare.catalogue.rows import rows
from trysquare.catalogue.screws import (
    screw,
    screw_designations,
    screw_standards,
    sold_lengths_mm,
    split_standard,
    standard_lengths_mm,
)
from trysquare.catalogue.strengths import Strength, strength
from trysquare.catalogue.supplies import grease_designations, read_grease, read_wire, wire_designations
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import StandardPart

__all__ = [
    "Strength",
    "UnknownDesignation",
    "clearance_hole_mm",
    "designations",
    "lookup",
    "profile",
    "screw",
    "sold_lengths_mm",
    "standard_lengths_mm",
    "strength",
    "thread",
]

# Which reader to ask, by how the text begins: the others' patterns need not even be compiled.
_READERS: tuple[tuple[tuple[str, ...], Callable[[str], StandardPart | None]], ...] = (
    (("heat",), read_insert),
    (("slide", "hex", "roll", "quarter"), read_slot_nut),
    (("profile", *"123456789"), read_profile),
    (("rail",), read_rail),
    (("block",), read_block),
    (("belt",), read_belt),
    (("pulley", "idler"), read_toothed),
    (("idler", "smooth"), read_smooth_idler),
    (("lead",), read_lead_screw),
    (("wire", "awg"), read_wire),
    (("grease",), read_grease),
)


@cache
def lookup(designation: str) -> StandardPart:
    """The standard part of a designation; raises UnknownDesignation, with suggestions, and nothing else."""
    text = tidy(designation)
    if len(text) > LONGEST_READ:
        raise UnknownDesignation(read=designation, expected=f"at most {LONGEST_READ} characters")
    if by_standard := split_standard(text):
        return _of_standard(designation, *by_standard)
    for beginnings, read in _READERS:
        if text.startswith(beginnings) and (part := read(text)) is not None:
            return part
    raise UnknownDesignation(
        read=designation,
        expected="the designation of a standard part",
        suggestions=near(text, designations()),
    )


def _of_standard(designation: str, standard: str, thread_name: str, length: str, rest: str) -> StandardPart:
    if length and standard in screw_standards():
        return screw(standard, thread_name, round(float(length), 3), rest)
    if not length and standard in nut_standards():
        return nut(standard, thread_name, rest)
    if not length and not rest and standard in washer_standards():
        return washer(standard, thread_name)
    for row in rows("former_names"):
        if row["written"] == standard:
            renamed = designation_of(row["means"], thread_name, length, rest)
            raise UnknownDesignation(
                read=designation,
                expected=f"{row['means']}, which took the place of {standard}",
                suggestions=(renamed,),
                remedy=f"If your part agrees with it, write '{renamed}'.",
            )
    if standard in screw_standards():
        raise UnknownDesignation(
            read=designation,
            expected="a length after the thread",
            suggestions=tuple(
                name for name in screw_designations() if name.startswith(f"{standard} {thread_name}x")
            )[:3],
        )
    known = (*screw_standards(), *nut_standards(), *washer_standards())
    raise UnknownDesignation(
        read=designation,
        expected=f"a standard of the catalogue: {', '.join(known)}",
        suggestions=near(designation, designations()),
    )


def designation_of(standard: str, thread_name: str, length: str = "", strength_class: str = "") -> str:
    """The words of a standard's designation put together, not checked against any table."""
    size = f"{thread_name}x{length}" if length else thread_name
    return f"{standard} {size} {strength_class.upper()}".rstrip()


def designations() -> Iterator[str]:
    """Canonical designations of the whole catalogue: all rows; of sorts cut to any length, usual ones."""
    yield from screw_designations()
    yield from nut_and_washer_designations()
    yield from insert_designations()
    yield from profile_designations()
    yield from slot_nut_designations()
    yield from rail_designations()
    yield from block_designations()
    yield from belt_designations()
    yield from toothed_designations()
    yield from smooth_idler_designations()
    yield from lead_screw_designations()
    yield from wire_designations()
    yield from grease_designations()

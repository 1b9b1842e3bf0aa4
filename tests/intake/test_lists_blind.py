"""Whole strange lists, columns and quantities as well, written with their answers before they were read.

When first read: of the 154 rows of the first set 98 were right and 8 asked rightly, 15 asked without need,
with the right part first; no part was taken wrongly, of one row the pieces were (a pack in its remark). After
the faults had been mended by their kind: 63 rows of a second set, written then, of which 54 were right and 3
asked rightly; none was taken wrongly. (One of the 63 was its writer's fault: a length that he thought is not
made.) Once more, after all had been mended: 60 rows of a third set, of which 43 were right and 11 asked
rightly, none taken wrongly. A row in which `open` says something is read otherwise than its writer meant
still: "taken" where it is the right part and was to be asked, "asked" where the right part comes first and
was to be taken.
"""

import csv
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from trysquare.intake.list_columns import find_columns
from trysquare.intake.list_decide import Decided, Known, decide
from trysquare.intake.list_rows import read_rows
from trysquare.stock.row_text import understand
from trysquare.stock.tables import Table, TableRow

FILE = Path(__file__).parent / "lists_blind.csv"
ROWS = list(csv.DictReader(FILE.read_text(encoding="utf-8").splitlines()))
HEADINGS = {
    "plain": ("Description", "Qty"),
    "german": ("Benennung", "Gewinde", "Länge (mm)", "Menge"),
    "packs": ("Item", "Packs", "Pcs per pack"),
    "french": ("Désignation", "Long. [cm]", "Qté"),
    "spanish": ("Pieza", "Medida", "Cantidad"),
    "noted": ("Part", "Note", "Count"),
    "plain 2": ("Item", "Pcs"),
    "german 2": ("Pos", "Teil", "Norm", "Abmessung", "Stk."),
    "cut": ("Profile", "Cut length [mm]", "How many"),
    "italian": ("Descrizione", "Misura", "Q.tà"),
    "dutch": ("Omschrijving", "Lengte (cm)", "Aantal"),
    "bags": ("Part", "Bags", "Per bag"),
    "plain 3": ("Part name", "Need"),
    "qty first": ("Qty", "Hardware", "Where used"),
    "metres": ("Component", "Length (m)", "Qty"),
    "spec": ("Item", "Spec", "Material", "Qty"),
}


def cells_of(row: dict[str, str]) -> tuple[str, ...]:
    cells, quantity = row["cells"].split(" | "), row["quantity"]
    return (quantity, *cells) if row["sheet"] == "qty first" else (*cells, quantity)


@cache
def decided(sheet: str) -> dict[tuple[str, ...], Decided]:
    rows = [cells_of(row) for row in ROWS if row["sheet"] == sheet]
    lines = (TableRow(line=line, cells=cells) for line, cells in enumerate((HEADINGS[sheet], *rows), start=1))
    table = Table(file="list.csv", sheet="", rows=tuple(lines))
    columns = find_columns(table, {}, [])
    assert columns is not None
    listed = read_rows(table, columns).rows
    assert len(listed) == len(rows)  # none is dropped
    return dict(zip(rows, decide(listed, Known()), strict=True))


def without_class(designation: str) -> str:
    for strength in (" 8.8", " 10.9", " 12.9", " A2-70", " A4-80"):
        designation = designation.removesuffix(strength)
    return designation


def read_as(row: dict[str, str]) -> str:
    """ "right", "asked rightly", "asked", "taken", or another word for what is worse."""
    found = decided(row["sheet"])[cells_of(row)]
    want, length = without_class(row["part"]).partition("; ")[::2]
    first = found.choices[0].designation if found.choices else ""
    member = found.own.member if found.own is not None else None
    if row["pieces"] and found.outcome != "asked" and found.pieces != int(row["pieces"]):
        return "wrong and sure"
    if found.outcome == "recognised" or (member is not None and member.profile):
        got = without_class(found.parts[0]) if member is None else member.profile
        same = got == want and (member is None or not length or f"{member.length_mm:g}" == length)
        if not same:
            return "wrong and sure"
        return "taken" if row["outcome"] == "asked" else "right"
    if found.outcome == "asked":
        right_first = not want or want in (without_class(first), without_class(found.parts[0]))
        if row["outcome"] == "asked":
            return "asked rightly" if right_first else "asked, another first"
        return "asked" if right_first and want else "asked, another first"
    return "right" if row["outcome"] == "own" else "own instead"


@pytest.mark.parametrize("row", ROWS, ids=[row["cells"] for row in ROWS])
def test_a_row_of_a_strange_list_becomes_what_its_writer_meant(row: dict[str, str]) -> None:
    # Source: the writer of the row, common practice; equal standards as in the catalogue
    assert read_as(row) in ([row["open"]] if row["open"] else ["right", "asked rightly"])


def test_no_row_of_the_strange_lists_is_taken_wrongly_and_most_are_right() -> None:
    assert len(ROWS) >= 270
    found = Counter(read_as(row) for row in ROWS)
    assert not found["wrong and sure"], found
    assert found["own instead"] <= 1, found
    assert (found["right"] + found["asked rightly"]) / len(ROWS) >= 0.85, found
    asked = found["asked"] + found["asked rightly"] + found["asked, another first"]
    assert asked / len(ROWS) <= 0.2, found


TRAPS = list(csv.DictReader((FILE.parent / "lists_traps.csv").read_text(encoding="utf-8").splitlines()))
"""Rows that name a part's words and are another thing ("wire stripper AWG 22"). Written in three sets, each
before the reader met it; taken wrongly when first read: of the 80 of the first 6, of the 71 of the second 27,
of the 25 of the third 16. `part`: rows of the third that are the part, with a remark; 17 of 20 were taken."""
ASKED_FOR_THEIR_REMARK = ("DIN 912 M3x12 bed springs", "M3x10 FHCS rail on plate")


@pytest.mark.parametrize("row", [row for row in TRAPS if not row["part"]], ids=lambda row: row["text"])
def test_what_goes_with_a_part_or_is_like_it_is_never_taken_for_it(row: dict[str, str]) -> None:
    # Source: the writer of the row, common practice
    read = understand(row["text"])
    assert read.certain is None
    assert read.member is None or not read.member.profile


@pytest.mark.parametrize("row", [row for row in TRAPS if row["part"]], ids=lambda row: row["text"])
def test_a_remark_on_where_a_part_goes_is_in_nobodys_way(row: dict[str, str]) -> None:
    # Source: the writer of the row, common practice
    read = understand(row["text"])
    assert read.readings[0].designation == row["part"]
    assert (read.certain is None) is (row["text"] in ASKED_FOR_THEIR_REMARK)

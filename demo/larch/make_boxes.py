"""Writes boxes/travel-upgrade.xlsx, the packing list of the upgrade kit as its vendor would send it.

python demo/larch/make_boxes.py

A title above the heading, a box number merged over its rows, packs with their size, and a total by formula.
"""

from datetime import UTC, datetime
from pathlib import Path

from openpyxl import Workbook

ROWS = [
    ("F upgrade", "9 mm rail, L = 240", 2, None, None),
    (None, "Lead screw Tr8, lead 8, 250 mm", 2, None, None),
    (None, "Cap screw M3 x 6, DIN 912", None, 1, 25),
]


def main() -> None:
    """Writes the workbook; the same bytes' worth of content every time."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Packing list"
    sheet.append(["Travel upgrade 140 to 180, edition 2"])
    sheet.append([])
    sheet.append(["Box no.", "Item description", "Qty", "Packs", "Pcs per pack"])
    for row in ROWS:
        sheet.append(row)
    first, last = 4, 3 + len(ROWS)
    sheet.merge_cells(start_row=first, end_row=last, start_column=1, end_column=1)
    sheet.append([None, "Total", f"=SUM(C{first}:C{last})"])
    book.properties.created = book.properties.modified = datetime(2024, 1, 1, tzinfo=UTC).replace(tzinfo=None)
    book.save(Path(__file__).parent / "boxes" / "travel-upgrade.xlsx")


if __name__ == "__main__":
    main()

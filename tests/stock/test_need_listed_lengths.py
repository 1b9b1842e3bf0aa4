"""What a parts list says of lengths stands in the need."""

from __future__ import annotations

from pathlib import Path

from trysquare.machine.load import load_machine
from trysquare.stock.need import need


def folder_with(tmp_path: Path, rows: str) -> Path:
    (tmp_path / "machine.toml").write_text('format = 1\nname = "Reel"\n', encoding="utf-8")
    parts = (
        '[part.sleeve]\nname = "sleeve"\nkind = "bought"\n\n[part.tape]\nname = "tape"\nkind = "consumable"\n'
    )
    (tmp_path / "parts.toml").write_text(parts, encoding="utf-8")
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    return tmp_path


def test_the_need_keeps_pieces_and_length_of_what_is_sold_by_length(tmp_path: Path) -> None:
    rows = "part,pieces,length_mm\nsleeve,1,5000\nsleeve,2,300\ntape,2,33000\nISO 7380-1 M3x8,20,\n"
    whole = need(load_machine(folder_with(tmp_path, rows), []))
    lengths = {line.part: line.listed_mm for line in whole.lines}
    assert lengths == {"sleeve": ((1, 5000.0), (2, 300.0)), "ISO 7380-1 M3x8": ()}
    assert {line.name: line.listed_mm for line in whole.supplies} == {"tape": ((2, 33000.0),)}


def test_a_length_cell_that_is_no_number_says_nothing(tmp_path: Path) -> None:
    rows = "part,pieces,length_mm\nsleeve,1,30 cm\nsleeve,1,nan\nsleeve,1,-5\n"
    assert need(load_machine(folder_with(tmp_path, rows), [])).lines[0].listed_mm == ()

"""Small machines for the tests of paper: a list of parts is enough for labels."""

from __future__ import annotations

from pathlib import Path

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

PARTS = """
[part]
rung = { name = "Rung 300", kind = "member", profile = "profile 20x40 slot 6", length_mm = 300 }
plate = { name = "Base plate", kind = "plate", size_mm = [80, 60, 4] }
clip = { name = "Clip", kind = "printed", solid = [{ box_mm = [20, 10, 5] }, { box_mm = [5, 10, 15] }] }
[part.beam]
name = "Beam 380"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 380
tapped = ["a"]
hole = [{ name = "h", face = "+z", at_mm = [60, 200], diameter_mm = 6 }]
"""
COUNTS = {
    "beam": 2, "rung": 1, "plate": 1, "clip": 3, "ISO 4762 M3x8": 12, "ISO 4762 M5x50": 4,
    "ISO 7380-1 M4x16": 6,
    "ISO 10642 M5x16": 2, "ISO 4026 M3x6": 1, "ISO 4032 M3": 8, "ISO 7089 M5": 4, "heat-set insert M3x5.7": 5,
    "slide-in nut slot 6 M5": 7,
}  # fmt: skip
SCREWS_MM = {
    "ISO 4762 M3x8": 8.0, "ISO 4762 M5x50": 50.0, "ISO 7380-1 M4x16": 16.0, "ISO 10642 M5x16": 16.0,
    "ISO 4026 M3x6": 6.0,
}  # fmt: skip


def listed(
    folder: Path, parts: str = PARTS, counts: dict[str, int] | None = None, name: str = "Tray"
) -> Machine:
    """A machine that is only a list, written into a folder and read back."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "machine.toml").write_text(f'format = 1\nname = "{name}"\n', encoding="utf-8")
    (folder / "parts.toml").write_text(parts, encoding="utf-8")
    rows = [f"{part},{pieces}" for part, pieces in (COUNTS if counts is None else counts).items()]
    (folder / "list.csv").write_text("\n".join(["part,pieces", *rows]) + "\n", encoding="utf-8")
    return load_machine(folder, [])


def named(folder: Path, names: list[str]) -> Machine:
    """A machine whose parts bear these names, whatever they are."""
    import json

    rows = [
        f'p{index} = {{ name = {json.dumps(each, ensure_ascii=False)}, kind = "bought" }}'
        for index, each in enumerate(names)
    ]
    return listed(
        folder, "[part]\n" + "\n".join(rows) + "\n", {f"p{index}": 1 for index in range(len(names))}
    )

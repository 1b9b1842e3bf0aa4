"""Measures the look-alike key: its time, whether it is proven to be the least, and what it promises.

python -m benchmarks.key

Sixty sorts of bars of our own making that look as alike as the demo's beams: few lengths, holes at few
places, faces and ends that repeat. Then the whole demo machine, and its members matched by length.
"""

from __future__ import annotations

import random
from pathlib import Path

from benchmarks.figures import median_seconds, row
from trysquare.machine.load import load_machine
from trysquare.machine.values import Instrument
from trysquare.stock.features import Features, Size
from trysquare.stock.key import Sort, sorting_key, sorting_sheet
from trysquare.stock.matched import Measured, match_members

LARCH = Path(__file__).resolve().parent.parent / "demo" / "larch"
INSTRUMENTS = (
    Instrument(id="caliper", sort="caliper", half_width_mm=0.03, reach_mm=150, source="maker sheets"),
    Instrument(id="tape", sort="tape", half_width_mm=0.5, reach_mm=3000, source="common practice, no source"),
)
LENGTHS_MM = {
    "one length": [380],
    "four lengths": [300, 372, 380, 420],
    "eleven lengths": [*range(300, 520, 20)],
}


def bars(count: int, lengths_mm: list[int], seed: int) -> list[Sort]:
    """Bars that look alike."""
    chance = random.Random(seed)
    found = []
    for number in range(count):
        places = sorted({chance.choice([10, 20, 60, 100, 150]) for _ in range(chance.randint(0, 3))})
        sizes: dict[str, Size | None] = {
            "length": Size(value=chance.choice(lengths_mm), spread=0.2),
            "width": Size(value=chance.choice([20, 20, 40]), spread=0.1),
            "slot": Size(value=chance.choice([6.2, 5.2]), spread=0.1),
            "bore": Size(value=chance.choice([5.5, 6.0]), spread=0.1) if places else None,
        }
        for at in range(4):
            sizes[f"hole_{at + 1}"] = Size(value=places[at], spread=0.3) if at < len(places) else None
        seen = {
            "ends": chance.choice(
                ["no thread in either end", "a thread in one end", "a thread in both ends"]
            ),
            "any_hole": "holes" if places else "no hole",
            "hole_count": f"{len(places)} holes",
            "faces": chance.choice(["1, 0, 1, 0", "2, 0, 2, 0", "2, 1, 2, 1"]) if places else "0, 0, 0, 0",
        }
        features = Features(form="profile bar", sizes=sizes, seen=dict(seen))
        parts = {f"bar-{number}": chance.randint(1, 8)}
        found.append(Sort(letter=f"S{number}", name="", parts=parts, features=features))
    return found


def main() -> None:
    """Prints one row for each figure."""
    for name, lengths_mm in LENGTHS_MM.items():
        times, proven, above = [], 0, []
        for seed in range(5):
            sorts = bars(60, lengths_mm, seed)
            times.append(median_seconds(lambda sorts=sorts: sorting_key(sorts, INSTRUMENTS), 3))  # type: ignore[misc]
            key = sorting_key(sorts, INSTRUMENTS)
            proven += key.optimal
            above.append(key.work_seconds / max(key.least_seconds, 1e-9) - 1)
        what = f"key of 60 sorts of bars, {name}; worst of 5"
        row(what, "≤ 1 s", f"{max(times):.2f} s")
        row("  proven the least; furthest above the bound", "", f"{proven} of 5; {max(above):.1%}")
    machine = load_machine(LARCH)
    row("sheet of all parts of Larch", "", f"{median_seconds(lambda: sorting_sheet(machine)):.2f} s")
    sheet = sorting_sheet(machine)
    pieces = sum(sort.pieces for sort in sheet.sorts)
    wrong = sum(
        section.key.wrong * sum(sort.pieces for sort in section.key.sorts) for section in sheet.sections
    )
    proven = sum(section.key.optimal for section in sheet.sections)
    row("  keys proven to be the least", "", f"{proven} of {len(sheet.sections)}")
    row("  pieces that go astray unnoticed, as promised", "", f"{wrong / pieces:.3%}")
    chance = random.Random(1)
    measured = [
        Measured(letter=sort.letter, piece=f"{sort.letter}{at}", half_width_mm=0.03,
                 length_mm=380 + chance.gauss(0, 0.1))
        for sort in sheet.sorts if sort.features.form == "profile bar"
        and (length := sort.features.sizes["length"]) and length.value == 380
        for at in range(sort.pieces)
    ]  # fmt: skip
    seconds = median_seconds(lambda: match_members(machine, sheet.sorts, measured))
    matching = match_members(machine, sheet.sorts, measured)
    row("eleven measured beams of Larch in their places", "", f"{seconds:.2f} s")
    gain = f"{matching.unsorted_rms_mm_per_100:.3f} to {matching.rms_mm_per_100:.3f}"
    row("  out of square, mm per 100 mm, as they come and matched", "", gain)


if __name__ == "__main__":
    main()

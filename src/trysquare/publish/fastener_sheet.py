"""The sheet to lay screws on: every fastener of the machine true to size, by thread and length."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.catalogue.designation import written
from trysquare.catalogue.label_sheets import PAPERS_MM
from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut, Washer
from trysquare.machine.values import Machine
from trysquare.publish.drawing import EDGE, THIN, Drawing, Shape, Word, line
from trysquare.publish.fastener_drawing import (
    fastener_words,
    screw_drawing,
    screw_face,
    screw_side,
    small_drawing,
)
from trysquare.publish.sorts import Labelled
from trysquare.publish.typst_page import Pages, set_pages

MARGIN_MM = 15.0
GUTTER_MM = 6.0
BAR_MM = 100.0
INCH_MM = 25.4
BAR_INCHES = 4

_ORDER = {Nut: 0, Washer: 1, Insert: 2, SlotNut: 3}


def fasteners_of(sorts: Sequence[Labelled]) -> tuple[Labelled, ...]:
    """Those that the sheet draws: by thread, screws first and by length, then nuts, washers and inserts."""
    drawn = [sort for sort in sorts if sort.part_type is not None and _standard(sort) is not None]

    def key(sort: Labelled) -> tuple[float, int, float]:
        standard = _standard(sort)
        assert standard is not None
        if isinstance(standard, Screw):
            return (standard.thread.diameter_mm, -1, standard.length_mm)
        return (standard.thread.diameter_mm, _ORDER[type(standard)], 0.0)

    return tuple(sorted(drawn, key=key))


def fastener_sheet_pdf(machine: Machine, sorts: Sequence[Labelled], paper: str) -> Pages:
    """The sheet, one part a thread. Without any fastener it is a page that says so."""
    width = PAPERS_MM[paper][0] - 2 * MARGIN_MM
    threads: dict[str, list[Labelled]] = {}
    for sort in fasteners_of(sorts):
        standard = _standard(sort)
        assert standard is not None
        threads.setdefault(standard.thread.name, []).append(sort)
    column = (width - GUTTER_MM) / 2
    return set_pages(
        "fastener_sheet",
        {
            "machine": machine.name,
            "paper": paper,
            "margin": MARGIN_MM,
            "gutter": GUTTER_MM,
            "bars": [bar.facts() for bar in (_bar(), *([_inch_bar()] if paper == "letter" else []))],
            "bar_words": "100 mm" if paper == "a4" else "100 mm, the other 4 inch",
            "threads": [
                {"thread": thread, **_group(rows, column)} for thread, rows in threads.items()
            ],
        },
        title=f"{machine.name}: fasteners, true to size",
    )  # fmt: skip


def _standard(sort: Labelled) -> Screw | Nut | Washer | Insert | SlotNut | None:
    standard = sort.part_type.standard if sort.part_type is not None else None
    return standard if isinstance(standard, Screw | Nut | Washer | Insert | SlotNut) else None


def _group(rows: Sequence[Labelled], column_mm: float) -> dict[str, Any]:
    """One thread: its screws with their bearing faces on one line, then everything else."""
    screws = [(sort, standard) for sort in rows if isinstance(standard := _standard(sort), Screw)]
    others = [
        (sort, standard)
        for sort in rows
        if (standard := _standard(sort)) is not None and not isinstance(standard, Screw)
    ]
    face_mm = max((2 * screw_face(screw).half_mm for _, screw in screws), default=0.0)
    head_mm = max((-screw_side(screw).left_mm for _, screw in screws), default=0.0)
    return {
        "screws": [
            _entry(sort, screw_drawing(screw, face_mm=face_mm, head_mm=head_mm), column_mm)
            for sort, screw in screws
        ],
        "others": [_entry(sort, small_drawing(part), column_mm) for sort, part in others],
    }


def _entry(sort: Labelled, drawn: Drawing, column_mm: float) -> dict[str, Any]:
    standard = _standard(sort)
    assert standard is not None
    return {
        "letter": sort.letter,
        "name": standard.designation,
        "words": _words(standard),
        "count": f"× {sort.pieces}",
        "drawing": drawn.facts(),
        "wide": drawn.width_mm > column_mm,
    }


def _words(part: Screw | Nut | Washer | Insert | SlotNut) -> str:
    """What it is, where its designation does not say so already."""
    if isinstance(part, Screw):
        return fastener_words(part) + (f", key {written(part.key_mm)}" if part.key_mm else "")
    return fastener_words(part) if isinstance(part, Nut | Washer) else ""


def _bar() -> Drawing:
    """A bar of 100 mm with a mark each millimetre."""
    shapes: list[Shape] = [line(EDGE, (0.0, 4.0), (BAR_MM, 4.0))]
    for at in range(int(BAR_MM) + 1):
        high = 3.2 if at % 10 == 0 else 2.2 if at % 5 == 0 else 1.4
        shapes.append(line(EDGE if at % 10 == 0 else THIN, (float(at), 4.0 - high), (float(at), 4.0)))
    shapes += [Word(text=str(at), at=(float(at), 5.8), size_pt=6.5) for at in range(0, int(BAR_MM) + 1, 10)]
    return Drawing(width_mm=BAR_MM, height_mm=7.2, shapes=tuple(shapes), says="A scale bar of 100 mm.")


def _inch_bar() -> Drawing:
    """A bar of 4 inch with a mark each sixteenth."""
    long_mm = BAR_INCHES * INCH_MM
    shapes: list[Shape] = [line(EDGE, (0.0, 4.0), (long_mm, 4.0))]
    for at in range(16 * BAR_INCHES + 1):
        high = 3.2 if at % 16 == 0 else 2.4 if at % 8 == 0 else 1.4
        x = at * INCH_MM / 16
        shapes.append(line(EDGE if at % 16 == 0 else THIN, (x, 4.0 - high), (x, 4.0)))
    shapes += [
        Word(text=f"{at} in" if at == BAR_INCHES else str(at), at=(at * INCH_MM, 5.8), size_pt=6.5)
        for at in range(BAR_INCHES + 1)
    ]
    return Drawing(width_mm=long_mm, height_mm=7.2, shapes=tuple(shapes), says="A scale bar of 4 inch.")

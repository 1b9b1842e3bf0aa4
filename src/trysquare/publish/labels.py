"""Labels for sheets as they are sold, or for a plain sheet with lines to cut along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.catalogue.label_sheets import LabelSheet
from trysquare.ground.errors import ReadingError
from trysquare.machine.values import Machine
from trysquare.publish.qr_code import SCHEME, bench_address, qr_drawing
from trysquare.publish.sorts import LOOSE, Labelled, end_words, size_words, sort_drawing
from trysquare.publish.typst_page import Pages, breakable, set_pages

PRINTERS_EDGE_MM = 5.0  # most printers leave so much of a sheet white; common practice, no source
SMALL_LETTER_PT = 20.0  # labels with a smaller letter have no room for words about ends
MOST_LABELS = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What one label says. `count`: "× 4", or "2 of 4" on a label for one piece; `place`: where that goes."""

    sort: Labelled
    count: str
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """How a label's area is shared, in millimetres; type sizes in points, the largest first."""

    left: float
    top: float
    width: float
    height: float
    qr: float
    letter_pt: float
    sizes_pt: tuple[float, ...]
    drawing: float  # most height of a drawing
    strip: float


def labels_of(sorts: Sequence[Labelled], *, each: bool = False) -> tuple[Label, ...]:
    """One label for each sort; with `each` one for each piece of what is not kept in bags or on rolls."""
    found: list[Label] = []
    for sort in sorts:
        if not each or sort.kind in LOOSE or sort.cuts_mm:
            found.append(Label(sort=sort, count=f"× {sort.pieces}"))
            continue
        places = [*sort.places, *([""] * (sort.pieces - len(sort.places)))]
        found += [
            Label(sort=sort, count=f"{number} of {sort.pieces}", place=place)
            for number, place in enumerate(places[: sort.pieces], start=1)
        ]
    return tuple(found)


def labels_pdf(
    machine: Machine, labels: Sequence[Label], sheet: LabelSheet, *, skip: int = 0, base: str = SCHEME
) -> Pages:
    """The labels on their sheets. `skip`: so many labels of the first sheet are used up already.

    Raises ReadingError when more are skipped than a sheet has, or when there are too many labels.
    """
    if not 0 <= skip < sheet.count:
        raise ReadingError(
            where="--skip", read=skip, expected=f"0 to {sheet.count - 1}: the sheet has {sheet.count} labels",
            remedy="Say how many labels of the first sheet are gone already.",
        )  # fmt: skip
    if len(labels) > MOST_LABELS:
        raise ReadingError(
            where="labels", read=len(labels), expected=f"at most {MOST_LABELS} labels at once",
            remedy="Choose kinds with --kind, or leave --each out.",
        )  # fmt: skip
    room = _room(sheet)
    cells: list[list[dict[str, Any]]] = [[] for _ in range(-(-(skip + len(labels)) // sheet.count) or 1)]
    for index, label in enumerate(labels, start=skip):
        page, place = divmod(index, sheet.count)
        cells[page].append(_cell(machine, label, sheet, place, room, base))
    return set_pages(
        "labels",
        {
            "machine": machine.name,
            "paper": sheet.paper,
            "sheet": {"width": sheet.width_mm, "height": sheet.height_mm, "name": sheet.name},
            "cuts": _cuts(sheet) if sheet.cut else {"x": [], "y": []},
            "foot": sheet.bottom_mm if sheet.bottom_mm >= 9 else 0,
            "room": {
                "left": room.left,
                "top": room.top,
                "width": room.width,
                "height": room.height,
                "qr": room.qr,
                "letter": room.letter_pt,
                "sizes": list(room.sizes_pt),
            },
            "pages": cells,
        },
        title=f"{machine.name}: labels",
    )


def _room(sheet: LabelSheet) -> _Room:
    """Large labels have room for everything; on the smallest the text is 5.5 pt and a member one strip."""
    pad = 3.5 if sheet.height_mm >= 30 else 2.0
    left = max(pad, PRINTERS_EDGE_MM - sheet.left_mm)
    top = max(pad, PRINTERS_EDGE_MM - sheet.top_mm) if sheet.top_mm < 3 else pad
    width, height = sheet.width_mm - 2 * left, sheet.height_mm - 2 * top
    if sheet.height_mm >= 30 and sheet.width_mm >= 60:
        return _Room(
            left=left, top=top, width=width, height=height, qr=min(16.0, 0.52 * height), letter_pt=30,
            sizes_pt=(11.0, 10.0, 9.0, 8.0, 7.0, 6.0), drawing=0.44 * height, strip=3.6,
        )  # fmt: skip
    if sheet.height_mm >= 24 and sheet.width_mm >= 60:
        return _Room(
            left=left, top=top, width=width, height=height, qr=min(12.5, 0.62 * height), letter_pt=22,
            sizes_pt=(8.5, 7.5, 6.5, 6.0, 5.5), drawing=0.3 * height, strip=2.4,
        )  # fmt: skip
    return _Room(
        left=left, top=top, width=width, height=height, qr=min(10.0, 0.6 * height), letter_pt=15,
        sizes_pt=(7.0, 6.5, 6.0, 5.5), drawing=0.28 * height, strip=1.8,
    )  # fmt: skip


def _cell(
    machine: Machine, label: Label, sheet: LabelSheet, place: int, room: _Room, base: str
) -> dict[str, Any]:
    sort = label.sort
    address = bench_address(base, machine.id, sort.part)
    size = size_words(sort, machine.folder)
    small = room.letter_pt < SMALL_LETTER_PT
    notes = (label.place, "" if small else end_words(sort), _other_names(sort))
    drawn = sort_drawing(sort, machine.folder, room.width, room.drawing, strip_mm=room.strip)
    x, y = sheet.corner_mm(place)
    return {
        "at": [x, y],
        "letter": sort.letter,
        "count": label.count,
        "name": breakable(sort.name),
        # On the smallest labels the drawing has to say what the profile and the ends are.
        "size": size.partition(" · ")[0] if small else size,
        "notes": [breakable(note) for note in notes if note],
        "qr": qr_drawing(address, room.qr).facts(),
        "link": address if address.startswith("http") else "",
        "drawing": drawn.facts() if drawn is not None else None,
    }


def _other_names(sort: Labelled) -> str:
    """Further names of the same piece, as papers use them."""
    if len(sort.parts) > 1:
        return f"one piece under several names: {', '.join([*sort.parts, *sort.also_called])}"
    return f"also called {', '.join(sort.also_called)}" if sort.also_called else ""


def _cuts(sheet: LabelSheet) -> dict[str, list[float]]:
    """Where to cut, from edge to edge of the paper: labels touch, so one line serves two."""
    return {
        "x": [sheet.left_mm + index * sheet.step_x_mm for index in range(sheet.columns + 1)],
        "y": [sheet.top_mm + index * sheet.step_y_mm for index in range(sheet.rows + 1)],
    }

"""Cards for film and phone: a step's parts, counts and tools on a clear ground, to lie over a film."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.machine.values import Step
from trysquare.publish.book_steps import in_order, part_fact
from trysquare.publish.known import Known
from trysquare.publish.part_picture import PartPicture, part_style
from trysquare.publish.picture_svg import CHAR_MM, READ_OUT, escaped, pill, pill_width, rect, words
from trysquare.publish.sorts import size_words
from trysquare.publish.step_tools import tools_of
from trysquare.publish.typst_page import BREAK, Pages, breakable, plain, set_pages

WIDE, TALL = "wide", "tall"
SHAPES_PX = {WIDE: (1920, 1080), TALL: (1080, 1920)}
EDGE_PX = 54.0  # some screens cut off so much
PAD_PX = 30.0
ROW_PX, LEAST_ROW_PX = 92.0, 62.0
COLUMN_PX = 560.0
TITLE_PX, WORDS_PX, QUIET_PX = 44.0, 27.0, 22.0
MOST_TITLE_LINES = 3
LARGER, MOST_LARGE = 1.35, 9
HEAVIER = 1.7  # lines of parts, than on paper: a film is seen from further off
_STYLE = ".panel{fill:#fff;fill-opacity:.93}text.big{font-weight:700}text.quiet{fill:#5b5955}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One card. `left_out`: parts for which it had no room, by name."""

    svg: str
    width_px: int
    height_px: int
    left_out: tuple[str, ...] = ()


def card(known: Known, step: Step, shape: str, pictures: Mapping[str, PartPicture]) -> Card:
    """A step's card. A step without parts and tools is a card with its title alone.

    A phone held upright is narrow: its words are larger, as long as there is room for all parts.
    """
    if shape == TALL and len(known.picks[step.id].lines) <= MOST_LARGE:
        one = _card(known, step, shape, pictures, LARGER)
        if not one.left_out:
            return one
    return _card(known, step, shape, pictures, 1.0)


def _card(known: Known, step: Step, shape: str, pictures: Mapping[str, PartPicture], larger: float) -> Card:
    """The card with everything `larger` times as large."""
    pick = known.picks[step.id]
    parts = [part_fact(known, line, step.unit) for line in in_order(pick.lines)]
    tools = [*tools_of(known, step), *(supply.name for supply in pick.supplies)]
    wide, tall = (side / larger for side in SHAPES_PX[shape])
    inner = (wide - 2 * EDGE_PX - 2 * PAD_PX) if shape == TALL else COLUMN_PX
    number = str(known.number_of[step.id])
    indent = CHAR_MM * TITLE_PX * 1.5 * len(number) + 16
    hand = _lines(", ".join(tools), WORDS_PX, inner) if tools else []
    tools_px = (WORDS_PX * 1.3 * len(hand) + QUIET_PX * 1.5 + 10) if hand else 0.0
    columns = 1
    for _ in range(2):  # with a title over one column it is known how many there are; then over all of them
        over = inner if shape == TALL else inner * columns
        title = _lines(plain(step.title), TITLE_PX, over - indent)[:MOST_TITLE_LINES]
        head_px = max(TITLE_PX * 1.5, TITLE_PX * 1.15 * len(title)) + 22
        room = (tall * (1.0 if shape == WIDE else 0.62)) - 2 * EDGE_PX - 2 * PAD_PX - head_px - tools_px
        found, row_px, shown = _layout(len(parts), room, inner, wide - 2 * EDGE_PX - 2 * PAD_PX)
        columns = max(columns, found)
    kept, left_out = parts[:shown], parts[shown:]
    per_column = -(-len(kept) // columns) if kept else 0
    more_px = QUIET_PX * 1.6 if left_out else 0.0
    column_px = inner if shape == WIDE else inner / columns
    width = 2 * PAD_PX + (column_px * columns if shape == WIDE else inner)
    height = 2 * PAD_PX + head_px + per_column * row_px + more_px + tools_px
    left = EDGE_PX
    top = EDGE_PX if shape == WIDE else tall - EDGE_PX - height
    rows = [rect(left, top, width, height, name="panel", round_mm=26.0)]
    x, y = left + PAD_PX, top + PAD_PX
    rows.append(_text(number, x, y + TITLE_PX * 1.1, TITLE_PX * 1.5, "big"))
    rows += [
        _text(line, x + indent, y + TITLE_PX * (0.9 + 1.15 * at), TITLE_PX, "strong")
        for at, line in enumerate(title)
    ]
    y += head_px
    for at, one in enumerate(kept):
        column, row = divmod(at, max(per_column, 1))
        rows.append(
            _row(one, pictures.get(one["part"]), x + column * column_px, y + row * row_px, column_px, row_px)
        )
    y += per_column * row_px
    if left_out:
        rows.append(
            _text(f"and {len(left_out)} more sorts: see the book", x, y + QUIET_PX * 1.1, QUIET_PX, "quiet")
        )
        y += more_px
    if hand:
        rows.append(_text("Tools", x, y + QUIET_PX * 1.2, QUIET_PX, "quiet"))
        rows += [
            _text(line, x, y + QUIET_PX * 1.5 + WORDS_PX * (1.0 + 1.3 * at), WORDS_PX, "")
            for at, line in enumerate(hand)
        ]
    width_px, height_px = SHAPES_PX[shape]
    begin = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_px}" height="{height_px}" '
            f'viewBox="0 0 {wide:g} {tall:g}" {READ_OUT}>'
        ),
        f'<title id="t">{escaped(f"{number} {step.title}")}</title>',
        f'<desc id="d">{escaped(_says(parts, tools))}</desc>',
        f"<style>{part_style(HEAVIER)}{_STYLE}</style>",
    ]
    return Card(
        svg="\n".join([*begin, *rows, "</svg>", ""]), width_px=width_px, height_px=height_px,
        left_out=tuple(one["name"].replace(BREAK, "") for one in left_out),
    )  # fmt: skip


def parts_sheet_pdf(known: Known, paper: str, pictures: Mapping[str, PartPicture]) -> Pages:
    """Every sort with its picture, letter and count, to be shown or printed."""
    rows = [
        {
            "part": sort.part,
            "letter": sort.letter,
            "name": breakable(sort.name),
            "size": size_words(sort, known.machine.folder),
            "count": f"{sort.pieces}" if not sort.cuts_mm else f"{sum(sort.cuts_mm) / 1000:.2f} m",
            "picture": {"svg": pictures[sort.part].svg, "width": pictures[sort.part].width_mm,
                        "height": pictures[sort.part].height_mm} if sort.part in pictures else None,
        }
        for sort in known.sorts
    ]  # fmt: skip
    return set_pages(
        "parts_sheet", {"machine": known.machine.name, "paper": paper, "rows": rows},
        title=f"{known.machine.name}: parts",
    )  # fmt: skip


def parts_text(known: Known) -> str:
    """Parts, tools and what is used up as plain lines, for the description below a film."""
    lines = [plain(known.machine.name), "", "Parts"]
    for sort in known.sorts:
        count = f"{sort.pieces} ×" if not sort.cuts_mm else f"{sum(sort.cuts_mm) / 1000:.2f} m"
        letter = f"{sort.letter:>3}  " if sort.letter else "     "
        lines.append(f"{letter}{count} {plain(sort.name)}")
    lines += ["", "Tools", *(plain(row.tool.name) for row in known.whole.tools)]
    if known.whole.supplies:
        lines += ["", "Used up", *(plain(row.name) for row in known.whole.supplies)]
    return "\n".join(lines) + "\n"


# --- layout


def _layout(count: int, room: float, inner: float, whole: float) -> tuple[int, float, int]:
    """Columns, height of a row, and how many parts are shown: one column, else lower rows, else more."""
    if not count:
        return 1, ROW_PX, 0
    for columns in (1, 2, 3):
        if columns > 1 and (inner * columns > whole + 1 if inner < whole * 0.7 else inner / columns < 420):
            break
        per_column = -(-count // columns)
        row = min(ROW_PX, room / per_column)
        if row >= LEAST_ROW_PX:
            return columns, row, count
    columns = max(1, int(whole // inner)) if inner < whole * 0.7 else max(1, int(inner // 420))
    rows = max(1, int((room - QUIET_PX * 1.6) // LEAST_ROW_PX))
    return columns, LEAST_ROW_PX, min(count, rows * columns)


def _row(
    one: Mapping[str, Any], picture: PartPicture | None, x: float, y: float, width: float, height: float
) -> str:
    parts = []
    box = 118.0
    if picture is not None:
        scale = min(box / picture.width_mm, (height - 8) / picture.height_mm)
        dx = x + (box - picture.width_mm * scale) / 2
        dy = y + (height - picture.height_mm * scale) / 2
        parts.append(f'<g transform="translate({dx:.1f} {dy:.1f}) scale({scale:.3f})">{picture.inside}</g>')
    at = x + box + 14
    ring = 36.0
    if one["letter"]:
        middle = y + height / 2
        wide = pill_width(one["letter"], ring)
        # the ring's line is as strong as on paper: it is drawn in mm and enlarged
        scale = ring / 4.3
        parts.append(
            f'<g transform="translate({at:.1f} {middle - ring / 2:.1f}) scale({scale:.3f})">'
            f"{pill(one['letter'], '', 0, 0, 4.3)}</g>"
        )
        at += wide + 10
    count = f"{one['pieces']} ×"
    parts.append(_text(count, at, y + height / 2 + WORDS_PX * 0.34, WORDS_PX, "strong"))
    at += max(58.0, CHAR_MM * WORDS_PX * len(count) + 10)
    name = plain(str(one["name"])).replace(BREAK, "")
    lines = _lines(name, QUIET_PX, max(120.0, x + width - at - 10))[:2]
    start = y + height / 2 - QUIET_PX * 1.15 * (len(lines) - 1) / 2 + QUIET_PX * 0.34
    parts += [
        _text(line, at, start + QUIET_PX * 1.15 * number, QUIET_PX, "") for number, line in enumerate(lines)
    ]
    return "".join(parts)


def _text(text: str, x: float, y: float, size: float, name: str) -> str:
    """A text whose line stands at y."""
    return words(text, x, y - 0.33 * size, size, anchor="start", name=name)


def _lines(text: str, size: float, width: float) -> list[str]:
    """A text in lines no wider than this, by the mean width of its signs; long words are cut."""
    most = max(4, int(width / (CHAR_MM * 0.87 * size)))
    lines: list[str] = []
    for word in text.split():
        piece = word if len(word) <= most else f"{word[: most - 1]}…"
        if lines and len(lines[-1]) + 1 + len(piece) <= most:
            lines[-1] += f" {piece}"
        else:
            lines.append(piece)
    return lines


def _says(parts: Sequence[Mapping[str, Any]], tools: Sequence[str]) -> str:
    said = ", ".join(f"{one['pieces']} × {one['name']}".replace(BREAK, "") for one in parts) or "no parts"
    return f"Parts: {said}." + (f" Tools: {', '.join(tools)}." if tools else "")

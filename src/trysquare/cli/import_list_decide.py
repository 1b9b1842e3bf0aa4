"""What the builder decides about rows of a parts list: at the call, or at the terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.cli.import_list_read import Asked, Imported
from trysquare.ground.errors import nearest
from trysquare.intake.list_decide import Decided, pieces_key
from trysquare.stock.matching import is_part
from trysquare.stock.quantities import MOST_PIECES
from trysquare.stock.remembered import plain_name
from trysquare.stock.row_text import understand


def take_words(found: Imported, asked: Asked) -> None:
    """Takes --confirm and --pieces. Raises NotThere with everything that cannot be taken."""
    by_plain: dict[str, list[Decided]] = {}
    for one in found.decided:
        by_plain.setdefault(plain_name(one.row.text), []).append(one)
    refused = [_take_confirm(found, by_plain, text) for text in asked.confirms]
    for text in asked.pieces:
        name, _, word = text.rpartition("=")
        key = pieces_key(name, "")[0]
        rows = [one for one in found.decided if pieces_key(one.row.text, "")[0] == key]
        if not rows:
            refused.append(_no_row(name.strip(), found))
        elif not settle_pieces(found, rows, word.strip()):
            refused.append(f"--pieces read '{words.one_line(word)}', expected a whole number of pieces.")
    if any(refused):
        raise NotThere(" ".join(text for text in refused if text) + " Nothing was written.")
    if asked.confirms or asked.pieces:
        found.decide()


def _take_confirm(found: Imported, by_plain: Mapping[str, Sequence[Decided]], text: str) -> str:
    """Takes one NAME=PART; what cannot be taken is said, else ""."""
    name, equals, word = text.rpartition("=")
    if not equals or (plain_name(name) not in by_plain and plain_name(text) in by_plain):
        name, equals, word = text, "", ""
    rows = by_plain.get(plain_name(name))
    if rows is None:
        return _no_row(name.strip(), found)
    if not equals and not rows[0].choices:
        return f"'{words.one_line(name)}' has no choices; write NAME=PART."
    if settle(found, rows[0], word.strip() if equals else rows[0].choices[0].designation):
        return ""
    what = f"'{words.one_line(word)}' is no part of this machine and no standard part"
    return f"{what}; write own for an own part."


def _no_row(name: str, found: Imported) -> str:
    rows = [one.row.text for one in found.decided]
    return f"The list has no row '{words.one_line(name)}'. {nearest(name, rows) if len(rows) < 2000 else ''}"


def settle(found: Imported, one: Decided, word: str) -> bool:
    """Decides a row's part: a part or designation, `own`, or "" for no part of this machine."""
    plain = plain_name(one.row.text)
    known = found.known
    if word.casefold() == "own" and "own" not in found.place.machine.types:
        names = {key: parts for key, parts in known.names.items() if key != plain}
        found.known = replace(known, own_by_word=known.own_by_word | {plain}, names=names)
        found.confirmed.pop(one.row.text, None)
        return True
    member = one.understood.member if one.understood is not None else None
    if member is not None and word in member.choices:
        found.known = replace(
            known, profiles={**known.profiles, plain: word}, own_by_word=known.own_by_word - {plain}
        )
        return True
    part = is_part(found.place.machine, word) if word else ""
    if part is None:
        read = understand(word)
        part = read.certain.designation if read.certain is not None else None
    if part is None and word in {each.own.id for each in found.decided if each.own is not None}:
        part = word
    if part is None:
        return False
    parts = (part,) if part else ()
    found.confirmed[one.row.text] = parts
    found.known = replace(known, names={**known.names, plain: parts}, own_by_word=known.own_by_word - {plain})
    return True


def settle_pieces(found: Imported, rows: Sequence[Decided], word: str) -> bool:
    """Decides the pieces of the rows of one name."""
    if not (word.isascii() and word.isdigit() and int(word[:12]) <= MOST_PIECES):
        return False
    more = {pieces_key(one.row.text, one.row.quantity): int(word) for one in rows}
    found.known = replace(found.known, pieces={**found.known.pieces, **more})
    return True

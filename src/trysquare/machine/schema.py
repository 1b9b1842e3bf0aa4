"""Tables of fields: what a key may hold. The reader, the reference and the tests all read these.

`check_table` takes a raw TOML table, returns it with every value in one shape (a single text where a
list may stand becomes a list of one; a direction's name becomes its triple) and adds every problem
to the list it is given. A bad value is left out of the result, so that reading goes on.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.toml_lines import Path

WhereOf: TypeAlias = Callable[[Path], Where]
LARGEST_MM = 100_000.0  # 100 m: a longer part is a slip of the keyboard
SMALLEST_MM = 0.0001  # what is smaller is a slip too, and no solid can be made of it
LONGEST_TEXT = 4000  # characters; names and remarks are far shorter
ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key: what sort of value it holds, what it means, and for tables the fields inside."""

    sort: str
    means: str
    required: bool = False
    default: str = ""  # what holds when the key is left out, in words for the reference
    choices: tuple[str, ...] = ()
    inside: Mapping[str, Field] | None = None


Fields: TypeAlias = Mapping[str, Field]


def check_table(
    raw: object, fields: Fields, path: Path, where_of: WhereOf, problems: list[ReadingError]
) -> dict[str, Any]:
    """The table with every known key in its one shape. Unknown, missing and wrong keys become problems."""
    if not isinstance(raw, Mapping):
        problems.append(_wrong(path, where_of, raw, "a table of keys", "Write it as { key = value, … }."))
        return {}
    table: dict[str, Any] = {}
    for key, value in raw.items():
        known = fields.get(key)
        if known is None:
            problems.append(
                ReadingError(
                    where=where_of((*path, key)),
                    read=key,
                    expected="a key that is known here",
                    remedy=nearest(str(key)[:60], fields),
                )
            )
            continue
        found = _check_value(value, known, (*path, key), where_of, problems)
        if known.required and found in ([], {}) and known.sort in ("texts", "tables"):
            problems.append(
                _wrong(
                    (*path, key), where_of, value, f"at least one: {known.means}", _SORTS[known.sort].remedy
                )
            )
        elif found is not None:
            table[key] = found
    for key, known in fields.items():
        if known.required and key not in raw:
            problems.append(
                ReadingError(
                    where=where_of(path),
                    read="nothing",
                    expected=f"the key '{key}': {known.means}",
                    remedy=f"Add {key} = … ({_SORTS[known.sort].expected})."
                    if known.sort != "anything"
                    else f"Add {key} = …",
                )
            )
    return table


def _check_value(
    value: object, known: Field, path: Path, where_of: WhereOf, problems: list[ReadingError]
) -> Any:
    if known.sort == "table":
        return check_table(value, known.inside or {}, path, where_of, problems)
    if known.sort == "tables":
        rows = value if isinstance(value, list) else [value]
        return [
            check_table(row, known.inside or {}, (*path, i), where_of, problems) for i, row in enumerate(rows)
        ]
    if known.sort == "named":
        if not isinstance(value, Mapping):
            problems.append(_wrong(path, where_of, value, "a table of named tables", "Write [key.name]."))
            return None
        for name in value:
            check_id(name, (*path, name), where_of, problems)
        return {
            name: check_table(row, known.inside or {}, (*path, name), where_of, problems)
            for name, row in value.items()
        }
    sort = _SORTS[known.sort]
    found = sort.read(value)
    if found is None:
        problems.append(_wrong(path, where_of, value, sort.expected, _unit_hint(value, sort.remedy)))
        return None
    if known.choices:
        for word in found if isinstance(found, list) else [found]:
            if word not in known.choices:
                expected = "one of " + ", ".join(known.choices)
                remedy = nearest(str(word)[:60], known.choices)
                problems.append(_wrong(path, where_of, word, expected, remedy))
                return None
    return found


def check_id(word: object, path: Path, where_of: WhereOf, problems: list[ReadingError]) -> bool:
    """Whether a word may name a line of the machine; a problem when not."""
    if isinstance(word, str) and ID.fullmatch(word):
        return True
    remedy = "Choose a short id such as front-beam; put the long name under name or title."
    problems.append(_wrong(path, where_of, word, "an id of letters, digits, - and _", remedy))
    return False


def _wrong(path: Path, where_of: WhereOf, read: object, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=where_of(path), read=read, expected=expected, remedy=remedy)


def _unit_hint(value: object, remedy: str) -> str:
    if isinstance(value, str) and "number" in remedy and any(char.isdigit() for char in value):
        return f"Write a bare number; the key's name says the unit. {remedy}"
    return remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sort:
    read: Callable[[object], Any]  # None: not of this sort
    expected: str
    remedy: str


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    # Compared before it is converted: a whole number may be too large for a float.
    return float(value) if abs(value) <= LARGEST_MM and math.isfinite(value) else None


def _size(value: object) -> float | None:
    number = _number(value)
    return number if number is not None and SMALLEST_MM <= number <= LARGEST_MM else None


def _length(value: object) -> float | None:
    number = _number(value)
    return number if number is not None and number >= 0 else None


def _integer(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 10**9 else None


def _flag(value: object) -> bool | None:
    return value if isinstance(value, bool) else None


def _text(value: object) -> str | None:
    good = (
        isinstance(value, str) and value.strip() and len(value) <= LONGEST_TEXT and not _CONTROL.search(value)
    )
    return str(value) if good else None


def _listed(one: Callable[[object], Any], value: object) -> list[Any] | None:
    rows = value if isinstance(value, list) else [value]
    read = [one(row) for row in rows]
    return None if any(row is None for row in read) else read


def _tuple_of(count: int, one: Callable[[object], Any]) -> Callable[[object], Any]:
    def read(value: object) -> tuple[Any, ...] | None:
        if not isinstance(value, (list, tuple)) or len(value) != count:
            return None
        numbers = tuple(one(part) for part in value)
        return None if any(number is None for number in numbers) else numbers

    return read


def _points(count: int) -> Callable[[object], Any]:
    one = _tuple_of(count, _number)

    def read(value: object) -> list[Any] | None:
        if isinstance(value, list) and value and not isinstance(value[0], list):
            value = [value]
        return _listed(one, value) if isinstance(value, list) else None

    return read


def _direction(value: object) -> tuple[float, float, float] | None:
    """A direction by name or as three numbers, with length 1."""
    if isinstance(value, str):
        return DIRECTIONS.get(value)
    triple = _tuple_of(3, _number)(value)
    length = math.hypot(*triple) if triple is not None else 0.0
    if triple is None or length < 1e-6:
        return None
    x, y, z = (part / length + 0.0 for part in triple)  # + 0.0: no negative zero
    return x, y, z


def _sizes(value: object) -> list[float] | None:
    return _listed(_size, value) if isinstance(value, Sequence) and not isinstance(value, str) else None


def _named_points(value: object) -> dict[str, Any] | None:
    if not isinstance(value, Mapping):
        return None
    one = _tuple_of(3, _number)
    read = {str(name): one(point) if ID.fullmatch(str(name)) else None for name, point in value.items()}
    return None if any(point is None for point in read.values()) else read


def _texts_by_name(value: object) -> dict[str, str] | None:
    if not isinstance(value, Mapping):
        return None
    words = (*value, *value.values())
    return None if any(_text(word) is None for word in words) else dict(value)


def _lists_by_name(value: object) -> dict[str, list[str]] | None:
    if not isinstance(value, Mapping):
        return None
    read = {str(name): _listed(_text, words) for name, words in value.items() if _text(name) is not None}
    good = {name: words for name, words in read.items() if words}
    return good if len(good) == len(value) else None


def _anything(value: object) -> object:
    return value


_SORTS: dict[str, _Sort] = {
    "text": _Sort(
        read=_text, expected="a text in quotes", remedy='Write "…", not empty, without control characters.'
    ),
    "texts": _Sort(
        read=lambda value: _listed(_text, value),
        expected="a text or a list of texts",
        remedy='Write "…" or ["…", "…"].',
    ),
    "number": _Sort(
        read=_number,
        expected=f"a number from -{LARGEST_MM:g} to {LARGEST_MM:g}",
        remedy="Write a number such as 12.5.",
    ),
    "numbers": _Sort(
        read=lambda value: _listed(_number, value),
        expected=f"a number from -{LARGEST_MM:g} to {LARGEST_MM:g}, or a list of them",
        remedy="Write 12.5 or [12.5, 20].",
    ),
    "size": _Sort(
        read=_size,
        expected=f"a number above 0, from {SMALLEST_MM:g} to {LARGEST_MM:g}",
        remedy="Write a number such as 12.5.",
    ),
    "length": _Sort(
        read=_length,
        expected=f"a number from 0 to {LARGEST_MM:g}",
        remedy="Write a number such as 12.5.",
    ),
    "integer": _Sort(read=_integer, expected="a whole number, 0 or more", remedy="Write a number such as 2."),
    "flag": _Sort(read=_flag, expected="true or false", remedy="Write true or false without quotes."),
    "point": _Sort(
        read=_tuple_of(3, _number), expected="three numbers, x y z", remedy="Write [x, y, z] in millimetres."
    ),
    "points": _Sort(
        read=_points(3),
        expected="a point of three numbers, or a list of points",
        remedy="Write [x, y, z] or [[x, y, z], …] in millimetres.",
    ),
    "flat points": _Sort(
        read=_points(2),
        expected="a point of two numbers, or a list of points",
        remedy="Write [x, y] or [[x, y], …] in millimetres.",
    ),
    "sizes": _Sort(
        read=_sizes, expected="a list of numbers above 0", remedy="Write [length, width, …] in millimetres."
    ),
    "direction": _Sort(
        read=_direction,
        expected="a direction: +x, -x, +y, -y, +z, -z or three numbers",
        remedy='Write "+z" or [0, 0, 1].',
    ),
    "named points": _Sort(
        read=_named_points,
        expected="a table of named points, each name an id",
        remedy="Write { name = [x, y, z], … } in millimetres.",
    ),
    "named texts": _Sort(
        read=_texts_by_name, expected="a table of names and texts", remedy='Write { name = "…", … }.'
    ),
    "named lists": _Sort(
        read=_lists_by_name,
        expected="a table of names, each with a list of texts",
        remedy='Write { name = ["…", "…"], … }.',
    ),
    "anything": _Sort(read=_anything, expected="see its meaning", remedy=""),
    "table": _Sort(read=_anything, expected="a table", remedy="Write { key = value, … }."),
    "tables": _Sort(read=_anything, expected="a list of tables", remedy="Write [{ key = value, … }, …]."),
    "named": _Sort(read=_anything, expected="named tables", remedy="Write [key.name]."),
}

SORTS: Mapping[str, str] = {name: sort.expected for name, sort in _SORTS.items()}
"""The sorts by name with their meaning in words, for the reference."""

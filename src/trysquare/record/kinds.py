"""The kinds of events: a closed table. What each one means, whether it names a step, and its fields.

A new kind or field is a new row or word in `kinds.csv`; a kind is never taken out or given another
meaning, since old logs hold it.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from trysquare.ground.errors import ReadingError, Where, nearest

_TABLE = Path(__file__).with_name("kinds.csv")

DEVIATIONS = ("substitute", "extra", "skipped", "damaged", "missing")
TIGHTNESSES = ("started", "snug", "final")

LONGEST_TEXT = 10_000
MOST_TEXTS = 2_000
LARGEST_WHOLE = 10**9


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of an event's data. `sort`: a key of FIELD_SORTS."""

    name: str
    sort: str
    may_miss: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One row of `kinds.csv`. `needs_step`: whether such an event must name a step."""

    name: str
    needs_step: bool
    fields: Mapping[str, Field]
    means: str


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by name, in the order of the table."""
    with _TABLE.open(encoding="utf-8", newline="") as file:
        return MappingProxyType(
            {
                row["kind"]: Kind(
                    name=row["kind"],
                    needs_step=row["step"] == "must",
                    fields=MappingProxyType({one.name: one for one in map(_field, row["fields"].split())}),
                    means=row["means"],
                )
                for row in csv.DictReader(file)
            }
        )


def _field(word: str) -> Field:
    name, _, sort = word.partition(":")
    return Field(name=name.removesuffix("?"), sort=sort, may_miss=name.endswith("?"))


def check_data(kind: str, step: str | None, data: Mapping[str, Any], where: str = "event") -> None:
    """Raises ReadingError for an event that the table does not know; `where`: how to call its place."""
    known = kinds().get(kind)
    if known is None:
        raise _error(where, "kind", kind, "a kind of event", nearest(kind, kinds()))
    if known.needs_step and not step:
        raise _error(where, "step", step, f"the step that is {kind}", "Name the step.")
    for name in data:
        if name not in known.fields:
            expected = f"a field of '{kind}'"
            raise _error(where, f"data.{name}", name, expected, nearest(name, known.fields))
    for field in known.fields.values():
        value = data.get(field.name)
        if value is None:
            if not field.may_miss:
                expected = f"{FIELD_SORTS[field.sort].says}; '{kind}' needs it"
                raise _error(where, f"data.{field.name}", value, expected, "Give it.")
            continue
        sort = FIELD_SORTS[field.sort]
        if not sort.fits(value):
            raise _error(where, f"data.{field.name}", value, sort.says, "Write it so.")


def _error(where: str, key: str, read: object, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=Where(file=where, key=key), read=read, expected=expected, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSort:
    """What a field may hold, for the check and in words."""

    says: str
    fits: Callable[[Any], bool]


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and 0 < len(value) <= LONGEST_TEXT


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LARGEST_WHOLE


def _is_list_of(fits: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: (
        isinstance(value, list | tuple) and 0 < len(value) <= MOST_TEXTS and all(fits(one) for one in value)
    )


FIELD_SORTS: Mapping[str, FieldSort] = MappingProxyType(
    {
        "text": FieldSort(says=f"text of at most {LONGEST_TEXT} letters, not empty", fits=_is_text),
        "texts": FieldSort(says=f"a list of 1 to {MOST_TEXTS} texts", fits=_is_list_of(_is_text)),
        "number": FieldSort(says="a finite number", fits=_is_number),
        "numbers": FieldSort(
            says=f"a list of 1 to {MOST_TEXTS} finite numbers", fits=_is_list_of(_is_number)
        ),
        "whole": FieldSort(says=f"a whole number from 0 to {LARGEST_WHOLE}", fits=_is_whole),
        "truth": FieldSort(says="true or false", fits=lambda value: isinstance(value, bool)),
        "sha256": FieldSort(
            says="a SHA-256 as 64 small hexadecimal digits",
            fits=lambda value: isinstance(value, str) and bool(re.fullmatch("[0-9a-f]{64}", value)),
        ),
        "suffix": FieldSort(
            says="a file's ending: a dot and 1 to 8 small letters or digits, or nothing",
            fits=lambda value: isinstance(value, str) and bool(re.fullmatch(r"(\.[a-z0-9]{1,8})?", value)),
        ),
        "deviation": FieldSort(says=" or ".join(DEVIATIONS), fits=lambda value: value in DEVIATIONS),
        "tightness": FieldSort(says=" or ".join(TIGHTNESSES), fits=lambda value: value in TIGHTNESSES),
        "any": FieldSort(says="anything that JSON can hold", fits=lambda value: True),  # noqa: ARG005
    }
)

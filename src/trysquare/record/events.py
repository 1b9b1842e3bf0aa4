"""An event, and an event as it stands in the log: values, how they read as JSON, and the chain of hashes.

An event is what a device said. The log adds a number, its own time, and a hash over all that stands before.
The order of the log is the order of its numbers; a device's clock is kept and never trusted.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import msgspec

from trysquare.ground.errors import ReadingError, Where
from trysquare.record.kinds import check_data, kinds

KINDS: tuple[str, ...] = tuple(kinds())
FIRST_HASH = "0" * 64
"""What stands before the first entry."""

LARGEST_DATA_BYTES = 256_000
LONGEST_NAME = 300
DEEPEST_DATA = 12
LARGEST_EXACT = 2**53  # a browser holds whole numbers up to here
_TIME = re.compile(r"[0-9]{4}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:[0-5][0-9]\.[0-9]{3}Z")
_ID = re.compile(r"[A-Za-z0-9._:-]{1,100}")


class Event(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What a device said.

    A structure of msgspec, as `Logged` is: a long log makes a hundred thousand of them, a dataclass takes
    ten times as long to make, and nothing that came as JSON can hold itself, so no search for garbage is due.

    `id`: unique, made by the device (a UUID); sent twice, it is logged once. `kind`: a row of the table of
    kinds. `step`, `subject`: the step's id and what of it is meant, where that helps. `at`: the device's own
    time, UTC, ISO 8601 with milliseconds: "2031-05-04T09:08:07.123Z". `device`: what the device is called.
    `data`: the kind's fields. `seen`: the number of the last entry that the device knew when it said so;
    None when it did not say. Two devices that could not know of each other are told apart by it.
    """

    id: str
    kind: str
    step: str | None = None
    subject: str | None = None
    at: str
    device: str
    data: Mapping[str, Any] = msgspec.field(default_factory=dict)
    seen: int | None = None


class Logged(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """An event in the log. `seq` counts from 1 without gaps; `received`: the log's own time, as `Event.at`.

    `hash`: SHA-256, in small hexadecimal digits, of the hash before (FIRST_HASH for the first) followed by
    the entry as one line of JSON in UTF-8, keys sorted, without blanks, `"hash":""` in the place of its own.
    """

    seq: int
    received: str
    event: Event
    hash: str


def check_event(event: Event, where: str = "event", *, closed: bool = True) -> None:
    """Raises ReadingError for an event that does not follow the table of kinds, or that no log can hold.

    `closed`: whether the table of kinds is asked at all.
    """
    for key, value, may_miss in (
        ("step", event.step, True),
        ("subject", event.subject, True),
        ("device", event.device, False),
        ("kind", event.kind, False),
    ):
        _check_name(where, key, value, may_miss=may_miss)
    if not _ID.fullmatch(event.id):
        expected = "1 to 100 letters, digits and . _ : -"
        raise _error(where, "id", event.id, expected, "Make a UUID for each event.")
    time_of(event.at, where, "at")
    if event.seen is not None and not 0 <= event.seen <= LARGEST_EXACT:
        raise _error(where, "seen", event.seen, "the number of an entry, or null", "Leave it out.")
    if not isinstance(event.data, Mapping):
        raise _error(where, "data", event.data, "an object with the kind's fields", "Write {} for none.")
    if closed:
        check_data(event.kind, event.step, event.data, where)
    _check_json(where, "data", event.data, 0)
    if len(_ENCODER.encode(event.data)) > LARGEST_DATA_BYTES:
        expected = f"at most {LARGEST_DATA_BYTES} bytes"
        raise _error(where, "data", "more", expected, "Keep large things as a file beside the log.")


def time_of(said: object, where: str = "event", key: str = "at") -> datetime:
    """A time as events carry it; raises ReadingError for any other text."""
    if isinstance(said, str) and _TIME.fullmatch(said):
        try:
            return datetime.fromisoformat(said)
        except ValueError:
            pass
    expected = "a time in UTC with milliseconds, such as 2031-05-04T09:08:07.123Z"
    raise _error(where, key, said, expected, "Write it so.")


def time_text(time: datetime) -> str:
    """A time as events carry it, cut to milliseconds. `time` knows its zone."""
    plain = time.astimezone(UTC).replace(tzinfo=None)
    return f"{plain.isoformat(timespec='milliseconds')}Z"


def _check_name(where: str, key: str, value: object, *, may_miss: bool) -> None:
    if value is None and may_miss:
        return
    if not isinstance(value, str) or not (0 < len(value) <= LONGEST_NAME and _is_clean(value, " ")):
        expected = f"text of 1 to {LONGEST_NAME} letters without control characters"
        raise _error(where, key, value, expected, "Write the name as the machine folder has it.")


def _is_clean(text: str, least: str = "\0") -> bool:
    """Whether it can be written as UTF-8 (half a surrogate pair cannot) and has no sign below `least`."""
    return text.isprintable() or not any(char < least or "\ud800" <= char <= "\udfff" for char in text)


def _check_json(where: str, key: str, value: object, depth: int) -> None:
    if depth > DEEPEST_DATA:
        raise _error(where, key, "deeper", f"at most {DEEPEST_DATA} levels", "Make it flatter.")
    if isinstance(value, Mapping):
        for name, inner in value.items():
            if not isinstance(name, str) or not _is_clean(name):
                raise _error(where, key, name, "names that are text", "Write it as JSON.")
            _check_json(where, f"{key}.{name}", inner, depth + 1)
    elif isinstance(value, list | tuple):
        for inner in value:
            _check_json(where, key, inner, depth + 1)
    else:
        _check_scalar(where, key, value)


def _check_scalar(where: str, key: str, value: object) -> None:
    if isinstance(value, str):
        if not _is_clean(value):
            raise _error(where, key, value, "text in Unicode", "Leave out half characters.")
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise _error(where, key, value, "a finite number", "Leave it out.")
    elif isinstance(value, int):
        if abs(value) > LARGEST_EXACT:
            raise _error(where, key, value, f"a whole number within ± {LARGEST_EXACT}", "Write it as text.")
    elif value is not None:
        raise _error(where, key, value, "what JSON can hold", "Write text, a number, a list or an object.")


def _error(where: str, key: str, read: object, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=Where(file=where, key=key), read=read, expected=expected, remedy=remedy)


# --- the line of an entry, and the chain


class Line(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An entry as one line of JSON. Fields stand in the order of the alphabet, as they are written."""

    at: str
    data: msgspec.Raw
    device: str
    hash: str
    id: str
    kind: str
    received: str
    seen: int | None
    seq: int
    step: str | None
    subject: str | None


_ENCODER = msgspec.json.Encoder(order="sorted")
_LINE = msgspec.json.Decoder(Line)
_DATA = msgspec.json.Decoder(dict[str, Any])


def data_text(data: Mapping[str, Any]) -> str:
    """An event's data as it is stored: JSON with sorted keys and without blanks."""
    return _ENCODER.encode(data).decode()


def data_of(text: str | bytes | msgspec.Raw) -> dict[str, Any]:
    """Data as it was stored; raises ValueError for what is no JSON object."""
    return _DATA.decode(text)


def line_of(seq: int, received: str, event: Event, data: str, digest: str = "") -> Line:
    """An entry; `data`: the event's data as it is stored, `digest`: its hash, if it has one yet."""
    return Line(
        at=event.at,
        data=msgspec.Raw(data.encode()),
        device=event.device,
        hash=digest,
        id=event.id,
        kind=event.kind,
        received=received,
        seen=event.seen,
        seq=seq,
        step=event.step,
        subject=event.subject,
    )


def event_of(line: Line) -> Event:
    """The event of a line; raises ValueError when its data is no JSON object."""
    return Event(
        id=line.id,
        kind=line.kind,
        step=line.step,
        subject=line.subject,
        at=line.at,
        device=line.device,
        data=data_of(line.data),
        seen=line.seen,
    )


def line_bytes(line: Line) -> bytes:
    """A line as it is exported, without its end."""
    return _ENCODER.encode(line)


def line_from(text: bytes) -> Line:
    """An exported line; raises ValueError for anything else."""
    return _LINE.decode(text)


def hash_after(before: str, line: Line) -> str:
    """The hash of a line after the hash `before`: SHA-256 of both, the line with its own hash left empty."""
    bare = msgspec.structs.replace(line, hash="") if line.hash else line
    return hashlib.sha256(before.encode() + _ENCODER.encode(bare)).hexdigest()


def chained(before: str, line: Line) -> Line:
    """A line with its hash after the hash `before`."""
    return msgspec.structs.replace(line, hash=hash_after(before, line))

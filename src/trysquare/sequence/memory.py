"""What was found to stand in the way of what, to be kept from one check of a machine to the next.

An answer is kept by what it follows from: the bodies held into the machine, and the solid and place of
the part beside them. So it holds whatever the order is and whatever the parts are called; a part that
is new or was changed is asked about anew. What is kept can be deleted at any time; when it is damaged, or
was found by another version of the program, it is not believed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from trysquare.ground.placement import Array, Placement
from trysquare.ground.sealed import opened, sealed

STAMP_BYTES = 16
KEPT_ANSWERS = 100_000  # some 150 bytes each; a large machine has some thousand
_SORT = b"trysquare order memory 1\n"
_UNKNOWN, _FREE, _CROSSES = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What is near some bodies, by the stamps of its parts, and for each whether it is crossed.

    `box_mm`: array (6,), lowest and highest corner of the bodies, machine frame.
    """

    near: tuple[bytes, ...]
    crosses: tuple[bool | None, ...]  # None: not asked yet
    box_mm: Array


@dataclass(frozen=True, slots=True, eq=False)
class Memory:
    """Answers by the stamps of the bodies they are about. `stamps` are those of all parts that stood
    there when the answers were kept: any other part may be near without an answer saying so."""

    stamps: frozenset[bytes] = frozenset()
    answers: Mapping[bytes, Answer] = field(default_factory=dict)


def stamp(*about: object) -> bytes:
    """Names something by all that it follows from; values must print what they are."""
    return hashlib.blake2b(repr(about).encode(), digest_size=STAMP_BYTES).digest()


def stamp_of_part(digest: bytes, placement: Placement) -> bytes:
    """Names a placed solid: its shape and how it stands, to far below what any verdict follows from."""
    turn = np.rint(placement.turn * 1e9).astype(np.int64)
    origin = np.rint(placement.origin_mm * 1e6).astype(np.int64)
    return hashlib.blake2b(digest + turn.tobytes() + origin.tobytes(), digest_size=STAMP_BYTES).digest()


def as_bytes(memory: Memory, program: str) -> bytes:
    """The answers as a file's content. `program` names the program that found them: its version, or a
    digest of its source."""
    return sealed(_SORT, program, _packed(memory))


def from_bytes(content: bytes, program: str) -> Memory:
    """The answers of a file's content; none when it is damaged or another program found them."""
    body = opened(_SORT, program, content)
    return Memory() if body is None else _unpacked(body)


def merged(asked: Memory, before: Memory) -> Memory:
    """What was asked now, and what was known before and not asked.

    The latter only while no part is new: an old answer says nothing of a part it never stood beside.
    """
    if not asked.stamps <= before.stamps or len(asked.answers) + len(before.answers) > KEPT_ANSWERS:
        return asked
    return Memory(asked.stamps, {**before.answers, **asked.answers})


def _packed(memory: Memory) -> bytes:
    """Counts, stamps of parts, stamps of bodies, boxes, how many are near, which, and what is known."""
    number = {one: index for index, one in enumerate(sorted(memory.stamps))}
    here = len(number)
    for answer in memory.answers.values():
        for one in answer.near:
            number.setdefault(one, len(number))
    answers = memory.answers.values()
    near = np.array([number[one] for answer in answers for one in answer.near], dtype=np.int32)
    known = [
        _UNKNOWN if crosses is None else _CROSSES if crosses else _FREE
        for answer in answers
        for crosses in answer.crosses
    ]
    return b"".join(
        (
            np.array([here, len(number), len(memory.answers), len(near)], dtype=np.int64).tobytes(),
            b"".join(number),
            b"".join(memory.answers),
            np.array([answer.box_mm for answer in answers], dtype=np.float64).tobytes(),
            np.array([len(answer.near) for answer in answers], dtype=np.int32).tobytes(),
            near.tobytes(),
            np.array(known, dtype=np.int8).tobytes(),
        )
    )


def _unpacked(body: bytes) -> Memory:
    """The check has told that the bytes are as we wrote them."""
    here, stamps, answers, nearby = (int(count) for count in np.frombuffer(body, np.int64, 4))
    at = 32

    def take(length: int) -> bytes:
        nonlocal at
        at += length
        return body[at - length : at]

    name = _stamps(take(stamps * STAMP_BYTES))
    about = _stamps(take(answers * STAMP_BYTES))
    box = np.frombuffer(take(answers * 48), np.float64).reshape(-1, 6)
    ends = np.cumsum(np.frombuffer(take(answers * 4), np.int32)).tolist()
    near = [name[number] for number in np.frombuffer(take(nearby * 4), np.int32).tolist()]
    said = {_UNKNOWN: None, _FREE: False, _CROSSES: True}
    known = [said[number] for number in np.frombuffer(take(nearby), np.int8).tolist()]
    begins = [0, *ends]
    return Memory(
        frozenset(name[:here]),
        {
            one: Answer(tuple(near[begin:end]), tuple(known[begin:end]), box[index])
            for index, (one, begin, end) in enumerate(zip(about, begins, ends, strict=False))
        },
    )


def _stamps(content: bytes) -> list[bytes]:
    return [content[at : at + STAMP_BYTES] for at in range(0, len(content), STAMP_BYTES)]

"""Bytes that this program kept in a file: believed only when they are whole and its own."""

from __future__ import annotations

import hashlib

CHECK_BYTES = 32


def sealed(sort: bytes, program: str, body: bytes) -> bytes:
    """A file's content: what sort it is, a check, the body. `program` names the program that keeps it: its
    version, or a digest of its source."""
    return sort + _check(sort, program, body) + body


def opened(sort: bytes, program: str, content: bytes) -> bytes | None:
    """The body of a file's content; None when it is damaged, of another sort or from another program."""
    begin = len(sort) + CHECK_BYTES
    body = content[begin:]
    if not content.startswith(sort) or content[len(sort) : begin] != _check(sort, program, body):
        return None
    return body


def _check(sort: bytes, program: str, body: bytes) -> bytes:
    return hashlib.blake2b(sort + program.encode() + b"\0" + body, digest_size=CHECK_BYTES).digest()

"""Photos, recordings and tables: taken in pieces straight to the disk, and given back."""

from __future__ import annotations

import asyncio
import contextlib
import queue
import re
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import bench_of
from trysquare.bench.failures import SaidError
from trysquare.bench.file_kinds import ENOUGH_BYTES, FileKind, kind_named, kind_of
from trysquare.record.keeping import FOLDER_NAME, Kept, find, keep

MOST_BYTES = 200_000_000
"""A phone's photo is some 5 MB, a minute of sound 10 MB, a short film 100 MB."""
MOST_FILES = 20_000
MOST_AT_ONCE = 4
PHOTO = "photo"
PIECES_WAITING = 8
_SUFFIX = re.compile(r"\.[a-z0-9]{1,8}")
SHA256 = re.compile("[0-9a-f]{64}")
_FILE_POLICY = "default-src 'none'; img-src 'self'; media-src 'self'; sandbox"


class _BrokeOff(Exception):  # noqa: N818 - it says what happened
    """The sender went away before the end."""


Waiting = queue.Queue[bytes | _BrokeOff | None]
"""Pieces on their way to the disk; None at the end."""


async def files(request: Request) -> Response:
    """Keeps a file under its content's hash. The body is the file itself."""
    bench = bench_of(request)
    if bench.desk.why_read_only:
        raise SaidError(503, f"Nothing can be kept: {bench.desk.why_read_only}.")
    length = request.headers.get("content-length", "")
    _check_size(int(length[:18]) if length.isascii() and length.isdigit() else 0)
    if bench.uploads >= MOST_AT_ONCE:
        raise SaidError(429, "Several files are on their way already.")
    if await asyncio.to_thread(_count, bench.folder) >= MOST_FILES:
        raise SaidError(413, f"{MOST_FILES} files are kept beside this log; it takes no more.")
    said = request.headers.get("x-trysquare-suffix", "").casefold()
    as_photo = request.headers.get("x-trysquare-sort", "") == PHOTO
    bench.uploads += 1
    try:
        kind, kept = await _take(
            request, bench.folder, said if _SUFFIX.fullmatch(said) else "", as_photo=as_photo
        )
    finally:
        bench.uploads -= 1
    return JSONResponse(
        {"sha256": kept.sha256, "suffix": kept.suffix, "bytes": kept.size_bytes, "media": kind.media}
    )


async def _take(request: Request, folder: Path, said: str, *, as_photo: bool) -> tuple[FileKind, Kept]:
    """Looks at the first bytes, then hands piece after piece to a thread that writes. `as_photo`: it is to be
    a photo, and nothing but a picture will do, whatever it is called."""
    pieces = _pieces(request)
    first = bytearray()
    async for piece in pieces:
        first += piece
        if len(first) >= ENOUGH_BYTES:
            break
    if not first:
        raise SaidError(400, "The file is empty.")
    kind = kind_of(bytes(first[:ENOUGH_BYTES]), said)
    if as_photo and (kind is None or not kind.is_picture):
        raise SaidError(415, no_picture_words(kind, said))
    if kind is None:
        raise SaidError(415)
    waiting: Waiting = queue.Queue(PIECES_WAITING)
    over = threading.Event()
    writing = asyncio.create_task(asyncio.to_thread(_write, folder, waiting, kind.suffix, over))
    try:
        await _put(waiting, bytes(first), over)
        total = len(first)
        async for piece in pieces:
            total += len(piece)
            _check_size(total)
            await _put(waiting, piece, over)
        await _put(waiting, None, over)
    except BaseException:
        await _put(waiting, _BrokeOff(), over)
        with contextlib.suppress(_BrokeOff):
            await writing
        raise
    return kind, await writing


def no_picture_words(kind: FileKind | None, said: str) -> str:
    """Why a file is no photo. `said`: the ending of its name."""
    inside = f"is {kind.told}" if kind is not None else "is no kind of picture that is known here"
    named = f"Its name ends in {said}, but what is in it {inside}" if said else f"What is in it {inside}"
    return f"This is no photo. {named}: nothing was kept of it."


def _check_size(size_bytes: int) -> None:
    if size_bytes > MOST_BYTES:
        raise SaidError(413, f"A file holds at most {MOST_BYTES // 1_000_000} MB.")


def _write(folder: Path, waiting: Waiting, suffix: str, over: threading.Event) -> Kept:
    try:
        return keep(folder, _arriving(waiting), suffix, MOST_BYTES)
    finally:
        over.set()


def _arriving(waiting: Waiting) -> Iterator[bytes]:
    while True:
        piece = waiting.get()
        if piece is None:
            return
        if isinstance(piece, _BrokeOff):
            raise piece
        yield piece


async def _put(waiting: Waiting, piece: bytes | _BrokeOff | None, over: threading.Event) -> None:
    """Waits while the disk is slower than the network; no longer than somebody takes the pieces."""
    while not over.is_set():
        try:
            waiting.put_nowait(piece)
        except queue.Full:
            await asyncio.sleep(0.005)
        else:
            return


async def _pieces(request: Request) -> AsyncIterator[bytes]:
    try:
        async for piece in request.stream():
            if piece:
                yield piece
    except ClientDisconnect as error:
        raise SaidError(400, "The file broke off.") from error


def _count(folder: Path) -> int:
    home = folder / FOLDER_NAME
    try:
        return sum(1 for place in home.iterdir() if place.is_dir() for _ in place.iterdir())
    except OSError:
        return 0


async def kept_file(request: Request) -> Response:
    """A kept file by its content's hash."""
    sha256 = request.path_params["sha256"]
    bench = bench_of(request)
    place = find(bench.folder, sha256) if SHA256.fullmatch(sha256) else None
    if place is None:
        raise SaidError(404, "No such file is kept beside the log.")
    kind = kind_named(place.suffix)
    disposition = "inline" if kind.shown else "attachment"
    return FileResponse(
        place,
        media_type=kind.media,
        headers={
            "content-security-policy": _FILE_POLICY,
            "content-disposition": f'{disposition}; filename="{sha256[:16]}{place.suffix}"',
            "cache-control": "private, max-age=31536000, immutable",
        },
    )


ROUTES: tuple[BaseRoute, ...] = (Route("/files", files, methods=["POST"]), Route("/kept/{sha256}", kept_file))

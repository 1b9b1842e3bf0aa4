"""Tuning: a page for each tool. A file is sent or recorded, the tool is asked, its answer may be kept."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import Bench, bench_of
from trysquare.bench.bodies import whole_body
from trysquare.bench.failures import SaidError
from trysquare.bench.links import DRAWINGS
from trysquare.bench.show_tune import report_view, tool_view, tools_view
from trysquare.bench.tuning_tools import Asked, Asking, Form, NotSoError
from trysquare.bench.views import Drawn
from trysquare.record.keeping import find

MOST_BYTES = 200_000
_ASKED = msgspec.json.Decoder(Asked)
_SHA256 = re.compile("[0-9a-f]{64}")
_SIZE = re.compile(rb"viewBox=['\"]0 0 (?P<width>[\d.]+) (?P<height>[\d.]+)['\"]")


async def tools(request: Request) -> Response:
    """All tools, with what was last kept of each."""
    bench = bench_of(request)
    view = tools_view(bench.now(request), _asking(bench).forms)
    return bench.page(request, "tools.html", view, here="tune", title="Tuning")


async def tool(request: Request) -> Response:
    """A tool's questions and results."""
    bench, form = bench_of(request), _form(request)
    view = tool_view(bench.now(request), form)
    return bench.page(request, "tool.html", view, here="tune", title=form.title)


async def ask(request: Request) -> Response:
    """Asks a tool; the answer is a piece of page."""
    bench, form = bench_of(request), _form(request)
    try:
        asked = _ASKED.decode(await whole_body(request, MOST_BYTES))
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise SaidError(400, f"The form could not be read: {str(error)[:200]}.") from error
    files = {
        field: [(sent.name, _place(bench, sent.sha256)) for sent in rows]
        for field, rows in asked.files.items()
    }
    try:
        answer = await _asking(bench).ask(form, asked, files)
    except NotSoError as error:
        raise SaidError(400, str(error)) from error
    hashes = [sent.sha256 for rows in asked.files.values() for sent in rows]
    picture = await asyncio.to_thread(_picture, bench, form, answer.drawing)
    narrow = await asyncio.to_thread(_picture, bench, form, answer.narrow)
    view = report_view(form, answer, hashes, picture, narrow)
    return bench.page(request, "report.html", view, here="tune", title=form.title)


async def made(request: Request) -> Response:
    """A file that a tool makes."""
    form, name = _form(request), request.path_params["name"]
    file = next((each for each in form.makes if each.name == name), None)
    content = await _asking(bench_of(request)).make(form, file) if file is not None else None
    if content is None:
        raise SaidError(404, "This tool makes no such file.")
    media = "image/svg+xml" if name.endswith(".svg") else "application/octet-stream"
    headers = {
        "content-disposition": f'attachment; filename="{name}"',
        "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox",
    }
    return Response(content, media_type=media, headers=headers)


def _asking(bench: Bench) -> Asking:
    if bench.asking is None:
        raise SaidError(404, "This bench has no tuning.")
    return bench.asking


def _form(request: Request) -> Form:
    form = _asking(bench_of(request)).form(request.path_params["what"])
    if form is None:
        raise SaidError(404, "There is no such tuning.")
    return form


def _place(bench: Bench, sha256: str) -> Path:
    place = find(bench.folder, sha256) if _SHA256.fullmatch(sha256) else None
    if place is None:
        raise SaidError(404, "This file is not kept beside the log (any more). Send it again.")
    return place


def _picture(bench: Bench, form: Form, drawing: bytes | None) -> Drawn | None:
    """A plot under its content's name, as steps' pictures are kept."""
    size = _SIZE.search(drawing or b"")
    if drawing is None or size is None:
        return None
    try:
        name = bench.workshop.kept.keep_drawing(drawing, "svg")
    except OSError:
        return None
    return Drawn(
        href=f"{DRAWINGS}/{name}",
        width=float(size["width"]),
        height=float(size["height"]),
        says=f"{form.title}: what was measured, drawn",
    )


ROUTES: tuple[BaseRoute, ...] = (
    Route("/tune", tools),
    Route("/tune/{what}", tool, methods=["GET"]),
    Route("/tune/{what}", ask, methods=["POST"]),
    Route("/tune/{what}/made/{name}", made),
)

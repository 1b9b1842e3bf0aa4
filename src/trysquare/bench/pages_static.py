"""Styles, scripts and fonts: the program's own files, the same for everybody."""

from __future__ import annotations

import mimetypes
from pathlib import Path

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import STATIC
from trysquare.bench.failures import SaidError

_MEDIA = {".js": "text/javascript", ".css": "text/css", ".woff2": "font/woff2", ".svg": "image/svg+xml",
          ".webmanifest": "application/manifest+json"}  # fmt: skip


async def static(request: Request) -> Response:
    """A file of the static folder; nothing outside of it, by whatever path."""
    file = _inside(request.path_params["name"])
    named = "v" in request.query_params or ("-" in file.stem and file.parent.name == "dist")
    keeps = "public, max-age=31536000, immutable" if named else "no-cache"
    return FileResponse(file, media_type=_media(file), headers={"cache-control": keeps})


async def worker(request: Request) -> Response:  # noqa: ARG001 - as routes are called
    """The service worker, from the root: a browser lets it serve only what lies below its own address."""
    return FileResponse(
        _inside("dist/worker.js"), media_type="text/javascript", headers={"cache-control": "no-cache"}
    )


def _inside(name: str) -> Path:
    file = (STATIC / name).resolve()
    if not file.is_relative_to(STATIC.resolve()) or not file.is_file():
        raise SaidError(404)
    return file


def _media(file: Path) -> str:
    return _MEDIA.get(file.suffix) or mimetypes.guess_type(file.name)[0] or "application/octet-stream"


ROUTES: tuple[BaseRoute, ...] = (Route("/static/{name:path}", static), Route("/worker.js", worker))

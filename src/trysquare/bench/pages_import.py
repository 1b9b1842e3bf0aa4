"""The page of unsure parts of an import: yes, no, or not yet; answers go where the terminal's go."""

from __future__ import annotations

import asyncio
import hmac
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import Bench, bench_of, visit_of
from trysquare.bench.bodies import form_fields
from trysquare.bench.failures import SaidError
from trysquare.bench.show_import import PATH, answered, part_svg, unsure_view
from trysquare.ground.errors import ReadingError
from trysquare.intake.rulings import Memory
from trysquare.record.rulings_kept import Asked, keep, read_asked, read_kept

MOST_BYTES = 20_000
AGAIN, LATER = "again", "later"
_DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
_one_at_a_time = asyncio.Lock()


async def unsure(request: Request) -> Response:
    """Every unsure part of the last import."""
    bench = bench_of(request)
    problem: ReadingError | None = None
    asked, memory = Asked(), Memory()
    try:
        asked, memory = await asyncio.to_thread(_read, bench)
    except ReadingError as error:
        problem = error
    view = unsure_view(asked, memory, request.query_params.get("later", ""), problem)
    return bench.page(request, "unsure.html", view, here="unsure", title="Unsure parts")


async def answer(request: Request) -> Response:
    """Keeps an answer, or takes one back."""
    bench, visit = bench_of(request), visit_of(request)
    form = await form_fields(request, MOST_BYTES)
    said = form.get("token", "")
    if not visit.token or not hmac.compare_digest(said.encode("utf-8", "replace"), visit.token.encode()):
        raise SaidError(403)
    about, digest, says = form.get("about", ""), form.get("part", ""), form.get("answer", "")
    if says == LATER:
        return RedirectResponse(f"{PATH}?{urlencode({'later': f'{about} {digest}'})}", 303)
    async with _one_at_a_time:
        try:
            asked, memory = await asyncio.to_thread(_read, bench)
        except ReadingError as error:
            raise SaidError(400, f"Nothing was changed. {error}") from error
        found = (one for one in asked.questions if one.digest == digest and one.about == about)
        question = next(found, None)
        if question is None:
            raise SaidError(404, "The last import asks nothing of this part (any more).")
        if says == AGAIN:
            memory = _taken_back(memory, digest, about)
        else:
            ruling = answered(question, says)
            if ruling is None:
                raise SaidError(400, "That is none of the answers that were offered.")
            before = memory.rulings.get(digest)
            if before is not None and about == "printed":
                ruling = replace(before, printed=ruling.printed)
            elif before is not None:
                ruling = replace(ruling, printed=before.printed)
            memory = memory.with_rulings([ruling])
        try:
            await asyncio.to_thread(keep, bench.folder, memory)
        except OSError as error:
            raise SaidError(400, f"imports.toml could not be written: {error.strerror}.") from error
    return RedirectResponse(PATH, 303)


async def picture(request: Request) -> Response:
    """A part, drawn from the mesh that its import left."""
    try:
        asked = await asyncio.to_thread(read_asked, bench_of(request).folder)
    except ReadingError as error:
        raise SaidError(404, str(error)) from error
    svg = await asyncio.to_thread(part_svg, asked, request.path_params["digest"])
    if not svg:
        raise SaidError(404, "This part has no picture.")
    headers = {"content-security-policy": _DRAWING_POLICY}
    return Response(svg, media_type="image/svg+xml", headers=headers)


def open_questions(folder: Path) -> int:
    """How many unsure parts wait for an answer; 0 where nothing was imported or it cannot be read."""
    try:
        asked = read_asked(folder)
        return len(asked.still_open(read_kept(folder))) if asked.questions else 0
    except ReadingError:
        return 0


def _read(bench: Bench) -> tuple[Asked, Memory]:
    return read_asked(bench.folder), read_kept(bench.folder)


def _taken_back(memory: Memory, digest: str, about: str) -> Memory:
    """The memory without the answer to one question; what else was said of the shape stays."""
    rulings = dict(memory.rulings)
    ruling = rulings.pop(digest, None)
    if ruling is not None:
        left = replace(ruling, printed=None) if about == "printed" else replace(ruling, says="")
        if left.says or left.printed is not None:
            rulings[digest] = left
    return replace(memory, rulings=rulings)


ROUTES: tuple[BaseRoute, ...] = (
    Route(PATH, unsure),
    Route(PATH, answer, methods=["POST"]),
    Route(PATH + "/{digest}.svg", picture),
)

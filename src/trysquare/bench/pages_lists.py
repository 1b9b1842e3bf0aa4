"""Pages of lists: parts, slots, findings, papers, readings, open points, words."""

from __future__ import annotations

import asyncio

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import bench_of
from trysquare.bench.failures import BeingReadError, SaidError
from trysquare.bench.pages_import import open_questions
from trysquare.bench.show_lists import (
    findings_view,
    help_view,
    open_points_view,
    papers_view,
    slots_view,
)
from trysquare.bench.show_parts import part_view, parts_view
from trysquare.bench.show_readings import readings_view

LONGEST_QUESTION = 500


async def parts(request: Request) -> Response:
    """All sorts, counting, and the sorting key."""
    bench = bench_of(request)
    view = parts_view(bench.now(request))
    return bench.page(request, "parts.html", view, here="parts", title="Parts")


async def part(request: Request) -> Response:
    """One sort, or one placed piece."""
    bench = bench_of(request)
    now = bench.now(request)
    ref = request.path_params["ref"]
    own = f"{now.shown.order.machine}/" if now.shown.order is not None else ""
    lines = bench.workshop.lines()
    view = part_view(now, ref, lines)
    if view is None and own and ref.startswith(own):  # a label whose base ends in /part
        view = part_view(now, ref.removeprefix(own), lines)
    if view is None and now.shown.order is None:
        raise BeingReadError
    if view is None:
        raise SaidError(404, "The machine has no such part.")
    return bench.page(request, "part.html", view, here="parts", title=view.row.name)


async def slots(request: Request) -> Response:
    """The slot ledger."""
    bench = bench_of(request)
    return bench.page(request, "slots.html", slots_view(bench.now(request)), here="slots", title="Slots")


async def findings(request: Request) -> Response:
    """Findings by weight."""
    bench = bench_of(request)
    view = findings_view(bench.now(request))
    return bench.page(request, "findings.html", view, here="findings", title="Findings")


async def papers(request: Request) -> Response:
    """Papers, rulings, and who says so."""
    bench = bench_of(request)
    asked = request.query_params.get("of", "")[:LONGEST_QUESTION]
    paper = request.query_params.get("paper", "")[:LONGEST_QUESTION]
    view = papers_view(bench.now(request), bench.workshop.lines(), asked, paper)
    return bench.page(request, "papers.html", view, here="papers", title="Papers")


async def readings(request: Request) -> Response:
    """Everything to read and everything that was read."""
    bench = bench_of(request)
    view = readings_view(bench.now(request))
    return bench.page(request, "readings.html", view, here="readings", title="Readings")


async def open_points(request: Request) -> Response:
    """Everything that is open."""
    bench = bench_of(request)
    unsure = await asyncio.to_thread(open_questions, bench.folder)
    view = open_points_view(bench.now(request), unsure=unsure)
    return bench.page(request, "open.html", view, here="open", title="Open points")


async def words(request: Request) -> Response:
    """A word explained, or all of them."""
    view = help_view(request.path_params.get("term", ""))
    if view is None:
        raise SaidError(404, "This word is not explained here.")
    return bench_of(request).page(request, "help.html", view, here="help", title=view.word)


ROUTES: tuple[BaseRoute, ...] = (
    Route("/parts", parts),
    Route("/part/{ref:path}", part),
    Route("/slots", slots),
    Route("/findings", findings),
    Route("/papers", papers),
    Route("/readings", readings),
    Route("/open", open_points),
    Route("/help", words),
    Route("/help/", words),
    Route("/help/{term}", words),
)

"""Pages of sorting: a piece in the hand, one question at a time."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import bench_of
from trysquare.bench.failures import SaidError
from trysquare.bench.show_sort import forms_view, sort_view


async def forms(request: Request) -> Response:
    """Which form of part it is."""
    bench = bench_of(request)
    return bench.page(request, "sort.html", forms_view(bench.now(request)), here="parts", title="What is it?")


async def question(request: Request) -> Response:
    """One question of a form's key, or the pile at its end."""
    bench = bench_of(request)
    form = request.path_params["form"]
    at, odd = request.query_params.get("at", ""), "odd" in request.query_params
    number = int(form) if form.isascii() and form.isdigit() and len(form) < 4 else 0
    view = sort_view(bench.now(request), number, at, odd=odd)
    if view is None:
        raise SaidError(404, "The sorting key has no such question.")
    title = " or ".join(row.letter for row in view.piles) or view.ask or "What is it?"
    return bench.page(request, "sort.html", view, here="parts", title=title)


ROUTES: tuple[BaseRoute, ...] = (Route("/sort", forms), Route("/sort/{form}", question))

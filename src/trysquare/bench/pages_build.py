"""Pages of the build: the order, steps, cards, their drawings and meshes."""

from __future__ import annotations

import asyncio
import gzip

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench import links
from trysquare.bench.bench import bench_of
from trysquare.bench.failures import BeingReadError, SaidError
from trysquare.bench.pages_import import open_questions
from trysquare.bench.show_order import order_view
from trysquare.bench.show_step import card_view, step_view
from trysquare.bench.views_step import StepView

_FOREVER = "private, max-age=31536000, immutable"  # named by content: another content has another name
_DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


async def order(request: Request) -> Response:
    """The order of the build."""
    bench = bench_of(request)
    view = order_view(bench.now(request), unsure=await asyncio.to_thread(open_questions, bench.folder))
    return bench.page(request, "order.html", view, here="order", title="The order")


async def step(request: Request) -> Response:
    """A step's page."""
    view = _step(request)
    return bench_of(request).page(
        request, "step.html", view, here="step", title=f"{view.number} {view.title}", step=view.id
    )


async def card(request: Request) -> Response:
    """A step's lower third."""
    shape, only = request.query_params.get("shape", "wide"), request.query_params.get("only", "")
    page = _step(request)
    view = card_view(page, tall=shape == "tall", title_only=only == "title")
    return bench_of(request).page(request, "card.html", view, here="card", title=page.title, step=page.id)


async def step_picture(request: Request) -> Response:
    """A step's picture under a name that does not change, led on to the drawing as it is now."""
    view = _step(request)
    if view.picture is None:
        raise SaidError(404, "The picture is being drawn." if view.picture_waits else "It has no picture.")
    return RedirectResponse(view.picture.href, 307)


async def step_solid(request: Request) -> Response:
    """What a step's 3D view shows, led on to the facts as they are now."""
    view = _step(request)
    if not view.solid_href:
        raise SaidError(404, "Nothing of this step can be turned, or it is being computed.")
    return RedirectResponse(view.solid_href, 307)


def _step(request: Request) -> StepView:
    now = bench_of(request).now(request)
    view = step_view(now, request.path_params["step"])
    if view is None and now.shown.order is None:
        raise BeingReadError
    if view is None:
        raise SaidError(404, "The machine has no such step.")
    return view


async def drawing(request: Request) -> Response:
    """A drawing or mesh by its content's name."""
    name = request.path_params["name"]
    packed = bench_of(request).workshop.kept.drawing(name)
    if packed is None:
        raise SaidError(404, "This drawing is not kept (any more).")
    kind = name.rpartition(".")[2]
    headers = {"cache-control": _FOREVER, "vary": "accept-encoding"}
    if kind == "svg":
        headers["content-security-policy"] = _DRAWING_POLICY
    media = {"svg": "image/svg+xml", "json": "application/json"}.get(kind, "application/octet-stream")
    if "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
        return Response(packed, media_type=media, headers=headers)
    return Response(gzip.decompress(packed), media_type=media, headers=headers)


async def label(request: Request) -> Response:
    """What the codes on labels open: the machine's name, then the part's."""
    now = bench_of(request).now(request)
    if now.shown.order is None:
        raise BeingReadError
    machine, part = request.path_params["machine"], request.path_params["part"]
    if machine != now.shown.order.machine:
        raise SaidError(
            404, "Nothing is kept under this address. A label that leads here is of another machine."
        )
    return RedirectResponse(links.part_href(part), 307)


ROUTES: tuple[BaseRoute, ...] = (
    Route("/", order),
    Route("/step/{step:path}/card", card),
    Route("/step/{step:path}/picture.svg", step_picture),
    Route("/step/{step:path}/3d.json", step_solid),
    Route("/step/{step:path}", step),
    Route("/drawn/{name}", drawing),
    Route("/solids/{name}", drawing),
)
LAST_ROUTES: tuple[BaseRoute, ...] = (Route("/{machine}/{part:path}", label),)

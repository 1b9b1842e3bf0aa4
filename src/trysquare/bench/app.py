"""The bench as one application: routes, failures, and the guard before all of them."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request

from trysquare.bench import desk as desks
from trysquare.bench.bench import Bench
from trysquare.bench.changes import LOG
from trysquare.bench.desk import StillOpen
from trysquare.bench.failures import broken, failed, http_failed, not_kept, still_open, unreadable
from trysquare.bench.routes import all_routes
from trysquare.bench.safety import App, Guard, Scope
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.record.faults import LogNotWritable

PACKED_FROM_BYTES = 1400  # what fits into one packet gains nothing
PACKING = 4  # as small as makes a difference, and quick


def bench_app(bench: Bench) -> Guard:
    """The application. Its lifespan follows folder and log."""

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.create_task(bench.workshop.follow()), asyncio.create_task(_follow_log(bench))]
        try:
            yield
        finally:
            bench.changes.close()
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            if bench.truing is not None:
                await bench.truing.stop()
            bench.desk.close()

    app = Starlette(
        routes=list(all_routes()),
        middleware=[Middleware(GZipMiddleware, minimum_size=PACKED_FROM_BYTES, compresslevel=PACKING)],
        exception_handlers={
            HTTPException: http_failed,
            LogNotWritable: not_kept,
            ReadingError: unreadable,
            ReadingErrors: unreadable,
            StillOpen: still_open,
            Exception: broken,
        },
        lifespan=lifespan,
    )
    app.router.redirect_slashes = False  # an address with a slash too many is another address
    app.state.bench = bench
    return Guard(app, devices=bench.devices, hosts=lambda: bench.opening.hosts, refuse=_refusing(app))


def _refusing(app: Starlette) -> Callable[[int, Scope], Awaitable[App]]:
    async def refuse(status: int, scope: Scope) -> App:
        return failed(Request({**scope, "app": app}), status)

    return refuse


async def _follow_log(bench: Bench) -> None:
    """Other programs may add to the log while the bench runs."""
    while True:
        await asyncio.sleep(desks.LOOK_SECONDS)
        if await bench.desk.look():
            bench.changes.tell(LOG, bench.desk.state.seq)

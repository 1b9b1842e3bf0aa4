"""Truing: a page for each unit, and the short answer that stands on a step with readings."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from trysquare.bench import links
from trysquare.bench.bench import Bench, bench_of
from trysquare.bench.failures import SaidError
from trysquare.bench.now import Now
from trysquare.bench.show_true import TrueView, true_view, unit_rows
from trysquare.bench.views import Drawn

LONGEST_NAME = 500
READINGS = "readings"  # the folder's files with readings; truing.reading_files names it too
WIDTH, HEIGHT = 180.0, 130.0


async def machine(request: Request) -> Response:
    """The whole machine."""
    return await _page(request, "")


async def unit(request: Request) -> Response:
    """One unit."""
    return await _page(request, request.path_params["unit"])


async def at_step(request: Request) -> Response:
    """What the readings of a step say, as a piece of page."""
    bench = bench_of(request)
    now = bench.now(request)
    step = request.query_params.get("step", "")[:LONGEST_NAME]
    head = now.shown.head.get(step)
    if head is None:
        raise SaidError(404, "The machine has no such step.")
    own = head.unit if head.unit in {row.unit for row in unit_rows(now, "")} else ""
    view = await _view(bench, now, own, step)
    return bench.page(request, "true_now.html", view, here="true", title=f"Truing {view.title}")


async def _page(request: Request, unit_name: str) -> Response:
    bench = bench_of(request)
    now = bench.now(request)
    rows = unit_rows(now, unit_name)
    if now.shown.order is not None and not any(row.unit == unit_name for row in rows):
        raise SaidError(404, "The machine has no such unit, or nothing of it is read.")
    view = await _view(bench, now, unit_name, "")
    title = f"Truing {view.title}" if view.unit else "Truing"
    return bench.page(request, "true.html", view, here="true", title=title)


async def _view(bench: Bench, now: Now, unit_name: str, step: str) -> TrueView:
    if bench.truing is None or now.shown.order is None:
        says = "The machine is still being read; this page comes by itself."
        return true_view(now, unit_name, {"says": says}, ())
    said = said_rows(now)
    stamp = await asyncio.to_thread(_stamp, bench)
    key = (unit_name, step, now.shown.version, stamp, repr(said))
    answer = await bench.truing.ask(key, {"unit": unit_name, "step": step, "readings": said})
    drawn = await asyncio.to_thread(_drawn, bench, answer)
    return true_view(now, unit_name, answer, drawn)


def said_rows(now: Now) -> list[dict[str, Any]]:
    """All readings of the log, oldest first, as the child is asked with them."""
    rows = [one for found in now.state.readings.values() for one in found]
    rows.sort(key=lambda one: one.said.seq)
    return [
        {
            "id": one.said.id, "number": one.said.seq, "of": one.of, "value": one.value, "unit": one.unit,
            "instrument": one.instrument, "uncertainty": one.uncertainty, "step": one.step or "",
            "date": one.said.at[:10], "by": one.said.device, "note": one.note,
            "set_aside": one.set_aside, "row": dict(one.row),
        }
        for one in rows
    ]  # fmt: skip


def _stamp(bench: Bench) -> object:
    """Names, sizes and times of the files with readings."""
    rows = []
    try:
        for file in sorted((bench.folder / READINGS).iterdir()):
            stat = file.stat()
            rows.append((file.name, stat.st_size, stat.st_mtime_ns))
    except OSError:
        return ()
    return tuple(rows)


def _drawn(bench: Bench, answer: Mapping[str, Any]) -> Sequence[Drawn | None]:
    """The pictures under their contents' names: now, then the rounds before."""
    plots = [(answer.get("plot"), "as it was read last")]
    plots += [(one["plot"], f"in round {one['round']}") for one in answer.get("earlier", ())]
    found: list[Drawn | None] = []
    for plot, when in plots:
        if not plot or not plot["factor"]:
            found.append(None)
            continue
        try:
            name = bench.workshop.kept.keep_drawing(plot["svg"].encode(), "svg")
        except OSError:
            found.append(None)
            continue
        says = f"The frame {when}, its error drawn {plot['factor']:g} times"
        found.append(Drawn(href=f"{links.DRAWINGS}/{name}", width=WIDTH, height=HEIGHT, says=says))
    return found


ROUTES: tuple[BaseRoute, ...] = (
    Route("/true", machine),
    Route("/true-at", at_step),
    Route("/true/{unit:path}", unit),
)

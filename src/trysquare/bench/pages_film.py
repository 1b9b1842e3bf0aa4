"""Film: marks, chapters out of them, exports."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import bench_of
from trysquare.bench.failures import SaidError
from trysquare.bench.now import Now
from trysquare.bench.show_lists import clock, film_view
from trysquare.ground.errors import ReadingError, ReadingErrors

_MEDIA = {"vtt": "text/vtt", "txt": "text/plain", "ffmetadata": "text/plain"}
LEAST_APART_SECONDS = 1.0  # as `publish.chapters` asks for between two marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapters:
    """Chapters as (title, where). `texts`: the files by name; `problem`: why the marks give none."""

    rows: tuple[tuple[str, str], ...]
    texts: dict[str, str]
    from_marks: bool
    problem: str = ""


async def film(request: Request) -> Response:
    """Marks and chapters."""
    bench = bench_of(request)
    now = bench.now(request)
    found = chapters(now)
    view = film_view(now, found.rows, from_marks=found.from_marks, problem=found.problem)
    return bench.page(request, "film.html", view, here="film", title="Film")


async def export(request: Request) -> Response:
    """One file of chapters, subtitles or lists."""
    name = request.path_params["name"]
    texts = chapters(bench_of(request).now(request)).texts
    if name not in texts:
        raise SaidError(404, "There is nothing to export under this name.")
    media = _MEDIA.get(name.rpartition(".")[2], "text/plain")
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return PlainTextResponse(texts[name], media_type=media, headers=headers)


def chapters(now: Now) -> Chapters:
    """As the marks of steps give them, else as planned."""
    order = now.shown.order
    if order is None:
        return Chapters(rows=(), texts={}, from_marks=False)
    planned = order.film.planned
    plain = _planned_rows(planned)
    rows = clock_rows(now)
    if not rows:
        return Chapters(rows=plain, texts=dict(order.film.texts), from_marks=False)
    try:
        texts = _from_marks(now, rows)
    except (ReadingError, ReadingErrors) as error:
        return Chapters(rows=plain, texts=dict(order.film.texts), from_marks=False, problem=str(error))
    titles = {step: title for step, title, _ in planned}
    marked = tuple((titles[step], clock(seconds)) for step, seconds in rows)
    return Chapters(rows=marked, texts={**order.film.texts, **texts}, from_marks=True)


def clock_rows(now: Now) -> list[tuple[str, float]]:
    """Each step's first mark with a known clock, in the film's order, without those too near to another."""
    first: dict[str, float] = {}
    for mark in now.state.marks:
        if mark.step in now.shown.head and mark.clock_seconds is not None and mark.clock_seconds >= 0:
            first.setdefault(str(mark.step), mark.clock_seconds)
    rows: list[tuple[str, float]] = []
    for step, seconds in sorted(first.items(), key=lambda row: row[1]):
        if not rows or seconds - rows[-1][1] >= LEAST_APART_SECONDS:
            rows.append((step, round(seconds, 3)))
    return rows


def _planned_rows(planned: tuple[tuple[str, str, float], ...]) -> tuple[tuple[str, str], ...]:
    at, rows = 0.0, []
    for _, title, seconds in planned:
        rows.append((title, clock(at) or "0:00"))
        at += max(seconds, LEAST_APART_SECONDS)
    return tuple(rows)


def _from_marks(now: Now, rows: list[tuple[str, float]]) -> dict[str, str]:
    """The files. Loaded when they are asked for: they need the machine's own values."""
    from trysquare.publish import chapters as write  # noqa: PLC0415
    from trysquare.publish.durations import StepDuration  # noqa: PLC0415

    order = now.shown.order
    assert order is not None
    planned = [
        StepDuration(
            step=step, title=title, unit="", seconds=seconds, basis="said", begin_seconds=seconds, actions=()
        )
        for step, title, seconds in order.film.planned
    ]
    table = "step,seconds\n" + "".join(
        f'"{step.replace(chr(34), chr(34) * 2)}",{seconds}\n' for step, seconds in rows
    )
    marks = write.clocked_marks(table, planned, opening=order.name, file="the marks")
    return {
        "chapters.vtt": write.chapters_webvtt(marks),
        "chapters.txt": write.chapters_plain(marks),
        "chapters.ffmetadata": write.chapters_ffmetadata(marks, order.name),
    }


ROUTES: tuple[BaseRoute, ...] = (Route("/film", film), Route("/film/{name}", export))

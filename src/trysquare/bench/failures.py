"""Every refusal and failure as a page of ours, or for a script as JSON of one shape.

{"error": a word, "says": a sentence, "remedy": what to do, "problems": […], "open": […]}; the last two only
where there are some. "problems": file, line, key, read, expected, remedy.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from trysquare.bench.bench import bench_of
from trysquare.bench.desk import StillOpen
from trysquare.bench.views import Problem
from trysquare.bench.views_lists import FailedView
from trysquare.ground.errors import ReadingError, ReadingErrors, shown
from trysquare.record.faults import LogNotWritable

AGAIN_SECONDS = 3
_HOME = (("The order of the build", "/"),)
_SAID: Mapping[int, tuple[str, str, str, str]] = {
    400: ("not-understood", "That was not understood", "The bench could not read what came.",
          "Try it again."),
    401: ("not-joined", "This device has not joined",
          "Only devices that have joined see this bench.",
          "Scan the code that the computer at the bench shows under Devices."),
    403: ("not-from-here", "That did not come from a page of the bench",
          "A post needs the token of a page that the bench itself has just given out.",
          "Reload the page and do it again."),
    404: ("not-there", "There is no such page", "Nothing is kept under this address.",
          "Go on from the order of the build."),
    405: ("not-so", "That cannot be done here", "This address takes no such request.",
          "Use the bench's pages."),
    409: ("still-open", "Something is still open", "The step has something open that matters.",
          "Settle it, or say why it is left open."),
    413: ("too-large", "That is too much at once", "More came than the bench takes in one piece.",
          "Send less at once."),
    414: ("too-long", "That address is too long", "No page of the bench has such an address.",
          "Go on from the order of the build."),
    415: ("not-such-a-file", "The bench does not keep such files",
          "It is no picture, recording, table or text.",
          "Send a photo, a recording, or a table as CSV."),
    421: ("false-name", "The bench is not called that",
          "It was asked for under a name that is not its own, as another site's page would.",
          "Use one of the addresses that the bench says when it starts."),
    429: ("too-often", "Not so fast", "Too much came in a short time.", "Wait a minute and try again."),
    500: ("failed", "The bench failed inside itself", "Your log and your folder are as they were.",
          "Reload the page. If it fails again, report what you did together with the machine folder."),
    503: ("not-kept", "Nothing could be kept just now", "The disk does not take it.",
          "Keep the page open: it is sent again by itself."),
}  # fmt: skip


def wants_json(request: Request) -> bool:
    """Whether a script asks: then a page would only be in its way."""
    if request.url.path.startswith("/join"):
        return False
    accept = request.headers.get("accept", "")
    return request.method == "POST" or "application/json" in accept or "event-stream" in accept


def failed(
    request: Request,
    status: int,
    *,
    says: str = "",
    remedy: str = "",
    problems: Sequence[ReadingError] = (),
    word: str = "",
    title: str = "",
    again: bool = False,
    more: Mapping[str, Any] | None = None,
) -> Response:
    """A failure of this status, in its usual words where none are given. `again`: it comes anew by itself."""
    usual_word, usual_title, usual_says, usual_remedy = _SAID.get(
        status, _SAID[500 if status >= 500 else 400]
    )
    if wants_json(request):
        facts: dict[str, Any] = {
            "error": word or usual_word,
            "says": says or usual_says,
            "remedy": remedy or usual_remedy,
        }
        if problems:
            facts["problems"] = [_problem_facts(one) for one in problems]
        return JSONResponse({**facts, **(more or {})}, status_code=status)
    view = FailedView(
        status=status,
        title=title or usual_title,
        says=says or usual_says,
        remedy=remedy or usual_remedy,
        problems=tuple(
            Problem(where=str(one.where), read=shown(one.read), expected=one.expected, remedy=one.remedy)
            for one in problems
        ),
        links=(("Join the bench", "/join"),) if status == 401 else _HOME,
        again=again,
    )
    answer = bench_of(request).page(request, "failed.html", view, here="", title=view.title, status=status)
    if again:
        answer.headers["retry-after"] = str(AGAIN_SECONDS)
    return answer


def _problem_facts(one: ReadingError) -> dict[str, Any]:
    return {
        "file": one.where.file, "line": one.where.line, "key": one.where.key, "read": shown(one.read),
        "expected": one.expected, "remedy": one.remedy,
    }  # fmt: skip


# --- what our own code raises


async def http_failed(request: Request, error: Exception) -> Response:
    """A refusal by its status; the usual words say more than the library's."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    if isinstance(error, BeingReadError):
        busy = bench_of(request).workshop.shown.busy
        return failed(
            request, status, word="being-read",
            title="The machine is being read" if busy else "The machine folder cannot be read yet",
            says="This page comes by itself as soon as the order of the build is known."
            if busy
            else "Mend what stands above and save the file: this page then comes by itself.",
            remedy="Nothing is to be done." if busy else "", again=True,
        )  # fmt: skip
    says = error.detail if isinstance(error, SaidError) else ""
    return failed(request, status, says=says)


class SaidError(HTTPException):
    """A refusal in our own words."""

    def __init__(self, status: int, says: str = "") -> None:
        super().__init__(status_code=status, detail=says)


class BeingReadError(HTTPException):
    """What is asked for may be there: nothing of the machine is known yet."""

    def __init__(self) -> None:
        super().__init__(status_code=503)


async def not_kept(request: Request, error: Exception) -> Response:
    """The log or the disk did not take it; whoever sent it keeps it."""
    assert isinstance(error, LogNotWritable)
    return failed(request, 503, says=f"{error.where}: {error.read}.", remedy=error.remedy)


async def unreadable(request: Request, error: Exception) -> Response:
    """Something that came cannot be used as it stands."""
    problems = error.problems if isinstance(error, ReadingErrors) else (error,)
    first = next(iter(problems))
    assert isinstance(first, ReadingError)
    says = f"{first.where}: read {shown(first.read)}, expected {first.expected}."
    return failed(request, 400, says=says, remedy=first.remedy, problems=[one for one in problems
                  if isinstance(one, ReadingError)])  # fmt: skip


async def still_open(request: Request, error: Exception) -> Response:
    """A step is to be left though something that matters is open."""
    assert isinstance(error, StillOpen)
    names = "; ".join(f"{one.says} ({one.read.rstrip('.')})" if one.read else one.says for one in error.items)
    more = {
        "step": error.step,
        "open": [
            {"item": one.item, "sort": one.sort, "says": one.says, "read": one.read} for one in error.items
        ],
    }
    return failed(request, 409, says=f"Still open in this step: {names}.", more=more)


async def broken(request: Request, error: Exception) -> Response:  # noqa: ARG001 - as it is called
    """What nobody foresaw: a sentence, never a traceback."""
    return failed(request, 500)

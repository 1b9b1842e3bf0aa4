"""Faults on the network's side: every route of the bench with addresses, headers and bodies nobody means."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote

from starlette.routing import Route

from faulting.family import Verdict, Workplace
from faulting.folders import entries_lost, texts, texts_lost
from faulting.outcome import HANGS_AFTER_SECONDS, STOPS_WITHIN_SECONDS, _waited, kill_group
from faulting.spoil import NASTY, bytes_spoiled, text_spoiled

REQUESTS = 40
ENDLESS = frozenset({"/changes"})  # a stream of changes that never ends
HEADERS = (
    "host",
    "cookie",
    "origin",
    "accept",
    "content-type",
    "range",
    "x-trysquare-token",
    "if-none-match",
    "x-trysquare-suffix",
    "sec-fetch-site",
    "accept-encoding",
    "last-event-id",
    "user-agent",
)
GOOD = {"id": "a", "kind": "note", "at": "2031-05-04T08:00:00.000Z", "data": {"says": "x"}}
ANSWERS_503 = frozenset({503})  # says that something is not yet computed, or that nothing was kept


def fault(workplace: Workplace, chance: Random) -> Verdict:
    """Some requests to one bench, in a child, so that one that hangs is seen."""
    with workplace.place() as place:
        folder = workplace.templates.copy(chance.choice(("frame", "reed")), place)
        before = texts(place)
        told = place / "told.json"
        child = os.fork()
        if not child:
            os.setsid()
            with contextlib.suppress(BaseException):
                told.write_text(json.dumps(_requests(folder, chance)), encoding="utf-8")
            os._exit(0)
        wrong: tuple[str, ...]
        if _waited(child, HANGS_AFTER_SECONDS) is None:
            kill_group(child)
            _waited(child, STOPS_WITHIN_SECONDS)
            wrong = (f"the bench did not answer within {HANGS_AFTER_SECONDS:g} s",)
        elif not told.is_file():
            wrong = ("the bench fell over",)
        else:
            wrong = tuple(json.loads(told.read_text("utf-8")))
        kill_group(child)
        lost = texts_lost(before, place) + entries_lost(folder, workplace.templates.log_ids)
        return Verdict(tried=REQUESTS, wrong=wrong, lost=tuple(lost))


def _requests(folder: Path, chance: Random) -> list[str]:
    """Asks so many times; gives what was wrong."""
    from bench.asking import joined, opened  # noqa: PLC0415  # found beside the tests
    from trysquare.bench.routes import all_routes  # noqa: PLC0415

    routes = [each for each in all_routes() if isinstance(each, Route) and each.path not in ENDLESS]
    bench, computer = opened(folder)
    computer.get("/")
    browsers = (computer, joined(bench, computer))
    wrong: list[str] = []
    for _ in range(REQUESTS):
        route = chance.choice(routes)
        method = chance.choice(
            sorted({*(route.methods or ()), chance.choice(("GET", "POST", "HEAD", "PUT"))})
        )
        address = _address(route.path, folder, chance)
        headers, body = _headers(chance), _body(chance) if method in {"POST", "PUT"} else None
        browser = chance.choice(browsers)
        said = f"{method} {address[:160]} {headers or ''}"
        try:
            if method == "POST" and not headers:
                answer = browser.post(address, body or b"")
            else:
                answer = browser.ask(method, address, headers=headers, body=body)
        except BaseException as error:  # noqa: BLE001  # whatever leaves the bench is what is looked for
            wrong.append(f"{said}: {type(error).__name__}: {error}"[:400])
            continue
        if answer.status_code >= 500 and answer.status_code not in ANSWERS_503:
            wrong.append(f"{said}: {answer.status_code} {answer.text[:300]!r} body {(body or b'')[:200]!r}")
        elif "Traceback (most recent call last)" in answer.text:
            wrong.append(f"{said}: a traceback in the answer")
    return wrong


def _address(path: str, folder: Path, chance: Random) -> str:
    """The route's own address, its fields filled with what is there or with something nasty."""
    names = [
        *(each.name for each in folder.iterdir()),
        "feet",
        "rail-true",
        "frame",
        "frame/left",
        "belt",
        "heat",
        "resonance",
        "base",
        "corner",
        "skew",
        "surface",
        "drive",
        "wiring",
        "homing",
        "maintenance",
    ]
    found = ""
    for piece in path.split("/")[1:]:
        if piece.startswith("{"):
            value = chance.choice(names) if chance.random() < 0.5 else chance.choice(NASTY)[:3000]
            found += "/" + quote(value, safe="/" if ":path" in piece else "", errors="replace")
        else:
            found += "/" + piece
    if chance.random() < 0.4:
        key = chance.choice(("step", "unit", "after", "of", "found", "q", "at", "x", "ref", "length_mm"))
        found += f"?{key}={quote(chance.choice(NASTY)[:3000], errors='replace')}"
    return found or "/"


def _headers(chance: Random) -> Mapping[str, str]:
    if chance.random() < 0.7:
        return {}
    value = chance.choice(NASTY)[:3000].encode("latin-1", "replace").decode("latin-1")
    return {chance.choice(HEADERS): value.replace("\n", " ").replace("\r", " ").strip()}


def _body(chance: Random) -> bytes:
    event: dict[str, Any] = dict(GOOD)
    event["kind"] = chance.choice(
        ("note", "done", "reading", "deviation", "photo", "counted", "open", "undo", "x")
    )
    event["step"] = chance.choice((None, "feet", "frame", 7, *NASTY[:5]))
    event["data"] = {
        chance.choice(("says", "value", "unit", "what", "sha256")): _json(chance) for _ in range(3)
    }
    good = json.dumps({"events": [event]}).encode("utf-8", "replace")
    way = chance.randrange(5)
    if way == 0:
        return chance.randbytes(chance.choice((0, 1, 100, 5000)))
    if way == 1:
        return text_spoiled(good, chance)
    if way == 2:
        return bytes_spoiled(good, chance)
    if way == 3:
        form = "&".join(
            f"{chance.choice(('code', 'name', 'length_mm', 'mass', 'file'))}="
            f"{quote(chance.choice(NASTY)[:500], errors='replace')}"
            for _ in range(4)
        )
        return form.encode()
    return good


def _json(chance: Random) -> Any:
    return chance.choice(
        (None, True, 0, -1, 1e308, "", "x", [], {}, [[[]]], {"a": {"b": 1}}, 2**70, "x" * 9000)
    )

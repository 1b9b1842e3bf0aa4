"""Whatever comes to whichever address: an answer in our words, never a failure of the bench itself."""

from __future__ import annotations

import json
import string
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bench.asking import Browser, joined, opened
from trysquare.bench.bench import Bench
from trysquare.bench.failures import _SAID
from trysquare.record.kinds import kinds

PATHS = st.sampled_from((
    "/", "/step/", "/step/feet", "/step/feet/card", "/step/feet/3d.json", "/step/feet/picture.svg", "/part/",
    "/part/base", "/slots", "/findings", "/papers", "/readings", "/open", "/film", "/film/", "/help/",
    "/join",
    "/join/code.svg", "/join/revoke", "/static/", "/drawn/", "/solids/", "/kept/", "/log", "/files",
    "/certificate.crt", "/worker.js", "/parts", "/reed/", "/reed/base",
))  # fmt: skip  # not /changes: it never ends
SAFE = string.ascii_letters + string.digits + "/._-~%?&=+:;,@!$'()*[]#\\ \"<>|^`{}"
TAILS = st.one_of(st.just(""), st.text(SAFE, max_size=40), st.text(max_size=20))
LATIN = st.text(st.characters(min_codepoint=32, max_codepoint=255, exclude_characters="\x7f"), max_size=60)
JSON: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
FIELDS = st.sampled_from([field for kind in kinds().values() for field in kind.fields])
EVENTS = st.fixed_dictionaries(
    {
        "id": st.text(max_size=40) | st.uuids().map(str),
        "kind": st.sampled_from(list(kinds())) | st.text(max_size=12),
        "at": st.just("2031-05-04T08:00:00.000Z") | st.text(max_size=30),
        "data": st.dictionaries(FIELDS, JSON, max_size=4),
    },
    optional={
        "step": st.sampled_from(["feet", "rail-true", "run"]) | JSON,
        "subject": JSON,
        "seen": JSON,
        "more": JSON,
    },
)  # fmt: skip


@pytest.fixture(scope="module")
def bench_and_browsers(
    reed_computed: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Bench, Browser, Browser]]:
    import shutil

    folder = Path(shutil.copytree(reed_computed, tmp_path_factory.mktemp("fuzz") / "reed"))
    bench, browser = opened(folder)
    browser.get("/")
    yield bench, browser, joined(bench, browser)
    bench.desk.close()


def is_ours(answer: Any) -> None:
    """A status that we give, and where it is a failure, words of ours."""
    assert answer.status_code < 500, answer.text[:2000]
    assert "Traceback" not in answer.text
    if answer.status_code >= 400:
        assert answer.status_code in _SAID
        if answer.headers["content-type"] == "application/json":
            assert set(answer.json()) >= {"error", "says", "remedy"}
        else:
            assert answer.headers["content-type"].startswith("text/html")


@pytest.mark.slow
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=PATHS, tail=TAILS, accept=st.sampled_from(["text/html", "application/json", "*/*"]))
def test_no_address_makes_the_bench_fail(
    bench_and_browsers: tuple[Bench, Browser, Browser], path: str, tail: str, accept: str
) -> None:
    from urllib.parse import quote

    _, computer, _ = bench_and_browsers
    address = path + quote(
        tail, safe=SAFE.replace("#", "").replace(" ", "").replace("%", ""), errors="replace"
    )
    is_ours(computer.ask("GET", address.replace("\\", "%5C"), headers={"accept": accept}))


@pytest.mark.slow
@settings(max_examples=60)
@given(events=st.lists(EVENTS, max_size=3))
def test_no_events_make_the_bench_fail(
    bench_and_browsers: tuple[Bench, Browser, Browser], events: list[dict[str, Any]]
) -> None:
    _, computer, phone = bench_and_browsers
    body = json.dumps({"events": events}).encode("utf-8", "replace")
    for browser in (computer, phone):
        is_ours(browser.post("/log", body))
    for page in ("/", "/step/feet", "/step/rail-true", "/open", "/parts", "/film", "/readings"):
        assert computer.get(page).status_code == 200


@pytest.mark.slow
@settings(max_examples=80)
@given(
    body=st.binary(max_size=300),
    path=st.sampled_from(["/log", "/files", "/join", "/join/revoke", "/", "/open"]),
)
def test_no_body_makes_the_bench_fail(
    bench_and_browsers: tuple[Bench, Browser, Browser], body: bytes, path: str
) -> None:
    _, computer, _ = bench_and_browsers
    is_ours(computer.post(path, body))


@pytest.mark.slow
@settings(max_examples=80)
@given(
    name=st.sampled_from(["host", "cookie", "origin", "accept", "content-length", "content-type", "range",
                          "x-trysquare-token", "x-trysquare-suffix", "sec-fetch-site", "accept-encoding",
                          "last-event-id", "user-agent", "if-none-match", "if-modified-since", "if-range"]),
    value=LATIN,
    path=PATHS,
    method=st.sampled_from(["GET", "POST", "HEAD"]),
)  # fmt: skip
def test_no_header_makes_the_bench_fail(
    bench_and_browsers: tuple[Bench, Browser, Browser], name: str, value: str, path: str, method: str
) -> None:
    _, computer, _ = bench_and_browsers
    answer = computer.ask(method, path, headers={name: value}, body=b"{}" if method == "POST" else None)
    assert answer.status_code < 500
    assert answer.status_code < 400 or answer.status_code in {*_SAID, 416}

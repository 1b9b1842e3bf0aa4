"""A bench in memory for the tests, and browsers that ask it: cookie, token and origin as a page has them."""

from __future__ import annotations

import asyncio
import itertools
import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from log_entries import at
from trysquare.bench.app import bench_app
from trysquare.bench.bench import Bench, Opening
from trysquare.bench.safety import Guard
from trysquare.cli.bench import made_bench

HOSTS = frozenset({"localhost", "127.0.0.1", "::1", "192.168.7.20"})
OPEN = Opening(
    hosts=HOSTS, addresses=("https://192.168.7.20:8471/",), https=True, certificate=b"a certificate"
)
_ids = itertools.count(1)


@dataclass
class Browser:
    """One browser on one device. `address`: where it asks from; `base`: under which address it asks."""

    app: Guard
    base: str = "http://localhost:8470"
    address: str = "127.0.0.1"
    cookies: dict[str, str] = field(default_factory=dict)

    def ask(
        self, method: str, path: str, *, body: bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> httpx.Response:
        """One request, as it stands; cookies are kept as a browser keeps them."""
        return asyncio.run(self._ask(method, path, body, dict(headers or {})))

    async def _ask(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str]
    ) -> httpx.Response:
        transport = httpx.ASGITransport(self.app, raise_app_exceptions=False, client=(self.address, 40000))
        headers.setdefault("accept", "text/html")
        if self.cookies and "cookie" not in headers:
            headers["cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        async with httpx.AsyncClient(transport=transport, base_url=self.base) as client:
            said = [(name.encode(), value.encode("latin-1")) for name, value in headers.items()]
            answer = await client.request(method, path, content=body, headers=said)
        for given in answer.headers.get_list("set-cookie"):
            name, _, value = given.partition(";")[0].partition("=")
            self.cookies[name] = value
            if not value:
                del self.cookies[name]
        return answer

    def get(self, path: str, **headers: str) -> httpx.Response:
        return self.ask(
            "GET", path, headers={name.replace("_", "-"): value for name, value in headers.items()}
        )

    @property
    def token(self) -> str:
        """The token of a page, as its script reads it."""
        found = re.search(r'name="trysquare-token" content="([0-9a-f]*)"', self.get("/").text)
        return found[1] if found else ""

    def post(self, path: str, body: bytes, **headers: str) -> httpx.Response:
        """As a page's script posts."""
        said = {"x-trysquare-token": self.token, "origin": self.base, "accept": "*/*"}
        said |= {name.replace("_", "-"): value for name, value in headers.items()}
        return self.ask("POST", path, body=body, headers=said)

    def say(self, *events: Mapping[str, Any]) -> httpx.Response:
        """Posts events to the log."""
        return self.post("/log", httpx.Request("POST", "http://x", json={"events": list(events)}).content)


def event(kind: str, step: str | None = None, **data: Any) -> dict[str, Any]:
    """An event as a page's script makes it."""
    return {"id": str(uuid.UUID(int=next(_ids))), "kind": kind, "step": step, "at": at(1), "data": data}


def opened(folder: Path, opening: Opening = OPEN) -> tuple[Bench, Browser]:
    """A bench of a folder, and a browser on its own computer."""
    bench = made_bench(folder, (), opening)
    return bench, Browser(bench_app(bench))


def joined(bench: Bench, browser: Browser, name: str = "phone") -> Browser:
    """Another device of the workshop network, which has joined by a code."""
    phone = stranger(browser)
    token = re.search(r'name="join_token" value="([0-9a-f]+)"', phone.get("/join").text)
    assert token is not None
    answer = phone.ask(
        "POST", "/join", body=f"code={bench.devices.new_code()}&name={name}&join_token={token[1]}".encode(),
        headers={"origin": phone.base, "content-type": "application/x-www-form-urlencoded"},
    )  # fmt: skip
    assert answer.status_code == 303, answer.text
    return phone


def stranger(browser: Browser) -> Browser:
    """A device of the workshop network that has not joined."""
    return Browser(browser.app, base="https://192.168.7.20:8471", address="192.168.7.31")

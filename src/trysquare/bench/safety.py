"""Who may ask for what: hosts, devices, tokens, and the headers on every answer.

The bench listens on this computer alone unless it is opened to the workshop network. A device of that network
gets nothing but the way to join until it has joined: see `OPEN_PATHS`.
"""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Awaitable, Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any

from trysquare.bench.devices import Device, Devices, token_of

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "trysquare"
TOKEN_HEADER = "x-trysquare-token"
OPEN_PATHS = ("/join", "/certificate.crt", "/static/")
"""What a device that has not joined gets: the form to join, the certificate, and styles and scripts, which
are the same for everybody and hold nothing of the machine."""
FORM_PATHS = ("/join", "/unsure")
"""Posts of plain forms, which carry their token inside; whoever takes them checks it."""
LONGEST_PATH = 2000

POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "media-src 'self' blob:; connect-src 'self'; font-src 'self'; worker-src 'self'; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS: Mapping[str, str] = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # Under "no-referrer" a browser says of a plain form that it comes from "null".
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(self), screen-wake-lock=(self), geolocation=()",
    "cache-control": "no-cache, private",
}
"""On every answer; an answer that says one of them itself keeps its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """Who asks. `secret`: of its cookie; "" for a device that has not joined. `fresh`: the cookie is new."""

    device: Device | None
    secret: str
    is_local: bool
    secure: bool
    fresh: bool = False

    @property
    def token(self) -> str:
        return token_of(self.secret) if self.secret else ""


class Guard:
    """The first to see a request and the last to see its answer.

    `hosts`: names under which the bench may be asked, without port; anything else is somebody else's page
    that was led here by a false name. `refuse`: makes the answer for what is not let through.
    """

    def __init__(
        self,
        app: App,
        *,
        devices: Devices,
        hosts: Callable[[], frozenset[str]],
        refuse: Callable[[int, Scope], Awaitable[App]],
    ) -> None:
        self.app, self.devices, self.hosts, self.refuse = app, devices, hosts, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # no sockets here
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = _headers(scope)
        visit = self._visit(scope, headers)  # a false host is never local: nobody is welcomed under one
        scope.setdefault("state", {})["visit"] = visit
        status = self._judge(scope, headers, visit)
        app = self.app if status == 0 else await self.refuse(status, scope)

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _with_headers(message.get("headers", ()), scope)
            await send(message)

        await app(scope, receive, answer)

    def _visit(self, scope: Scope, headers: Mapping[str, str]) -> Visit:
        secure = scope.get("scheme") == "https"
        local = _is_loopback((scope.get("client") or ("", 0))[0]) and is_local_name(host_of(headers))
        secret = _cookie(headers.get("cookie", ""), secure=secure)
        device = self.devices.known(secret) if secret else None
        if device is not None:
            return Visit(device=device, secret=secret, is_local=local, secure=secure)
        if local and scope["method"] == "GET" and "text/html" in headers.get("accept", ""):
            secret = self.devices.welcome_local()
            device = self.devices.known(secret)
            return Visit(device=device, secret=secret, is_local=True, secure=secure, fresh=True)
        return Visit(device=None, secret="", is_local=local, secure=secure)

    def _judge(self, scope: Scope, headers: Mapping[str, str], visit: Visit) -> int:
        """0 to let it through, else the status of the refusal."""
        path, method = str(scope["path"]), str(scope["method"])
        if host_of(headers) not in self.hosts():
            return 421
        if len(path) > LONGEST_PATH or "\0" in path:
            return 414
        if method not in ("GET", "HEAD", "POST"):
            return 405
        if method == "POST" and not _is_same_origin(scope, headers):
            return 403
        if path.startswith(OPEN_PATHS) and (path in OPEN_PATHS or path.startswith("/static/")):
            return 0
        if visit.device is None and not visit.is_local:
            return 401
        if method == "POST" and not path.startswith(FORM_PATHS):
            said = headers.get(TOKEN_HEADER, "")
            if not visit.token or not hmac.compare_digest(said.encode(), visit.token.encode()):
                return 403
        return 0


def _with_headers(said: Sequence[tuple[bytes, bytes]], scope: Scope) -> list[tuple[bytes, bytes]]:
    """The answer's own headers, ours where it has none, and the cookie of a browser that is new here."""
    given = {name.lower() for name, _ in said}
    found = [
        *said,
        *((name.encode(), value.encode()) for name, value in HEADERS.items() if name.encode() not in given),
    ]
    visit: Visit = scope["state"]["visit"]
    if visit.fresh and b"set-cookie" not in given:
        found.append((b"set-cookie", cookie_header(visit.secret, secure=visit.secure).encode()))
    return found


def cookie_header(secret: str, *, secure: bool) -> str:
    """The cookie that makes a device known. Browsers give it to nobody's script and to no other site."""
    name = f"__Host-{COOKIE}" if secure else COOKIE
    flags = "; Secure" if secure else ""
    return f"{name}={secret}; Path=/; Max-Age={60 * 86400}; HttpOnly; SameSite=Strict{flags}"


def ended_cookie(*, secure: bool) -> str:
    """Takes the cookie away."""
    name = f"__Host-{COOKIE}" if secure else COOKIE
    return f"{name}=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict{'; Secure' if secure else ''}"


def host_of(headers: Mapping[str, str]) -> str:
    """The name under which we were asked, without its port, in small letters."""
    host = headers.get("host", "").strip().casefold()
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.rpartition(":")[0] if host.count(":") == 1 else host


def is_local_name(host: str) -> bool:
    """Whether a name means this computer to itself."""
    return host in ("localhost", "127.0.0.1", "::1")


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _headers(scope: Scope) -> dict[str, str]:
    """Headers by small name. One that comes twice is joined by a comma: two hosts fit nothing."""
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        key, text = name.decode("latin-1").lower(), value.decode("latin-1")
        found[key] = f"{found[key]},{text}" if key in found else text
    return found


def _cookie(header: str, *, secure: bool) -> str:
    try:
        found = SimpleCookie(header[:8000])
    except CookieError:
        return ""
    morsel = found.get(f"__Host-{COOKIE}" if secure else COOKIE)
    return morsel.value if morsel is not None else ""


def _is_same_origin(scope: Scope, headers: Mapping[str, str]) -> bool:
    """Whether a post comes from one of our own pages, as far as the browser says."""
    site = headers.get("sec-fetch-site", "")
    if site and site not in ("same-origin", "none"):
        return False
    origin = headers.get("origin", "")
    if not origin:
        return True  # no browser, or an old one: the token decides
    return origin.casefold() == f"{scope.get('scheme', 'http')}://{headers.get('host', '')}".casefold()

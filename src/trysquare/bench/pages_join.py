"""Joining: a one-time code for the next device, the devices that have joined, the bench's own certificate."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import segno
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from trysquare.bench.bench import Bench, bench_of, clock, visit_of
from trysquare.bench.bodies import form_fields
from trysquare.bench.devices import CODE_SECONDS, TooManyTries, plain_code, shown_code
from trysquare.bench.failures import SaidError
from trysquare.bench.safety import cookie_header, ended_cookie
from trysquare.bench.trusting import BROWSERS, allows
from trysquare.bench.views_lists import DeviceView, JoinView

MOST_BYTES = 4_000
_SUGGESTED = (("iPad", "tablet"), ("Tablet", "tablet"), ("Android", "phone"), ("iPhone", "phone"))


async def join_page(request: Request) -> Response:
    """On this computer: who has joined, and a code. Elsewhere: the form for the code."""
    return _page(request, given=plain_code(request.query_params.get("code", "")))


def _page(request: Request, *, given: str = "", wrong: str = "", status: int = 200) -> Response:
    bench, visit = bench_of(request), visit_of(request)
    joined = visit.device is not None
    opening = bench.opening
    is_open = bool(opening.addresses)
    may_invite = visit.is_local
    code = bench.devices.new_code() if may_invite and is_open else ""
    view = JoinView(
        may_invite=may_invite,
        is_open=is_open,
        how_to_open=opening.how_to_open if may_invite else "",
        joined=joined or visit.is_local,
        code=shown_code(code) if code else "",
        code_minutes=round(CODE_SECONDS / 60),
        qr_href=f"/join/code.svg?code={code}" if code else "",
        addresses=opening.addresses if may_invite else (),
        devices=_devices(request, bench) if may_invite else (),
        https=opening.https,
        certificate_href="/certificate.crt" if opening.certificate is not None else "",
        fingerprint=opening.fingerprint,
        browsers=BROWSERS if opening.certificate is not None else (),
        allows=allows(secure=visit.secure or visit.is_local),
        given_code=given,
        join_token="" if joined or visit.is_local else bench.form_token(""),
        wrong=wrong,
        suggested_name=_suggested(request.headers.get("user-agent", "")),
    )
    if status == 200 and not joined and not visit.is_local:
        status = 401
    return bench.page(request, "join.html", view, here="join", title="Devices", status=status)


def _devices(request: Request, bench: Bench) -> tuple[DeviceView, ...]:
    visit = visit_of(request)
    return tuple(
        DeviceView(
            id=one.id, name=one.name, since=_told(one.since), seen=_told(one.seen),
            is_this=visit.device is not None and one.id == visit.device.id,
        )
        for one in bench.devices.all()
    )  # fmt: skip


def _told(seconds: float) -> str:
    return clock(datetime.fromtimestamp(seconds, UTC).isoformat())


def _suggested(agent: str) -> str:
    return next((name for sign, name in _SUGGESTED if sign in agent), "laptop")


async def join(request: Request) -> Response:
    """Takes a code; the device gets its cookie and goes to the order."""
    bench, visit = bench_of(request), visit_of(request)
    form = await form_fields(request, MOST_BYTES)
    if visit.device is not None:
        return RedirectResponse("/", 303)
    if not bench.is_form_token(form.get("join_token", ""), ""):
        return _page(request, wrong="This page had grown old. Enter the code again.", status=403)
    code = plain_code(form.get("code", ""))
    try:
        secret = bench.devices.join(code, form.get("name", ""))
    except TooManyTries:
        return _page(request, wrong="Too many wrong codes came. Wait a minute.", status=429)
    if secret is None:
        wrong = "This code is not good: it is used up, too old, or mistyped. Ask for a new one."
        return _page(request, wrong=wrong, status=403)
    headers = {"set-cookie": cookie_header(secret, secure=visit.secure)}
    return RedirectResponse("/", 303, headers=headers)


async def revoke(request: Request) -> Response:
    """Ends a device's visit. Only this computer may end another's; every device may end its own."""
    bench, visit = bench_of(request), visit_of(request)
    form = await form_fields(request, MOST_BYTES)
    if visit.device is None:
        raise SaidError(401)
    if form.get("token", "") != visit.token:
        raise SaidError(403)
    own = form.get("device", "") == visit.device.id
    if not own and not visit.is_local:
        raise SaidError(403, "Only the computer that serves the bench may shut another device out.")
    bench.devices.revoke(form.get("device", ""))
    headers = {"set-cookie": ended_cookie(secure=visit.secure)} if own else {}
    return RedirectResponse("/join", 303, headers=headers)


async def code_drawing(request: Request) -> Response:
    """The address with a code, for a phone's camera."""
    bench, visit = bench_of(request), visit_of(request)
    if not visit.is_local or not bench.opening.addresses:
        raise SaidError(404)
    code = plain_code(request.query_params.get("code", ""))[:16]
    text = f"{bench.opening.addresses[0]}join?code={code}"
    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        drawn, kind="svg", scale=8, border=2, dark="#000", light="#fff", svgclass=None, lineclass=None,
        xmldecl=False,
    )  # fmt: skip
    return Response(drawn.getvalue(), media_type="image/svg+xml", headers={"cache-control": "no-store"})


async def certificate(request: Request) -> Response:
    """The certificate of our own authority, to be trusted by a device."""
    found = bench_of(request).opening.certificate
    if found is None:
        raise SaidError(404, "This bench is not served over https.")
    return Response(
        found,
        media_type="application/x-x509-ca-cert",
        headers={"content-disposition": 'attachment; filename="trysquare-bench.crt"'},
    )


ROUTES: tuple[BaseRoute, ...] = (
    Route("/join", join_page),
    Route("/join", join, methods=["POST"]),
    Route("/join/revoke", revoke, methods=["POST"]),
    Route("/join/code.svg", code_drawing),
    Route("/certificate.crt", certificate),
)

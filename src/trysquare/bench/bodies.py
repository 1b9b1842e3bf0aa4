"""The whole body of a post; more than allowed is refused before it has all come."""

from __future__ import annotations

from urllib.parse import parse_qs

from starlette.requests import ClientDisconnect, Request

from trysquare.bench.failures import SaidError


async def whole_body(request: Request, most_bytes: int) -> bytes:
    """All bytes. Raises SaidError for more of them, and for a post that broke off."""
    found = bytearray()
    try:
        async for piece in request.stream():
            found += piece
            if len(found) > most_bytes:
                raise SaidError(413, f"A post holds at most {most_bytes} bytes.")
    except ClientDisconnect as error:
        raise SaidError(400, "The post broke off.") from error
    return bytes(found)


async def form_fields(request: Request, most_bytes: int) -> dict[str, str]:
    """A plain form's fields, the first of each name; none of a form with ten and more. Raises as
    `whole_body`."""
    found = await whole_body(request, most_bytes)
    fields = parse_qs(found.decode("utf-8", "replace"), max_num_fields=10) if found.count(b"&") < 10 else {}
    return {name: values[0] for name, values in fields.items()}

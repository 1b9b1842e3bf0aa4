"""The whole body of a post; more than allowed is refused before it has all come."""

from __future__ import annotations

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

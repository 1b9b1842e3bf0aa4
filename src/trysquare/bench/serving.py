"""Serving the bench: sockets first, then the loop, until somebody stops it."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import signal
import socket
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from trysquare.bench.safety import App
from trysquare.ground.errors import ReadingError

BACKLOG = 128
MOST_AT_ONCE = 300
STOP_SECONDS = 1
PORTS_TRIED = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A socket that listens. `chain`, `key`: files of the certificate for https; None for http."""

    listening: socket.socket
    chain: Path | None = None
    key: Path | None = None

    @property
    def port(self) -> int:
        return int(self.listening.getsockname()[1])


def listen_at(address: str, port: int, *, others: bool) -> socket.socket:
    """A socket that listens here; with `others`, at one of the next ports where this is taken. Port 0: any.

    Raises ReadingError when none is free.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    problem: OSError | None = None
    for each in range(port, port + (PORTS_TRIED if others and port else 1)):
        # With the protocol named asyncio sends at once; without it a page waits for the browser's receipt.
        listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family is socket.AF_INET6:  # else an address of the other kind would come in a disguise
            listening.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        try:
            listening.bind((address, each))
            listening.listen(BACKLOG)
        except (OSError, OverflowError) as error:
            listening.close()
            problem = error if isinstance(error, OSError) else None
            continue
        listening.setblocking(False)
        return listening
    raise ReadingError(
        where="--port", read=port, expected="a port that nobody else listens at",
        remedy=f"Name another one. ({problem.strerror if problem else 'not a port'})",
    )  # fmt: skip


def serve(app: App, doors: Sequence[Door], *, ready: Callable[[], None], stops: Callable[[], None]) -> None:
    """Serves until the program is asked to stop. `ready`: called once the doors are open; `stops`: called
    before they are shut, to end answers that would go on for ever."""
    # What the library has to say of a failure, the pages have said already; nobody reads it here.
    if os.environ.get("TRYSQUARE_DEBUG", "") in ("", "0"):
        log = logging.getLogger("uvicorn")
        log.propagate = False
        log.addHandler(logging.NullHandler())
    asyncio.run(_serve(app, doors, ready, stops))


async def _serve(
    app: App, doors: Sequence[Door], ready: Callable[[], None], stops: Callable[[], None]
) -> None:
    servers = [_server(app, door, first=number == 0) for number, door in enumerate(doors)]
    stopping = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError, RuntimeError):  # not every system's loop can
            loop.add_signal_handler(number, stopping.set)
    tasks = [
        asyncio.create_task(server.serve(sockets=[door.listening]))
        for server, door in zip(servers, doors, strict=True)
    ]
    while not all(server.started or task.done() for server, task in zip(servers, tasks, strict=True)):
        await asyncio.sleep(0.005)
    ready()
    waiting = asyncio.create_task(stopping.wait())
    await asyncio.wait([waiting, *tasks], return_when=asyncio.FIRST_COMPLETED)
    stops()
    for server in servers:
        server.should_exit = True
    waiting.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


class _Server(uvicorn.Server):
    """Signals are taken once for all servers, above."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def _server(app: App, door: Door, *, first: bool) -> _Server:
    return _Server(
        uvicorn.Config(
            app,
            lifespan="on" if first else "off",  # what runs beside the pages runs once
            log_config=None,
            access_log=False,
            server_header=False,
            ws="none",
            loop="asyncio",
            http="h11",
            limit_concurrency=MOST_AT_ONCE,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=STOP_SECONDS,
            ssl_certfile=door.chain,
            ssl_keyfile=door.key,
            proxy_headers=False,
        )
    )

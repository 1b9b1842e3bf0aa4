"""What happens while pages are shown, told to all that listen: entries of the log, edits, pictures."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncIterator

LOG, MACHINE, PICTURES = "log", "machine", "pictures"
BREATH_SECONDS = 20.0
"""How often a line without meaning goes out, so that whoever went away is noticed."""
MOST_LISTENERS = 64
MOST_WAITING = 32


class TooManyListeners(Exception):  # noqa: N818 - it says what is the matter
    """No more pages can listen at once."""


class Changes:
    """Tells every listener what changed. Used from the event loop alone."""

    def __init__(self) -> None:
        self._listeners: set[_Listener] = set()
        self._closed = False

    def tell(self, what: str, seq: int) -> None:
        """`what`: LOG, MACHINE or PICTURES; `seq`: the last entry of the log by now."""
        for listener in self._listeners:
            listener.hear(what, seq)

    def close(self) -> None:
        """Ends every listener."""
        self._closed = True
        for listener in self._listeners:
            listener.wake.set()

    @property
    def listeners(self) -> int:
        return len(self._listeners)

    async def listen(self, after: int, seq: int) -> AsyncIterator[str]:
        """Server-sent events from now on, first what came after `after`. `seq`: the log's last entry.

        Raises TooManyListeners.
        """
        if len(self._listeners) >= MOST_LISTENERS:
            raise TooManyListeners
        listener = _Listener()
        self._listeners.add(listener)
        try:
            yield "retry: 2000\n\n"
            if seq > after:
                yield told(LOG, seq)
            while not self._closed:
                try:
                    async with asyncio.timeout(BREATH_SECONDS):
                        await listener.wake.wait()
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                listener.wake.clear()
                while listener.waiting:
                    yield told(*listener.waiting.popleft())
        finally:
            self._listeners.discard(listener)


class _Listener:
    """One page. What waits for it is kept short: two words of one sort say no more than the last one."""

    def __init__(self) -> None:
        self.waiting: deque[tuple[str, int]] = deque(maxlen=MOST_WAITING)
        self.wake = asyncio.Event()

    def hear(self, what: str, seq: int) -> None:
        for old in [one for one in self.waiting if one[0] == what]:
            self.waiting.remove(old)
        self.waiting.append((what, seq))
        self.wake.set()


def told(what: str, seq: int) -> str:
    """One server-sent event. Only the log's have an id, by which a browser says later what it has seen."""
    number = f"id: {seq}\n" if what == LOG else ""
    return f'{number}event: {what}\ndata: {{"seq":{seq}}}\n\n'

"""The child process that trues: begun when it is first asked, ended when nobody has asked for a while."""

from __future__ import annotations

import asyncio
import contextlib
import json
import subprocess
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Any

LONGEST_SECONDS = 60.0
IDLE_SECONDS = 300.0
MOST_KEPT = 16


class TruingChild:
    """Asks one question after the other and keeps the last answers. `command`: how the child is begun."""

    def __init__(self, command: Callable[[], Sequence[str]]) -> None:
        self.command = command
        self._child: subprocess.Popen[bytes] | None = None
        self._one_at_a_time = threading.Lock()
        self._kept: dict[object, Mapping[str, Any]] = {}
        self._idle: threading.Timer | None = None

    async def ask(self, key: object, question: Mapping[str, Any]) -> Mapping[str, Any]:
        """The answer, or {"says": why there is none}. `key`: of all that the answer follows from."""
        known = self._kept.get(key)
        return known if known is not None else await asyncio.to_thread(self._ask, key, question)

    async def stop(self) -> None:
        """Ends the child, if there is one."""
        await asyncio.to_thread(self.close)

    def close(self) -> None:
        """Ends the child; a question that is under way gets no answer."""
        idle, self._idle = self._idle, None
        if idle is not None:
            idle.cancel()
        child, self._child = self._child, None
        if child is None:
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _ask(self, key: object, question: Mapping[str, Any]) -> Mapping[str, Any]:
        with self._one_at_a_time:
            if key in self._kept:
                return self._kept[key]
            answer = self._asked(question) or self._asked(question)  # one that has just ended is begun anew
            if answer is None:
                return {"says": "The computation ended without an answer. Your readings are kept."}
            self._kept[key] = answer
            while len(self._kept) > MOST_KEPT:
                del self._kept[next(iter(self._kept))]
            self._idle = _later(IDLE_SECONDS, self._rest)
            return answer

    def _asked(self, question: Mapping[str, Any]) -> Mapping[str, Any] | None:
        """What the child says; None when it has ended, or was ended since it took too long."""
        if self._idle is not None:
            self._idle.cancel()
        if self._child is None or self._child.poll() is not None:
            self.close()
            self._child = subprocess.Popen(
                self.command(),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        child = self._child
        assert child.stdin is not None
        assert child.stdout is not None
        late = _later(LONGEST_SECONDS, child.kill)
        try:
            child.stdin.write(json.dumps(question).encode() + b"\n")
            child.stdin.flush()
            line = child.stdout.readline()
            said = json.loads(line) if line.endswith(b"\n") else None
        except (OSError, ValueError):
            said = None
        finally:
            late.cancel()
        if not isinstance(said, dict):
            self.close()
            return None
        return said

    def _rest(self) -> None:
        if self._one_at_a_time.acquire(blocking=False):
            try:
                self.close()
            finally:
                self._one_at_a_time.release()


def _later(seconds: float, work: Callable[[], object]) -> threading.Timer:
    timer = threading.Timer(seconds, work)
    timer.daemon = True
    timer.start()
    return timer

"""The live machine: read again when the folder is edited, the last good state kept, heavy work in a child.

The server never waits for the work. It reads what is kept on disk, and begins a child process for what is
not; an edit in the meantime ends the child and begins a new one.
"""

from __future__ import annotations

import asyncio
import contextlib
import gc
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trysquare.bench.changes import MACHINE, PICTURES
from trysquare.bench.facts import LineFacts, PictureFacts
from trysquare.bench.kept_answers import KeptAnswers
from trysquare.bench.now import Shown
from trysquare.bench.problems import problem_of
from trysquare.bench.views import Problem

LOOK_SECONDS = 1.0
STILL_SECONDS = 0.25  # a folder that is being saved file by file is read once it rests
MOST_PROBLEMS = 40
AGAIN = 75
"""Exit status of a child that has kept what it did and wants to be begun again: it had grown too large."""
_FIRST = ("order", "steps", "findings", "drawn", "pictures")


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """How the heavy work is asked for.

    `digest`: the folder's content as 64 hexadecimal digits, other digits for another version of the program;
    `watched`: the files that it follows from; `command`: the child that makes
    "facts" or "pictures", to be kept under a digest.
    """

    digest: Callable[[], str]
    watched: Callable[[], Sequence[Path]]
    command: Callable[[str, str], Sequence[str]]


class Workshop:
    """The machine as the pages show it. `shown` is replaced whole whenever something changes."""

    def __init__(self, work: Work, kept: KeptAnswers, tell: Callable[[str], None]) -> None:
        self.work, self.kept, self.tell = work, kept, tell
        self.shown = Shown(busy=True)
        self._coming = Shown()  # of the version that is being computed
        self._lines: tuple[str, LineFacts] | None = None
        self._child: asyncio.subprocess.Process | None = None
        self._reading: asyncio.Task[None] | None = None

    def begin(self) -> None:
        """Shows at once what an earlier run has kept of this folder."""
        with contextlib.suppress(OSError):
            key = self.work.digest()
            found = self._from_kept(key)
            if found.order is not None:
                gc.freeze()
                self.shown = replace(found, busy=not _is_whole(found))

    async def follow(self) -> None:
        """Watches the folder until it is cancelled."""
        seen: object = None
        try:
            while True:
                look = await asyncio.to_thread(self._look)
                if look != seen:
                    await self._until_still(look)
                    seen = await asyncio.to_thread(self._look)
                    await self._edited()
                await asyncio.sleep(LOOK_SECONDS)
        finally:
            await self.stop()

    async def stop(self) -> None:
        """Ends the child, if there is one."""
        child, self._child = self._child, None
        reading, self._reading = self._reading, None
        if reading is not None:
            reading.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await reading
        if child is not None and child.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                child.kill()
            await child.wait()

    def lines(self) -> LineFacts | None:
        """Who says so; None while it is not computed. Read when it is first asked for."""
        version = self.shown.version
        if self._lines is None or self._lines[0] != version:
            found = self.kept.read("lines", version)
            if found is None:
                return None
            self._lines = (version, found)
        return self._lines[1]

    # -- looking

    def _look(self) -> object:
        """Names, sizes and times of all that the machine is read from."""
        rows = []
        for file in self.work.watched():
            with contextlib.suppress(OSError):
                stat = file.stat()
                rows.append((str(file), stat.st_size, stat.st_mtime_ns))
        return rows

    async def _until_still(self, look: object) -> None:
        for _ in range(20):
            await asyncio.sleep(STILL_SECONDS)
            again = await asyncio.to_thread(self._look)
            if again == look:
                return
            look = again

    async def _edited(self) -> None:
        """The folder is another than before, or this is the first look."""
        try:
            key = await asyncio.to_thread(self.work.digest)
        except OSError as error:
            self._failed((replace(_NO_FOLDER, read=error.strerror or str(error)),))
            return
        if key == self.shown.version and not self.shown.problems and _is_whole(self.shown):
            await self.stop()  # edited and taken back while a child was at work
            self._show(replace(self.shown, busy=False), "")
            self.tell(MACHINE)  # pages also show what is no part of the machine
            return
        await self.stop()
        found = await asyncio.to_thread(self._from_kept, key)
        if _is_whole(found):
            self._show(found, MACHINE)
            return
        self._coming = found
        self._show(replace(self.shown, busy=True), "")
        self._take_over("")
        self._reading = asyncio.create_task(self._make(key))

    # -- the child

    async def _make(self, key: str) -> None:
        """One child after the other, as long as they end well."""
        self._coming = replace(self._coming, version=key)
        whats = ["pictures"] if _has_facts(self._coming) else ["facts", "pictures"]
        for what in whats:
            while (status := await self._read(what, key)) == AGAIN:
                pass
            if status != 0:
                return
        self._show(replace(self.shown, busy=False), PICTURES)

    async def _read(self, what: str, key: str) -> int:
        """Takes in what a child says it has kept, until it ends; its exit status."""
        child = await asyncio.create_subprocess_exec(
            *self.work.command(what, key),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
        )
        self._child = child
        assert child.stdout is not None
        unreadable = False
        async for line in child.stdout:
            try:
                said = json.loads(line)
                part = str(said["part"])
            except (ValueError, KeyError, TypeError):
                continue
            problems = tuple(map(problem_of, said.get("problems", ())))[:MOST_PROBLEMS]
            if part == "unreadable":
                unreadable = True
                self._failed(problems)
            elif part == "problems":
                self._coming = replace(self._coming, problems=problems)
            else:
                await self._arrived(part, key)
        status = await child.wait()
        if status not in (0, AGAIN) and not unreadable:
            self._failed((_STOPPED,))
        return status

    async def _arrived(self, part: str, key: str) -> None:
        if part not in _FIRST:
            return
        value = await asyncio.to_thread(self.kept.read, part, key)
        if value is not None:
            self._coming = replace(self._coming, version=key, **{part: value})
            self._take_over(part)

    def _take_over(self, part: str) -> None:
        """Shows what has come. An edited machine is shown once its steps' pages are there, not before."""
        coming, shown = self._coming, self.shown
        if coming.order is None:
            return
        if coming.version == shown.version or coming.steps is not None or shown.order is None:
            changed = coming.version != shown.version or part in ("order", "steps", "findings", "")
            self._show(replace(coming, busy=True), MACHINE if changed else PICTURES)

    def _failed(self, problems: tuple[Problem, ...]) -> None:
        self._show(replace(self.shown, problems=problems, busy=False), MACHINE)

    def _show(self, value: Shown, what: str) -> None:
        if value == self.shown:
            return
        if value.version != self.shown.version or value.steps is not self.shown.steps:
            gc.freeze()  # facts stay and hold no circles: looking through them again would only stop pages
        self.shown = value
        if what:
            self.tell(what)

    def _from_kept(self, key: str) -> Shown:
        parts: dict[str, Any] = {part: self.kept.read(part, key) for part in _FIRST}
        pictures: PictureFacts | None = parts["pictures"]
        if pictures is not None and not self.kept.has_drawings(
            one.href.rpartition("/")[2] for one in pictures.steps.values()
        ):
            parts["pictures"] = None
        return Shown(version=key, busy=False, **parts)


_NO_FOLDER = Problem(
    where="the machine folder",
    read="",
    expected="files that can be read",
    remedy="Check that the folder is there, and your right to read it.",
)
_STOPPED = Problem(
    where="the computation of pictures and findings",
    read="it ended by itself",
    expected="an end with an answer",
    remedy="What is shown stays. Free some memory, then save a file of the folder again.",
)


def _has_facts(shown: Shown) -> bool:
    return all(part is not None for part in (shown.order, shown.steps, shown.findings, shown.drawn))


def _is_whole(shown: Shown) -> bool:
    return _has_facts(shown) and shown.ready.pictures

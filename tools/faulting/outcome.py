"""One call of the program in a child of this process, and whether it ended as it should."""

from __future__ import annotations

import contextlib
import ctypes
import json
import logging
import os
import resource
import select
import signal
import sys
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

HANGS_AFTER_SECONDS = 60.0
STOPS_WITHIN_SECONDS = 20.0
RIGHTS_OF_ROOT = (1, 2, 3)  # to pass over the rights of files, of reading, of owners (linux/capability.h)
RIGHT_STATUSES = frozenset(
    {0, 1, 2, 130, 141}
)  # done; done and something found; unreadable; stopped; no reader


_TOLD = logging.getLogger("faults")


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a call ended. `status`: what it returned, negative for a signal; `hung`: it had to be killed."""

    words: tuple[str, ...]
    status: int
    out: str
    err: str
    hung: bool = False
    stopped: bool = False

    @property
    def wrong(self) -> str:
        """What was not as it should be, in one line; empty when the call was survived."""
        told = self.out + self.err
        if self.hung:
            return f"hung: no end within {HANGS_AFTER_SECONDS:g} s"
        if "Traceback (most recent call last)" in told:
            return f"traceback: {told.strip().splitlines()[-1][:300]}"
        if "failed inside itself" in told:
            return f"failure inside: {_sentence(told, 'failed inside itself')}"
        if self.status not in RIGHT_STATUSES:
            return f"status {self.status}"
        if self.status in {0, 1} and "--json" in self.words and self.out.startswith("{") and not self.stopped:
            return _not_json(self.out)
        if self.status in {1, 2} and not told.strip():
            return f"status {self.status} without a word"
        return ""


def _not_json(text: str) -> str:
    """Why an answer is no JSON as the standard has it, NaN included; empty when it is."""

    def refuse(name: str) -> None:
        raise ValueError(f"{name} is no number of JSON")

    try:
        json.loads(text, parse_constant=refuse)
    except ValueError as error:
        return f"no JSON: {error}"
    return ""


def _sentence(text: str, word: str) -> str:
    return next((line for line in text.splitlines() if word in line), "")[:300]


@dataclass(frozen=True, slots=True)
class Limits:
    """What the child may do. `file_bytes`: its largest file; `plain_user`: root's rights given away."""

    file_bytes: int | None = None
    plain_user: bool = False
    stop_after_seconds: float | None = None
    """After this the child is asked to stop as Ctrl-C does: for what serves until then."""
    kill_after_seconds: float | None = None
    """After this the child is killed as `kill -9` does; such an end is right."""


def call(
    words: Sequence[str],
    place: Path,
    limits: Limits | None = None,
    before: Callable[[], None] = lambda: None,
) -> Outcome:
    """Calls `trysquare WORDS` in a forked child whose output goes to files in `place`; waits for its end."""
    limits = limits or Limits()
    place.mkdir(parents=True, exist_ok=True)
    child = begin(words, place, limits, before)
    return ended(child, words, place, limits)


def begin(
    words: Sequence[str], place: Path, limits: Limits, before: Callable[[], None] = lambda: None
) -> int:
    """Starts the child; gives its process number."""
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child:
        return child
    try:
        os.setsid()
        nothing = os.open(os.devnull, os.O_RDONLY)
        os.dup2(nothing, 0)
        for number, name in ((1, "out"), (2, "err")):
            os.dup2(os.open(place / name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666), number)
        if limits.file_bytes is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limits.file_bytes, limits.file_bytes))
        if limits.plain_user:
            give_away_rights()
        before()
        from trysquare.cli.main import main  # noqa: PLC0415  # the tool can be listed without the program

        status = main(list(words))
    except SystemExit as done:
        status = done.code if isinstance(done.code, int) else 0
    except BaseException:  # noqa: BLE001 - it is told to the parent, as a traceback
        traceback.print_exc()
        status = 99
    with contextlib.suppress(OSError, ValueError):
        sys.stdout.flush()
        sys.stderr.flush()
    os._exit(status & 0xFF)


def give_away_rights() -> None:
    """Root may write everywhere; after this, only where its own files say so, as for everybody else."""
    if os.getuid() != 0:
        return
    library = ctypes.CDLL(None, use_errno=True)
    for right in RIGHTS_OF_ROOT:
        library.prctl(24, right, 0, 0, 0)  # PR_CAPBSET_DROP: nor do programs that this one starts have it
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)  # _LINUX_CAPABILITY_VERSION_3, this process
    data = (ctypes.c_uint32 * 6)()
    library.capget(header, data)
    for word in range(3):
        data[word] &= ~sum(1 << right for right in RIGHTS_OF_ROOT)
    if library.capset(header, data):
        raise OSError(ctypes.get_errno(), "the rights of root stay")


def ended(child: int, words: Sequence[str], place: Path, limits: Limits) -> Outcome:
    """Waits for a child, stops or kills it when it is time, and reads what it said."""
    outcome = Outcome(tuple(words), 0, "", "")
    if limits.kill_after_seconds is not None:
        status = _waited(child, limits.kill_after_seconds)
        if status is None:
            kill_group(child)
            status = _waited(child, STOPS_WITHIN_SECONDS)
            outcome = replace(outcome, stopped=True)
            status = 0 if status == -signal.SIGKILL else status
    elif limits.stop_after_seconds is not None:
        status = _waited(child, limits.stop_after_seconds)
        if status is None:
            os.kill(child, signal.SIGINT)
            status = _waited(child, STOPS_WITHIN_SECONDS)
            outcome = replace(outcome, stopped=True)
    else:
        status = _waited(child, HANGS_AFTER_SECONDS)
    if status is None:
        kill_group(child)
        _waited(child, STOPS_WITHIN_SECONDS)
        outcome = replace(outcome, hung=True)
    else:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child, signal.SIGKILL)  # whatever it began and left behind
    outcome = replace(outcome, status=status or 0, out=_text(place / "out"), err=_text(place / "err"))
    last = next(iter((outcome.err or outcome.out).strip().splitlines()), "")
    _TOLD.debug("%s -> %s %s", ascii(" ".join(words))[:150], outcome.status, last[:150])
    return outcome


def kill_group(child: int) -> None:
    """Kills a child and everything it began."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.kill(child, signal.SIGKILL)


def _waited(child: int, seconds: float) -> int | None:
    """The child's status within so many seconds, negative for a signal; None: it still runs."""
    handle = os.pidfd_open(child)
    try:
        until = time.monotonic() + seconds
        while True:
            ready, _, _ = select.select([handle], [], [], max(0.0, until - time.monotonic()))
            if ready:
                break
            if time.monotonic() >= until:
                return None
    finally:
        os.close(handle)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def _text(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8", "replace")
    except OSError:
        return ""

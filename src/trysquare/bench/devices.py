"""Devices that may see the bench: this computer, and those that have joined by a one-time code.

A device is known by a secret in its cookie, of which only the hash is kept, in the user's own folder. A code
is good once and for a few minutes; wrong ones are counted, and too many make everybody wait.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import json
import os
import re
import secrets
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

CODE_SIGNS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that is read as another
CODE_LENGTH = 8
CODE_SECONDS = 600.0
MOST_CODES = 4
MOST_WRONG = 8
WRONG_SECONDS = 60.0
IDLE_SECONDS = 60 * 86400.0
MOST_DEVICES = 200
LONGEST_NAME = 40
SEEN_SECONDS = 300.0  # how often it is written down that a device was seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A device that has joined. `id`: the hash of its secret; `since`, `seen`: seconds since 1970."""

    id: str
    name: str
    since: float
    seen: float
    local: bool = False


class TooManyTries(Exception):  # noqa: N818 - it says what is the matter
    """Too many wrong codes in a short time."""


class Devices:
    """All devices of one bench. `file`: where they are kept; None keeps them in memory. `now`: the clock."""

    def __init__(self, file: Path | None, now: Callable[[], float]) -> None:
        self._file, self._now = file, now
        self._devices: dict[str, Device] = {one.id: one for one in _read(file)}
        self._codes: dict[str, float] = {}  # code -> until when
        self._wrong: list[float] = []

    def all(self) -> tuple[Device, ...]:
        return tuple(sorted(self._devices.values(), key=lambda one: one.since))

    def known(self, secret: str) -> Device | None:
        """The device with this secret; None for any other, and for one that was long away."""
        device = self._devices.get(identity_of(secret))
        if device is None:
            return None
        now = self._now()
        if now - device.seen > IDLE_SECONDS:
            self.revoke(device.id)
            return None
        if now - device.seen > SEEN_SECONDS:
            self._put(replace(device, seen=now))
        return device

    # -- joining

    def new_code(self) -> str:
        """A code that is good once. The oldest gives way when there are many."""
        self._forget_old()
        while len(self._codes) >= MOST_CODES:
            self._codes.pop(next(iter(self._codes)))
        code = "".join(secrets.choice(CODE_SIGNS) for _ in range(CODE_LENGTH))
        self._codes[code] = self._now() + CODE_SECONDS
        return code

    def join(self, code: str, name: str) -> str | None:
        """The new device's secret; None for a code that is not good. Raises TooManyTries."""
        now = self._now()
        self._wrong = [at for at in self._wrong if now - at < WRONG_SECONDS]
        if len(self._wrong) >= MOST_WRONG:
            raise TooManyTries
        self._forget_old()
        said = plain_code(code)
        found = [each for each in self._codes if hmac.compare_digest(each.encode(), said.encode())]
        if not found:
            self._wrong.append(now)
            return None
        del self._codes[found[0]]
        return self._welcome(self.free_name(name), local=False)

    def welcome_local(self) -> str:
        """The secret of another browser on this computer, which needs no code."""
        return self._welcome(self.free_name("computer"), local=True)

    def revoke(self, identity: str) -> bool:
        """Ends a device's visit; whether there was one."""
        if self._devices.pop(identity, None) is None:
            return False
        self._write()
        return True

    def free_name(self, name: str) -> str:
        """A name that no other device has: two devices that are called alike would count as one."""
        plain = " ".join("".join(sign for sign in name if sign.isprintable()).split())[:LONGEST_NAME]
        plain = plain or "phone"
        taken = {one.name for one in self._devices.values()}
        names = (plain if number == 1 else f"{plain} {number}" for number in range(1, MOST_DEVICES + 2))
        return next(each for each in names if each not in taken)

    def _welcome(self, name: str, *, local: bool) -> str:
        secret, now = secrets.token_urlsafe(32), self._now()
        self._put(Device(id=identity_of(secret), name=name, since=now, seen=now, local=local))
        return secret

    def _forget_old(self) -> None:
        now = self._now()
        self._codes = {code: until for code, until in self._codes.items() if until > now}

    # -- keeping

    def _put(self, device: Device) -> None:
        self._devices[device.id] = device
        if len(self._devices) > MOST_DEVICES:
            # A browser that keeps no cookies comes as a new one each time: the longest away give way.
            away = sorted(self._devices.values(), key=lambda one: (not one.local, one.seen))
            for one in away[: len(self._devices) - MOST_DEVICES]:
                self._devices.pop(one.id, None)
        self._write()

    def _write(self) -> None:
        if self._file is None:
            return
        body = json.dumps([asdict(one) for one in self._devices.values()]).encode()
        with contextlib.suppress(OSError):  # then they join again after the next start
            write_private(self._file, body)


def identity_of(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def token_of(secret: str) -> str:
    """The token of a device's pages, without which no post is taken. Nobody finds the secret by it."""
    return hmac.new(secret.encode(), b"trysquare posts", hashlib.sha256).hexdigest()


def plain_code(code: str) -> str:
    """A code as it was given out, however it was typed."""
    return "".join(sign for sign in code.upper() if sign in CODE_SIGNS)


def shown_code(code: str) -> str:
    """A code in two halves, for reading it out."""
    return f"{code[: CODE_LENGTH // 2]}-{code[CODE_LENGTH // 2 :]}"


def write_private(file: Path, content: bytes) -> None:
    """Writes a file that only its owner can read, whole or not at all."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, written = tempfile.mkstemp(dir=file.parent, prefix="writing-", suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(written).replace(file)
    except OSError:
        with contextlib.suppress(OSError):
            Path(written).unlink(missing_ok=True)
        raise


def _read(file: Path | None) -> list[Device]:
    """Devices kept; none for a file that is not ours."""
    if file is None:
        return []
    found = []
    try:
        rows = json.loads(file.read_bytes())
        for row in rows if isinstance(rows, list) else []:
            device = Device(**row)
            if re.fullmatch("[0-9a-f]{64}", device.id) and isinstance(device.name, str):
                found.append(replace(device, since=float(device.since), seen=float(device.seen)))
    except (OSError, ValueError, TypeError):
        return []
    return found

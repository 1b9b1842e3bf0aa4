"""Everything that the pages of one bench share: machine, log, devices, and how a page is made."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import shlex
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from jinja2 import Environment, FileSystemLoader
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from trysquare.bench.changes import Changes
from trysquare.bench.desk import Desk
from trysquare.bench.devices import Devices
from trysquare.bench.now import Now, Shown
from trysquare.bench.once import Once
from trysquare.bench.safety import Visit
from trysquare.bench.show_frame import Around, frame
from trysquare.bench.truing_child import TruingChild
from trysquare.bench.tuning_tools import Asking
from trysquare.bench.workshop import Workshop
from trysquare.record.state import BuildState

HERE: Final = Path(__file__).parent
STATIC: Final = HERE / "static"
LOCAL_DEVICE: Final = "computer"
MOST_PIECES: Final = 2000  # rendered pieces of pages that are kept, some 2 kB each


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """How the bench is reached. `addresses`: for other devices, none when it is not open to them;
    `certificate`: of our own authority as PEM, None without https; `how_to_open`: what to type."""

    hosts: frozenset[str] = frozenset({"localhost", "127.0.0.1", "::1"})
    addresses: tuple[str, ...] = ()
    https: bool = False
    certificate: bytes | None = None
    fingerprint: str = ""
    how_to_open: str = ""


@dataclass(kw_only=True)
class Bench:
    """One bench. `folder`: the machine's; `further`: pages that other rooms add, as (title, href);
    `asking`: the way to the tuning commands; `truing`: to what trues."""

    folder: Path
    workshop: Workshop
    desk: Desk
    devices: Devices
    changes: Changes
    opening: Opening = field(default_factory=Opening)
    further: tuple[tuple[str, str], ...] = ()
    asking: Asking | None = None
    truing: TruingChild | None = None
    now_seconds: Callable[[], float] = time.time
    form_key: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    uploads: int = 0  # under way

    def __post_init__(self) -> None:
        self._versions: dict[str, tuple[int, str]] = {}
        self.pages = Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.pages.globals.update(asset=self.asset, clock=clock, once=Once(MOST_PIECES))
        self.pages.filters["capitalize_first"] = capital
        self.pages.filters["quoted"] = shlex.quote  # a path in a command to be typed

    @property
    def machine(self) -> str:
        """The machine's id, known before anything of it is read."""
        return self.folder.resolve().name

    # -- pages

    def now(self, request: Request) -> Now:
        """This moment, for whoever asks."""
        return Now(shown=self.workshop.shown, state=self.desk.state, device=self.device(request))

    def device(self, request: Request) -> str:
        """What the asking device is called in the log."""
        visit = visit_of(request)
        return visit.device.name if visit.device is not None else LOCAL_DEVICE

    def page(
        self,
        request: Request,
        template: str,
        view: object,
        *,
        here: str,
        title: str,
        step: str = "",
        status: int = 200,
    ) -> Response:
        """A page of ours, made from its template."""
        visit = visit_of(request)
        around = Around(
            token=visit.token,
            device=self.device(request),
            secure=visit.secure or visit.is_local,
            is_local=visit.is_local,
            why_read_only=self.desk.why_read_only,
            folder=self.machine,
            machine=self.machine,
            further=self.further,
        )
        now = self.now(request)
        if visit.device is None and not visit.is_local:
            now = Now(shown=_NOTHING, state=_NOBODY)  # whoever has not joined sees nothing of the machine
            around = Around(token="", device="", secure=visit.secure, is_local=False, why_read_only="",
                            folder="Trysquare")  # fmt: skip
        text = self.pages.get_template(template).render(
            frame=frame(now, around, here, title, step), page=view
        )
        return HTMLResponse(text, status_code=status)

    def asset(self, name: str) -> str:
        """The address of a static file, with its version, so that browsers may keep it for long."""
        file = STATIC / name
        try:
            changed = file.stat().st_mtime_ns
            known = self._versions.get(name)
            if known is None or known[0] != changed:
                known = (changed, hashlib.sha256(file.read_bytes()).hexdigest()[:12])
                self._versions[name] = known
        except OSError:
            return f"/static/{name}"
        return f"/static/{name}?v={known[1]}"

    # -- forms

    def form_token(self, secret: str) -> str:
        """The token of a plain form: of the device, or of the hour for one that has not joined."""
        said = secret or f"hour {int(self.now_seconds() // 3600)}"
        return hmac.new(self.form_key, said.encode(), hashlib.sha256).hexdigest()

    def is_form_token(self, said: str, secret: str) -> bool:
        """Whether a form's token is one that was given out."""
        hour = int(self.now_seconds() // 3600)
        words = [secret] if secret else [f"hour {hour}", f"hour {hour - 1}"]
        good = (hmac.new(self.form_key, word.encode(), hashlib.sha256).hexdigest() for word in words)
        return any(hmac.compare_digest(said.encode("utf-8", "replace"), each.encode()) for each in good)


def bench_of(request: Request) -> Bench:
    """The bench that a request is for."""
    bench: Bench = request.app.state.bench
    return bench


def visit_of(request: Request) -> Visit:
    """Who asks."""
    visit: Visit = request.scope["state"]["visit"]
    return visit


def capital(text: str) -> str:
    """A sentence's beginning; the rest, with its names, stays as it is."""
    return text[:1].upper() + text[1:]


def clock(text: str) -> str:
    """A time of the log as a clock of this computer shows it, with its day when it is not today."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return ""
    if at.tzinfo is None:
        at = at.replace(tzinfo=UTC)
    local = at.astimezone()
    today = datetime.now(UTC).astimezone()
    told = f"{local.hour:02d}:{local.minute:02d}"
    if local.date() == today.date():
        return told
    year = f" {local.year}" if local.year != today.year else ""
    return f"{local.day} {_MONTHS[local.month - 1]}{year}, {told}"


_MONTHS: Sequence[str] = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


_NOTHING, _NOBODY = Shown(), BuildState()

"""A bench of its own with a machine folder, and windows on it that note what must never happen on a page."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import BrowserContext, Page

from trysquare.record.log import open_log
from trysquare.record.replay import BuildState, replay

ROOT = Path(__file__).resolve().parents[2]
DIST = ROOT / "src" / "trysquare" / "bench" / "static" / "dist"
PICTURES = ROOT / "build" / "bench-pictures"
PHONE = {"width": 360, "height": 740}
LAPTOP = {"width": 1400, "height": 900}
NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
# Nothing of the browser itself may ask the network, and no sandbox is to be had as root in a container.
# What the browser says of software drawing, and of a header that only secure addresses have a use for.
HARMLESS = ("GL Driver Message", "Cross-Origin-Opener-Policy header has been ignored")
HOST_NAME = socket.gethostname().casefold().removesuffix(".local")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-gl=angle", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--force-color-profile=srgb",
    # Asked for by its name this computer is still only this computer.
    f"--host-resolver-rules=MAP {HOST_NAME} 127.0.0.1",
]  # fmt: skip
LONGEST_WAIT_SECONDS = 180


@dataclass
class Bench:
    """A bench that serves a copy of a machine folder."""

    folder: Path
    port: int = 0
    process: subprocess.Popen[str] | None = None
    arguments: tuple[str, ...] = ()
    lan_port: int = 0

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def lan_address(self) -> str:
        """As another device would ask for it: by this computer's name, which the browser looks up here."""
        return f"http://{HOST_NAME}:{self.lan_port}"

    def start(self) -> None:
        """Returns when it answers."""
        self.process = subprocess.Popen(
            [
                sys.executable, "-m", "trysquare.cli.main", "bench", str(self.folder), "--no-open-browser",
                "--port", str(self.port), *self.arguments,
            ],
            cwd=ROOT, env=dict(os.environ, PYTHONPATH=str(ROOT / "src"), PYTHONUNBUFFERED="1"),
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, start_new_session=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        said = []
        for line in self.process.stdout:
            said.append(line)
            if found := re.search(r"http://127\.0\.0\.1:(\d+)", line):
                self.port = int(found[1])
            if found := re.search(r"Phones and tablets: http://[^ ]+?:(\d+)/", line):
                self.lan_port = int(found[1])
            if self.port and ("--lan" not in self.arguments or self.lan_port):
                return
        raise AssertionError("the bench did not start:\n" + "".join(said))

    def stop(self, how: signal.Signals = signal.SIGTERM) -> None:
        if self.process is None:
            return
        self.process.send_signal(how)
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.process = None


@dataclass
class Watched:
    """A browser's window on a bench. `faults`: what must not happen: errors, and requests elsewhere."""

    context: BrowserContext
    page: Page
    bench: Bench
    faults: list[str] = field(default_factory=list)
    # While the bench is away on purpose, failed requests are no fault.
    away: bool = False

    def go(self, path: str) -> None:
        self.page.goto(self.bench.address + path)
        self.page.wait_for_selector("html[data-ready]")

    def picture(self, name: str, **options: Any) -> None:
        PICTURES.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=PICTURES / f"{name}.png", **options)

    def all_said(self) -> None:
        """Waits until nothing waits in this browser any more."""
        until(self.page, "document.documentElement.dataset.saying === undefined")


def until(page: Page, true: str, seconds: float = 15) -> None:
    """Waits until a script's expression is true. The browser's own wait needs what our pages forbid."""
    ends = time.monotonic() + seconds
    while not page.evaluate(true):
        if time.monotonic() > ends:
            raise AssertionError(f"this did not come true: {true}")
        page.wait_for_timeout(40)


def until_ready(bench: Bench) -> None:
    """Waits until every answer and picture is there."""
    ends = time.monotonic() + LONGEST_WAIT_SECONDS
    while time.monotonic() < ends:
        page = httpx.get(bench.address).text
        if "order-run" in page and "data-busy" not in page:
            return
        time.sleep(0.1)
    raise AssertionError("the bench does not become ready")


def watch(watched: Watched) -> None:
    """Notes errors of the page, answers that say so, and requests to anywhere but its bench."""

    def said(kind: str, text: str) -> None:
        if not watched.away and not any(words in text for words in HARMLESS):
            watched.faults.append(f"{kind}: {text} ({watched.page.url})")

    page = watched.page
    page.on("console", lambda line: said(line.type, line.text) if line.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said("exception", str(error)))
    watched.context.on(
        "request",
        lambda asked: (
            None
            if asked.url.startswith((watched.bench.address, watched.bench.lan_address, "data:", "blob:"))
            else watched.faults.append(f"asked elsewhere: {asked.url}")
        ),
    )
    watched.context.on(
        "response",
        lambda answer: said("answer", f"{answer.status} {answer.url}") if answer.status >= 400 else None,
    )


def state_of(folder: Path) -> BuildState:
    """What stands in the log of a machine folder."""
    with open_log(folder / "log.sqlite", machine="", read_only=True) as log:
        return replay(log.events())

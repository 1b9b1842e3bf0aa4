"""The server as its own process: killed at any moment, nothing that it has answered for is lost."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import random
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench.conftest import ROOT
from trysquare.bench.lan import own_addresses
from trysquare.cli import bench as cli_bench
from trysquare.record.log import open_log

KILLS = 6


@contextlib.contextmanager
def bench_process(folder: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """The bench of a folder, begun as one begins it; gives the process and its port."""
    command = [sys.executable, "-m", "trysquare.cli.main", "bench", str(folder), "--port", "0", "--json",
               "--no-open-browser", *more]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment, cwd=ROOT)
    assert process.stdout is not None
    try:
        text = ""
        while not text.rstrip().endswith("}"):
            line = process.stdout.readline()
            assert line, text
            text += line
        yield process, int(json.loads(text)["here"].rstrip("/").rpartition(":")[2])
    finally:
        if process.poll() is None:
            process.terminate()
            process.wait(30)
        process.stdout.close()


class Page:
    """A page's script, on a connection of its own."""

    def __init__(self, port: int, cookie: str = "", token: str = "") -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.cookie, self.token = cookie, token
        if not cookie:
            self.connection.request("GET", "/", headers={"Accept": "text/html"})
            answer = self.connection.getresponse()
            self.cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
            found = re.search(r'trysquare-token" content="([0-9a-f]+)"', answer.read().decode())
            assert found is not None
            self.token = found[1]

    def close(self) -> None:
        self.connection.close()

    def say(self, name: str) -> int:
        event = {"id": name, "kind": "note", "at": "2031-05-04T08:00:00.000Z", "data": {"says": name}}
        headers = {"Content-Type": "application/json", "Cookie": self.cookie, "X-Trysquare-Token": self.token}
        self.connection.request("POST", "/log", json.dumps({"events": [event]}), headers)
        answer = self.connection.getresponse()
        answer.read()
        return answer.status


@pytest.mark.slow
def test_nothing_that_was_answered_for_is_lost_when_the_server_is_killed(
    reed_computed: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(reed_computed, tmp_path / "reed"))
    chance = random.Random(6)
    answered: list[str] = []
    for _ in range(KILLS):
        with bench_process(folder) as (process, port):
            first = Page(port)

            def post(page: Page) -> None:
                with contextlib.suppress(OSError, http.client.HTTPException):
                    while True:
                        name = str(uuid.uuid4())
                        if page.say(name) == 200:
                            answered.append(name)

            pages = [first, Page(port, first.cookie, first.token), Page(port, first.cookie, first.token)]
            threads = [threading.Thread(target=post, args=(page,)) for page in pages]
            for thread in threads:
                thread.start()
            time.sleep(chance.uniform(0.1, 0.7))
            process.send_signal(signal.SIGKILL)
            process.wait(30)
            for thread in threads:
                thread.join(30)
            for page in pages:
                page.close()
    with open_log(folder, machine="Reed") as log:
        there = {entry.event.id for entry in log.events()}
        assert log.verify() == ()
    assert len(answered) > KILLS
    assert set(answered) <= there


@pytest.mark.slow
def test_the_child_ends_with_a_server_that_is_killed(tmp_path: Path) -> None:
    folder = tmp_path / "larch"
    shutil.copytree(
        ROOT / "demo" / "larch", folder, ignore=shutil.ignore_patterns(".trysquare-cache", "log*")
    )
    with bench_process(folder) as (process, _):
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
        if not children.exists():
            pytest.skip("this system does not name a process's children")
        pids: list[str] = []
        for _ in range(200):
            pids = children.read_text("utf-8").split()
            if pids:
                break
            time.sleep(0.05)
        assert pids
        process.kill()
        process.wait(30)
    for _ in range(400):
        if not any(Path(f"/proc/{pid}").exists() for pid in pids):
            return
        time.sleep(0.05)
    pytest.fail("the child works on though nobody waits for it")


@pytest.mark.slow
def test_the_server_stops_when_it_is_asked_to_though_pages_listen(
    reed_computed: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(reed_computed, tmp_path / "reed"))
    with bench_process(folder) as (process, port):
        page = Page(port)
        listening = socket.create_connection(("127.0.0.1", port), timeout=30)
        listening.sendall(
            f"GET /changes?after=0 HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {page.cookie}\r\n\r\n".encode()
        )
        assert listening.recv(1000).startswith(b"HTTP/1.1 200")
        page.say("a")
        heard = b""
        while b"event: log" not in heard:
            heard += listening.recv(1000)
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 0
        listening.close()
        page.close()


@pytest.mark.slow
@pytest.mark.parametrize("example", cli_bench.command.examples)  # type: ignore[attr-defined]
def test_every_example_of_the_help_opens_and_answers(tmp_path: Path, example: str) -> None:
    """On copies, so that nothing of the demos is changed."""
    _, _, folder, *more = example.split()
    if "--lan" in more and not own_addresses():
        pytest.skip("this computer is in no private network")
    copy = tmp_path / Path(folder).name
    shutil.copytree(ROOT / folder, copy, ignore=shutil.ignore_patterns(".trysquare-cache", "log*"))
    with bench_process(copy, *more) as (process, port):
        page = Page(port)
        assert page.say("a") == 200
        page.close()
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0


@pytest.mark.slow
def test_a_device_of_the_network_joins_over_https(
    reed_computed: Path, tmp_path: Path, own_home: Path
) -> None:
    """The whole way on real sockets: certificate trusted, refused without a code, let in with one."""
    if not own_addresses():
        pytest.skip("this computer is in no private network")
    folder = Path(shutil.copytree(reed_computed, tmp_path / "reed"))
    with bench_process(folder, "--lan") as (_, port):
        local = Page(port)
        local.connection.request("GET", "/join", headers={"Accept": "text/html", "Cookie": local.cookie})
        page = local.connection.getresponse().read().decode()
        found = re.search(r'<p class="code"[^>]*>([A-Z2-9-]+)<', page)
        address = re.search(r"https://\[?([0-9a-f.:]+?)\]?:([0-9]+)/", page)
        assert found is not None
        assert address is not None
        local.connection.request("GET", "/certificate.crt", headers={"Cookie": local.cookie})
        trusting = ssl.create_default_context(cadata=local.connection.getresponse().read().decode("ascii"))
        phone = http.client.HTTPSConnection(address[1], int(address[2]), timeout=30, context=trusting)
        assert _status(phone, "GET", "/") == 401
        phone.request("GET", "/join", headers={"Accept": "text/html"})
        form = re.search(r'name="join_token" value="([0-9a-f]+)"', phone.getresponse().read().decode())
        assert form is not None
        body = f"code={found[1]}&name=phone&join_token={form[1]}"
        phone.request("POST", "/join", body, {"Origin": address[0].rstrip("/")})
        answer = phone.getresponse()
        answer.read()
        assert answer.status == 303
        cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        assert _status(phone, "GET", "/", {"Cookie": cookie}) == 200
        phone.close()
        local.close()


def _status(
    connection: http.client.HTTPConnection, method: str, path: str, headers: dict[str, str] | None = None
) -> int:
    connection.request(method, path, headers={"Accept": "text/html", **(headers or {})})
    answer = connection.getresponse()
    answer.read()
    return answer.status


@pytest.mark.slow
def test_a_folder_that_cannot_be_written_is_shown_and_keeps_nothing(
    reed_computed: Path, tmp_path: Path
) -> None:
    if os.name != "posix" or os.geteuid() == 0:
        pytest.skip("this user may write everywhere")
    folder = Path(shutil.copytree(reed_computed, tmp_path / "reed"))
    folder.chmod(0o555)
    try:
        with bench_process(folder) as (_, port):
            page = Page(port)
            assert page.say("a") == 503
            page.close()
    finally:
        folder.chmod(0o755)

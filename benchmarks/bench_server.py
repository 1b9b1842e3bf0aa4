"""The bench's figures on a machine folder: pages and posts from four devices, the first byte, memory.

    python -m benchmarks.bench_server [FOLDER] [--seconds 30] [--rate 20]

The folder is copied first: nothing of it is changed. Prints medians and 95th percentiles by sort of request.
"""

from __future__ import annotations

import argparse
import compileall
import contextlib
import http.client
import json
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from benchmarks.figures import row

ROOT = Path(__file__).resolve().parent.parent
DEVICES = 4


class Device:
    """One browser: a connection that is kept, its cookie and its token."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.cookie = ""
        page = self.get("/")
        found = re.search(rb'trysquare-token" content="([0-9a-f]+)"', page)
        assert found is not None
        self.token = found[1].decode()
        self.steps = sorted(set(re.findall(rb'href="(/step/[^"/]+)"', page)))

    def get(self, path: str) -> bytes:
        headers = (
            {"Accept": "text/html", "Accept-Encoding": "gzip"} if self.cookie else {"Accept": "text/html"}
        )
        if self.cookie:
            headers["Cookie"] = self.cookie
        self.connection.request("GET", path, headers=headers)
        answer = self.connection.getresponse()
        body = answer.read()
        said = answer.getheader("Set-Cookie")
        if said:
            self.cookie = said.partition(";")[0]
        assert answer.status in (200, 307), (path, answer.status)
        return body

    def post(self, kind: str, step: str, data: dict[str, object]) -> None:
        at = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        event = {"id": str(uuid.uuid4()), "kind": kind, "step": step, "at": at, "data": data}
        headers = {"Content-Type": "application/json", "Cookie": self.cookie, "X-Trysquare-Token": self.token}
        self.connection.request("POST", "/log", json.dumps({"events": [event]}), headers)
        answer = self.connection.getresponse()
        body = answer.read()
        assert answer.status == 200, (answer.status, body)


@contextlib.contextmanager
def served(folder: Path, home: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """The bench of a folder as its own process; gives it and its port."""
    environment = {
        **os.environ, "PYTHONPATH": str(home / "src"), "XDG_STATE_HOME": str(home / "state"),
        "XDG_CACHE_HOME": str(home / "cache"),
    }  # fmt: skip
    command = [sys.executable, "-m", "trysquare.cli.main", "bench", str(folder), "--port", "0", "--json",
               "--no-open-browser"]  # fmt: skip
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment, cwd=home)
    try:
        text = ""
        while not text.rstrip().endswith("}"):
            assert process.stdout is not None
            text += process.stdout.readline()
        yield process, int(json.loads(text)["here"].rstrip("/").rpartition(":")[2])
    finally:
        process.terminate()
        process.wait(20)


def first_byte_seconds(folder: Path, home: Path) -> float:
    """From the start of the program to the first byte of its first page."""
    begin = time.perf_counter()
    with served(folder, home) as (_, port):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        connection.request("GET", "/", headers={"Accept": "text/html"})
        connection.getresponse().read(1)
        return time.perf_counter() - begin


def memory_mb(pid: int) -> tuple[float, float, int]:
    """Memory of a process and all below it, shared parts counted once; the largest so far; how many."""
    pids, total, peak = [pid], 0.0, 0.0
    for each in pids:
        with contextlib.suppress(OSError):
            children = Path(f"/proc/{each}/task/{each}/children").read_text().split()
            pids.extend(int(child) for child in children)
        with contextlib.suppress(OSError, ValueError):
            rollup = Path(f"/proc/{each}/smaps_rollup").read_text()
            total += int(re.search(r"^Pss:\s+(\d+)", rollup, re.MULTILINE)[1]) / 1024  # type: ignore[index]
            status = Path(f"/proc/{each}/status").read_text()
            peak = max(peak, int(re.search(r"^VmHWM:\s+(\d+)", status, re.MULTILINE)[1]) / 1024)  # type: ignore[index]
    return total, peak, len(pids)


def cpu_seconds(pid: int) -> float:
    """Time that a process itself has worked, whatever else the computer does."""
    fields = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def wait_until_ready(pid: int, seconds: float) -> tuple[float, float]:
    """Until everything is computed and drawn; gives how long it took and the most memory in the meantime."""
    begin, most, alone = time.perf_counter(), 0.0, 0
    while time.perf_counter() - begin < seconds:
        total, _, processes = memory_mb(pid)
        most = max(most, total)
        alone = alone + 1 if processes == 1 else 0  # between two children it is alone for a moment
        if alone > 15:
            break
        time.sleep(0.2)
    return time.perf_counter() - begin, most


def worked(devices: list[Device], seconds: float, rate: float) -> dict[str, list[float]]:
    """What people do, so many requests a second from all devices together: seconds of each, by sort."""
    taken: dict[str, list[float]] = {}
    lock = threading.Lock()
    lists = ["/", "/parts", "/slots", "/findings", "/readings", "/open", "/papers", "/film"]

    def work(device: Device, number: int) -> None:
        chance = random.Random(number)
        until = time.perf_counter() + seconds
        due = time.perf_counter() + chance.random() * DEVICES / rate
        while due < until:
            time.sleep(max(0.0, due - time.perf_counter()))
            sort, path = chance.choices(
                [
                    ("step", chance.choice(device.steps).decode()),
                    ("post", ""),
                    ("list", chance.choice(lists)),
                ],
                (5, 4, 2),
            )[0]
            begin = time.perf_counter()
            if sort == "post":
                step = chance.choice(device.steps).decode().rpartition("/")[2]
                device.post("laid-out", step, {"parts": [f"part {chance.randrange(200)}"]})
            else:
                device.get(path)
            with lock:
                taken.setdefault(path if sort == "list" else sort, []).append(time.perf_counter() - begin)
            due += DEVICES / rate * (0.5 + chance.random())

    threads = [threading.Thread(target=work, args=(each, at)) for at, each in enumerate(devices)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return taken


def told(seconds: list[float]) -> str:
    """A sort of request: its 95th percentile, median, slowest and number."""
    ordered = sorted(seconds)
    late = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    middle = statistics.median(ordered)
    return f"{late * 1e3:.1f} ms (median {middle * 1e3:.1f}, n {len(ordered)})"


def main() -> None:
    """Measures everything, one after another."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", nargs="?", default=str(ROOT / "demo" / "larch"))
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--rate", type=float, default=20)
    parser.add_argument("--busy", action="store_true", help="measure while pictures are drawn, too")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-") as place:
        home = Path(place)
        folder = home / Path(said.folder).resolve().name
        # A copy of the program, too: what is kept is only good for the program that made it.
        shutil.copytree(ROOT / "src", home / "src", ignore=shutil.ignore_patterns("__pycache__"))
        compileall.compile_dir(home / "src", quiet=1)
        shutil.copytree(said.folder, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "log*"))
        row("first byte, nothing kept", "≤ 1.5 s", f"{first_byte_seconds(folder, home):.2f} s")
        with served(folder, home) as (process, port):
            time.sleep(8)
            if said.busy:
                devices = [Device(port) for _ in range(DEVICES)]
                taken = worked(devices, min(said.seconds, 20), said.rate)
                row("while drawing, p95", "", told([each for rows in taken.values() for each in rows]))
            took, most = wait_until_ready(process.pid, 400)
            row("most memory while everything is first drawn", "≤ 300 MB", f"{most:.0f} MB in {took:.0f} s")
        times = [first_byte_seconds(folder, home) for _ in range(5)]
        row("first byte, all kept, median", "≤ 1.5 s", f"{statistics.median(times):.2f} s")
        with served(folder, home) as (process, port):
            time.sleep(3)
            devices = [Device(port) for _ in range(DEVICES)]
            begin = cpu_seconds(process.pid)
            taken = worked(devices, said.seconds, said.rate)
            spent = cpu_seconds(process.pid) - begin
            everything = [each for rows in taken.values() for each in rows]
            rate = f"{len(everything) / said.seconds:.1f} a second"
            row(f"requests from {DEVICES} devices", "20 a second", rate)
            for name, rows in sorted(taken.items()):
                row(f"  {name}, p95", "≤ 25 ms", told(rows))
            row("  all, p95", "≤ 25 ms", told(everything))
            row("  of the server's own time, mean", "", f"{1e3 * spent / len(everything):.1f} ms")
            total, peak, processes = memory_mb(process.pid)
            row(
                "memory while serving",
                "≤ 300 MB",
                f"{total:.0f} MB in {processes} process(es), most {peak:.0f} MB",
            )


if __name__ == "__main__":
    main()

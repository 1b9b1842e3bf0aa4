"""Faults of time: commands on one folder at once, posts at once, a bench that is killed as it takes them."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import resource
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

from faulting.commands import commands, example
from faulting.family import Verdict, Workplace, problem, said
from faulting.folders import ROOT, entries_lost, texts, texts_lost
from faulting.outcome import Limits, begin, ended

PAGES = 3
TAKEN_IN = 20  # entries of each log that is taken in beside the others
PATIENCE_SECONDS = 60.0


def at_once(workplace: Workplace, chance: Random) -> Verdict:
    """Several commands at once on one folder, some of them adding to its log."""
    with workplace.place() as place:
        workplace.templates.copy("frame", place)
        before = texts(place)
        sources = [each for each in commands() if not each.serves and each.words not in {("new",), ("why",)}]
        calls: list[list[str]] = []
        own: set[int] = set()  # calls that take in a log of ours; an example may take in another one
        for number in range(chance.choice((2, 3, 4))):
            if chance.random() < 0.5:
                lines = [_event(f"race-{number}-{each}") for each in range(TAKEN_IN)]
                calls.append(_take_in(place, number, lines))
                own.add(number)
            else:
                calls.append(example(chance.choice(sources), place, workplace.templates, chance))
        children = [
            begin(words, _made(place / f"said-{number}"), Limits(), before=lambda: os.chdir(place))
            for number, words in enumerate(calls)
        ]
        outcomes = [
            ended(child, words, place / f"said-{number}", Limits())
            for number, (child, words) in enumerate(zip(children, calls, strict=True))
        ]
        wrong = tuple(line for outcome in outcomes for line in problem(outcome, "at once with others"))
        taken_in = [
            f"race-{number}-{each}"
            for number, outcome in enumerate(outcomes)
            if number in own and outcome.status == 0
            for each in range(TAKEN_IN)
        ]
        acknowledged = [*workplace.templates.log_ids, *taken_in]
        lost = texts_lost(before, place) + entries_lost(place / "frame", acknowledged)
        return Verdict(tried=len(calls), wrong=wrong, lost=tuple(lost))


def _made(folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    return folder


def _take_in(place: Path, number: int, events: list[dict[str, object]]) -> list[str]:
    """A log of its own, exported, to be taken in beside the others."""
    from trysquare.record.events import Event  # noqa: PLC0415  # the program is on the path by now
    from trysquare.record.log import open_log  # noqa: PLC0415

    home = _made(place / f"other-{number}")
    with open_log(home, machine="Small frame") as log:
        log.append([Event(**each, device="x") for each in events])  # type: ignore[arg-type]
        log.export(place / f"other-{number}.jsonl")
    return ["log", "take-in", "frame", f"other-{number}.jsonl"]


def _event(name: str) -> dict[str, object]:
    return {"id": name, "kind": "note", "at": "2031-05-04T08:00:00.000Z", "data": {"says": name}}


def bench_killed(workplace: Workplace, chance: Random) -> Verdict:
    """The bench, as its own process, killed while three pages post; nothing it answered for is missing."""
    return _posting(workplace, chance, lambda: None, kills=True)


def bench_full(workplace: Workplace, chance: Random) -> Verdict:
    """The bench where its files may grow no more: it says that nothing was kept, and answers on."""
    most = chance.choice((120_000, 400_000))

    def no_room() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    return _posting(workplace, chance, no_room, kills=False)


def two_benches(workplace: Workplace, chance: Random) -> Verdict:
    """Two benches on one folder, pages of both posting at once; both are killed."""
    with workplace.place() as place:
        folder = workplace.templates.copy("frame", place)
        before = texts(place)
        answered: list[str] = []
        statuses: set[int] = set()
        with _bench(folder, lambda: None) as (first, port), _bench(folder, lambda: None) as (second, other):
            threads = [
                threading.Thread(target=_post_on, args=(port_of, answered, statuses))
                for port_of in (port, other)
            ]
            _for_a_while(threads, chance.uniform(0.3, 1.5), (first, second), statuses)
        lost = entries_lost(folder, [*workplace.templates.log_ids, *answered]) + texts_lost(before, place)
        wrong: tuple[str, ...] = (
            () if statuses <= {200} else (f"two benches on one folder answered {sorted(statuses)}",)
        )
        if not answered:
            wrong += ("two benches on one folder: nothing was answered for",)
        return Verdict(tried=2, wrong=wrong, lost=tuple(lost))


def _posting(workplace: Workplace, chance: Random, before: Callable[[], None], *, kills: bool) -> Verdict:
    with workplace.place() as place:
        folder = workplace.templates.copy("frame", place)
        written = texts(place)
        answered: list[str] = []
        statuses: set[int] = set()
        with _bench(folder, before) as (process, port):
            threads = [
                threading.Thread(target=_post_on, args=(port, answered, statuses)) for _ in range(PAGES)
            ]
            seconds = chance.uniform(0.05, 1.0) if kills else 3.0
            early = kills and chance.random() < 0.3  # before it has answered anything
            _for_a_while(threads, seconds, (process,) if kills else (), {0} if early else statuses)
            wrong: tuple[str, ...] = ()
            if not kills and process.poll() is not None:
                wrong = (f"{said(['bench'])}: ended with {process.returncode} when its disk was full",)
        if not statuses <= ({200} if kills else {200, 503}):
            wrong += (f"{said(['bench'])}: answered {sorted(statuses)} to good posts",)
        lost = entries_lost(folder, [*workplace.templates.log_ids, *answered]) + texts_lost(written, place)
        return Verdict(wrong=wrong, lost=tuple(lost))


def _for_a_while(
    threads: list[threading.Thread],
    seconds: float,
    victims: tuple[subprocess.Popen[bytes], ...],
    statuses: set[int],
) -> None:
    """Lets pages post for so long after the first answer; then kills the benches, or calls it enough."""
    for thread in threads:
        thread.start()
    patience = time.monotonic() + PATIENCE_SECONDS
    while not statuses and time.monotonic() < patience:
        time.sleep(0.01)
    time.sleep(seconds)
    for victim in victims:
        victim.send_signal(signal.SIGKILL)
    if not victims:
        _ENOUGH.set()
    for thread in threads:
        thread.join(PATIENCE_SECONDS)
    _ENOUGH.clear()


_ENOUGH = threading.Event()


@contextmanager
def _bench(folder: Path, before: Callable[[], None]) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """The bench of a folder, begun as one begins it; gives the process and its port."""
    command = [sys.executable, "-m", "trysquare.cli.main", "bench", str(folder), "--port", "0", "--json",
               "--no-open-browser"]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment, cwd=folder.parent,
        preexec_fn=before,  # noqa: PLW1509  # no threads of ours run yet
    )  # fmt: skip
    assert process.stdout is not None
    try:
        text = ""
        while not text.rstrip().endswith("}"):
            line = process.stdout.readline().decode()
            if not line:
                raise RuntimeError(f"the bench did not begin: {text}")
            text += line
        yield process, int(json.loads(text)["here"].rstrip("/").rpartition(":")[2])
    finally:
        if process.poll() is None:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(30)
            process.kill()
        process.wait()
        process.stdout.close()


def _post_on(port: int, answered: list[str], statuses: set[int]) -> None:
    """One page that posts without a rest until the bench is gone or it is enough."""
    with contextlib.suppress(OSError, http.client.HTTPException):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        connection.request("GET", "/", headers={"Accept": "text/html"})
        answer = connection.getresponse()
        cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        found = re.search(r'trysquare-token" content="([0-9a-f]+)"', answer.read().decode())
        token = found[1] if found else ""
        headers = {"Content-Type": "application/json", "Cookie": cookie, "X-Trysquare-Token": token}
        while not _ENOUGH.is_set():
            name = str(uuid.uuid4())
            event = _event(name)
            event["data"] = {"says": "x" * 2000}
            connection.request("POST", "/log", json.dumps({"events": [event]}), headers)
            answer = connection.getresponse()
            answer.read()
            statuses.add(answer.status)
            if answer.status == 200:
                answered.append(name)
        connection.close()

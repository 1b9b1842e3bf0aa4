"""The browser, benches ready at once, and windows whose faults fail the test."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright

from browser.windows import DIST, FLAGS, HOST_NAME, NAMES, PHONE, ROOT, Bench, Watched, until_ready, watch
from trysquare.bench.lan import own_addresses, own_names

FAILED = pytest.StashKey[bool]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Any:
    """Keeps for the windows whether the test failed: then each leaves a picture of what it showed."""
    report = yield
    if report.when == "call":
        item.stash[FAILED] = report.failed
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(str(item.path)).parent == Path(__file__).parent:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    program = next((found for found in map(shutil.which, NAMES) if found), None)
    missing = "" if program else f"no browser on PATH ({', '.join(NAMES)})"
    if not DIST.is_dir():
        missing = "the pages are not built: make setup"
    if missing:
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def reed_made(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Reed with everything computed and drawn once: each test's own copy then starts at once."""
    own = tmp_path_factory.getbasetemp()
    shared = own if worker_id == "master" else own.parent
    with (shared / "reed-made.lock").open("w") as lock:
        # Whichever worker comes first computes; the others wait for it.
        fcntl.flock(lock, fcntl.LOCK_EX)
        folder = shared / "reed-made"
        if not folder.is_dir():
            making = shared / "reed-in-work"
            shutil.rmtree(making, ignore_errors=True)
            shutil.copytree(ROOT / "demo" / "reed-joints", making)
            shutil.rmtree(making / ".trysquare-cache", ignore_errors=True)
            bench = Bench(making)
            bench.start()
            try:
                until_ready(bench)
            finally:
                bench.stop()
            for file in making.glob("log.sqlite*"):
                file.unlink()
            making.rename(folder)
    return folder


@pytest.fixture
def reed(reed_made: Path, tmp_path: Path) -> Iterator[Bench]:
    """Reed on a bench, with an empty log."""
    yield from served(reed_made, tmp_path, ())


@pytest.fixture
def open_reed(reed_made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """Reed on a bench that other devices may join."""
    if not own_addresses() or HOST_NAME not in own_names():
        pytest.skip("this computer has no address or name in a private network")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    yield from served(reed_made, tmp_path, ("--lan", "--plain"))


def served(made: Path, place: Path, arguments: tuple[str, ...]) -> Iterator[Bench]:
    folder = place / "reed"
    shutil.copytree(made, folder)
    bench = Bench(folder, arguments=arguments)
    bench.start()
    try:
        until_ready(bench)
        yield bench
    finally:
        bench.stop()


Opens = Callable[..., Watched]


@pytest.fixture
def opens(chromium: Browser, request: pytest.FixtureRequest) -> Iterator[Opens]:
    """Opens a window on a bench; at the end no window may have seen an error or asked another computer."""
    windows: list[Watched] = []

    def window(bench: Bench, size: dict[str, int] = PHONE, *, dark: bool = False, **more: Any) -> Watched:
        context = chromium.new_context(
            viewport=size,
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce",
            has_touch=size is PHONE,
            **more,
        )
        page = context.new_page()
        page.set_default_timeout(60_000)
        watched = Watched(context=context, page=page, bench=bench)
        windows.append(watched)
        watch(watched)
        return watched

    yield window
    failed = request.node.stash.get(FAILED, False)
    for number, each in enumerate(windows):
        if failed:
            each.picture(f"failed-{request.node.name}-{number}")
    faults = [fault for each in windows for fault in each.faults]
    for each in windows:
        each.context.close()
    assert not faults, "\n".join(faults)

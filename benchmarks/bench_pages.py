"""How soon a page of the bench is seen: a cold phone, the next step, the view in 3D; and what it weighs.

python -m benchmarks.bench_pages            Larch, the median of seven
python -m benchmarks.bench_pages --quick    of three
"""

from __future__ import annotations

import argparse
import gzip
import json
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from benchmarks.figures import row

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

FIRST_CONTENT = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"


def rows(repeats: int) -> list[tuple[str, str, str]]:
    """Name, figure and what was asked, one row each."""
    from playwright.sync_api import Browser, Page, sync_playwright

    from browser.windows import DIST, FLAGS, NAMES, PHONE, Bench, until_ready

    def packed(names: list[str]) -> str:
        return f"{sum(len(gzip.compress((DIST / name).read_bytes(), 9)) for name in names) / 1000:.0f} kB"

    def median_ms(browser: Browser, act: Callable[[Page], float]) -> str:
        found = []
        for _ in range(repeats):
            context = browser.new_context(viewport=PHONE, device_scale_factor=2, has_touch=True)
            found.append(act(context.new_page()))
            context.close()
        return f"{statistics.median(found):.0f} ms"

    files = json.loads((DIST / "files.json").read_text("utf-8"))
    found = [
        ("scripts of a page, packed", packed([*files["page"], "look.js"]), "≤ 40 kB"),
        ("with the 3D view, packed", packed([*files["page"], *files["view"], "look.js"]), "≤ 220 kB"),
        ("styles, packed", packed(["bench.css"]), ""),
    ]
    program = next(path for path in map(shutil.which, NAMES) if path)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = Path(place) / "larch"
        shutil.copytree(ROOT / "demo" / "larch", folder)
        bench = Bench(folder)
        bench.start()
        try:
            until_ready(bench)
            browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
            step = f"{bench.address}/step/y-rails"

            def first(address: str) -> Callable[[Page], float]:
                def act(page: Page) -> float:
                    page.goto(address)
                    page.wait_for_function(f"({FIRST_CONTENT}) > 0")
                    return float(page.evaluate(FIRST_CONTENT))

                return act

            def view(page: Page) -> float:
                page.goto(step)
                page.wait_for_selector("html[data-ready]")
                page.wait_for_timeout(500)
                return float(page.evaluate(VIEW))

            def after(page: Page) -> float:
                page.goto(step)
                page.wait_for_selector("html[data-ready]")
                page.wait_for_timeout(2000)
                return float(page.evaluate(NEXT))

            found += [
                (
                    "first content, order page, cold phone",
                    median_ms(browser, first(bench.address)),
                    "≤ 1000 ms",
                ),
                ("first content, step page, cold phone", median_ms(browser, first(step)), "≤ 1000 ms"),
                ("next step shown after the tap", median_ms(browser, after), "without waiting"),
                ("3D first frame, drawn in software", median_ms(browser, view), "≤ 2000 ms"),
            ]
            browser.close()
        finally:
            bench.stop()
    return found


VIEW = """() => new Promise(done => {
  const begin = performance.now();
  document.querySelector("[data-view]").click();
  const look = () =>
    document.querySelector(".view[data-drawn]")
      ? done(performance.now() - begin)
      : requestAnimationFrame(look);
  look();
})"""
NEXT = """() => new Promise(done => {
  const begin = performance.now();
  const before = document.querySelector("h1");
  document.querySelector("[data-key=next]").click();
  const look = () =>
    document.querySelector("h1") !== before
      ? requestAnimationFrame(() => done(performance.now() - begin))
      : requestAnimationFrame(look);
  look();
})"""


def main() -> None:
    """From the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true")
    for name, figure, asked in rows(3 if parser.parse_args().quick else 7):
        row(name, asked, figure)


if __name__ == "__main__":
    main()

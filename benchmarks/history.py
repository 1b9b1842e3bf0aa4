"""The runs of the benchmarks: a small history as JSON, and the page of the newest."""

from __future__ import annotations

import contextlib
import json
import os
import platform
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

DOCS = Path(__file__).resolve().parent.parent / "docs"
MOST_KEPT = 12
TABLE = ("", "| figure | asked | measured | the run before |", "|---|---|---|---|")


def described() -> dict[str, str]:
    """This computer, and when."""
    cpu = ""
    with contextlib.suppress(OSError):
        lines = Path("/proc/cpuinfo").read_text("utf-8").splitlines()
        cpu = next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")
    machine = f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
    return {
        "day": f"{datetime.now(UTC):%Y-%m-%d}",
        "machine": f"{machine}, {cpu}" if cpu else machine,
        "python": platform.python_version(),
        "load": f"{os.getloadavg()[0]:.1f}",
    }


def keep(about: dict[str, str], figures: list[dict[str, str]]) -> None:
    """Adds a run to docs/benchmarks.json, and writes docs/benchmarks.md."""
    file = DOCS / "benchmarks.json"
    history = json.loads(file.read_text("utf-8")) if file.is_file() else []
    history = [*history, {"about": about, "figures": figures}][-MOST_KEPT:]
    file.write_text(json.dumps(history, indent=1, ensure_ascii=False) + "\n", "utf-8")
    (DOCS / "benchmarks.md").write_text(page(history), "utf-8")


def page(history: list[dict[str, Any]]) -> str:
    """The newest run beside the one before it."""
    newest, about = history[-1]["figures"], history[-1]["about"]
    earlier = history[-2]["figures"] if len(history) > 1 else []
    before = dict(_placed(earlier))
    out = [
        "# Figures",
        "",
        "Written by `make bench`: medians of one run. Peers are general-purpose libraries doing the same",
        "work.",
        "",
        f"{about['day']}: {about['machine']}, Python {about['python']}, load {about['load']} when it began.",
    ]
    if newest and "heading" not in newest[0]:
        out += TABLE
    places = iter(_placed(newest))
    for each in newest:
        if "heading" in each:
            out += ["", f"## {each['heading']}", *TABLE]
        else:
            place, measured = next(places)
            cells = (each["what"].strip(), each["asked"], measured, before.get(place, ""))
            out.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(out) + "\n"


def _placed(figures: list[dict[str, str]]) -> Iterator[tuple[tuple[str, str, int], str]]:
    """Each figure's place (heading, name, the how manieth of that name there) and what was measured: one name
    stands several times, once for each case."""
    heading, seen = "", Counter[tuple[str, str]]()
    for each in figures:
        if "heading" in each:
            heading = each["heading"].casefold()
            continue
        name = (heading, each["what"])
        yield (*name, seen[name]), each["measured"]
        seen[name] += 1

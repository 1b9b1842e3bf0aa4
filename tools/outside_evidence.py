"""A plugin of pytest: writes down what each check against the outside compared, as JSON lines.

Loaded by `tools/outside.py` alone. pytest explains every assertion that holds when it is asked to; from that
come "ours" and "theirs" as they were compared, so that no test says anything twice.
"""

import inspect
import json
import re
from pathlib import Path

import pytest

ROW = re.compile(r"\b[A-Z]{3}-\d{3}\b")
SOURCE = re.compile(r"(?:#|^)\s*Source:\s*(?P<says>.+?)\s*$", re.MULTILINE)
MOST_PAIRS = 6
LONGEST = 90
_PAIRS = pytest.StashKey[list]()


def pytest_addoption(parser):
    """Where the evidence goes."""
    parser.addoption("--evidence", default="", help="write what was compared to this file")


def pytest_assertion_pass(item, orig, expl):
    """An assertion that held: both of its sides, where it compares two."""
    if item.get_closest_marker("outside") is None:
        return
    pairs = item.stash.setdefault(_PAIRS, [])
    first = expl.splitlines()[0]
    for sign in (" == ", " <= ", " < ", " >= ", " > "):
        if sign in first and len(pairs) < MOST_PAIRS:
            ours, theirs = first.split(sign, 1)
            pairs.append((_short(ours), sign.strip(), _short(theirs), _short(orig)))
            return


def _short(text):
    text = " ".join(str(text).split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):  # noqa: ARG001  # as pytest calls it
    """The whole of one check, when it has run."""
    report = yield
    place = item.config.getoption("--evidence")
    if place and report.when == "call" and item.get_closest_marker("outside") is not None:
        with Path(place).open("a", encoding="utf-8") as file:
            file.write(json.dumps(_of(item, report.outcome)) + "\n")
    return report


def _of(item, outcome):
    text = inspect.getsource(item.function)
    module = Path(str(item.path)).read_text("utf-8")
    before = _comments_before(module, item.function.__code__.co_firstlineno)
    case = getattr(item, "callspec", None)
    said = " ".join(str(value) for value in case.params.values()) if case is not None else ""
    return {
        "test": item.nodeid,
        "says": item.function.__name__.removeprefix("test_").replace("_", " "),
        "with": case.id if case is not None else "",
        "outcome": outcome,
        "sources": SOURCE.findall(before + text) or SOURCE.findall(module.partition("def test_")[0])[:1],
        "rows": sorted(set(ROW.findall(said) or ROW.findall(text))),
        "pairs": item.stash.get(_PAIRS, []),
        "module": (inspect.getmodule(item.function).__doc__ or "").partition("\n")[0],
    }


def _comments_before(module, line):
    """The comment lines right above a test and its decorators."""
    rows = module.splitlines()[: line - 1]
    found = []
    while rows and (rows[-1].startswith(("#", "@")) or not rows[-1].strip()) and len(found) < 12:
        found.append(rows.pop())
    return "\n".join(reversed(found)) + "\n"

"""Laws of papers: names of files never matter, precedence is obeyed, and a ruling leaves no contradiction."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from machine.folders import write
from machine.fuzzing import examples
from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

LINES = ("part.one", "part.two", "part.three")
"""One and two are the manual's; three is there only when a paper adds it."""
BASE = {
    "machine.toml": 'format = 1\nname = "M"\n',
    "parts.toml": 'paper = "manual"\n'
    '[part.one]\nkind = "bought"\nmass_gram = 1\n[part.two]\nkind = "bought"\n',
    "papers/manual.toml": 'title = "M"\nkind = "base"\nedition = "1"\n',
}
ROWS = st.tuples(
    st.sampled_from(["add", "replace", "replace", "replace", "remove"]),
    st.sampled_from(LINES),
    st.sampled_from(
        ["mass_gram = 2", "mass_gram = 3", 'material = "steel"', 'mass_gram = 1, material = "brass"']
    ),
)


@dataclass(frozen=True)
class Papers:
    """Papers by number, each over some of those before it, and the rows of each."""

    over: tuple[tuple[int, ...], ...]
    rows: tuple[tuple[tuple[str, str, str], ...], ...]

    def files(self, names: list[str], rulings: str = "") -> dict[str, str]:
        files = {**BASE, "rulings.toml": rulings}
        for name, over, rows in zip(names, self.over, self.rows, strict=True):
            below = ", ".join(f'"{names[number]}"' for number in over)
            text = f'title = "T"\nkind = "upgrade"\nedition = "1"\nover = [{below}]\n'
            for sort, line, keys in rows:
                text += f'[[{sort}]]\nline = "{line}"\n'
                if sort != "remove":
                    text += "with = { " + ('kind = "bought", ' if sort == "add" else "") + keys + " }\n"
            files[f"papers/{name}.toml"] = text
        return files


@st.composite
def papers(draw: st.DrawFn, *, chained: bool = False) -> Papers:
    count = draw(st.integers(1, 4))
    over = [
        tuple(range(number))
        if chained
        else tuple(draw(st.sets(st.integers(0, number - 1))))
        if number
        else ()
        for number in range(count)
    ]
    return Papers(tuple(over), tuple(tuple(draw(st.lists(ROWS, max_size=3))) for _ in range(count)))


def outcome(files: dict[str, str]) -> Machine | int:
    """The machine, or how many problems keep it from being read."""
    folder = Path(tempfile.mkdtemp())
    try:
        return load_machine(write(folder, files))
    except ReadingErrors as errors:
        return len(errors.problems)
    finally:
        shutil.rmtree(folder)


def parts(machine: Machine) -> dict[str, object]:
    assert machine.tree is not None
    found: dict[str, object] = machine.tree.lines["part"]
    return found


NAMES = ["a", "b", "c", "d"]


@pytest.mark.slow
@examples(70)
@given(papers(), st.permutations(NAMES))
def test_the_names_of_papers_do_not_matter(rows: Papers, names: list[str]) -> None:
    count = len(rows.over)
    one, other = outcome(rows.files(NAMES[:count])), outcome(rows.files(names[:count]))
    if isinstance(one, int) or isinstance(other, int):
        assert one == other
        return
    assert len(one.findings) == len(other.findings)
    if not one.findings:
        assert parts(one) == parts(other)


@pytest.mark.slow
@examples(70)
@given(papers(chained=True))
def test_papers_in_a_chain_are_laid_one_over_the_other(rows: Papers) -> None:
    """Against the simplest judge: each paper's rows done to a dictionary, in order."""
    machine = outcome(rows.files(NAMES[: len(rows.over)]))
    judge: dict[str, dict[str, object]] = {
        "one": {"kind": "bought", "mass_gram": 1},
        "two": {"kind": "bought"},
    }
    possible = True
    for paper in rows.rows:
        said: set[tuple[str, str]] = set()
        for sort, line, keys in sorted(paper, key=lambda row: ("remove", "add", "replace").index(row[0])):
            name = line.partition(".")[2]
            values: dict[str, object] = {}
            for pair in keys.split(", "):
                key, _, value = pair.partition(" = ")
                values[key] = value.strip('"') if '"' in value else int(value)
            possible &= (name in judge) == (sort != "add")
            if sort == "remove":
                judge.pop(name, None)
            elif sort == "add":
                judge[name] = {"kind": "bought", **values}
            else:
                possible &= not said.intersection((name, key) for key in values)
                said |= {(name, key) for key in values}
                judge.setdefault(name, {}).update(values)
    assert isinstance(machine, Machine) == possible
    if isinstance(machine, Machine):
        assert machine.findings == ()
        assert parts(machine) == judge


CHANGES = ROWS.filter(lambda row: row[0] != "add" and row[1] != "part.three")
SIBLINGS = st.lists(
    st.lists(CHANGES, min_size=1, max_size=2, unique_by=lambda row: row[1]).map(tuple), min_size=2, max_size=3
).map(lambda rows: Papers(((),) * len(rows), tuple(rows)))
"""Papers of which none is over another; what they say is possible, and often contradicts."""


@pytest.mark.slow
@examples(60)
@given(SIBLINGS)
def test_ruling_on_every_contradiction_leaves_none(rows: Papers) -> None:
    names = NAMES[: len(rows.over)]
    machine = outcome(rows.files(names))
    assume(isinstance(machine, Machine) and machine.findings)
    assert isinstance(machine, Machine)
    takes: dict[str, str] = {}
    for finding in machine.findings:
        line = ".".join(finding.says.partition(":")[0].split(".")[:2])
        speaking = sorted({one.paper for one in machine.sayings if one.line.startswith(line)})
        takes[line] = speaking[0]
    rulings = "".join(
        f'[[ruling]]\nline = "{line}"\ntake = "{take}"\nreason = "r"\n' for line, take in takes.items()
    )
    ruled = outcome(rows.files(names, rulings))
    assert isinstance(ruled, Machine)
    assert ruled.findings == ()
    for line, take in takes.items():
        gone = line.partition(".")[2] not in parts(ruled)
        standing = [one for one in ruled.sayings if one.line.startswith(line) and one.paper == take]
        assert all(one.stands for one in standing) or gone

"""docs/mistakes.md: every mistake of the list is caught by the command beside it, in the words beside it."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

import pytest

from command_line import DEMO, Run

PAGE = DEMO.parent / "docs" / "mistakes.md"
_ROW = re.compile(r"\| (\w+) \| (.+?) \| `(trysquare .+?)` \| (.+?) \| (.+?) \|")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A row of the page: the mistake, what a builder runs, what it must say, and what to do or to look at."""

    number: str
    mistake: str
    command: str
    says: str
    remedy: str


def cases() -> list[Case]:
    rows = [_ROW.fullmatch(line) for line in PAGE.read_text("utf-8").splitlines()]
    return [
        Case(number=row[1], mistake=row[2], command=row[3], says=row[4], remedy=row[5]) for row in rows if row
    ]


CASES = cases()


def plain(text: str) -> str:
    """Words alone: a terminal breaks its lines anywhere."""
    return " ".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.number}-{case.mistake[:40]}")
def test_a_mistake_is_caught_in_these_words_before_it_does_harm(
    case: Case, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "demo").symlink_to(DEMO)
    monkeypatch.chdir(tmp_path)
    answer = run(*shlex.split(case.command)[1:])
    told = plain(answer.out + answer.err)
    assert answer.status != 0 or "To be looked at" in told, told
    assert case.says in told
    assert case.remedy in told
    assert "Traceback" not in told


def test_the_page_has_all_thirty_and_a_row_reads_as_a_table() -> None:
    numbers = [case.number for case in CASES if case.number.isdecimal()]
    assert list(dict.fromkeys(numbers)) == [str(number) for number in range(1, 31)]
    rows = [line for line in PAGE.read_text("utf-8").splitlines() if "`trysquare " in line]
    assert len(rows) == len(CASES)


def test_every_reading_and_paper_made_for_the_page_is_used_by_it() -> None:
    made = [*(DEMO / "mistakes" / "readings").iterdir(), *(DEMO / "mistakes" / "wiring").iterdir()]
    text = PAGE.read_text("utf-8")
    assert [path.name for path in made if path.relative_to(DEMO.parent).as_posix() not in text] == []

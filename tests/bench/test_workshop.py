"""The live machine: edits are seen, the last good state stays, work is ended and begun."""

from __future__ import annotations

import asyncio
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bench.asking import Browser, opened
from bench.conftest import ROOT, without_answers
from trysquare.bench import workshop as rules
from trysquare.bench.bench import Bench
from trysquare.bench.changes import MACHINE
from trysquare.bench.facts import PARTS
from trysquare.bench.kept_answers import KeptAnswers, open_kept
from trysquare.bench.problems import problem_of
from trysquare.bench.workshop import Work, Workshop

WAIT_SECONDS = 300.0


def followed(workshop: Workshop, until: Callable[[], bool], then: Callable[[], None] | None = None,
             finally_: Callable[[], bool] | None = None) -> None:  # fmt: skip
    """Follows the folder until something is so; does something, and waits for what comes of it."""

    async def run() -> None:
        following = asyncio.create_task(workshop.follow())
        try:
            async with asyncio.timeout(WAIT_SECONDS):
                while not until():
                    await asyncio.sleep(0.02)
                if then is not None and finally_ is not None:
                    then()
                    while not finally_():
                        await asyncio.sleep(0.02)
        finally:
            following.cancel()
            await asyncio.gather(following, return_exceptions=True)

    asyncio.run(run())


@pytest.fixture(autouse=True)
def looks_often(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "LOOK_SECONDS", 0.05)
    monkeypatch.setattr(rules, "STILL_SECONDS", 0.02)


@pytest.fixture
def edited(reed_folder: Path) -> Callable[[str, str, str], None]:
    """Changes words of a file of the folder."""

    def edit(name: str, old: str, new: str) -> None:
        text = (reed_folder / name).read_text("utf-8")
        assert old in text
        (reed_folder / name).write_text(text.replace(old, new), "utf-8")

    return edit


@pytest.mark.slow
def test_an_edit_on_disk_is_shown(
    reed: tuple[Bench, Browser], edited: Callable[[str, str, str], None]
) -> None:
    bench, browser = reed
    told: list[str] = []
    bench.workshop.tell = told.append
    followed(
        bench.workshop,
        until=lambda: bench.workshop.shown.ready.pictures,
        then=lambda: edited("steps.toml", "Feet under the base", "Four feet under it"),
        finally_=lambda: "Four feet under it" in browser_text(bench) and bench.workshop.shown.ready.pictures,
    )
    assert "Four feet under it" in browser.get("/").text
    assert "Four feet under it" in browser.get("/step/feet").text
    assert MACHINE in told


def browser_text(bench: Bench) -> str:
    head = bench.workshop.shown.head.get("feet")
    return head.title if head is not None else ""


@pytest.mark.slow
def test_an_edit_that_cannot_be_read_is_said_and_the_last_good_state_stays(
    reed: tuple[Bench, Browser], edited: Callable[[str, str, str], None]
) -> None:
    bench, browser = reed
    followed(
        bench.workshop,
        until=lambda: bench.workshop.shown.ready.pictures,
        then=lambda: edited("steps.toml", 'place = ["base"]', 'place = ["bass"]'),
        finally_=lambda: bool(bench.workshop.shown.problems),
    )
    problem = bench.workshop.shown.problems[0]
    assert problem.where.startswith("steps.toml:")
    assert "bass" in problem.read
    text = browser.get("/step/feet").text
    assert "Feet under the base" in text
    assert "was edited and cannot be read as it stands" in text
    assert problem.remedy.split("'")[0] in text
    assert browser.get("/").status_code == 200


@pytest.mark.slow
def test_a_mended_edit_takes_the_words_away_again(
    reed: tuple[Bench, Browser], edited: Callable[[str, str, str], None]
) -> None:
    bench, browser = reed
    followed(
        bench.workshop,
        until=lambda: bench.workshop.shown.ready.pictures,
        then=lambda: edited("machine.toml", "format = 1", "format = "),
        finally_=lambda: bool(bench.workshop.shown.problems),
    )
    edited("machine.toml", "format = ", "format = 1")
    followed(
        bench.workshop, until=lambda: not bench.workshop.shown.problems and not bench.workshop.shown.busy
    )
    assert "cannot be read" not in browser.get("/").text


@pytest.mark.slow
def test_a_folder_that_cannot_be_read_from_the_start_says_so_on_every_page(tmp_path: Path) -> None:
    folder = without_answers(ROOT / "demo" / "reed-joints", tmp_path / "reed")
    (folder / "machine.toml").write_text("format = 1\nname = \n", "utf-8")
    bench, browser = opened(folder)
    followed(bench.workshop, until=lambda: bool(bench.workshop.shown.problems))
    for path in ("/", "/parts", "/findings"):
        text = browser.get(path).text
        assert "machine.toml:2" in text
        assert "The machine folder cannot be read yet" in text
    bench.desk.close()


@pytest.mark.slow
def test_everything_is_computed_in_a_child_and_shown_as_it_comes(tmp_path: Path) -> None:
    bench, browser = opened(without_answers(ROOT / "demo" / "reed-joints", tmp_path / "reed"))
    order = []

    def ready() -> bool:
        now = bench.workshop.shown.ready
        order.append((now.order, now.steps, now.findings, now.pictures))
        return now.pictures

    followed(bench.workshop, until=ready)
    assert order[0] == (False, False, False, False)
    assert sorted(set(order)) == [each for each in dict.fromkeys(order)]  # noqa: C416 - in the order they came
    assert "Feet under the base" in browser.get("/").text
    bench.desk.close()


# --- children that behave badly


def write(file: Path, text: str) -> None:
    file.write_text(text, "utf-8")


def workshop_with(tmp_path: Path, code: str) -> tuple[Workshop, Path]:
    """A workshop whose child is this program; the folder has one file, whose text is its key."""
    watched = tmp_path / "machine.toml"
    watched.write_text("a", "utf-8")
    kept = open_kept([tmp_path / "kept"])
    work = Work(
        digest=lambda: (watched.read_text("utf-8") * 64)[:64],
        watched=lambda: [watched],
        command=lambda what, key: [sys.executable, "-c", code, what, str(kept.folder), key],
    )
    return Workshop(work, kept, lambda _: None), watched


BAD_CHILDREN = (
    "raise SystemExit(1)",
    "import os; os.abort()",
    "print('not json'); print('{}'); print('[1]'); raise SystemExit(3)",
    'print(\'{"part": "order"}\')\nraise SystemExit(9)',
)


@pytest.mark.parametrize("code", BAD_CHILDREN)
@pytest.mark.slow
def test_a_child_that_ends_badly_is_said_and_is_not_begun_again_and_again(tmp_path: Path, code: str) -> None:
    begun = tmp_path / "begun"
    counting = f"open({str(begun)!r}, 'a').write('x')\n{code}"
    workshop, _ = workshop_with(tmp_path, counting)

    async def run() -> None:
        following = asyncio.create_task(workshop.follow())
        await asyncio.sleep(1.5)
        following.cancel()
        await asyncio.gather(following, return_exceptions=True)

    asyncio.run(run())
    assert workshop.shown.problems[0].read == "it ended by itself"
    assert not workshop.shown.busy
    assert begun.read_text("utf-8") == "x"


def test_a_child_that_wants_to_be_begun_again_is(tmp_path: Path) -> None:
    begun = tmp_path / "begun"
    code = (
        f"import sys; open({str(begun)!r}, 'a').write('x')\n"
        f"raise SystemExit({rules.AGAIN} if len(open({str(begun)!r}).read()) in (2, 3) else 0)"
    )
    workshop, _ = workshop_with(tmp_path, code)
    followed(workshop, until=lambda: not workshop.shown.busy)
    assert begun.read_text("utf-8") == "xxxx"  # facts, and pictures three times
    assert not workshop.shown.problems


def test_an_edit_ends_the_child_that_works_on_the_old_state(tmp_path: Path) -> None:
    pids = tmp_path / "pids"
    code = f"import os, time; open({str(pids)!r}, 'a').write(f'{{os.getpid()}}\\n'); time.sleep(1000)"
    workshop, watched = workshop_with(tmp_path, code)

    def begun(number: int) -> bool:
        return pids.exists() and len(pids.read_text("utf-8").split()) == number

    followed(workshop, lambda: begun(1), lambda: write(watched, "bb"), lambda: begun(2))
    for pid in pids.read_text("utf-8").split():
        assert not Path(f"/proc/{pid}").exists() or "Z" in Path(f"/proc/{pid}/stat").read_text("utf-8")


# --- what is kept


def test_what_is_kept_is_read_back_as_it_was(reed: tuple[Bench, Browser]) -> None:
    bench, _ = reed
    kept, key = bench.workshop.kept, bench.workshop.shown.version
    for part in PARTS:
        value = kept.read(part, key)
        assert value is not None, part
        kept.keep(part, "f" * 64, value)
        assert kept.read(part, "f" * 64) == value


@pytest.mark.parametrize("damage", [b"", b"x", b"0" * 64 + b"\n{}", b"\xff" * 100])
def test_a_damaged_answer_is_not_believed(reed: tuple[Bench, Browser], damage: bytes) -> None:
    bench, _ = reed
    kept, key = bench.workshop.kept, bench.workshop.shown.version
    file = next(kept.folder.glob(f"steps-{key}.json"))
    whole = file.read_bytes()
    for content in (damage, whole[:-10], whole[:70] + b"x" + whole[71:]):
        file.write_bytes(content)
        assert kept.read("steps", key) is None


def test_only_our_oldest_answers_are_dropped(tmp_path: Path) -> None:
    import os

    kept = KeptAnswers(tmp_path)
    for number in range(8):
        kept.keep("order", str(number) * 64, {"x": number})
        os.utime(tmp_path / f"order-{str(number) * 64}.json", (number, number))
    (tmp_path / "order.json").write_text("mine", "utf-8")
    kept.thin()
    left = sorted(file.name[6] for file in tmp_path.glob("order-*"))
    assert left == ["4", "5", "6", "7"]
    assert (tmp_path / "order.json").exists()


@pytest.mark.slow
def test_a_place_that_cannot_be_written_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", "utf-8")
    kept = open_kept([tmp_path / "file", tmp_path / "second"])
    assert kept.folder == tmp_path / "second" / "bench"


@pytest.mark.slow
def test_problems_of_the_child_read_as_the_command_line_tells_them(reed: tuple[Bench, Browser]) -> None:
    bench, _ = reed
    said = json.loads(
        '{"file": "a.toml", "line": 3, "key": "x", "read": "y", "expected": "z", "remedy": "w"}'
    )
    problem = problem_of(said)
    assert problem.where == "a.toml:3, x"
    bench.workshop.shown = replace(bench.workshop.shown, problems=(problem,))

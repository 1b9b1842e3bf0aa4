"""Benches for the tests: computed once for each process, copied for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from bench.asking import Browser, opened
from trysquare.bench.bench import Bench, Opening
from trysquare.bench.kept_answers import KeptAnswers
from trysquare.bench.making import make_facts, make_pictures
from trysquare.cli import bench_work, cache
from trysquare.cli.bench import made_bench
from trysquare.ground.errors import ReadingError
from trysquare.publish.picture_store import PictureStore

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True, scope="session")
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """What the bench keeps of its own goes to a folder of the tests."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(home / "state"))
        patch.setenv("XDG_CACHE_HOME", str(home / "cache"))
        # One program for the whole run, even where somebody edits it meanwhile.
        patch.setattr(cache, "source_stamp", lambda: "the tests")
        yield home


def computed(folder: Path) -> Path:
    """The folder with everything its pages show computed and kept beside it."""
    bench = made_bench(folder, (), Opening())
    kept = bench.workshop.kept
    key = bench.workshop.work.digest()
    answers = bench_work.Answers(str(folder), (), kept.folder)
    store = PictureStore(kept.folder.parent)
    problems: list[ReadingError] = []

    def say(_: str, found: Sequence[ReadingError]) -> None:
        problems.extend(found)

    make_facts(answers, KeptAnswers(kept.folder), key, cache.source_stamp(), store, say)
    make_pictures(answers, KeptAnswers(kept.folder), key, cache.source_stamp(), store, say)
    assert not problems
    bench.desk.close()
    return folder


def without_answers(source: Path, folder: Path) -> Path:
    shutil.copytree(source, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "log*"))
    return folder


@pytest.fixture(scope="session")
def reed_computed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return computed(without_answers(ROOT / "demo" / "reed-joints", tmp_path_factory.mktemp("made") / "reed"))


@pytest.fixture
def reed_folder(reed_computed: Path, tmp_path: Path) -> Path:
    """Reed, a machine with steps, everything of it computed, with no log."""
    return Path(shutil.copytree(reed_computed, tmp_path / "reed"))


@pytest.fixture
def reed(reed_folder: Path) -> Iterator[tuple[Bench, Browser]]:
    """The bench of Reed and a browser on its own computer."""
    bench, browser = opened(reed_folder)
    yield bench, browser
    if bench.truing is not None:
        bench.truing.close()
    bench.desk.close()


@pytest.fixture(scope="session")
def reader(reed_computed: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser that only reads, on a bench that all such tests share."""
    folder = Path(shutil.copytree(reed_computed, tmp_path_factory.mktemp("read") / "reed"))
    bench, browser = opened(folder)
    yield browser
    if bench.truing is not None:
        bench.truing.close()
    bench.desk.close()


@pytest.fixture
def computer(reed: tuple[Bench, Browser]) -> Browser:
    """A browser on the bench's own computer."""
    return reed[1]

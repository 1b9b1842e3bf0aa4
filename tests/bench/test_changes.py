"""What is told to pages that listen."""

from __future__ import annotations

import asyncio

import pytest

from trysquare.bench import changes as rules
from trysquare.bench.changes import LOG, MACHINE, PICTURES, Changes, TooManyListeners, told


def heard(after: int, seq: int, happens: list[tuple[str, int]]) -> list[str]:
    """What a page hears of what happens while it listens, up to the end."""

    async def run() -> list[str]:
        changes = Changes()
        lines: list[str] = []

        async def listen() -> None:
            lines.extend([line async for line in changes.listen(after, seq)])

        listening = asyncio.create_task(listen())
        await asyncio.sleep(0)
        for what, number in happens:
            changes.tell(what, number)
        for _ in range(5):
            await asyncio.sleep(0)
        changes.close()
        await listening
        assert changes.listeners == 0
        return lines

    return asyncio.run(run())


def test_a_page_that_comes_late_hears_at_once_that_there_is_more() -> None:
    assert told(LOG, 7) in heard(3, 7, [])
    assert told(LOG, 7) not in heard(7, 7, [])


def test_every_sort_of_change_is_heard_and_the_last_word_of_each_is_enough() -> None:
    lines = heard(0, 0, [(LOG, 1), (MACHINE, 1), (LOG, 2), (PICTURES, 2), (LOG, 3)])
    assert lines[1:] == [told(MACHINE, 1), told(PICTURES, 2), told(LOG, 3)]


def test_only_entries_of_the_log_have_a_number_to_go_on_from() -> None:
    assert told(LOG, 5).startswith("id: 5\nevent: log\n")
    assert "id:" not in told(MACHINE, 5)
    assert told(PICTURES, 5).endswith("\n\n")


def test_a_page_that_hears_nothing_for_a_while_gets_a_breath(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "BREATH_SECONDS", 0.01)

    async def run() -> str:
        listening = Changes().listen(0, 0)
        await anext(listening)
        line = await anext(listening)
        await listening.aclose()  # type: ignore[attr-defined]
        return line

    assert asyncio.run(run()).startswith(":")


def test_no_more_pages_listen_than_the_bench_can_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "MOST_LISTENERS", 1)

    async def run() -> None:
        changes = Changes()
        first = changes.listen(0, 0)
        await anext(first)
        with pytest.raises(TooManyListeners):
            await anext(changes.listen(0, 0))
        await first.aclose()  # type: ignore[attr-defined]
        await anext(changes.listen(0, 0))

    asyncio.run(run())

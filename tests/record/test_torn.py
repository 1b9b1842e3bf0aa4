"""A log whose file ends too early: whatever its pages then give, reading it comes to an end."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest

from log_entries import one_of_each
from trysquare.ground.errors import ReadingError
from trysquare.record.log import open_log

MORE_THAN_THERE_ARE = 1000
LEFT_OUT = (3656, *range(200, 20_000, 1733))  # with the first, a page gives entry 0 for ever


@pytest.mark.slow
@pytest.mark.parametrize("left_out", LEFT_OUT)
def test_the_entries_of_a_log_cut_short_come_to_an_end(tmp_path: Path, left_out: int) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        log.append(one_of_each())
    file = tmp_path / "log.sqlite"
    file.write_bytes(file.read_bytes()[:-left_out])
    read = 0
    try:
        with open_log(tmp_path, machine="Small frame", read_only=True) as log:
            read = len(list(islice(log.verify(), MORE_THAN_THERE_ARE)))
            for _ in islice(log.events(), MORE_THAN_THERE_ARE):
                read += 1
    except ReadingError:
        return
    assert read < MORE_THAN_THERE_ARE


@pytest.mark.slow
@pytest.mark.parametrize("left_out", LEFT_OUT)
def test_what_is_left_of_a_log_cut_short_can_be_exported(tmp_path: Path, left_out: int) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        log.append(one_of_each())
    file = tmp_path / "log.sqlite"
    file.write_bytes(file.read_bytes()[:-left_out])
    try:
        with open_log(tmp_path, machine="Small frame", read_only=True) as log:
            log.export(tmp_path / "left.jsonl")
    except ReadingError:
        return
    assert len((tmp_path / "left.jsonl").read_text("utf-8").splitlines()) <= len(one_of_each()) + 1

"""What was read and is out stays open until a reading says in, and says its value, limit and instrument."""

from __future__ import annotations

import re

import pytest

from bench.asking import Browser, event
from log_entries import logged, said
from trysquare.bench.bench import Bench
from trysquare.bench.must import unsettled
from trysquare.bench.verdicts import BAD, CANNOT_TELL, GOOD, readings_at, standing
from trysquare.bench.views_step import ToReadView
from trysquare.record.events import Event
from trysquare.record.replay import replay

OUT = "Out: 0.3 mm, limit 0.1 mm, read with caliper, ± 0.04 mm."


def parallel(bench: Bench) -> ToReadView:
    page = bench.workshop.shown.page("rail-true")
    assert page is not None
    return next(one for one in page.to_read if one.of == "rail-parallel")


def read(number: int, value: float, unit: str = "mm") -> Event:
    return said(
        "reading", "rail-true", id=f"r{number}", minutes=number, of="rail-parallel", value=value, unit=unit,
        instrument="caliper", uncertainty=0.03,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("values", "verdict", "by"),
    [((0.3,), BAD, "r0"), ((0.3, 0.1), BAD, "r0"),
     ((0.3, 0.1, 0.11), BAD, "r0"),
     ((0.3, 0.1, 0.2), BAD, "r2"), ((0.3, 0.1, 0.05), GOOD, "r2"), ((0.3, 0.05, 0.1), CANNOT_TELL, "r2"),
     ((0.1,), CANNOT_TELL, "r0"),
     ((), "", "")],
)  # fmt: skip
def test_what_was_out_stays_out_until_a_reading_says_in(
    reed: tuple[Bench, Browser], values: tuple[float, ...], verdict: str, by: str
) -> None:
    # 0.1 mm at most, read to ± 0.03 mm: 0.05 says in, 0.1 and 0.11 cannot tell, 0.2 and 0.3 say out.
    state = replay(logged([read(number, value) for number, value in enumerate(values)]))
    what = parallel(reed[0])
    judged, one = standing(readings_at(state, "rail-true", what.of), what)
    assert judged == verdict
    assert (one.said.id if one is not None else "") == by
    page = reed[0].workshop.shown.page("rail-true")
    assert page is not None
    assert (what.must in {each.item for each in unsettled(page, state)}) is (verdict != GOOD)


def test_an_out_that_is_set_aside_or_taken_back_stands_no_more(reed: tuple[Bench, Browser]) -> None:
    what = parallel(reed[0])
    aside = said("reading-set-aside", "rail-true", of="r0", why="a chip", minutes=5)
    undone = said("undo", "rail-true", of="r0", minutes=5)
    for taken in (aside, undone):
        state = replay(logged([read(0, 0.3), read(1, 0.1), taken]))
        assert standing(readings_at(state, "rail-true", what.of), what)[0] == CANNOT_TELL
    other = replay(logged([read(0, 0.3), read(1, 1.0, "N")]))
    assert standing(readings_at(other, "rail-true", what.of), what)[0] == BAD


def test_an_out_keeps_its_place_among_the_open_points_with_value_limit_and_instrument(
    reed: tuple[Bench, Browser],
) -> None:
    bench, computer = reed
    out = {"of": "rail-parallel", "value": 0.3, "unit": "mm", "instrument": "caliper", "uncertainty": 0.03}
    item = next(
        one.must for one in bench.workshop.shown.page("rail-true").to_read if one.of == "rail-parallel"
    )
    computer.say(event("reading", "rail-true", **out))
    before = computer.say(event("reading", "rail-true", **{**out, "value": 0.1})).json()["state"][
        "open_points"
    ]
    text = computer.get("/open").text
    assert OUT in text
    assert "Read again since: Cannot tell: 0.1 mm" in text
    step = computer.get("/step/rail-true").text
    assert f'data-stood="{OUT}"' in step
    assert f"Still open: {OUT}" in step
    computer.say(event("left-open", "rail-true", item=item, reason="later", sort="alignment"))
    for path in ("/step/rail-true", "/open", "/"):
        left = re.findall(r'<strong class="entry-read">(.*?)</strong>', computer.get(path).text)
        assert OUT in left, path
    answer = computer.say(event("reading", "rail-true", **{**out, "value": 0.05}))
    assert answer.json()["state"]["open_points"] == before  # the point that was left open took its place
    assert OUT not in computer.get("/step/rail-true").text


def test_the_refusal_to_leave_a_step_says_what_was_read(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    out = {"of": "rail-parallel", "value": 0.3, "unit": "mm", "instrument": "caliper", "uncertainty": 0.03}
    computer.say(event("reading", "rail-true", **out))
    answer = computer.say(event("done", "rail-true"))
    assert answer.status_code == 409
    assert OUT.rstrip(".") in answer.json()["says"]
    assert OUT in {one["read"] for one in answer.json()["open"]}


def test_a_step_with_a_caution_names_the_points_of_safety_that_earlier_ones_were_left_with(
    reed: tuple[Bench, Browser],
) -> None:
    bench, computer = reed
    page = bench.workshop.shown.page("run")
    assert page is not None
    assert page.cautions
    computer.say(event("left-open", "feet", item="prop-is-out", sort="safety", reason="no prop at hand"))
    computer.say(event("left-open", "feet", item="an-aim", sort="alignment", reason="later"))
    text = computer.get("/step/run").text
    assert "no prop at hand" in text
    assert text.count("Left open before:") == 1
    assert "Left open before:" not in computer.get("/step/rail-true").text

"""A step that was left out says so, on its page and in the order, with why, by whom, and the way back."""

from __future__ import annotations

import re

from bench.asking import Browser, event
from log_entries import logged, said
from trysquare.bench.bench import Bench
from trysquare.bench.now import Now
from trysquare.record.replay import replay

SKIP = {"what": "skipped", "why": "no <feet> on this one", "who": "Ada"}


def test_a_skipped_step_says_why_and_by_whom_and_has_its_way_back(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    skip = event("deviation", "feet", **SKIP)
    computer.say(skip)
    step = computer.get("/step/feet").text
    assert "Skipped, because: no &lt;feet&gt; on this one" in step
    notice = step[step.index("Skipped, because") :]
    assert "Ada" in notice[: notice.index("Do it now")]
    assert skip["id"] in notice[: notice.index("Do it now")]
    assert 'data-done="already"' in step
    order = computer.get("/").text
    assert "because: no &lt;feet&gt; on this one" in order
    row = re.search(r'<a class="order-step([^"]*)" href="/step/feet".*?</a>', order, re.DOTALL)
    assert row is not None
    assert "skipped" in row[1]
    assert "skipped: no &lt;feet&gt; on this one" in row[0]
    computer.say(event("undo", "feet", of=skip["id"]))
    assert "Skipped, because" not in computer.get("/step/feet").text
    assert "because: no" not in computer.get("/").text


def test_the_build_goes_on_after_a_skipped_step_and_comes_back_to_it_last(
    reed: tuple[Bench, Browser],
) -> None:
    bench, _ = reed
    shown = bench.workshop.shown
    names = list(shown.head)
    events = [said("deviation", names[0], minutes=1, **SKIP)]
    now = Now(shown=shown, state=replay(logged(events)))
    assert (now.begin, list(now.skipped)) == (names[1], [names[0]])
    events += [said("done", name, minutes=2) for name in names[1:]]
    assert Now(shown=shown, state=replay(logged(events))).begin == names[0]


def test_a_step_that_is_done_or_opened_again_is_skipped_no_more(reed: tuple[Bench, Browser]) -> None:
    shown = reed[0].workshop.shown
    skip, done = said("deviation", "feet", minutes=1, **SKIP), said("done", "feet", minutes=2)
    again = said("reopened", "feet", minutes=3)
    part = said("deviation", "feet", minutes=1, what="skipped", part="foot")
    for events, skipped in (
        ([skip], True),
        ([skip, done], False),
        ([skip, done, again], False),
        ([part], False),
    ):
        assert ("feet" in Now(shown=shown, state=replay(logged(events))).skipped) is skipped

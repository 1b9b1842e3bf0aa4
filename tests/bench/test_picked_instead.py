"""A step that goes without its own pieces names those that serve, with their box."""

from __future__ import annotations

import re

import pytest

from bench.asking import Browser, event
from trysquare.bench.bench import Bench
from trysquare.bench.now import Now
from trysquare.record.replay_stock import Instead, StockNow


@pytest.mark.slow
def test_the_step_names_what_to_pick_instead_and_its_box_until_it_is_done(
    reed: tuple[Bench, Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    bench, computer = reed
    order, steps = bench.workshop.shown.order, bench.workshop.shown.steps
    assert order is not None
    assert steps is not None
    number = next(at for at, one in enumerate(order.steps) if one.id == "feet")
    picks = steps.steps["feet"].picks
    wanted, other = bench.workshop.shown.sort_of(picks[0].part), bench.workshop.shown.sort_of(picks[-1].part)
    served = Instead(step=number, sort=wanted, by=other, box="A <b>frame</b>", pieces=1)
    monkeypatch.setattr(Now, "stock", StockNow(instead=(served,)))
    text = computer.get("/step/feet").text
    said = re.findall(r'<small class="instead">(.*?)</small>', text, re.DOTALL)
    assert len(said) == 1
    assert picks[-1].name in said[0]
    assert "in A &lt;b&gt;frame&lt;/b&gt;" in said[0]
    assert f'data-differ-by="{other}" data-differ-count="1"' in text
    assert "instead: 1 ×" not in computer.get("/step/rail").text
    computer.say(event("done", step="feet"))
    assert '<small class="instead">' not in computer.get("/step/feet").text

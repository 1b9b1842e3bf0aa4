"""The log against the boxes and the need: one answer of what lies there and how far it reaches."""

from __future__ import annotations

import pytest

from log_entries import logged, said
from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.record.events import Event
from trysquare.record.replay import replay
from trysquare.record.replay_stock import Holding, Instead, StockNow, stock_now
from trysquare.stock.asking import asked_of, part_of
from trysquare.stock.holdings import Asked, Slice
from trysquare.stock.lots import StockLot
from trysquare.stock.need import Need, need


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("machine") / "frame"))


@pytest.fixture(scope="module")
def whole(machine: Machine) -> Need:
    return need(machine)


# Two steps: the first takes 3 short screws and 1 long, the second 2 short; a long one may serve for a short.
ASKED = Asked(
    steps=("first", "second"),
    slices=(
        Slice(part="short", step=0, pieces=3, serve=((0, 0), (1, 0), (2, 4))),
        Slice(part="long", step=0, pieces=1, serve=((2, 0),)),
        Slice(part="short", step=1, pieces=2, serve=((0, 0), (1, 0), (2, 4))),
    ),
    lots=(
        StockLot(box="A", part="short", pieces=3),
        StockLot(box="B", part="short", pieces=2),
        StockLot(box="B", part="long", pieces=2),
    ),
)


def now(*events: Event, asked: Asked = ASKED, listed: bool = True) -> StockNow:
    return stock_now(asked, replay(logged(events)), lambda name: name, listed=listed)


def of(sort: str, *events: Event) -> Holding:
    return now(*events).sorts[sort]


def test_a_ref_means_the_part_it_is_of(machine: Machine, whole: Need) -> None:
    assert part_of(machine, whole, "frame/left") == "post"
    assert part_of(machine, whole, "traverse") == "beam"
    assert part_of(machine, whole, "ISO 4762 M3x6") == "ISO 4762 M3x6"
    assert part_of(machine, whole, "nobody's") == "nobody's"
    piece = next(name for name, one in whole.picking.pieces.items() if one.part == "ISO 4762 M3x6")
    assert part_of(machine, whole, piece) == "ISO 4762 M3x6"


def test_without_a_word_in_the_log_the_lists_stand() -> None:
    found = now()
    assert (found.last, found.lacks) == (1, ())
    assert (found.sorts["short"].here, found.sorts["short"].spare, found.sorts["short"].counted) == (
        5,
        0,
        False,
    )
    assert found.sorts["long"].spare == 1


def test_a_count_of_a_box_stands_for_its_list_and_one_without_a_box_for_all() -> None:
    assert of("short", said("counted", sort="short", count=1, box="A")).here == 3
    assert of("short", said("counted", sort="short", count=4)).here == 4
    assert of("short", said("counted", sort="short", count=9)).spare == 4
    assert of("short", said("counted", sort="short", count=3, box="C")).here == 8


def test_what_is_short_is_served_by_what_may_serve_and_said_to_be() -> None:
    found = now(said("counted", sort="short", count=4))
    short, long = found.sorts["short"], found.sorts["long"]
    assert (short.short, short.others, long.lent, long.spare) == (0, {"long": 1}, {"short": 1}, 0)
    assert found.lacks == ()


def test_what_nothing_serves_is_short_and_the_step_that_goes_without_is_named() -> None:
    found = now(said("counted", sort="short", count=2))
    assert found.sorts["short"].short == 2
    assert [(lack.part, lack.step, lack.pieces) for lack in found.lacks] == [("short", 1, 2)]
    assert found.last == 0


def test_pieces_of_steps_done_before_the_count_are_used_and_not_asked_for_again() -> None:
    done, counted = said("done", "first"), said("counted", sort="short", count=2, minutes=5)
    after = of("short", done, counted)
    assert (after.used, after.needed, after.short, after.spare) == (3, 2, 0, 0)
    before = of("short", counted, said("done", "first", minutes=9))
    assert (before.used, before.needed, before.short) == (3, 5, 2)
    again = of("short", done, said("undo", of=done.id, minutes=1), counted)
    assert (again.used, again.needed) == (0, 5)


def test_the_step_that_takes_another_sort_is_known_with_its_box() -> None:
    found = now(said("counted", sort="short", count=4)).instead
    assert found == (Instead(step=1, sort="short", by="long", box="B", pieces=1),)
    assert now().instead == ()
    assert now(said("counted", sort="short", count=4), said("counted", sort="long", count=1)).instead == ()


def test_what_is_lost_after_the_count_is_not_there_and_what_was_lost_before_is_counted() -> None:
    damaged = said("deviation", "first", what="damaged", part="short", count=2)
    counted = said("counted", sort="short", count=5, minutes=1)
    assert of("short", damaged).here == 3
    assert of("short", damaged, counted).here == 5
    later = said("deviation", "first", what="missing", part="short", count=1, minutes=2)
    assert (of("short", counted, later).here, of("short", counted, later).lost) == (4, 1)
    assert of("short", said("deviation", "first", what="missing", part="short", count=9)).here == 0


def test_deviations_change_the_need() -> None:
    instead = said("deviation", "second", what="substitute", part="short", by="long", count=1)
    assert (of("short", instead).needed, of("long", instead).needed) == (4, 2)
    assert of("short", said("deviation", "second", what="skipped", part="short", count=1)).spare == 1
    assert of("short", said("deviation", "second", what="extra", part="short")).needed == 6
    taken_back = said("undo", of=instead.id, minutes=1)
    assert of("short", instead, taken_back).needed == 5


def test_without_lists_only_what_was_counted_is_known(machine: Machine, whole: Need) -> None:
    asked = asked_of(machine, whole, ())
    assert now(asked=asked, listed=False) == StockNow(last=len(asked.steps) - 1)
    found = now(said("counted", sort="post", count=1), asked=asked, listed=False)
    assert set(found.sorts) == {"post"}
    assert found.sorts["post"].short == 1


def test_a_number_of_pieces_is_never_lost_or_made() -> None:
    """Conservation: what lies there is what is taken and what is spare; what is needed is served or short."""
    for count in range(9):
        for lost in range(3):
            found = now(
                said("counted", sort="short", count=count),
                said("deviation", "first", what="damaged", part="short", count=lost, minutes=1),
            )
            here = sum(one.here for one in found.sorts.values())
            spare = sum(one.spare for one in found.sorts.values())
            needed = sum(one.needed for one in found.sorts.values())
            short = sum(one.short for one in found.sorts.values())
            assert here - spare == needed - short
            assert short == sum(lack.pieces for lack in found.lacks)

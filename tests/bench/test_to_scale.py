"""Pictures of parts at the bench: to scale as far as a screen can show it, and never a blot."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from trysquare.bench.facts import DrawnFacts, PartDrawn
from trysquare.bench.to_scale import LEAST_PX, to_scale
from trysquare.bench.views import Drawn, ToScale
from trysquare.bench.views_step import PickView


def _pictures(*fasteners: str, **sizes_mm: tuple[float, float]) -> dict[str, ToScale]:
    drawn = {
        name: PartDrawn(drawn=Drawn(href=name, width=1, height=1, says=name), width_mm=wide, height_mm=high)
        for name, (wide, high) in sizes_mm.items()
    }
    picks = [
        PickView(part=name, refs=(), laid=0, pieces=1, count="1 ×", letter="", name=name, size="", where="",
                 boxes="", href="", is_fastener=name in fasteners)
        for name in sizes_mm
    ]  # fmt: skip
    shown = to_scale(picks, DrawnFacts(parts=drawn, solids={}))
    return {one.part: one.picture for one in shown if one.picture is not None}


def test_a_small_part_beside_a_high_one_is_shown_larger_and_said_to_be_not_to_scale() -> None:
    pictures = _pictures(plate=(60.0, 90.0), pulley=(16.0, 14.0))
    assert pictures["plate"].scale == 1
    assert pictures["pulley"].scale == 0
    assert max(pictures["pulley"].width_px, pictures["pulley"].height_px) == LEAST_PX
    assert pictures["pulley"].mark_px == 0


def test_parts_of_like_size_keep_one_scale() -> None:
    pictures = _pictures(one=(60.0, 40.0), other=(30.0, 40.0))
    assert pictures["one"].scale == pictures["other"].scale == 1
    assert pictures["one"].height_px == pictures["other"].height_px


@given(st.lists(st.tuples(st.floats(0.5, 900), st.floats(0.5, 900)), min_size=1, max_size=8))
def test_no_picture_is_smaller_than_can_be_known(sizes: list[tuple[float, float]]) -> None:
    pictures = _pictures(**{f"p{number}": size for number, size in enumerate(sizes)})
    assert all(max(one.width_px, one.height_px) >= LEAST_PX - 1 for one in pictures.values())


def test_screws_nuts_and_washers_are_to_one_scale_whatever_lies_beside_them() -> None:
    pictures = _pictures(
        "long", "short", "nut", motor=(60.0, 80.0), long=(9.0, 50.0), short=(6.0, 11.0), nut=(9.0, 9.0)
    )
    assert pictures["long"].scale == pictures["short"].scale == pictures["nut"].scale != 0
    assert pictures["long"].height_px > 4 * pictures["short"].height_px
    assert pictures["motor"].scale != pictures["long"].scale

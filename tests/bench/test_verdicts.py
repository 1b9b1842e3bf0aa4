"""In or out, what must not be left, pictures to scale: the small rules behind the pages."""

from __future__ import annotations

import math
import struct
import xml.etree.ElementTree as ET
from json import loads
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.asking import Browser
from log_entries import logged, said
from trysquare.bench import links
from trysquare.bench.bench import Bench, clock
from trysquare.bench.facts import DrawnFacts, PartDrawn
from trysquare.bench.making_order import instrument, to_read
from trysquare.bench.must import open_items, unsettled
from trysquare.bench.sketch import sketch_svg
from trysquare.bench.to_scale import HIGHEST_PX, RATIO, WIDEST_PX, to_scale
from trysquare.bench.verdicts import BAD, CANNOT_TELL, GOOD, half_width_of, judge, verdict_of
from trysquare.bench.views import Drawn
from trysquare.bench.views_step import PickView
from trysquare.cli.main import main
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import Instrument
from trysquare.publish.drawing import EDGE, SOLID, Circle, Drawing, Word, box
from trysquare.record.replay import replay
from trysquare.truing.log_readings import SaidReading, said_readings
from trysquare.truing.report import report

SIZES = st.floats(0, 1000)


@pytest.mark.parametrize(
    ("value", "limit", "half", "expected"),
    [(0.2, 0.5, 0.3, GOOD), (0.21, 0.5, 0.3, CANNOT_TELL), (0.8, 0.5, 0.3, CANNOT_TELL),
     (0.81, 0.5, 0.3, BAD),
     (-0.81, 0.5, 0.3, BAD), (0.0, 0.5, 0.6, CANNOT_TELL), (0.5, 0.5, 0.0, GOOD), (0.51, 0.5, 0.0, BAD)],
)  # fmt: skip
def test_good_and_bad_need_the_whole_uncertainty_behind_them(
    value: float, limit: float, half: float, expected: str
) -> None:
    # Source: JCGM 106:2012, 8.3.2: acceptance and rejection zones by a guard band of the whole uncertainty
    assert judge(value, limit, half) == expected


@given(value=SIZES, limit=SIZES, half=SIZES)
def test_a_finer_instrument_never_turns_good_into_bad(value: float, limit: float, half: float) -> None:
    coarse, fine = judge(value, limit, half), judge(value, limit, half / 2)
    assert coarse in (CANNOT_TELL, fine)
    assert judge(-value, limit, half) == coarse


def test_a_reading_in_other_lengths_is_judged_in_the_limits_unit(reed: tuple[Bench, Browser]) -> None:
    page = reed[0].workshop.shown.page("rail-true")
    assert page is not None
    parallel = next(one for one in page.to_read if one.of == "rail-parallel")
    assert parallel.limit == 0.1
    for value, unit, expected in (
        (20.0, "µm", GOOD),
        (0.2, "mm", BAD),
        (0.01, "cm", CANNOT_TELL),
        (1.0, "N", ""),
    ):
        read = said("reading", "rail-true", of="rail-parallel", value=value, unit=unit, instrument="caliper")
        assert verdict_of(replay(logged([read])), "rail-true", parallel) == expected, unit


def test_a_frame_s_squareness_has_what_each_instrument_makes_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Source: the uses of the instruments by common practice, no source: a square's error over its blade, two
    diagonals by tape over the sides; the same limits stand behind the field and behind truing."""
    monkeypatch.chdir(tmp_path)
    assert main(["new", "frame", "--no-questions"]) == 0
    machine = load_machine(tmp_path / "frame")
    square = next(one for one in machine.characteristics if one.id == "base-square")
    told = {
        one.id: one for one in to_read(machine, square, {step.id: 1 for step in machine.steps}).instruments
    }
    assert set(told) == {"square", "tape"}  # a feeler leaf tells no angle
    owned = next(one for one in machine.instruments if one.id == "square")
    assert told["square"].limits == pytest.approx(owned.trusted_half_width_mm / 75 * 100, abs=1e-4)
    for name, value in (("square", 0.099), ("tape", 0.05)):
        assert judge(value, 0.1, told[name].half_width or 0.0) == CANNOT_TELL
    problems: list[ReadingError] = []
    read = SaidReading(id="a", number=1, of="base-square", value=0.09, unit="mm/100", instrument="square")
    (found,) = said_readings(machine, (read,), {}, problems)
    assert problems == []
    assert found.half_width_mm == pytest.approx(told["square"].limits, abs=1e-4)
    result = next(
        one for one in report(machine, (found,)).characteristics if one.characteristic.id == "base-square"
    )
    assert result.worst is not None
    assert result.worst.judged.expanded == pytest.approx(told["square"].half_width, abs=1e-3)
    entry = said("reading", of="base-square", value=0.09, unit="mm/100", instrument="square",
                 uncertainty=told["square"].limits)  # fmt: skip
    ((kept,),) = replay(logged([entry])).readings.values()
    view = to_read(machine, square, {step.id: 1 for step in machine.steps})
    assert half_width_of(kept, view) == pytest.approx(result.worst.judged.expanded, abs=1e-3)


def test_what_was_settled_is_open_again_when_that_is_taken_back(reed: tuple[Bench, Browser]) -> None:
    page = reed[0].workshop.shown.page("run")
    assert page is not None
    item = page.must[0].item
    settled = said("settled", "run", id="one", item=item)
    undone = said("undo", id="two", of="one", minutes=1)
    left = said("left-open", "run", id="three", item=item, reason="tired", minutes=2)
    assert item in {one.item for one in open_items(page, replay(()))}
    assert item not in {one.item for one in open_items(page, replay(logged([settled])))}
    assert item in {one.item for one in open_items(page, replay(logged([settled, undone])))}
    state = replay(logged([settled, undone, left]))
    assert item not in {one.item for one in open_items(page, state)}
    assert item in {one.item for one in unsettled(page, state)}


@given(sizes=st.lists(st.tuples(st.floats(0.5, 900), st.floats(0.5, 900)), min_size=1, max_size=8))
def test_pictures_of_one_group_are_to_one_scale_and_fit(sizes: list[tuple[float, float]]) -> None:
    parts = {f"p{number}": size for number, size in enumerate(sizes)}
    drawn = DrawnFacts(
        parts={
            name: PartDrawn(
                drawn=Drawn(href=name, width=1, height=1, says=name), width_mm=size[0], height_mm=size[1]
            )
            for name, size in parts.items()
        },
        solids={},
    )
    picks = [PickView(part=name, refs=(), laid=0, pieces=1, count="1 ×", letter="", name=name, size="",
                      where="",
                      boxes="", href="") for name in parts]  # fmt: skip
    by_scale: dict[int, list[str]] = {}
    for pick in to_scale(picks, drawn):
        assert pick.picture is not None
        assert pick.picture.width_px <= WIDEST_PX + 1
        assert pick.picture.height_px <= HIGHEST_PX + 1
        if not pick.picture.scale:  # too small for any of them, and said to be not to scale
            continue
        px = pick.picture.mark_px / pick.picture.mark_mm
        assert pick.picture.width_px == pytest.approx(
            parts[pick.part][0] * px, abs=1 + parts[pick.part][0] * 0.1
        )
        by_scale.setdefault(pick.picture.scale, []).append(pick.part)
    for names in by_scale.values():
        longest = [max(parts[name]) for name in names]
        assert max(longest) <= RATIO * min(longest) * (1 + 1e-9)


def test_a_sketch_is_well_formed_and_has_no_styles() -> None:
    drawing = Drawing(
        width_mm=20,
        height_mm=5,
        shapes=(
            box(EDGE, 0, 0, 20, 5),
            Circle(pen=SOLID, centre=(3, 2), radius=1),
            Word(text="<a&b>", at=(9, 2), size_pt=7),
        ),
        says='with "quotes" & <signs>',
    )  # fmt: skip
    text = sketch_svg(drawing)
    root = ET.fromstring(text)
    assert [child.tag.rpartition("}")[2] for child in root] == ["title", "path", "circle", "text"]
    assert root[3].text == "<a&b>"
    assert "style" not in text
    assert "script" not in text


def test_meshes_and_pieces_of_the_3d_view_are_the_machines_own(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    facts = loads(computer.get(computer.get("/step/rail/3d.json").headers["location"]).content)
    content = computer.get(facts["meshes"]).content
    assert content[:4] == b"TSQ1"
    (length,) = struct.unpack("<I", content[4:8])
    header, data = loads(content[8 : 8 + length]), content[8 + length :]
    machine = load_machine(bench.folder)
    pieces = header["pieces"]
    screws = [
        part.id for part in machine.placed if part.joint == "track/rail-screws" and "/screw." in part.id
    ]
    assert [pieces[number]["id"] for number in facts["new"]] == ["track/rail", *screws]
    assert "track/base" in {pieces[number]["id"] for number in facts["old"]}
    for number in (*facts["new"], *facts["old"]):
        piece = pieces[number]
        shape = header["shapes"][piece["shape"]]
        count = shape["points"] * 3
        points = np.frombuffer(data, "<u2", count, shape["positions"]).reshape(-1, 3) / 65535 * shape["size"]
        corners = np.frombuffer(
            data, "<u4" if shape["wide"] else "<u2", shape["triangles"] * 3, shape["corners"]
        )
        assert corners.max() < shape["points"]
        matrix = np.array(piece["matrix"]).reshape(3, 4)
        placed = (points + shape["low"]) @ matrix[:, :3].T + matrix[:, 3]
        assert (placed >= np.array(facts["low"]) - 0.05).all()
        assert (placed <= np.array(facts["high"]) + 0.05).all()
        where = machine.part[piece["id"]].placement
        assert np.allclose(matrix[:, 3], where.origin_mm, atol=1e-4)
    assert len(facts["keys"]) == len(machine.joint["track/rail-screws"].fastenings)
    assert all(math.isclose(math.hypot(*key["axis"]), 1, abs_tol=1e-3) for key in facts["keys"])


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(0, ""), (0.2, "1 s"), (49, "49 s"), (50, "1 min"), (725, "12 min"), (5999, "1 h 40"), (7500, "2 h 05")],
)
def test_a_time_is_told_as_people_say_it(seconds: float, told: str) -> None:
    assert links.duration(seconds) == told


def test_a_time_that_is_none_is_not_shown() -> None:
    assert clock("yesterday") == ""
    assert clock("2031-05-04T09:08:07.123Z").startswith(("3 May", "4 May", "5 May"))


@pytest.mark.parametrize(
    ("sort", "reach_mm", "told"),
    [("scale", 300.0, "steel, ± 0.5 mm"), ("scale", 0.0, "steel, ± 0.5 g"),
     ("multimeter", 0.0, "steel, ± 0.5 Ω"), ("spring-scale", 0.0, "steel, ± 0.5 N"),
     ("caliper", 150.0, "steel, ± 0.5 mm")],
)  # fmt: skip
def test_an_instruments_limits_are_in_its_own_unit_and_a_scale_that_reaches_is_a_rule(
    sort: str, reach_mm: float, told: str
) -> None:
    owned = Instrument(id="steel", sort=sort, half_width_mm=0.5, reach_mm=reach_mm, source="")
    assert instrument(owned, None).told == told

"""Pictures of steps: true ways in, everything seen, stable, small, and never broken by a title."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from trysquare.machine.load import load_machine
from trysquare.publish.book_pictures import pictures_of
from trysquare.publish.known import Known, known_of
from trysquare.publish.picture_insets import LEAST_SHARE
from trysquare.publish.picture_png import png_of
from trysquare.publish.picture_store import PictureStore
from trysquare.publish.step_picture import Picture, step_picture
from trysquare.publish.step_scene import StepScenes
from trysquare.publish.step_shown import StepScene
from trysquare.solid.drawing import ISOMETRIC

pytestmark = pytest.mark.slow

DEMO = Path(__file__).resolve().parents[2] / "demo"
MOST_BYTES = 150_000  # of one picture
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


@pytest.fixture(scope="module")
def scenes(reed: Known) -> dict[str, StepScene]:
    return {step.id: scene for step, scene in StepScenes(reed)}


@pytest.fixture(scope="module")
def pictures(reed: Known) -> dict[str, Picture]:
    return pictures_of(reed, workers=1)


def first_step(known: Known, word: str) -> str:
    return next(step.id for step in known.machine.steps if word in step.title)


@pytest.mark.slow
def test_every_picture_is_xml_with_title_and_description(pictures: dict[str, Picture]) -> None:
    assert len(pictures) > 5
    for picture in pictures.values():
        root = ET.fromstring(picture.svg)
        assert root.tag == f"{SVG}svg"
        assert root.findtext(f"{SVG}title")
        assert root.findtext(f"{SVG}desc") == picture.says
        assert len(picture.svg.encode()) <= MOST_BYTES


@pytest.mark.slow
def test_pictures_are_the_same_each_time(reed: Known, pictures: dict[str, Picture]) -> None:
    again = pictures_of(reed, workers=1)
    assert {name: one.svg for name, one in again.items()} == {name: one.svg for name, one in pictures.items()}


@pytest.mark.slow
def test_pictures_are_the_same_from_two_processes_as_from_one(
    reed: Known, pictures: dict[str, Picture]
) -> None:
    side_by_side = pictures_of(reed, workers=2)
    assert {name: one.svg for name, one in side_by_side.items()} == {
        name: one.svg for name, one in pictures.items()
    }


@pytest.mark.slow
def test_kept_pictures_are_taken_and_damaged_ones_drawn_anew(reed: Known, tmp_path: Path) -> None:
    store = PictureStore(tmp_path / "kept")
    first = pictures_of(reed, store, "a", workers=1)
    kept = sorted((tmp_path / "kept").glob("picture-*.json"))
    assert len(kept) == len(first) + 1  # and that the first run's picture would say nothing
    kept[0].write_bytes(b"no picture")
    again = pictures_of(reed, store, "a", workers=1)
    assert {name: one.svg for name, one in again.items()} == {name: one.svg for name, one in first.items()}
    assert kept[0].read_bytes() != b"no picture"


def test_a_step_that_only_points_at_what_lies_hidden_has_no_picture(
    reed: Known, pictures: dict[str, Picture]
) -> None:
    run = first_step(reed, "First run")  # the tape on the block, under the carriage's plate
    assert run not in pictures
    assert {step.id for step in reed.machine.steps} - set(pictures) == {run}


def test_a_link_in_place_of_the_store_is_not_followed(reed: Known, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "kept").symlink_to(tmp_path / "elsewhere")
    PictureStore(tmp_path / "kept").keep("0" * 40, {"svg": ""})
    assert not list((tmp_path / "elsewhere").iterdir())


def test_screws_are_drawn_away_along_their_own_axis(reed: Known) -> None:
    checked = 0
    for _, scene in StepScenes(reed):
        if scene.up != "+z":
            continue
        for one in reed.machine.fastening.values():
            away = scene.away.get(one.screw)
            if away is None:
                continue
            under = scene.away.get(one.grips[0].part)
            offset = away.offset_mm - (under.offset_mm if under is not None else 0.0)
            assert offset @ np.asarray(one.axis) == pytest.approx(np.linalg.norm(offset))
            checked += 1
    assert checked > 10


def test_slide_in_nuts_wait_before_an_end_of_their_slot_in_the_order_in_which_they_lie(
    reed: Known, scenes: dict[str, StepScene]
) -> None:
    scene = scenes[first_step(reed, "All nuts into the top slot")]
    channel = next(iter(reed.timeline.walk.slot_of[name] for name in scene.away))
    placed = {piece.id: piece.placement.origin_mm for piece in scene.scene.pieces}
    along = channel.along
    ends = {end: channel.point(at) for end, at in (("a", 0.0), ("b", channel.length_mm))}
    for end, sign in (("a", -1.0), ("b", 1.0)):
        beyond = [name for name in scene.away if sign * float((placed[name] - ends[end]) @ along) > 0]
        drawn = sorted(beyond, key=lambda name: float(placed[name] @ along))
        lie = sorted(beyond, key=lambda name: float(reed.machine.part[name].placement.origin_mm @ along))
        assert drawn == lie
    assert all(
        float((placed[name] - ends["a"]) @ along) < 0 or float((placed[name] - ends["b"]) @ along) > 0
        for name in scene.away
    )


@pytest.mark.slow
def test_work_that_is_turned_over_is_drawn_turned_and_says_so(
    reed: Known, scenes: dict[str, StepScene], pictures: dict[str, Picture]
) -> None:
    name = first_step(reed, "Feet under the base")
    assert scenes[name].up == "-z"
    assert "turned: bottom up" in pictures[name].svg


@pytest.mark.slow
def test_an_offset_to_be_set_has_its_size_and_its_datum(pictures: dict[str, Picture], reed: Known) -> None:
    picture = pictures[first_step(reed, "Rail true")]
    assert "50 mm" in picture.svg
    assert "datum" in picture.svg


def test_call_outs_bear_the_letters_of_the_labels(pictures: dict[str, Picture], reed: Known) -> None:
    for picture in (pictures[step.id] for step in reed.machine.steps if step.id in pictures):
        texts = {text.text for text in ET.fromstring(picture.svg).iter(f"{SVG}text")}
        sorts = {reed.machine.part[name].type.id for name in picture.shares}
        assert sorts or not picture.shares
        assert {reed.letter(sort) for sort in sorts} <= texts


def test_two_pictures_of_one_unit_are_seen_from_the_same_side(
    pictures: dict[str, Picture], reed: Known
) -> None:
    views = [pictures[step.id].view.direction for step in reed.machine.steps if step.unit == "track"]
    changes = sum(one != other for one, other in itertools.pairwise(views))
    assert changes <= len(views) // 3


@pytest.mark.slow
@pytest.mark.parametrize(
    "title",
    ["<script>alert(1)</script> & \"both\"", "ארבע רגליים", "</svg><svg onload='x'>", "\x00\x1b[31m]]>",
     "#panic()", ""],
)  # fmt: skip
def test_a_title_is_printed_as_it_stands_and_never_obeyed(reed: Known, title: str) -> None:
    step = reed.machine.steps[0]
    scene = StepScenes(reed).of(step.id)
    picture = step_picture(reed, replace(step, title=title), scene, ISOMETRIC)
    assert picture is not None
    root = ET.fromstring(picture.svg)
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= {
        "svg", "title", "desc", "style", "g", "path", "rect", "circle", "text", "clipPath",
    }  # fmt: skip
    assert not re.search(r"\son\w+=", re.sub(r">[^<]*<", "><", picture.svg))


def test_a_step_of_words_has_no_picture(reed: Known) -> None:
    step = replace(reed.machine.steps[0], actions=())
    known = replace(reed, events_of={**reed.events_of, step.id: ()})
    scene = StepScenes(known).of(step.id)
    assert scene.is_empty
    assert step_picture(known, step, scene) is None


def test_a_png_has_the_width_that_was_asked_for_and_can_be_clear(pictures: dict[str, Picture]) -> None:
    picture = next(iter(pictures.values()))
    for clear, corner in ((True, 0), (False, 255)):
        png = png_of(picture.svg, picture.width_mm, picture.height_mm, 800, clear=clear)
        assert png.startswith(b"\x89PNG")
        assert int.from_bytes(png[16:20], "big") == 800
        assert alpha_of_first_pixel(png) == corner


def alpha_of_first_pixel(png: bytes) -> int:
    """The alpha of the first pixel of an 8-bit RGBA picture: its filter cannot change the first one."""
    import zlib

    assert png[24:26] == b"\x08\x06"
    data, at = b"", 8
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        if png[at + 4 : at + 8] == b"IDAT":
            data += png[at + 8 : at + 8 + length]
        at += 12 + length
    return zlib.decompressobj().decompress(data, 5)[4]


@pytest.mark.slow
def test_every_new_part_of_the_demo_machine_is_seen_or_drawn_through_what_hides_it() -> None:
    known = known_of(load_machine(DEMO / "larch", []))
    pictures = pictures_of(known)
    assert len(pictures) > 55
    hidden_sorts, all_sorts = [], 0
    for step in known.machine.steps:
        solid = {
            piece.id for event in known.events_of[step.id] for piece in event.pieces
            if piece.id in known.timeline.walk.reach.row
        }  # fmt: skip
        if not solid:
            continue
        picture = pictures[step.id]
        assert solid <= set(picture.shares)
        assert len(picture.svg.encode()) <= MOST_BYTES
        by_sort: dict[str, list[float]] = defaultdict(list)
        for name, (share, how) in picture.shares.items():
            assert share >= LEAST_SHARE or how in ("through", "inset"), (step.id, name)
            by_sort[known.machine.part[name].type.id].append(share)
        all_sorts += len(by_sort)
        hidden_sorts += [(step.id, sort) for sort, shares in by_sort.items() if max(shares) < LEAST_SHARE]
    # of nearly every sort in every step at least one piece is seen as it is, without dashes
    assert len(hidden_sorts) <= 0.03 * all_sorts, hidden_sorts

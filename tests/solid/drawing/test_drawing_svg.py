from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawn_bodies import at, box, cylinder, larch_step
from trysquare.ground.placement import Array
from trysquare.solid.drawing import (
    ISOMETRIC,
    NEW,
    Pens,
    Piece,
    Scene,
    View,
    draw,
    fitted,
    path_data,
    scene_of,
    svg,
)

SVG = "{http://www.w3.org/2000/svg}"
MOST_BYTES = 150 * 1024


def picture(**more: str) -> str:
    scene = scene_of([at(box(40, 40, 5), 0, 0, 0), at(cylinder(8, 20, 24), 20, 20, 15, id="pin", role=NEW)])
    return svg(draw(scene, ISOMETRIC), **more)  # type: ignore[arg-type]


def read_path(data: str) -> list[list[tuple[float, float]]]:
    """The points of relative path data, by a reader of our own tests."""
    lines: list[list[tuple[float, float]]] = []
    x = y = 0.0
    for word, rest in re.findall(r"([mlhvz])([^mlhvz]*)", data):
        numbers = [float(n) for n in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
        if word == "z":
            x, y = lines[-1][0]
            lines[-1].append((x, y))
        elif word in "hv":
            x, y = (x + numbers[0], y) if word == "h" else (x, y + numbers[0])
            lines[-1].append((x, y))
        else:
            for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
                x, y = x + dx, y + dy
                if word == "m":
                    lines.append([])
                lines[-1].append((x, y))
    return lines


@given(
    st.lists(
        st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=2, max_size=12),
        min_size=1,
        max_size=5,
    )
)
def test_path_data_says_the_points_to_a_hundredth(lines: list[list[tuple[float, float]]]) -> None:
    back = read_path(path_data([np.array(line) for line in lines]))
    assert len(back) == len(lines)
    for line, again in zip(lines, back, strict=True):
        steps: list[tuple[float, float]] = []
        for x, y in line:
            point = (round(x * 100) / 100, round(y * 100) / 100)
            if not steps or steps[-1] != point:
                steps.append(point)
        # what a drawing program would see: the same corners in the same order
        assert again[0] == pytest.approx(steps[0], abs=0.011)
        assert again[-1] == pytest.approx(steps[-1], abs=0.011)
        assert len(again) <= len(line)


def test_a_ring_is_closed_and_not_drawn_back_to_its_beginning() -> None:
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])
    assert path_data([square]) == "m0 0h1v1h-1z"


def test_numbers_lose_what_says_nothing() -> None:
    line: Array = np.array([[0.5, -0.25], [0.6, -0.5], [-12.3, 4]])
    assert path_data([line]) == "m.5-.25l.1-.25-12.9 4.5"


def test_a_drawing_is_xml_with_a_title_and_a_description() -> None:
    root = ET.fromstring(picture(title="Pin into the plate", says="From the front left above."))
    assert root.tag == f"{SVG}svg"
    assert root.attrib["role"] == "img"
    named = {child.attrib["id"]: child.text for child in root if "id" in child.attrib}
    assert [named[name] for name in root.attrib["aria-labelledby"].split()] == [
        "Pin into the plate", "From the front left above.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    ["<script>alert(1)</script>", "a & b \" ' </title><b>", "\u202eכותרת", "tab\tnul\x00 bell\x07 \ufffe"],
)
def test_any_text_is_carried_as_text(text: str) -> None:
    piece = at(box(1, 1, 1), 0, 0, 0, id=text, role=NEW)
    document = svg(draw(scene_of([piece]), ISOMETRIC), title=text, says=text)
    root = ET.fromstring(document)
    assert not [child for child in root.iter() if child.tag in (f"{SVG}script", f"{SVG}b")]
    told = root.find(f"{SVG}title")
    assert told is not None
    assert told.text == "".join(letter for letter in text if letter not in "\x00\x07\ufffe")


def test_lines_are_styled_by_classes_alone() -> None:
    root = ET.fromstring(picture())
    paths = list(root.iter(f"{SVG}path"))
    assert {path.attrib.get("class", "tint") for path in paths} == {"outline", "crease", "tint"}
    assert all(set(path.attrib) <= {"class", "d"} for path in paths)
    groups = {
        group.attrib["data-part"]: group.attrib["class"]
        for group in root.iter(f"{SVG}g")
        if "data-part" in group.attrib
    }
    assert groups["pin"].split()[0] == "new"


def test_one_path_for_each_sort_of_line_of_a_part() -> None:
    root = ET.fromstring(picture())
    for group in root.iter(f"{SVG}g"):
        names = [path.attrib.get("class") for path in group.iter(f"{SVG}path")]
        assert len(names) == len(set(names))


def test_only_new_parts_have_a_tint_and_a_name() -> None:
    root = ET.fromstring(picture())
    (tint,) = [group for group in root.iter(f"{SVG}g") if group.attrib["class"] == "tint"]
    assert len(list(tint)) == 1
    assert [title.text for group in root.iter(f"{SVG}g") for title in group.findall(f"{SVG}title")] == ["pin"]


def test_a_small_part_is_drawn_with_finer_pens() -> None:
    scene = scene_of([at(box(40, 40, 40), 0, 0, 0), at(box(2, 2, 2), 60, 0, 0, role=NEW)])
    root = ET.fromstring(svg(draw(scene, ISOMETRIC)))
    assert [g.attrib["class"] for g in root.iter(f"{SVG}g") if "data-part" in g.attrib] == ["old", "new fine"]


def test_an_empty_picture_is_a_document_all_the_same() -> None:
    assert ET.fromstring(svg(draw(Scene(), ISOMETRIC))).attrib["viewBox"] == "-2.00 -2.00 4.00 4.00"


def test_the_same_scene_gives_the_same_bytes() -> None:
    assert picture() == picture()


def test_a_width_in_dots_keeps_the_shape() -> None:
    scene = scene_of([at(box(40, 1, 20), 0, 0, 0)])
    root = ET.fromstring(svg(draw(scene, View((0, 1, 0))), width_px=1600))
    assert (root.attrib["width"], root.attrib["height"]) == ("1600", "873")  # (20 + 4) / (40 + 4)


@pytest.mark.slow
@pytest.mark.parametrize("step", [25, 53, 59])
def test_a_demo_step_is_small_enough_to_send(step: int) -> None:
    scene = larch_step(step)
    assert len(svg(draw(scene, fitted(scene, ISOMETRIC, 160, 160)), title="step").encode()) < MOST_BYTES


@pytest.mark.outside
def test_another_renderer_shows_ink_tint_and_paper_where_they_belong() -> None:
    resvg_py = pytest.importorskip("resvg_py")
    from io import BytesIO

    from PIL import Image

    scene = scene_of([Piece(id="plate", body=box(40, 1, 20), role=NEW)])
    pens = Pens(paper="#ffffff", tint="#f0d090", ink="#000000", new_outline_mm=1.0)
    document = svg(draw(scene, View((0, 1, 0))), pens=pens, width_px=440)
    image = Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=document)))).convert("RGB")
    assert image.size == (440, 240)
    assert image.getpixel((220, 120)) == (0xF0, 0xD0, 0x90)  # inside
    assert image.getpixel((5, 5)) == (255, 255, 255)  # margin
    assert image.getpixel((220, 20)) == (0, 0, 0)  # upper edge, 2 mm below the top
    assert image.getpixel((420, 120)) == (0, 0, 0)  # right edge


@pytest.mark.outside
def test_two_renderers_agree_on_a_demo_step() -> None:
    resvg_py = pytest.importorskip("resvg_py")
    import shutil
    import subprocess
    from io import BytesIO

    from PIL import Image

    if not (other := shutil.which("rsvg-convert")):
        pytest.skip("rsvg-convert is not installed")
    scene = larch_step(25)
    document = svg(draw(scene, fitted(scene, ISOMETRIC, 160, 160)), pens=Pens(paper="#ffffff"), width_px=800)
    ours = Image.open(BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=document)))).convert("L")
    theirs = subprocess.run([other], input=document.encode(), capture_output=True, check=True).stdout
    again = Image.open(BytesIO(theirs)).convert("L")
    assert ours.size == again.size
    away = np.abs(np.asarray(ours, dtype=float) - np.asarray(again, dtype=float))
    assert (away > 64).mean() < 1e-3
    assert 0.02 < (np.asarray(ours) < 128).mean() < 0.3

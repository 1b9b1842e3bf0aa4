"""`trysquare draw`: what it writes, what it says, and that nothing odd breaks a picture."""

from __future__ import annotations

import os
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
import resvg_py

from command_line import Run
from odd_frames import (
    ODD_TITLE,
    Triangle,
    block_triangles,
    with_a_giant,
    with_a_sliver,
    with_mesh,
    with_odd_words,
    with_words_only,
)
from small_frame import PARTS, write_frame
from trysquare.publish.typst_page import plain

pytestmark = pytest.mark.slow

SVG = "{http://www.w3.org/2000/svg}"


def test_a_step_is_drawn_as_svg_and_told(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "new" / "plate.svg"
    answer = run("draw", folder, "plate", "--out", out)
    assert answer.status == 0
    assert ET.fromstring(out.read_text(encoding="utf-8")).findtext(f"{SVG}title") == "Plate"
    assert "Drawn strong: 1 × plate" in " ".join(answer.out.split())


@pytest.mark.slow
def test_a_steps_number_is_as_good_as_its_name_and_gives_the_same_bytes(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    pictures = []
    for name, word in (("a", "plate"), ("b", "4"), ("c", "4")):
        assert run("draw", folder, word, "--out", tmp_path / f"{name}.svg").status == 0
        pictures.append((tmp_path / f"{name}.svg").read_bytes())
    assert pictures[0] == pictures[1] == pictures[2]


@pytest.mark.slow
def test_a_png_is_as_wide_as_asked_and_the_same_each_time(folder: Path, tmp_path: Path, run: Run) -> None:
    for name in ("a.png", "b.PNG"):
        assert run("draw", folder, "plate", "--width-px", "300", "--out", tmp_path / name).status == 0
    first = (tmp_path / "a.png").read_bytes()
    assert first.startswith(b"\x89PNG")
    assert int.from_bytes(first[16:20], "big") == 300
    assert (tmp_path / "b.PNG").read_bytes() == first


@pytest.mark.slow
def test_without_a_step_the_finished_machine_is_drawn(folder: Path, tmp_path: Path, run: Run) -> None:
    facts = run("draw", folder, "--out", tmp_path / "m.svg", "--json").json
    assert (facts["step"], facts["drawn"], facts["shown"]) == ("", True, {})


def test_the_facts_say_how_much_of_each_new_part_is_seen(folder: Path, tmp_path: Path, run: Run) -> None:
    facts = run("draw", folder, "plate", "--out", tmp_path / "p.svg", "--json").json
    assert facts["bytes"] == (tmp_path / "p.svg").stat().st_size
    assert facts["shown"]["frame/plate"]["share"] > 0.5
    assert all(one["how"] in ("seen", "inset", "other side", "through") for one in facts["shown"].values())


def test_a_step_that_is_not_there_is_told_with_the_nearest(folder: Path, tmp_path: Path, run: Run) -> None:
    answer = run("draw", folder, "plates\x1b[31m", "--out", tmp_path / "p.svg")
    assert answer.status == 2
    assert "Did you mean 'plate'" in answer.err
    assert "\x1b" not in answer.err
    assert run("draw", folder, "0", "--out", tmp_path / "p.svg").status == 2
    assert not (tmp_path / "p.svg").exists()


def test_a_step_of_words_is_told_and_nothing_is_written(tmp_path: Path, run: Run) -> None:
    folder = with_words_only(tmp_path / "frame")
    answer = run("draw", folder, "words", "--out", tmp_path / "w.svg")
    assert answer.status == 1
    assert "nothing of it is there yet" in answer.out
    assert run("draw", folder, "words", "--out", tmp_path / "w.svg", "--json").json["drawn"] is False
    assert not (tmp_path / "w.svg").exists()


def test_a_picture_is_an_svg_or_a_png(folder: Path, tmp_path: Path, run: Run) -> None:
    for name in ("p.gif", "p"):
        answer = run("draw", folder, "plate", "--out", tmp_path / name)
        assert answer.status == 2
        assert "ends in .svg or .png" in " ".join(answer.err.split())


def test_what_is_no_picture_of_ours_is_not_written_over(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "notes.svg"
    out.write_text("my notes", encoding="utf-8")
    answer = run("draw", folder, "plate", "--out", out)
    assert answer.status == 2
    assert "is no SVG" in " ".join(answer.err.split())
    assert out.read_text(encoding="utf-8") == "my notes"


@pytest.mark.parametrize(("command", "name"), [("draw", "x.svg"), ("book", "x.pdf"), ("cards", "cards")])
def test_a_place_below_a_file_is_told_before_anything_is_computed(
    folder: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch, command: str, name: str
) -> None:
    monkeypatch.setattr("trysquare.cli.book_facts.read_known", pytest.fail)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    answer = run(command, folder, "--out", tmp_path / "file" / name)
    assert answer.status == 2
    assert "is a file and no folder" in " ".join(answer.err.split())


@pytest.mark.parametrize(("command", "name"), [("draw", "x.svg"), ("book", "x.pdf"), ("cards", "cards")])
def test_a_folder_that_cannot_be_written_is_told(
    folder: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch, command: str, name: str
) -> None:
    allowed = os.access
    monkeypatch.setattr(os, "access", lambda place, mode: mode != os.W_OK | os.X_OK and allowed(place, mode))
    answer = run(command, folder, "--out", tmp_path / "locked" / name)
    assert answer.status == 2
    assert "Nothing can be written in" in " ".join(answer.err.split())
    assert not (tmp_path / "locked").exists()


def test_odd_words_and_odd_file_names_give_a_sound_picture(tmp_path: Path, run: Run) -> None:
    folder = with_odd_words(tmp_path / "frame #1 %ü &")
    out = tmp_path / "Bild ü #1 %20.svg"
    assert run("draw", folder, "plate", "--out", out).status == 0
    root = ET.fromstring(out.read_text(encoding="utf-8"))
    assert root.findtext(f"{SVG}title") == plain(ODD_TITLE)
    assert not {"script", "i", "b"} & {each.tag.removeprefix(SVG) for each in root.iter()}
    assert resvg_py.svg_to_bytes(svg_string=out.read_text(encoding="utf-8"), dpi=96)


def test_a_part_a_thousand_times_as_large_is_drawn_with_a_scale(tmp_path: Path, run: Run) -> None:
    out = tmp_path / "giant.svg"
    assert run("draw", with_a_giant(tmp_path / "frame"), "drive", "--out", out).status == 0
    svg = out.read_text(encoding="utf-8")
    said = [each.text or "" for each in ET.fromstring(svg).iter(f"{SVG}text")]
    assert any(text.startswith("arms 2000 mm, about 1 : ") for text in said)
    assert {"up", "right", "back"} <= set(said)
    assert "nan" not in svg.casefold()
    assert "inf" not in svg.casefold().replace("information", "")


@pytest.mark.slow
def test_a_triangle_without_area_does_no_harm(tmp_path: Path, run: Run) -> None:
    folder = with_mesh(tmp_path / "frame", with_a_sliver())
    facts = run("draw", folder, "drive", "--out", tmp_path / "x.svg", "--json").json
    assert facts["shown"]["drive/odd"]["share"] > 0.5


@pytest.mark.slow
@pytest.mark.parametrize(
    ("triangles", "read"),
    [
        ([((0, 0, 0), (1, 0, 0), (2, 0, 0))], "open edges"),
        ([], "no triangles"),
        ([*block_triangles(9, 9, 9)[1:], ((float("nan"), 0, 0), (1, 0, 0), (0, 1, 0))], "is no number"),
    ],
)
@pytest.mark.parametrize("command", ["draw", "book", "cards"])
def test_a_shape_that_is_no_solid_is_told_by_its_file(
    tmp_path: Path, run: Run, triangles: list[Triangle], read: str, command: str
) -> None:
    folder = with_mesh(tmp_path / "frame", triangles)
    out = tmp_path / {"draw": "x.svg", "book": "x.pdf", "cards": "x"}[command]
    answer = run(command, folder, "--out", out)
    assert answer.status == 2
    assert "shapes/odd.stl" in answer.err
    assert read in " ".join(answer.err.split())
    assert not out.exists()
    problem = run(command, folder, "--out", out, "--json").json["problems"][0]
    assert problem["file"] == "shapes/odd.stl"


def test_a_size_of_nothing_is_a_problem_with_its_line(tmp_path: Path, run: Run) -> None:
    folder = write_frame(tmp_path / "frame", parts_toml=PARTS.replace("[40, 30, 3]", "[40, 0, 3]"))
    problem = run("draw", folder, "plate", "--out", tmp_path / "x.svg", "--json").json["problems"][0]
    assert (problem["file"], problem["key"]) == ("parts.toml", "part.plate.size_mm")
    assert problem["line"] > 0

"""`trysquare cards`: what it writes, what it says, and that nothing odd breaks a card."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from command_line import Run
from odd_frames import with_a_giant, with_odd_words, with_words_only
from publish.machines import named
from publish.paper import text_of

SIZES = {"wide": (1920, 1080), "tall": (1080, 1920)}


def png_size(file: Path) -> tuple[int, int]:
    data = file.read_bytes()
    assert data.startswith(b"\x89PNG")
    return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")


@pytest.mark.slow
def test_cards_are_written_for_both_shapes_with_the_lists(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "new" / "cards"
    answer = run("cards", folder, "--out", out)
    assert answer.status == 0
    assert "22 files for 5 steps" in " ".join(answer.out.split())
    names = {file.name for file in out.iterdir()}
    assert len(names) == 22
    assert {"04-plate-wide.svg", "04-plate-tall.png", "parts.pdf", "parts.txt"} <= names
    assert "cross beam" in (out / "parts.txt").read_text(encoding="utf-8")
    assert "cross beam" in text_of((out / "parts.pdf").read_bytes())


@pytest.mark.slow
@pytest.mark.parametrize("shape", SIZES)
def test_a_card_has_the_size_of_its_screen(folder: Path, tmp_path: Path, run: Run, shape: str) -> None:
    facts = run("cards", folder, "4", "--shape", shape, "--out", tmp_path / "c", "--json").json
    assert facts["files"] == [f"04-plate-{shape}.svg", f"04-plate-{shape}.png"]
    assert png_size(tmp_path / "c" / f"04-plate-{shape}.png") == SIZES[shape]


@pytest.mark.slow
def test_cards_have_the_same_bytes_each_time(folder: Path, tmp_path: Path, run: Run) -> None:
    for name in ("a", "b"):
        assert run("cards", folder, "plate", "--out", tmp_path / name).status == 0
    for file in (tmp_path / "a").iterdir():
        assert file.read_bytes() == (tmp_path / "b" / file.name).read_bytes()


@pytest.mark.slow
def test_steps_are_told_by_name_or_number_and_a_wrong_one_writes_nothing(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    facts = run("cards", folder, "rail", "1", "--shape", "wide", "--out", tmp_path / "c", "--json").json
    assert facts["steps"] == ["rail", "nuts"]
    answer = run("cards", folder, "rail", "plat", "--out", tmp_path / "d")
    assert answer.status == 2
    assert "Did you mean 'plate'" in answer.err
    assert not (tmp_path / "d").exists()


def test_a_file_is_no_place_for_cards(folder: Path, tmp_path: Path, run: Run) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    answer = run("cards", folder, "--out", tmp_path / "file")
    assert answer.status == 2
    assert "is no folder" in " ".join(answer.err.split())
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


def test_a_step_of_words_is_a_card_with_its_title(tmp_path: Path, run: Run) -> None:
    folder = with_words_only(tmp_path / "frame")
    assert run("cards", folder, "words", "--shape", "tall", "--out", tmp_path / "c").status == 0
    root = ET.fromstring((tmp_path / "c" / "01-words-tall.svg").read_text(encoding="utf-8"))
    said = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    assert said == ["1", "Only words"]


@pytest.mark.slow
def test_odd_words_stay_words_on_cards_and_in_lists(tmp_path: Path, run: Run) -> None:
    folder, out = with_odd_words(tmp_path / "frame"), tmp_path / "Karten #1 ü"
    assert run("cards", folder, "--shape", "wide", "--out", out).status == 0
    for file in out.glob("*.svg"):
        tags = {
            each.tag.rpartition("}")[2] for each in ET.fromstring(file.read_text(encoding="utf-8")).iter()
        }
        assert not {"script", "i", "b"} & tags
    text = (out / "parts.txt").read_text(encoding="utf-8")
    assert "*F* <i>#x</i> & קורה" in text
    assert "\u202e" not in text


def test_every_part_beside_a_giant_has_its_row(tmp_path: Path, run: Run) -> None:
    folder = with_a_giant(tmp_path / "frame")
    facts = run("cards", folder, "drive", "--out", tmp_path / "c", "--json").json
    assert facts["left_out"] == {}


def test_a_bare_list_has_its_parts_sheet_and_no_cards(tmp_path: Path, run: Run) -> None:
    named(tmp_path / "list", ["#one", "<two>"])
    facts = run("cards", tmp_path / "list", "--out", tmp_path / "c", "--json").json
    assert facts["files"] == ["parts.pdf", "parts.txt"]
    assert "#one" in text_of((tmp_path / "c" / "parts.pdf").read_bytes())

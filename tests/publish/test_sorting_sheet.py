"""The sorting sheet: every question, every letter, a place to write, and where a missing piece is."""

from __future__ import annotations

from pathlib import Path

from publish.machines import listed
from publish.paper import opened, paths_of, text_of
from trysquare.machine.values import Kind, Machine
from trysquare.publish.sorting_sheet import sorting_sheet_pdf
from trysquare.stock.key import sorting_sheet
from trysquare.stock.key_words import branch_words, look_alikes

TWINS = """
[part]
left = { name = "Left bracket", kind = "printed", hand = "left", solid = [{ box_mm = [40, 20, 10] }] }
right = { name = "Right bracket", kind = "printed", hand = "right", solid = [{ box_mm = [40, 20, 10] }] }
blank = { name = "Blank", kind = "bought" }
other = { name = "Other", kind = "bought" }
"""


def squeezed(text: str) -> str:
    return "".join(text.split())


def test_every_question_and_every_answer_is_on_the_sheet(machine: Machine, sorting: bytes) -> None:
    text = squeezed(text_of(sorting))
    asked = 0
    for section in sorting_sheet(machine).sections:
        waiting = [section.key.root]
        while waiting:
            node = waiting.pop()
            if node.look is None:
                continue
            asked += 1
            assert squeezed(node.look.words.ask) in text
            for branch in node.branches:
                assert squeezed(branch_words(node.look, branch)) in text
                waiting.append(branch.node)
    assert asked > 1


def test_there_is_a_box_to_write_in_for_every_pile(machine: Machine, sorting: bytes) -> None:
    boxes = [
        one for one in paths_of(sorting) if abs(one.width_mm - 13) < 0.01 and abs(one.height_mm - 6) < 0.01
    ]
    piles = sum(len(section.key.piles) for section in sorting_sheet(machine).sections)
    assert len(boxes) == piles


def test_expected_counts_stand_beside_their_letters(machine: Machine, sorting: bytes) -> None:
    text = text_of(sorting)
    for sort in sorting_sheet(machine).sorts:
        assert f" {sort.letter} {sort.name}" in text
        assert f" {sort.pieces} " in text


def test_mirror_images_are_named_with_what_tells_them_and_where_a_missing_one_lies(tmp_path: Path) -> None:
    machine = listed(tmp_path / "twins", TWINS, {"left": 3, "right": 3})
    pdf = sorting_sheet_pdf(machine, "a4").pdf
    text = text_of(pdf)
    (pair,) = look_alikes(sorting_sheet(machine).sorts)
    assert squeezed(pair.says) in squeezed(text)
    assert "If one is missing" in text
    assert "A it lies in B" in text
    document = opened(pdf)
    links = [each for page in document.pages for each in page.get("/Annots", [])]
    assert len(links) >= 4  # each of the two letters, and where its piece may lie


def test_sorts_that_nothing_tells_apart_share_one_pile_and_the_sheet_says_so(tmp_path: Path) -> None:
    machine = listed(tmp_path / "same", TWINS, {"blank": 2, "other": 5})
    text = text_of(sorting_sheet_pdf(machine, "letter").pdf)
    assert "cannot be told from each other" in text
    assert " 7" in text


def test_only_the_kinds_asked_for_are_sorted(machine: Machine) -> None:
    text = text_of(sorting_sheet_pdf(machine, "a4", kinds=[Kind.MEMBER]).pdf)
    assert "Beam 380" in text
    assert "Base plate" not in text


def test_a_machine_without_parts_gets_a_page_that_says_so(tmp_path: Path) -> None:
    machine = listed(tmp_path / "bare", "[part]\n", {})
    assert "nothing to sort" in text_of(sorting_sheet_pdf(machine, "a4").pdf)

"""Unsure parts of an import: by touch and by keys, narrow and wide, with and without scripts."""

import pytest

from browser.test_every_page import beside_the_edge, faults_by_axe
from browser.windows import LAPTOP, PHONE
from trysquare.intake.rulings import OWN, Ruling
from trysquare.intake.taken_in import Question
from trysquare.machine.load import load_machine
from trysquare.publish.part_picture import part_picture
from trysquare.record.rulings_kept import Asked, keep, keep_asked, read_kept

SCREW = Question(
    shape=0, digest="aa11", about="designation", called="carriage-assembly_hex-screw_M3x8-black-oxide_0001",
    pieces=4, choices=("ISO 4762 M3x8", "ISO 7380-1 M3x8", "ISO 10642 M3x8", OWN), confidence=0.63,
    evidence=("six-sided recess 2.5 across flats, 1.3 deep", "shank 2.97 in diameter over 8 mm",
              "against it: its head is 1.8 high, a standard one 3"),
)  # fmt: skip
PRINT = Question(
    shape=1, digest="bb22", about="printed", called="cable clip", pieces=1, choices=("printed", "bought"),
    confidence=0.5, evidence=("its rounds are drawn as flats, as in files to be printed",),
)  # fmt: skip


@pytest.fixture
def asked(reed):
    """Reed as if it had been imported, with two unsure parts."""
    types = load_machine(reed.folder).types.values()
    drawn = (part_picture(one, reed.folder, 120, 80) for one in types)
    pictures = dict(zip(("aa11", "bb22"), (each.svg for each in drawn if each is not None), strict=False))
    keep_asked(reed.folder, Asked(source="reed.step", questions=(SCREW, PRINT), pictures=pictures))
    return reed


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_unsure_parts_can_be_read_and_touched_by_everybody(asked, opens, size, dark) -> None:
    window = opens(asked, size, dark=dark)
    window.go("/unsure")
    look = f"page-unsure-{'phone' if size is PHONE else 'laptop'}{'-dark' if dark else ''}"
    window.picture(look, full_page=True)
    assert not faults_by_axe(window.page)
    assert not beside_the_edge(window.page)
    heights = "[...document.querySelectorAll('main button')].filter(each => each.offsetHeight < 56).length"
    assert window.page.evaluate(heights) == 0
    assert window.page.evaluate("[...document.images].every(each => each.naturalWidth)")
    window.go("/")
    window.page.locator("a[href='/unsure']").first.click()
    window.page.wait_for_selector("h1:has-text('Unsure parts')")


def test_the_keyboard_answers_the_first_part_and_leaves_one_for_later(asked, opens) -> None:
    window = opens(asked, LAPTOP)
    page = window.page
    window.go("/unsure")
    page.keyboard.press("0")
    page.wait_for_selector("section:nth-of-type(1) h2:has-text('Is it printed?')")
    page.wait_for_selector("html[data-ready]")
    page.keyboard.press("1")
    page.wait_for_selector(".entry:has-text('cable clip')")
    page.wait_for_selector("html[data-ready]")
    page.keyboard.press("2")
    page.wait_for_selector(".lead:has-text('Every unsure part')")
    rulings = read_kept(asked.folder).rulings
    assert rulings["bb22"].printed is True
    assert rulings["aa11"].says == "ISO 7380-1 M3x8"


def test_a_browser_without_scripts_answers_too(asked, opens) -> None:
    window = opens(asked, PHONE, java_script_enabled=False)
    window.page.goto(asked.address + "/unsure")
    window.page.get_by_role("button", name="a part of its own").click()
    window.page.wait_for_selector(".entry:has-text('a part of its own')")
    assert read_kept(asked.folder).rulings["aa11"].says == OWN


def test_what_the_terminal_answers_shows_on_the_page_by_itself(asked, opens) -> None:
    window = opens(asked, LAPTOP)
    window.go("/unsure")
    keep(asked.folder, read_kept(asked.folder).with_rulings([Ruling(shape="aa11", says=OWN)]))
    window.page.wait_for_selector(".entry:has-text('a part of its own')")
    assert window.page.locator("h2:has-text('Is it printed?')").is_visible()
    assert window.page.locator("h2:has-text('Is it ISO 4762')").count() == 0

"""Every page of the bench, on Reed: it is there, it is ours, it says what the machine says."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from bench.asking import Browser, event, opened
from bench.conftest import ROOT, computed, without_answers
from trysquare.bench.bench import Bench
from trysquare.bench.routes import all_routes
from trysquare.bench.words import bench_words

PAGES = (
    "/", "/step/feet", "/step/rail-true", "/step/run", "/step/feet/card",
    "/step/feet/card?shape=tall&only=title",
    "/parts", "/sort", "/sort/1", "/sort/1?odd=1",
    "/part/base", "/part/track%2Frail", "/part/reed/base", "/slots", "/findings", "/papers",
    "/papers?of=track%2Frail", "/papers?of=feet",
    "/papers?paper=manual", "/readings", "/open", "/film", "/join",
    "/help", "/help/", "/help/snug", "/true", "/true/track", "/tune", "/tune/belt", "/tune/wiring",
    "/unsure",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("path", PAGES)
def test_page_of_the_bench_is_there_and_needs_nothing_from_elsewhere(reader: Browser, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/html")
    assert "<h1" in answer.text
    assert not re.findall(r'(?:src|href)="(?:https?:)?//', answer.text)
    assert not re.findall(r"<style|<script>| style=| on[a-z]+=", answer.text)


def test_every_route_is_asked_by_some_test_of_pages() -> None:
    """A page that a room adds is added to the list above, too."""
    asked = {path.split("?")[0] for path in PAGES} | {
        "/static/sign.svg", "/worker.js", "/step/feet/picture.svg", "/step/feet/3d.json", "/drawn/x",
        "/solids/x", "/film/lists.txt", "/log", "/changes", "/files", "/kept/x", "/join/revoke",
        "/join/code.svg",
        "/certificate.crt", "/reed/base", "/tune/skew/made/piece-xy.stl", "/true-at", "/true/track/now",
        "/unsure/x.svg",
    }  # fmt: skip
    for route in all_routes():
        assert any(route.path_regex.match(path) for path in asked), route  # type: ignore[attr-defined]


def test_the_step_shows_parts_tools_torques_and_what_it_leaves(reader: Browser) -> None:
    text = reader.get("/step/rail").text
    for words in (
        "Rail on the base, snug",
        "Lay out",
        "It must still shift when pushed by hand.",
        "N·m",
        "snug",
    ):
        assert words in text
    assert re.search(r'<img class="drawing" src="/drawn/[0-9a-f]{40}\.svg"', text)
    assert re.search(r'data-view="/solids/[0-9a-f]{40}\.json"', text)


def test_the_steps_picture_is_an_svg_that_can_do_nothing(reader: Browser) -> None:
    led = reader.get("/step/feet/picture.svg")
    assert led.status_code == 307
    answer = reader.get(led.headers["location"])
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "sandbox" in answer.headers["content-security-policy"]
    assert "immutable" in answer.headers["cache-control"]
    assert "<svg" in answer.text
    assert "<script" not in answer.text


def test_a_label_leads_to_the_part_and_says_when_it_is_another_machines(reader: Browser) -> None:
    assert reader.get("/reed/base").headers["location"] == "/part/base"
    answer = reader.get("/larch/base")
    assert answer.status_code == 404
    assert "of another machine" in answer.text


@pytest.mark.parametrize(
    "path",
    ["/step/nothing", "/part/nothing", "/help/nothing", "/nothing", "/drawn/x.svg", "/kept/x", "/film/x"],
)
def test_what_is_not_there_is_a_page_of_ours_with_a_way_on(reader: Browser, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == 404
    assert "The order of the build" in answer.text
    assert "Traceback" not in answer.text


def test_a_script_gets_failures_as_json_of_one_shape(reader: Browser) -> None:
    answer = reader.get("/step/nothing", accept="application/json")
    assert set(answer.json()) == {"error", "says", "remedy"}


def test_chapters_come_from_the_plan_and_then_from_the_marks(computer: Browser) -> None:
    planned = computer.get("/film/chapters.txt").text
    assert planned.startswith("00:00 Feet under the base")
    computer.say(event("mark", "rail", clock=95.5, label="rail", auto=True), event("mark", "feet", clock=3.0))
    marked = computer.get("/film/chapters.txt").text
    assert "00:03 Feet under the base\n01:35 Rail on the base, snug" in marked
    assert "from the marks" in computer.get("/film").text


@pytest.mark.parametrize("term", ["snug", "rail", "mm-per-100"])
def test_a_word_is_explained(reader: Browser, term: str) -> None:
    word = bench_words()[term]
    answer = reader.get(f"/help/{term}")
    assert answer.status_code == 200
    assert word.says.split("'")[0] in answer.text.replace("&#39;", "'")


def test_every_word_names_only_words_that_are_explained() -> None:
    words = bench_words()
    for word in words.values():
        assert set(word.see) <= set(words), word.term
        assert word.says.endswith(".")


def test_a_bare_list_has_parts_and_says_what_is_missing(tmp_path: Path) -> None:
    bench, browser = opened(computed(without_answers(ROOT / "demo" / "reed", tmp_path / "list")))
    assert "There are no steps yet" in browser.get("/").text
    assert browser.get("/parts").status_code == 200
    for path in ("/slots", "/findings", "/papers", "/readings", "/open", "/film"):
        assert browser.get(path).status_code == 200
    bench.desk.close()


def test_before_anything_is_computed_pages_say_that_it_is_on_its_way(tmp_path: Path) -> None:
    bench, browser = opened(without_answers(ROOT / "demo" / "reed-joints", tmp_path / "reed"))
    assert bench.workshop.shown.order is None
    for path in (
        "/",
        "/parts",
        "/slots",
        "/findings",
        "/papers",
        "/readings",
        "/open",
        "/film",
        "/help",
        "/join",
    ):
        assert browser.get(path).status_code == 200
    assert browser.get("/step/feet").status_code == 503
    bench.desk.close()


@pytest.mark.slow
def test_names_from_the_machine_folder_are_text_wherever_they_are_shown(tmp_path: Path) -> None:
    """A title, a part's name and a paper's words with markup in them stay words."""
    folder = without_answers(ROOT / "demo" / "reed-joints", tmp_path / "reed")
    evil = "<script>alert(1)</script>\\\"'><img src=x onerror=alert(1)>"
    steps = (folder / "steps.toml").read_text("utf-8")
    steps = steps.replace('title = "Feet under the base"', f'title = "{evil}"')
    steps = steps.replace('why = "The base lies on its back', f'why = "{evil} The base lies on its back')
    (folder / "steps.toml").write_text(steps, "utf-8")
    machine = (folder / "machine.toml").read_text("utf-8")
    machine = re.sub(r'^name = ".*"', f'name = "{evil}"', machine, flags=re.MULTILINE)
    (folder / "machine.toml").write_text(machine, "utf-8")
    bench, browser = opened(computed(folder))
    browser.say(
        event("note", "feet", says="<b onclick=alert(1)>x</b>"), event("mark", "feet", label="<i>m</i>")
    )
    browser.say(event("deviation", "feet", what="missing", part="<u>part</u>", why="</script><script>"))
    for path in ("/", "/step/feet", "/step/feet/card", "/parts", "/open", "/film", "/papers", "/nothing"):
        text = browser.get(path).text
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "<b onclick" not in text
        assert "<u>part" not in text
    picture = browser.get(browser.get("/step/feet/picture.svg").headers["location"]).text
    assert "<script" not in picture
    assert "<img" not in picture
    bench.desk.close()


def test_a_kept_drawing_that_is_damaged_or_gone_is_not_shown(reed: tuple[Bench, Browser]) -> None:
    bench, browser = reed
    shutil.rmtree(bench.workshop.kept.folder)
    assert browser.get(browser.get("/step/feet/picture.svg").headers["location"]).status_code == 404


@pytest.mark.parametrize("path", ["/step/feet", "/step/feet/card", "/part/base", "/reed/base"])
def test_a_page_asked_for_before_the_order_is_known_waits_and_comes_by_itself(
    tmp_path: Path, path: str
) -> None:
    folder = without_answers(ROOT / "demo" / "reed-joints", tmp_path / "reed")
    bench, browser = opened(folder)
    try:
        answer = browser.get(path)
        assert answer.status_code == 503
        assert answer.headers["retry-after"] == "3"
        assert "The machine is being read" in answer.text
        assert '<meta http-equiv="refresh"' in answer.text
        assert browser.get(path, accept="application/json").json()["error"] == "being-read"
        assert browser.get("/").status_code == 200
    finally:
        bench.desk.close()

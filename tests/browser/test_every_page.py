"""Every page, by day and by night, narrow and wide: usable without sight of it, nothing beside the edge."""

import json

import pytest

from browser.moves import keep_readings, lay_out
from browser.windows import LAPTOP, PHONE, ROOT

AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
PAGES = {
    "order": "/",
    "step-first": "/step/feet",
    "step-reading": "/step/rail-true",
    "step-caution": "/step/run",
    "parts": "/parts",
    "part": "/part/foot",
    "sorting": "/sort",
    "sorting-question": "/sort/2",
    "sorting-odd": "/sort/2?odd=1",
    "slots": "/slots",
    "findings": "/findings",
    "papers": "/papers",
    "who-says-so": "/papers?of=rail",
    "readings": "/readings",
    "truing": "/true",
    "truing-unit": "/true/track",
    "open": "/open",
    "film": "/film",
    "tune": "/tune",
    "tune-belt": "/tune/belt",
    "tune-wiring": "/tune/wiring",
    "unsure": "/unsure",
    "join": "/join",
    "help": "/help/snug",
    "words": "/help/",
    "card": "/step/rail/card",
}


def faults_by_axe(page) -> list[str]:
    """Serious and critical violations, each with its first element."""
    if not AXE.is_file():
        pytest.skip("axe-core is not installed: make setup")
    page.evaluate(AXE.read_text("utf-8"))
    found = json.loads(
        page.evaluate(
            """async () => {
              for (const each of document.querySelectorAll("details")) each.open = true;
              return JSON.stringify((await axe.run(document, { resultTypes: ["violations"] })).violations);
            }"""
        )
    )
    return [
        f"{row['id']}: {row['help']}: {row['nodes'][0]['html'][:160]} ({len(row['nodes'])})"
        for row in found
        if row["impact"] in ("serious", "critical")
    ]


def beside_the_edge(page) -> list[str]:
    """Elements that reach beyond the window's right edge, but for those that scroll by themselves."""
    return page.evaluate(
        """() => [...document.querySelectorAll("main *")].filter(each => {
          const box = each.getBoundingClientRect();
          return box.width && box.right > innerWidth + 1 && !each.closest(".table-frame, .unseen, svg")
            && getComputedStyle(each).position !== "fixed";
        }).map(each => each.outerHTML.slice(0, 120))"""
    )


@pytest.fixture
def used(reed, opens):
    """A bench on which something has been said: each sort of entry stands on its pages."""
    window = opens(reed)
    window.go("/step/feet")
    lay_out(window.page)
    window.page.locator("[data-differ-part]").first.click()
    window.page.locator("[data-what=substitute]").click()
    window.page.locator("[data-mark]").click()
    window.go("/step/rail-true")
    keep_readings(window.page, "0,4")
    window.page.locator("[data-done]").click()
    window.page.get_by_role("button", name="Waiting for a part").click()
    window.page.wait_for_selector("h1:has-text('Step 5')")
    window.all_said()
    return reed


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_no_page_has_a_serious_fault_for_who_cannot_see_it(used, opens, size, dark) -> None:
    window = opens(used, size, dark=dark)
    faults = []
    for name, path in PAGES.items():
        window.page.goto(used.address + path)
        if name != "card":
            window.page.wait_for_selector("html[data-ready]")
        window.page.wait_for_timeout(120)
        look = f"page-{name}-{'phone' if size is PHONE else 'laptop'}{'-dark' if dark else ''}"
        window.picture(look, full_page=size is PHONE)
        faults += [f"{name}: {fault}" for fault in faults_by_axe(window.page)]
        if size is PHONE:
            faults += [f"{name}: beside the edge: {each}" for each in beside_the_edge(window.page)]
    assert not faults, "\n".join(faults)


def test_what_the_thumb_reaches_is_large_enough_for_a_glove(reed, opens) -> None:
    window = opens(reed)
    window.go("/step/rail-true")
    small = window.page.evaluate(
        """() => [
          ".thumb .button", ".pick label", ".act-tick", ".reading .button", ".rule-hole",
          ".picture-tools button",
        ].flatMap(name => [...document.querySelectorAll(name)])
          .map(each => [each.getBoundingClientRect(), each.outerHTML.slice(0, 90)])
          .filter(([box]) => box.width && (box.height < 56 || box.width < 44))
          .map(([box, text]) => `${box.width} × ${box.height}: ${text}`)"""
    )
    assert not small


def test_light_and_dark_can_be_switched_and_are_remembered(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    window.go("/")
    window.page.locator("[data-look-switch]").first.click()
    assert window.page.evaluate("document.documentElement.dataset.look") == "dark"
    window.go("/parts")
    assert window.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(22, 23, 25)"


def test_a_word_is_explained_where_it_stands(reed, opens) -> None:
    window = opens(reed)
    window.go("/step/rail")
    window.page.locator("a[data-term=snug]").first.click()
    window.page.wait_for_selector("dialog[open] [data-answer]")
    window.picture("a-word-explained")
    window.page.keyboard.press("Escape")
    assert window.page.url.endswith("/step/rail")

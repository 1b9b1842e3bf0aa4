"""A step from end to end by the keyboard alone, at laptop size."""

from playwright.sync_api import Page

from browser.windows import LAPTOP, state_of, until


def lay_out(page: Page) -> None:
    """Space after space, each once the one before it shows."""
    for number in range(1, page.locator("input[data-parts]").count() + 1):
        page.keyboard.press(" ")
        until(page, f"document.querySelectorAll('input[data-parts]:checked').length >= {number}")


def test_a_build_goes_by_the_keyboard_alone(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page, keys = window.page, window.page.keyboard
    window.go("/")
    keys.press("ArrowRight")  # go on
    page.wait_for_selector("h1:has-text('Step 1 of')")

    keys.press("?")
    page.wait_for_selector("#keys[open]")
    window.picture("keyboard-list")
    keys.press("Escape")

    lay_out(page)
    while page.locator("[data-must]:not(:checked)").count():
        page.locator("[data-must]:not(:checked)").first.focus()
        keys.press(" ")
    page.locator("h1").focus()
    keys.press("Enter")  # done, next
    page.wait_for_selector("h1:has-text('Step 2 of')")
    keys.press("ArrowLeft")
    page.wait_for_selector("h1:has-text('Step 1 of')")
    for number in (2, 3, 4):
        keys.press("ArrowRight")
        page.wait_for_selector(f"h1:has-text('Step {number} of')")

    keys.press("r")
    keys.type("0.02")
    page.wait_for_selector(".verdict.good")
    keys.press("Enter")
    page.wait_for_selector(".kept li")
    keys.press("Escape")
    keys.press("m")
    page.wait_for_selector("text=Marked at")
    keys.press("d")
    page.wait_for_selector("#differ[open]")
    keys.press("Tab")
    keys.press("Enter")
    page.wait_for_selector("dialog[open] #differ-why")  # this step lays out no part: it is said in words
    keys.press("Tab")
    keys.press("Tab")
    keys.type("a longer square served")
    keys.press("Tab")
    keys.press("Enter")
    page.wait_for_selector("text=Kept.")
    keys.press("h")
    page.wait_for_selector(".order-run")
    keys.press("o")
    page.wait_for_selector("h1:has-text('Open points')")
    window.all_said()

    state = state_of(reed.folder)
    assert state.steps["feet"].done is not None
    assert len(state.readings) == 1
    assert len(state.deviations) == 1
    assert state.marks


def test_every_control_of_a_step_shows_that_it_has_the_focus(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page = window.page
    window.go("/step/rail-true")
    unseen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen = page.evaluate(
            """() => {
              const at = document.activeElement;
              if (!at || at === document.body) return "";
              const shown = [at, at.nextElementSibling, at.closest(".reading-field")].filter(Boolean);
              const ring = shown.some(each => getComputedStyle(each).outlineStyle !== "none");
              return ring ? "" : at.outerHTML.slice(0, 120);
            }"""
        )
        if seen:
            unseen.add(seen)
    assert not unseen

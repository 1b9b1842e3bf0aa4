"""The step's picture follows the window: whole where there is room, in pieces where there is not."""

from __future__ import annotations

from playwright.sync_api import Page

from browser.windows import LAPTOP, PHONE, until

DETAILS = "document.querySelector('.picture-live').shadowRoot.querySelectorAll('svg.detail').length"
# Of each button under the picture: whether a finger in its middle meets the button and nothing else.
ON_TOP = """[...document.querySelectorAll('.picture-tools button')].map(button => {
  button.scrollIntoView({ block: 'center' });
  const at = button.getBoundingClientRect();
  const met = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
  return met === button || button.contains(met);
})"""


def picture_box(page: Page) -> list[float]:
    """The drawing's own frame, as it is shown now."""
    said = page.evaluate(
        "document.querySelector('.picture-live').shadowRoot.querySelector('svg').getAttribute('viewBox')"
    )
    return [float(each) for each in said.replace(",", " ").split()]


def test_a_widened_window_shows_the_picture_whole_again_and_covers_no_button(reed, opens) -> None:
    window = opens(reed, PHONE)
    page = window.page
    window.go("/step/rail")
    page.wait_for_selector(".picture-live")
    until(page, f"{DETAILS} > 0")
    apart = picture_box(page)
    for size, details in ((LAPTOP, 0), (PHONE, 1), ({"width": 820, "height": 1100}, 0)):
        page.set_viewport_size(size)
        until(page, f"{DETAILS} {'> 0' if details else '=== 0'}")
        assert (picture_box(page) == apart) is bool(details)
        assert all(page.evaluate(ON_TOP)), size
    window.picture("picture-after-widening")


def test_a_picture_opened_wide_comes_apart_when_the_window_is_narrowed(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page = window.page
    window.go("/step/rail")
    page.wait_for_selector(".picture-live")
    whole = picture_box(page)
    assert page.evaluate(f"{DETAILS} === 0")
    page.set_viewport_size(PHONE)
    until(page, f"{DETAILS} > 0")
    assert picture_box(page)[2] < whole[2]
    assert all(page.evaluate(ON_TOP))
    # The next step's picture is laid for the width of now, too.
    page.locator("[data-key=next]").evaluate("link => link.click()")
    page.wait_for_selector("h1:has-text('Step 4 of')")
    page.locator("[data-key=back]").click()
    page.wait_for_selector("h1:has-text('Step 3 of')")
    until(page, f"{DETAILS} > 0")

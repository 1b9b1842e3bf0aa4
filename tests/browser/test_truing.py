"""Truing at the bench: a reading is typed and the page answers, with the keyboard alone."""

from browser.windows import PHONE, until


def test_a_typed_reading_is_judged_at_once_and_can_be_set_aside(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/true/track")
    form = page.locator("[data-live=true-next] form[data-true]").first
    field = form.locator("input[data-row]").first
    field.fill("wide")
    field.press("Enter")
    assert "Not a number" in form.locator(".true-said").inner_text()
    for each in form.locator("input[data-row]").all():
        each.fill("0,1")
    field.press("Enter")
    until(page, "document.querySelectorAll('[data-live=true-made] li').length > 0")
    assert "0.1 mm" in page.locator("[data-live=true-made] li").first.inner_text()
    window.picture("truing-typed", full_page=True)
    window.all_said()


def test_a_step_s_reading_brings_what_all_readings_say(reed, opens) -> None:
    window = opens(reed, PHONE)
    page = window.page
    window.go("/step/rail-true")
    until(page, "document.querySelector('[data-true-at] [data-true-now]') !== null")
    block = page.locator(".reading[data-of]").first
    block.locator("input[data-value]").fill("0.02")
    block.locator("input[data-value]").press("Enter")
    until(page, "document.querySelectorAll('[data-true-at] .true-row').length > 0")
    window.all_said()

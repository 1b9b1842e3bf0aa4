"""Reed from unboxing to sign-off, by clicks at phone size; what was said stands in the log."""

from playwright.sync_api import Page

from browser.moves import do_the_step
from browser.windows import state_of

STEPS = 10


def test_reed_is_built_from_unboxing_to_sign_off_by_clicks_on_a_phone(reed, opens) -> None:
    window = opens(reed)
    page: Page = window.page
    window.go("/")
    window.picture("build-1-first-visit")

    # Unboxing: every sort is counted.
    page.get_by_role("link", name="Parts").first.click()
    page.wait_for_selector(".sheet-row")
    rows = page.locator(".sheet-row [data-all]")
    for number in range(rows.count()):
        rows.nth(number).click()
    window.all_said()
    window.picture("build-2-counted")
    counted = rows.count()

    page.locator(".rule-hole").click()
    page.locator(".go-on a").click()
    for number in range(1, STEPS + 1):
        page.wait_for_selector(f"h1:has-text('Step {number} of {STEPS}')")
        window.picture(f"build-3-step-{number:02}", full_page=True)
        do_the_step(page)
    page.wait_for_selector("text=All 10 steps are done")
    window.all_said()
    window.picture("build-4-all-done", full_page=True)

    state = state_of(reed.folder)
    assert sum(1 for step in state.steps.values() if step.done) == STEPS
    assert len(state.counted) == counted
    assert {of for _, of in state.readings} == {"rail-offset", "rail-parallel"}
    assert not state.open_points
    assert len({step for step, _ in state.laid_out}) >= 7

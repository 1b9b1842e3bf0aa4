"""What the step page does beside its ticks: open items, deviations, photos, the view in 3D, neighbours."""

import base64

from browser.moves import lay_out
from browser.windows import LAPTOP, state_of, until

PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)


def test_leaving_an_alignment_unread_asks_why_and_keeps_it_as_an_open_point(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail-true")
    page.locator("[data-done]").click()
    page.wait_for_selector("dialog[open]")
    assert "still open" in page.locator("dialog[open] h2").inner_text()
    window.picture("left-open-why")
    page.get_by_label("Reason in your own words").fill("the rule is in the other workshop")
    page.get_by_role("button", name="Leave it open for this reason").click()
    page.wait_for_selector("h1:has-text('Step 5 of')")
    window.all_said()
    page.locator(".rule-open").click()
    page.wait_for_selector("text=the rule is in the other workshop")
    state = state_of(reed.folder)
    assert len(state.open_points) >= 1
    page.get_by_role("button", name="Settled").first.click()
    window.all_said()
    assert len(state_of(reed.folder).open_points) == len(state.open_points) - 1


def test_one_undo_takes_back_all_that_one_tap_said(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail-true")
    page.locator("[data-done]").click()
    page.get_by_role("button", name="Instrument not at hand").click()
    page.wait_for_selector("h1:has-text('Step 5 of')")
    window.all_said()
    assert state_of(reed.folder).open_points
    page.locator("#saying").get_by_role("button", name="Undo").click()
    page.wait_for_selector("h1:has-text('Step 4 of')")
    window.all_said()
    state = state_of(reed.folder)
    assert state.open_points == {}
    assert state.steps["rail-true"].done is None


def test_a_part_done_differently_is_two_taps_and_can_be_taken_back(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    page.locator("[data-differ-part]").nth(1).click()
    window.picture("did-it-differently")
    page.locator("[data-what=damaged]").click()
    page.wait_for_selector("text=damaged")
    window.all_said()
    assert [each.what for each in state_of(reed.folder).deviations] == ["damaged"]
    page.locator("#saying").get_by_role("button", name="Undo").click()
    page.wait_for_timeout(200)
    window.all_said()
    assert not state_of(reed.folder).deviations


def test_a_photo_and_a_note_are_kept_with_the_step(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    page.locator("[data-capture] input[type=file]").set_input_files(
        {"name": "base.png", "mimeType": "image/png", "buffer": PIXEL}
    )
    page.wait_for_selector("text=Photo kept")
    page.get_by_role("button", name="Note").click()
    page.get_by_label("In your words").fill("the left foot sits <b>loose</b>")
    page.locator("#note").get_by_role("button", name="Keep").click()
    page.wait_for_selector(".entry:has-text('the left foot sits <b>loose</b>')")
    window.all_said()
    state = state_of(reed.folder)
    assert [each.step for each in state.photos] == ["feet"]
    window.go("/step/feet")
    shown = page.locator(".photos img").first
    assert shown.evaluate("async image => { await image.decode(); return image.naturalWidth }") == 1


def test_the_view_in_3d_is_fetched_on_demand_and_turns(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page = window.page
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    window.go("/step/camera-plate")
    assert not [url for url in asked if "/view-" in url or ".bin" in url]
    page.locator("[data-view]").click()
    page.wait_for_selector(".view[data-drawn]")
    before = int(page.locator(".view").get_attribute("data-drawn") or 0)
    page.keyboard.press("ArrowRight")
    until(page, f"Number(document.querySelector('.view').dataset.drawn) > {before}")
    for name in ("Later parts", "See through", "Slots, keys"):
        button = page.locator(".view-tools").get_by_role("button", name=name)
        button.click()
        assert button.get_attribute("aria-pressed") == "true"
        page.wait_for_timeout(120)
    window.picture("view-in-3d")
    # Something is drawn: not one colour.
    page.locator("[data-view]").click()
    page.wait_for_selector(".picture-frame:not([hidden])")


def test_the_neighbour_step_is_there_without_asking_the_bench_again(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail")
    window.all_said()
    page.wait_for_timeout(1500)
    window.away = True
    window.context.set_offline(True)
    page.locator("[data-key=back]").click()
    page.wait_for_selector("h1:has-text('Step 2 of')")
    window.context.set_offline(False)


def test_a_letter_touched_in_the_picture_shows_its_row(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail")
    page.wait_for_selector(".picture-live")
    page.locator(".picture-live circle.touch[data-letter=S]").first.click()
    page.wait_for_selector(".pick.found:has-text('rail 12x270')")


def test_a_step_that_is_done_can_be_opened_again(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    lay_out(page)
    page.locator("[data-done]").click()
    page.wait_for_selector("h1:has-text('Step 2 of')")
    window.all_said()
    page.locator("[data-key=back]").click()
    page.wait_for_selector(".done-line")
    page.get_by_role("button", name="Open it again").click()
    window.all_said()
    page.wait_for_selector(".done-line", state="detached")
    step = state_of(reed.folder).steps["feet"]
    assert step.done is None
    assert step.reopened == 1

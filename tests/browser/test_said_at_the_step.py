"""Readings, names and reasons as they are said at the step."""

from __future__ import annotations

from browser.windows import LAPTOP, state_of, until

JPEG = b"\xff\xd8\xff\xe0" + bytes(40)


def test_a_reading_is_typed_with_its_unit_or_another_and_a_wrong_one_is_said(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail-true")
    block = page.locator("form.reading[data-of=rail-parallel]")
    field, words = block.locator("input[data-value]"), block.locator(".verdict")
    field.fill("0.05 N")
    assert "“N” is a force; this field is in mm." in words.inner_text()
    block.get_by_role("button", name="Keep").click()
    assert field.input_value() == "0.05 N"
    field.fill("0,04 mm")
    assert words.inner_text().startswith("In: 0.04 mm")
    block.get_by_role("button", name="Keep").click()
    page.wait_for_selector("text=Kept: 0.04 mm")
    field.fill("1 thou")
    assert words.inner_text().startswith("1 thou is 0.0254 mm. In: 0.0254 mm")
    block.get_by_role("button", name="Keep").click()
    page.wait_for_selector("text=Kept: 0.0254 mm")
    window.all_said()
    kept = state_of(reed.folder).readings["rail-true", "rail-parallel"]
    assert [(one.value, one.unit, one.note) for one in kept] == [
        (0.04, "mm", ""), (0.0254, "mm", "written as 1 thou"),
    ]  # fmt: skip


def test_an_out_is_shown_with_value_limit_and_instrument_where_one_asks_why_go_on(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail-true")
    block = page.locator("form.reading[data-of=rail-parallel]")
    for value in ("0,3", "0,1"):  # out, then one that cannot tell: it takes nothing back
        block.locator("input[data-value]").fill(value)
        block.get_by_role("button", name="Keep").click()
    assert block.get_attribute("data-settled") == "bad"
    page.locator("[data-done]").click()
    page.wait_for_selector("dialog[open]")
    said = page.locator("dialog[open] .entry-read").all_inner_texts()
    assert said == ["Out: 0.3 mm, limit 0.1 mm, read with caliper, ± 0.053 mm."]
    window.picture("why-go-on-with-an-out")
    page.keyboard.press("Escape")
    # As the bench says it when the page comes anew.
    window.all_said()
    window.go("/step/rail-true")
    until(page, "document.querySelector('form.reading[data-of=rail-parallel]').dataset.settled === 'bad'")
    page.locator("[data-done]").click()
    assert page.locator("dialog[open] .entry-read").all_inner_texts() == said


def test_a_text_called_a_photo_is_refused_at_once_and_a_photo_can_be_taken_back(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page = window.page
    window.go("/step/feet")
    place = page.locator("[data-capture] input[type=file]")
    place.set_input_files({"name": "note.jpg", "mimeType": "image/jpeg", "buffer": b"a note, no photo"})
    page.wait_for_selector("text=“note.jpg” is no picture inside")
    window.all_said()
    assert state_of(reed.folder).photos == ()
    place.set_input_files({"name": "corner.jpg", "mimeType": "image/jpeg", "buffer": JPEG})
    page.wait_for_selector("text=Photo kept.")
    window.all_said()
    assert len(state_of(reed.folder).photos) == 1
    page.locator("#saying").get_by_role("button", name="Undo").click()
    page.wait_for_selector("text=Taken back.")
    window.all_said()
    assert state_of(reed.folder).photos == ()
    # One that was kept earlier has its way back beside it.
    place.set_input_files({"name": "corner.jpg", "mimeType": "image/jpeg", "buffer": JPEG})
    page.wait_for_selector("text=Photo kept.")
    window.all_said()
    window.go("/step/feet")
    page.locator(".photos").get_by_role("button", name="Undo").click()
    page.wait_for_selector(".photos", state="detached")
    window.all_said()
    assert state_of(reed.folder).photos == ()


def test_what_the_bench_refuses_says_why_and_can_be_left_out(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    window.away = True  # the refusal is meant
    page = window.page
    window.go("/step/feet")
    film = b"\x00\x00\x00\x18ftypisom" + bytes(40)  # called a picture; only the bench sees that it is a film
    page.locator("[data-capture] input[type=file]").set_input_files(
        {"name": "corner.jpg", "mimeType": "image/jpeg", "buffer": film}
    )
    page.wait_for_selector(
        "#waiting:has-text('This is no photo. Its name ends in .jpg, but what is in it is a film')"
    )
    window.picture("a-photo-that-is-none")
    page.get_by_role("button", name="Leave it out").click()
    page.wait_for_selector("#waiting", state="hidden")
    window.all_said()
    assert state_of(reed.folder).photos == ()


def test_damaged_from_the_bar_asks_which_part_so_that_the_stock_knows(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    page.locator("[data-differ]").click()
    page.locator("#differ [data-what=damaged]").click()
    page.wait_for_selector("dialog[open] h2:has-text('Which part is damaged?')")
    assert page.locator(".part-choices .choice").count() == page.locator(".pick").count() + 1
    until(page, "[...document.querySelectorAll('.choice-picture img')].every(image => image.complete)")
    window.picture("which-part-is-damaged")
    page.locator(".part-choices .choice", has_text="cross foot").click()
    page.wait_for_selector("text=Kept: cross foot, damaged.")
    window.all_said()
    (one,) = state_of(reed.folder).deviations
    row = page.locator(".pick", has_text="cross foot")
    assert (one.what, one.part) == ("damaged", row.get_attribute("data-part"))
    page.wait_for_selector(".entry:has-text('cross foot damaged')")


def test_none_of_the_parts_is_said_in_words(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page = window.page
    window.go("/step/feet")
    page.locator("[data-differ]").click()
    page.locator("#differ [data-what=missing]").click()
    window.picture("which-part-is-not-here")
    page.locator(".part-choices .choice", has_text="None of these").click()
    page.get_by_label("Which part, and what was seen").fill("the bag of spare nuts")
    page.get_by_role("button", name="Keep").last.click()
    page.wait_for_selector("text=Kept.")
    window.all_said()
    (one,) = state_of(reed.folder).deviations
    assert (one.what, one.part, one.why) == ("missing", "", "the bag of spare nuts")


def test_a_step_skipped_from_the_bar_says_why_and_is_taken_up_again(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    page.locator("[data-differ]").click()
    page.locator("#differ [data-what=skipped]").click()
    page.get_by_label("Reason in your own words").fill("this one hangs on a wall")
    page.get_by_role("button", name="Skip it for this reason").click()
    page.wait_for_selector(".skipped:has-text('Skipped, because: this one hangs on a wall')")
    window.all_said()
    until(page, "document.querySelector('[data-done]').textContent.trim() === 'Next'")
    page.evaluate("scrollTo(0, 0)")
    window.picture("a-skipped-step")
    page.locator("[data-done]").click()
    page.wait_for_selector("h1:has-text('Step 2 of')")
    page.locator(".rule-hole").click()
    page.wait_for_selector(".order-page .entry:has-text('this one hangs on a wall')")
    window.picture("the-order-with-a-skipped-step", full_page=True)
    assert "Nuts" in page.locator(".go-on").inner_text() or "2" in page.locator(".go-on b").inner_text()
    page.locator(".entry").get_by_role("link", name="Do it now").click()
    page.get_by_role("button", name="Do it now").click()
    page.wait_for_selector(".skipped", state="detached")
    until(page, "document.querySelector('[data-done]').textContent.trim() === 'Done, next'")
    window.all_said()
    state = state_of(reed.folder)
    assert state.deviations == ()
    assert state.steps["feet"].done is None


SIGNED = "The carriage runs by one finger from stop to stop; keep the others out of the gap."


def test_a_sign_off_asks_for_a_name_which_the_device_remembers(reed, opens) -> None:
    steps = (reed.folder / "steps.toml").read_text("utf-8")
    window = opens(reed)
    page = window.page
    window.go("/step/run")
    (reed.folder / "steps.toml").write_text(
        steps.replace(f'check = ["{SIGNED}', f'sign-off = ["{SIGNED}'), "utf-8"
    )
    page.wait_for_selector(".act-tick:has-text('Signed off')")
    tick = page.locator(".act-tick", has_text="Signed off")
    tick.click()
    page.wait_for_selector("dialog[open] h2:has-text('Sign off')")
    page.keyboard.press("Escape")
    page.wait_for_selector("dialog[open]", state="detached")
    assert not tick.locator("input").is_checked()
    tick.click()
    page.get_by_label("Who answers for it").fill("Ada")
    window.picture("who-signs")
    page.get_by_role("button", name="Sign", exact=True).click()
    page.wait_for_selector(".act-tick:has-text('Signed off by Ada')")
    window.all_said()
    window.go("/step/run")
    tick = page.locator(".act-tick", has_text="Signed off by Ada")
    tick.click()  # taken back; signed again by somebody else
    until(page, "!document.querySelector('.act-tick input[data-sort=sign-off]').checked")
    page.locator("#saying").get_by_role("button", name="Put it back").click()
    until(page, "document.querySelector('.act-tick input[data-sort=sign-off]').checked")
    tick.click()
    until(page, "!document.querySelector('.act-tick input[data-sort=sign-off]').checked")
    window.all_said()
    page.locator(".act-tick", has_text="Signed off").click()
    assert page.get_by_label("Who answers for it").input_value() == "Ada"
    page.get_by_label("Who answers for it").fill("Grace")
    page.keyboard.press("Enter")
    page.wait_for_selector(".act-tick:has-text('Signed off by Grace')")
    window.all_said()
    window.go("/open")
    assert "signed by Grace" in page.locator(".entry", has_text="The carriage runs").inner_text()
    window.picture("signed-off-list", full_page=True)

"""Two devices at one bench: each sees what the other says, and both are kept when they differ."""

from browser.moves import tick
from browser.windows import LAPTOP, Watched, until


def test_what_one_device_ticks_the_other_sees_without_reloading(reed, opens) -> None:
    phone, laptop = opens(reed), opens(reed, LAPTOP)
    for each in (phone, laptop):
        each.go("/step/feet")
        each.all_said()
    tick(phone.page.locator(".pick").first)
    until(laptop.page, "document.querySelector('.pick input').checked")
    phone.page.locator("[data-must]").count()
    phone.go("/step/rail-true")
    laptop.go("/step/rail-true")
    phone.page.locator("input[data-value]").first.fill("0.1")
    phone.page.get_by_role("button", name="Keep").first.click()
    laptop.page.wait_for_selector(".kept li")
    assert "0.1 mm" in laptop.page.locator(".kept li").first.inner_text()


def test_a_field_in_which_somebody_types_is_not_taken_away(reed, opens) -> None:
    phone, laptop = opens(reed), opens(reed, LAPTOP)
    for each in (phone, laptop):
        each.go("/step/rail-true")
        each.all_said()
    laptop.page.locator("input[data-value]").first.fill("0.3")
    phone.page.locator("input[data-value]").first.fill("0.1")
    phone.page.get_by_role("button", name="Keep").first.click()
    phone.all_said()
    laptop.page.wait_for_timeout(600)
    assert laptop.page.locator("input[data-value]").first.input_value() == "0.3"


def joined(open_reed, opens, laptop) -> Watched:
    """A phone that has joined by the code that the laptop shows, over plain http as in a workshop."""
    laptop.go("/join")
    code = laptop.page.locator(".join-code .code").inner_text()
    phone = opens(open_reed)
    phone.away = True  # until it has joined, it is refused
    phone.page.goto(f"{open_reed.lan_address}/")
    assert "Reed" not in phone.page.content()
    phone.page.goto(f"{open_reed.lan_address}/join")
    phone.page.get_by_label("One-time code").fill(code)
    phone.page.get_by_label("What this device is called").fill("phone by the vice")
    phone.picture("joining")
    phone.page.get_by_role("button", name="Join").click()
    phone.page.wait_for_selector("h1:has-text('Reed')")
    phone.away = False
    return phone


def test_two_devices_that_differ_are_both_kept_and_the_page_says_so(open_reed, opens) -> None:
    laptop = opens(open_reed, LAPTOP)
    phone = joined(open_reed, opens, laptop)
    laptop.go("/parts")
    phone.page.goto(f"{open_reed.lan_address}/parts")
    phone.page.wait_for_selector("html[data-ready]")
    # Neither hears of the other for a while.
    phone.away = laptop.away = True
    phone.context.set_offline(True)
    laptop.context.set_offline(True)
    phone.page.locator(".sheet-row [data-all]").first.click()
    field = laptop.page.locator(".sheet-row .count-field input").first
    field.fill("7")
    field.press("Enter")
    phone.context.set_offline(False)
    phone.page.wait_for_selector("#waiting", state="hidden")
    phone.all_said()
    laptop.context.set_offline(False)
    laptop.page.wait_for_selector("#waiting", state="hidden")
    laptop.all_said()
    laptop.go("/open")
    laptop.page.wait_for_selector("text=Two devices differ")
    laptop.picture("two-devices-differ")
    assert "phone by the vice" in laptop.page.locator("main").inner_text()


def test_a_device_that_is_shut_out_sees_nothing_any_more(open_reed, opens) -> None:
    laptop = opens(open_reed, LAPTOP)
    phone = joined(open_reed, opens, laptop)
    laptop.go("/join")
    laptop.picture("devices")
    laptop.page.get_by_role("button", name="Shut out").click()
    laptop.page.wait_for_selector("text=phone by the vice", state="detached")
    phone.away = True
    phone.page.goto(f"{open_reed.lan_address}/step/feet")
    assert "Feet under the base" not in phone.page.content()

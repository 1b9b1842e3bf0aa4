"""A look-alike in the hand: named by big buttons on a phone, and by the keyboard, and counted there."""

from browser.windows import LAPTOP, PHONE, state_of, until


def to_the_pile(page, choose) -> None:
    """Answers question after question until the piece has its letter."""
    while not page.locator("[data-more]").count():
        before = page.url
        choose()
        until(page, f"location.href !== {before!r}")
        page.wait_for_selector(".sort-choice, [data-more]")


def test_a_piece_gets_its_letter_by_taps_and_is_counted(reed, opens) -> None:
    window = opens(reed, PHONE)
    page = window.page
    window.go("/parts")
    page.get_by_role("link", name="What have I in my hand?").click()
    page.wait_for_selector("h1:has-text('What is it?')")
    small = page.evaluate(
        "[...document.querySelectorAll('.sort-choice')].some(each => each.offsetHeight < 56)"
    )
    assert not small
    to_the_pile(page, page.locator(".sort-choice").first.click)
    window.picture("sorting-pile")
    sort = page.locator("[data-sort]").first.get_attribute("data-sort")
    page.locator("[data-more]").first.click()
    page.wait_for_selector("[data-more-says]:has-text('2 of')")
    page.locator("[data-more]").first.click()
    page.wait_for_selector(".count-said:has-text('2 counted')")
    window.all_said()
    assert state_of(reed.folder).counted[sort].pieces == 2


def test_a_piece_gets_its_letter_by_the_keyboard_alone(reed, opens) -> None:
    window = opens(reed, LAPTOP)
    page, keys = window.page, window.page.keyboard
    window.go("/parts")
    keys.press("s")
    page.wait_for_selector("h1:has-text('What is it?')")
    to_the_pile(page, lambda: keys.press("1"))
    keys.press("+")
    page.wait_for_selector(".count-said:has-text('1 counted')")
    keys.press("ArrowRight")  # next piece
    page.wait_for_selector(".sort-choice, [data-more]")
    keys.press("ArrowLeft")
    page.wait_for_selector("h1:has-text('What is it?')")
    window.all_said()


def test_the_view_in_three_dimensions_begins_as_the_picture_and_shows_the_ways_in(reed, opens) -> None:
    window = opens(reed, PHONE)
    page = window.page
    window.go("/step/rail")
    looks = page.locator("[data-view]").get_attribute("data-looks")
    assert looks
    assert len([float(each) for each in looks.split(",")]) == 3
    page.locator("[data-view]").click()
    page.wait_for_selector(".view[data-drawn]")
    ways = page.get_by_role("button", name="Ways in")
    assert ways.get_attribute("aria-pressed") == "true"
    ways.click()
    ways.click()
    page.wait_for_selector(".view-said:has-text('in')")


def test_two_who_sort_into_one_pile_at_once_add_up(reed, opens) -> None:
    first, second = opens(reed, PHONE), opens(reed, LAPTOP)
    first.go("/sort")
    to_the_pile(first.page, first.page.locator(".sort-choice").first.click)
    sort = first.page.locator("[data-sort]").first.get_attribute("data-sort")
    second.page.goto(first.page.url)
    second.page.wait_for_selector("html[data-ready]")
    for window in (first, second):  # neither hears of the other for a while
        window.away = True
        window.context.set_offline(True)
        window.page.locator("[data-more]").first.click()
        window.page.locator("[data-more]").first.click()
        window.page.wait_for_selector(".count-said:has-text('2 counted')")
    for window in (first, second):
        window.context.set_offline(False)
        window.page.wait_for_selector("#waiting", state="hidden")
        window.all_said()
    state = state_of(reed.folder)
    assert state.counted[sort].pieces == 4
    assert not state.conflicts
    first.page.wait_for_selector(".count-said:has-text('4 counted')")

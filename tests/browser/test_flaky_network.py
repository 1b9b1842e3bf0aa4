"""What is said while the bench is away arrives once, and once only; pages shown before are shown again."""

import signal

from browser.moves import lay_out, tick
from browser.windows import state_of, until


def test_ticks_and_readings_said_offline_arrive_exactly_once(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/rail-true")
    window.all_said()
    window.away = True
    window.context.set_offline(True)
    page.locator("input[data-value]").first.fill("0,2")
    page.get_by_role("button", name="Keep").first.click()
    page.locator("[data-mark]").click()
    page.wait_for_selector("#waiting:not([hidden])")
    assert "waiting" in page.locator("#waiting").inner_text()
    window.picture("offline-waiting")
    assert page.locator(".kept .waiting").count() == 1
    window.context.set_offline(False)
    page.wait_for_selector("#waiting", state="hidden")
    window.all_said()
    state = state_of(reed.folder)
    assert [len(rows) for rows in state.readings.values()] == [1]
    assert len(state.marks) == 1


def test_a_bench_that_is_killed_loses_nothing_and_the_page_reloads_without_it(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    until(page, "navigator.serviceWorker.controller !== null")
    window.go("/step/feet")
    window.all_said()
    window.away = True
    reed.stop(signal.SIGKILL)

    lay_out(page)
    page.wait_for_selector("#waiting:not([hidden])")
    page.reload()
    page.wait_for_selector("html[data-ready]")
    rows = page.locator(".pick input")
    assert all(rows.nth(number).is_checked() for number in range(rows.count()))

    reed.start()
    page.wait_for_selector("#waiting", state="hidden", timeout=30_000)
    window.all_said()
    state = state_of(reed.folder)
    parts = [part for step, part in state.laid_out if step == "feet"]
    assert len(parts) == len(set(parts)) > 0
    laid = [entry for entry in entries_of(reed.folder) if entry.event.kind == "laid-out"]
    assert len(laid) == rows.count()


def test_a_lost_answer_makes_the_page_say_it_again_and_the_log_keep_it_once(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/step/feet")
    window.all_said()
    window.away = True
    lost = []

    def lose_the_answer(route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)  # the bench has it, the phone never hears so
        route.abort()

    page.route("**/log", lose_the_answer)
    tick(page.locator(".pick").first)
    page.wait_for_timeout(100)
    window.all_said()
    assert lost == [200]
    laid = [entry for entry in entries_of(reed.folder) if entry.event.kind == "laid-out"]
    assert len(laid) == 1


def entries_of(folder):
    from trysquare.record.log import open_log

    with open_log(folder / "log.sqlite", machine="", read_only=True) as log:
        return list(log.events())

"""What a person does on a page, by its words and places."""

from __future__ import annotations

from playwright.sync_api import Locator, Page


def tick(row: Locator) -> None:
    """Ticks the box of a row by its whole row, as a glove does."""
    if not row.locator("input[type=checkbox]").is_checked():
        row.locator("label, .tick-box").first.click()


def lay_out(page: Page) -> int:
    """Ticks every part of the step; gives how many rows."""
    rows = page.locator(".pick")
    for number in range(rows.count()):
        tick(rows.nth(number))
    return rows.count()


def tick_all_to_do(page: Page) -> None:
    """Ticks what is tightened, checked and signed."""
    boxes = page.locator(".act-tick")
    for number in range(boxes.count()):
        box = boxes.nth(number)
        if not box.locator("input").is_checked():
            box.click()


def keep_readings(page: Page, value: str = "0,01") -> None:
    """Types a value into every field of the step and keeps it."""
    blocks = page.locator("form.reading")
    for number in range(blocks.count()):
        block = blocks.nth(number)
        block.locator("input[data-value]").fill(value)
        block.get_by_role("button", name="Keep").click()


def do_the_step(page: Page) -> None:
    """All that a step asks for, then on to the next."""
    lay_out(page)
    tick_all_to_do(page)
    keep_readings(page)
    page.locator("[data-done]").click()

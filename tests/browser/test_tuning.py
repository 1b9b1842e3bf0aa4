"""Tuning at the bench: a table is chosen, reckoned with, its answer kept, and a check signed."""

from __future__ import annotations

from browser.windows import ROOT

RECORDINGS = ROOT / "demo" / "larch" / "recordings"


def test_a_map_of_the_bed_is_chosen_reckoned_with_and_kept(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/tune")
    page.get_by_role("link", name="Bed surface").click()
    page.wait_for_selector("form[data-ask]")
    page.set_input_files("[data-file=files] input[type=file]", RECORDINGS / "bed-map.csv")
    page.wait_for_selector(".captured li")
    page.get_by_role("button", name="Reckon").click()
    page.wait_for_selector(".report-part")
    window.picture("tuned-surface")
    assert page.locator(".report-picture img").count() == 1
    page.locator(".report-part").first.get_by_role("button", name="Keep this").click()
    window.all_said()
    page.wait_for_selector(".entries .entry")
    assert "mm" in page.locator(".entries .entry").first.inner_text()
    window.all_said()
    window.go("/tune")
    assert page.locator(".tool-last .number").count() == 1


def test_a_file_that_cannot_be_read_is_told_on_the_page(reed, opens, tmp_path) -> None:
    window = opens(reed)
    page = window.page
    bad = tmp_path / "touches.csv"
    bad.write_text("x_mm\nnothing\n", "utf-8")
    window.go("/tune/homing")
    page.set_input_files("[data-file=files] input[type=file]", bad)
    page.wait_for_selector(".captured li")
    page.get_by_role("button", name="Reckon").click()
    page.wait_for_selector(".notice.stop")
    assert "touches.csv" in page.locator(".notice.stop").inner_text()


def test_a_recording_of_the_page_becomes_a_file_that_can_be_heard(reed, opens) -> None:
    window = opens(reed)
    page = window.page
    window.go("/tune/belt")
    made = page.evaluate(
        """async () => {
          const context = new AudioContext();
          const tone = context.createOscillator();
          const out = context.createMediaStreamDestination();
          tone.connect(out); tone.start();
          navigator.mediaDevices.getUserMedia = async () => out.stream;
          document.querySelector("[data-record]").click();
          await new Promise((done) => setTimeout(done, 900));
          document.querySelector("[data-record]").click();
          return true;
        }"""
    )
    assert made
    page.wait_for_selector(".captured li")
    assert ".wav" in page.locator(".captured li").inner_text()

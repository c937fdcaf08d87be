"""The reference plane on the page: moved by a form, shown, and moved back."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from acceptance.limits.decision import State
from acceptance.recheck.recheck_folder import recheck_folder
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import calibrate, settled, until


@pytest.mark.usefixtures("width")
def test_the_plane_is_moved_through_a_cable_and_back(opened: Page, site: Site) -> None:
    page = opened
    expect(page.locator("#plane-open")).to_be_hidden()
    calibrate(site.bench)
    expect(page.locator("#plane-words")).to_have_text("At the end of the calibrated cable")
    page.keyboard.press("e")
    dialog = page.locator("#plane")
    expect(dialog).to_be_visible()
    page.locator("#plane-feed").click()
    expect(page.locator("#plane-refused")).to_contain_text("How long is the cable?")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.locator("#plane-cable").click()
    page.get_by_text("ptfe-2.5mm").first.click()
    page.locator("#plane-length").fill("182")
    page.locator("#plane-feed").click()
    expect(dialog).to_be_hidden()
    expect(page.locator("#plane-words")).to_contain_text("At the antenna's feed after 182 mm")
    expect(page.locator("#plane-effect")).to_contain_text("the trust floor")
    expect(page.locator("#strips .strip").first).to_be_visible()
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.locator("#plane-open").click()
    page.locator("#plane-connector").click()
    expect(page.locator("#plane-words")).to_have_text("At the end of the calibrated cable")


def test_a_refusal_is_read_in_the_dialog_it_was_asked_in(opened: Page, site: Site) -> None:
    page = opened
    until(site.bench, lambda now: now.sequence > 0)
    site.bench.hands.screw_on("antenna")
    page.locator("#plane-open").dispatch_event("click")
    page.locator("#pigtail-open").click()
    answered = page.locator("#plane .answered")
    expect(answered).to_contain_text("need a calibration first")
    expect(answered).to_have_attribute("data-kind", "refused")


@pytest.mark.calibrated
def test_a_plane_that_cannot_be_there_is_said_in_the_dialog(opened: Page, site: Site) -> None:
    """No cable lies there, and undoing 6 dB and more leaves an antenna that reflects too much."""
    page = opened
    settled(site.bench)
    page.keyboard.press("e")
    page.locator("#plane-cable").click()
    page.get_by_text("micro-1.13mm").first.click()
    page.locator("#plane-length").fill("3200")
    page.locator("#plane-feed").click()
    expect(page.locator("#plane-refused")).to_contain_text("The plane cannot be there.")
    expect(page.locator("#plane")).to_be_visible()
    page.locator("#plane-connector").click()
    expect(page.locator("#plane")).to_be_hidden()
    expect(page.locator("#plane-words")).to_have_text("At the end of the calibrated cable")


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_a_pigtail_is_measured_on_the_page(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.get_by_role("button", name="3.2 m of micro-coax").click()
    page.locator("#on-port").get_by_role("button", name="nothing").click()
    settled(site.bench)
    page.keyboard.press("e")
    expect(page.locator("#pigtail-bare")).to_be_disabled()
    expect(page.locator("#plane .answered")).to_be_hidden()
    page.locator("#pigtail-open").click()
    expect(page.locator("#plane .answered")).to_contain_text("its end open")
    expect(page.locator("#pigtail-taken")).to_have_text("Measured with its end open.")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.locator("#pigtail-bare").click()
    expect(page.locator("#plane-words")).to_contain_text(
        "after the pigtail measured with its end open"
    )


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_a_false_pass_through_6_db_of_cable_is_caught(opened: Page, site: Site) -> None:
    """The antenna as delivered fails; behind 3.2 m of micro-coax, 6 dB one way at 850 MHz, it reads
    12 dB better [derived] and passes, in doubt, until the cable is measured. Page and record tell
    it alike."""
    page = opened
    bare = settled(site.bench)
    assert bare.verdict is not None
    assert bare.verdict.overall is State.FAIL
    site.bench.hands.lay("lossy")
    passed = until(
        site.bench, lambda now: bool(now.verdict) and now.verdict.overall is State.CONDITIONAL_PASS
    )
    assert passed.verdict is not None
    expect(page.locator("#sentence")).to_contain_text("Account for the cable")
    expect(page.locator("#headline")).to_have_attribute("data-tone", "unsure")
    page.keyboard.press("a")
    expect(page.locator("#verdict-overall")).to_contain_text("conditional pass")
    expect(page.locator("#verdict-notes")).to_contain_text("All of the reading turns as behind")
    page.keyboard.press("e")
    page.locator("#plane-cable").click()
    page.get_by_text("micro-1.13mm").first.click()
    page.locator("#plane-length").fill("3200")
    page.locator("#plane-feed").click()
    expect(page.locator("#plane")).to_be_hidden()
    # Typed from a table, 6 dB are too uncertain to be undone; measured at its end they are not.
    expect(page.locator("#verdict-overall")).not_to_have_text("pass")
    expect(page.locator("#verdict-rows")).to_contain_text("measure it with `bandwright cable`")
    hands.fits(page)
    page.keyboard.press("e")
    for on_port, button, words in (("nothing", "open", "open"), ("short", "short", "shorted")):
        site.bench.hands.screw_on(on_port)
        settled(site.bench)
        page.locator(f"#pigtail-{button}").click()
        expect(page.locator("#plane .answered")).to_contain_text(f"with its end {words}")
    page.locator("#pigtail-kit").click()
    expect(page.locator("#pigtail-found li").first).to_be_visible()
    page.keyboard.press("Escape")
    site.bench.hands.screw_on("antenna")
    settled(site.bench)
    expect(page.locator("#verdict-overall")).to_have_text("fail")
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of weir-3 is written")
    (folder,) = (site.folder / "records").glob("weir-3_*")
    found = recheck_folder(folder)
    assert found.holds, found.lines
    assert found.examined is not None
    assert found.examined.overall is State.FAIL
    words = found.record.acceptance.plane.words
    assert words.endswith("after the pigtail measured with its end open and shorted")

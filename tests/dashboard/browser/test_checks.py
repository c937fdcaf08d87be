"""Checking a calibration on the page: a second load, a standard put back, a burst named."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled, until


def test_a_second_load_and_a_standard_put_back_are_judged_and_count(
    opened: Page, site: Site
) -> None:
    page = opened
    page.keyboard.press("c")
    expect(page.locator("#calibration-checks")).to_be_hidden()
    hands.calibrate(page)
    page.keyboard.press("c")
    page.locator("#second-load").fill("40")
    page.locator("#check-load").click()
    expect(page.locator("#instruction")).to_contain_text("Screw the second load on")
    hands.screw_on(page, "second load")
    page.keyboard.press("n")
    expect(page.locator("#check-outcome")).to_contain_text("The calibration and the device agree.")
    expect(page.locator("#check-outcome")).to_be_in_viewport(ratio=0.99)
    expect(page.locator("#page")).to_have_attribute("data-view", "calibrate")
    expect(page.locator("#trust-load")).to_contain_text("proven by the second load")
    page.locator("#work-costs-out").click()
    expect(page.locator("#costs")).to_contain_text("dB load would lift the trust floor")
    expect(page.locator("#costs tbody tr")).to_have_count(5)

    page.locator("#put-back").get_by_role("button", name="short").click()
    hands.screw_on(page, "mismatch")  # the wrong one
    page.keyboard.press("n")
    expect(page.locator("#check-outcome")).to_contain_text("recalibrate")
    expect(page.locator("#check-outcome")).to_be_in_viewport(ratio=0.99)
    expect(page.locator("#check-outcome")).to_have_attribute("data-kind", "refused")
    page.locator("#put-back").get_by_role("button", name="short").click()
    hands.screw_on(page, "short")
    page.keyboard.press("n")
    expect(page.locator("#check-outcome")).to_contain_text("carry on")
    kept = settled(site.bench).calibration.calibration
    assert kept is not None
    assert len(kept.evidence.drift_checks) == 1, "the newest of one standard counts"


@pytest.mark.calibrated
def test_a_figure_that_is_none_is_refused_in_a_sentence(opened: Page) -> None:
    page = opened
    page.keyboard.press("c")
    page.locator("#second-load").fill("2")
    page.locator("#check-load").click()
    expect(page.locator("#answer")).to_contain_text("a positive number from 6 to 80 dB")
    page.locator("#check-certificate").click()
    expect(page.locator("#answer")).to_contain_text("Choose the certificate's Touchstone file")


def test_what_is_not_stated_of_the_load_is_said_on_the_bench(opened: Page) -> None:
    page = opened
    page.keyboard.press("c")
    page.locator("#load-db").fill("")
    page.locator("#load-db").press("Enter")
    expect(page.locator("#answer")).to_contain_text("26 dB is assumed")
    hands.calibrate(page)
    expect(page.locator("#trust")).to_contain_text("nothing is stated of your load")
    page.keyboard.press("c")
    page.locator("#load-db").fill("36")
    page.locator("#load-db").press("Enter")
    page.keyboard.press("b")
    expect(page.locator("#trust")).to_have_text(re.compile(r"Trust floor 3\d(?: to 3\d)? dB$"))


def test_a_transmitter_nearby_is_left_out_and_named(opened: Page, site: Site) -> None:
    page = opened
    hands.screw_on(page, "antenna")
    settled(site.bench)
    expect(page.locator("#averaged")).to_have_text("Mean of 8 sweeps")
    # A transmitter is heard by chance: between two sweeps it disturbs nothing, and where two
    # sweeps in a row are hit alike nobody knows which was. So it transmits again until it is.
    result = page.locator("#burst", has_text="was left out of sweep")
    while result.count() == 0:
        page.locator("#transmit").click()
        sent = site.bench.snapshot().sequence
        last = until(site.bench, lambda now, sent=sent: now.sequence > sent + 3)  # type: ignore[misc]
        hands.shown(page, last.sequence)
    expect(result).to_contain_text("a transmitter nearby")


@pytest.mark.calibrated
def test_the_checks_scroll_in_their_panel_and_make_the_page_no_longer(opened: Page) -> None:
    page = opened
    page.keyboard.press("c")
    expect(page.locator("#calibration-checks")).to_be_visible()
    page.locator("#calibration-checks").evaluate("e => e.scrollIntoView()")
    assert page.evaluate("document.documentElement.scrollHeight - innerHeight") <= 0

"""A page whose server went away says so by itself, and joins again by itself."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.dashboard.browser.conftest import Site


def test_a_lost_server_is_told_with_the_age_of_the_picture_and_found_again(
    opened: Page, site: Site
) -> None:
    page = opened
    expect(page.locator("#lost")).to_be_hidden()
    site.stop()
    expect(page.locator("#lost")).to_contain_text("does not answer")
    expect(page.locator("#sentence")).to_have_text(re.compile(r"^This picture is \d+\.\d s old\.$"))
    expect(page.locator("#page")).to_have_attribute("data-old", "true")
    expect(page.locator("#port-state")).to_have_text("No connection")
    faded = page.locator("#strips").evaluate("e => getComputedStyle(e).filter")
    assert "grayscale(1)" in faded
    first = page.locator("#sentence").inner_text()
    expect(page.locator("#sentence")).not_to_have_text(first)  # it goes on counting

    site.start()
    expect(page.locator("#page")).to_have_attribute("data-feed", "live")
    expect(page.locator("#lost")).to_be_hidden()
    expect(page.locator("#page")).to_have_attribute("data-old", "false")
    expect(page.locator("#sentence")).to_have_text("Calibrate with open, short and load.")

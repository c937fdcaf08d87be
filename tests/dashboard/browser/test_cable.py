"""The cable as a page, by hand: looked along, a section taken out, the sweep that is needed."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import calibrate, settled


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.usefixtures("width")
def test_a_cable_is_looked_along(opened: Page, site: Site, scheme: Any) -> None:
    page = opened
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{site.url}cable")
    expect(page.get_by_role("alert")).to_contain_text("Calibrate on the bench")
    hands.fits(page)
    calibrate(site.bench)
    site.bench.hands.lay("bad-joint")
    settled(site.bench)
    page.get_by_label("Leave out section (m)").fill("0-1")
    page.get_by_label("Range (m)").fill("4")
    page.get_by_role("button", name="Look along the cable").click()
    expect(page.locator("figure:visible svg")).to_have_count(2)
    expect(page.locator("main")).to_contain_text("at the connector")
    expect(page.locator("main")).to_contain_text("bandwright calibrate --port")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []


def test_the_page_leads_to_the_cable(opened: Page) -> None:
    with opened.context.expect_page() as opening:
        opened.get_by_role("link", name="Cable").click()
    expect(opening.value.locator("h1")).to_have_text("Along the cable")


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_a_cable_is_chosen_for_the_record(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.keyboard.press("a")
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#along").click()
    page.get_by_text("ptfe-2.5mm").last.click()
    hands.fits(page)
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of weir-3 is written")
    expect(page.locator("#accepted")).to_contain_text("line.toml")

"""The same job on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled


@pytest.fixture
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    return {
        **browser_context_args,
        "viewport": {"width": 390, "height": 844},
        "has_touch": True,
        "color_scheme": "dark",
    }


def test_calibrate_bend_and_accept_at_phone_width(opened: Page) -> None:
    page = opened
    hands.fits(page)
    page.get_by_role("button", name="Calibrate", exact=True).click()
    hands.fits(page)
    hands.calibrate(page)
    hands.bend_until_it_passes(page)
    hands.fits(page)
    plot = page.locator("#strips .plot").bounding_box()
    assert plot is not None
    assert plot["width"] > 300
    assert plot["height"] >= 120
    for row in page.locator("#strips .strip span.worst").all():
        assert row.evaluate("e => e.scrollWidth <= e.clientWidth"), row.inner_text()
    size = page.locator("#sentence").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert size >= 20
    for button in page.locator("#dimensions button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44  # a thumb's size
    page.get_by_role("button", name="Accept", exact=True).click()
    hands.fits(page)
    page.locator("#antenna-label").fill("mill-lane-7")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of mill-lane-7 is written")
    hands.fits(page)


def test_the_list_of_keys_shows_the_keys(opened: Page) -> None:
    page = opened
    page.get_by_role("button", name="Keys").click()
    caps = page.locator("#keys kbd")
    for cap in caps.all():
        expect(cap).to_be_visible()
    assert caps.count() > 20
    hands.fits(page)


@pytest.mark.calibrated
def test_the_cable_s_picture_fits_a_phone_in_the_theme_s_colours(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.goto(f"{site.url}cable?cable=ptfe-2.5mm")
    figure = page.locator("figure:visible")
    expect(figure).to_have_count(1)
    assert figure.evaluate("e => e.scrollWidth <= e.clientWidth")
    ground = figure.evaluate("e => getComputedStyle(e).backgroundColor")
    assert ground == page.locator("main").evaluate("e => getComputedStyle(e).backgroundColor")
    letters = figure.locator("text").first.bounding_box()
    assert letters is not None
    assert letters["height"] >= 10
    assert page.evaluate("tooFaint()") == []
    expect(page.locator(".peaks th", has_text="Return loss")).to_be_visible()
    table = page.locator(".wide").first
    assert table.evaluate("e => e.scrollWidth <= e.clientWidth")
    hands.fits(page)


def test_the_fields_of_a_date_stay_in_their_column(opened: Page, site: Site) -> None:
    page = opened
    page.goto(f"{site.url}records")
    for field in page.locator("input[type=date]").all():
        box, room = field.bounding_box(), field.locator("xpath=..").bounding_box()
        assert box is not None
        assert room is not None
        assert box["x"] + box["width"] <= room["x"] + room["width"]

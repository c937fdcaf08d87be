"""The same job on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands

pytestmark = pytest.mark.browser


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
    for strip in page.locator("#strips .strip").all():
        box = strip.locator(".plot").bounding_box()
        assert box is not None
        assert box["width"] > 300
        assert box["height"] >= 120
        for row in strip.locator(".worst:not(circle)").all():
            assert row.evaluate("e => e.scrollWidth <= e.clientWidth"), row.inner_text()
    size = page.locator("#sentence").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert size >= 20
    for button in page.locator("#dimensions button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44  # a thumb's size
    page.get_by_role("button", name="Accept", exact=True).click()
    hands.fits(page)
    page.locator("#unit-name").fill("mill-lane-7")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of mill-lane-7 is written.")
    hands.fits(page)


def test_the_list_of_keys_shows_the_keys(opened: Page) -> None:
    page = opened
    page.get_by_role("button", name="Keys").click()
    caps = page.locator("#keys kbd")
    for cap in caps.all():
        expect(cap).to_be_visible()
    assert caps.count() > 20
    hands.fits(page)

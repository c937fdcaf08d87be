"""What is on the screen is saved by key and by tap, as it is plotted."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_the_screen_is_saved_as_it_is_plotted(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    expect(page.locator("#aside")).to_contain_text("The dip is at")
    page.keyboard.press("v")
    page.keyboard.press("f")
    dialog = page.locator("#save")
    expect(dialog).to_be_visible()
    hands.fits(page)
    for form, begins in (("svg", b"<svg"), ("png", b"\x89PNG"), ("s1p", b"!"), ("csv", b"freq")):
        link = dialog.locator(f'[data-save="{form}"]')
        with page.expect_download() as waiting:
            link.click()
        path = waiting.value.path()
        assert path.read_bytes().startswith(begins)
        assert waiting.value.suggested_filename.endswith(f".{form}")
        if form == "svg":
            assert "VSWR" in path.read_text(encoding="utf-8")
    box = dialog.locator("[data-save]").first.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()

"""The virtual bench on the page: another antenna, an enclosure, rain, a drawing of its sizes."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from acceptance.limits.decision import State
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_an_antenna_that_passes_bare_does_not_in_its_enclosure(opened: Page, site: Site) -> None:
    page = opened
    antennas, around = page.locator("#antennas"), page.locator("#surroundings")
    antennas.get_by_role("button", name="known-good").click()
    expect(page.locator("#antenna-name")).to_have_text("Antenna known-good")
    verdict = settled(site.bench).verdict
    assert verdict is not None
    assert verdict.overall is State.PASS
    drawing = page.locator("#antenna-drawing svg")
    expect(drawing).to_have_attribute("aria-label", re.compile("Arm A 85.5 mm.*gap 2.0 mm$"))
    across = "document.querySelector('#antenna-drawing .strip').getBBox().width"
    before = page.evaluate(across)
    page.get_by_role("button", name="Arm A plus 2 mm").click()
    expect(drawing).to_have_attribute("aria-label", re.compile("Arm A 87.5 mm"))
    assert page.evaluate(across) > before
    page.get_by_role("button", name="Arm A minus 2 mm").click()

    around.get_by_role("button", name="Enclosure").click()
    expect(around.get_by_role("button", name="Enclosure")).to_have_attribute("aria-pressed", "true")
    expect(drawing).to_have_attribute("aria-label", re.compile("in its enclosure$"))
    verdict = settled(site.bench).verdict
    assert verdict is not None
    backhaul = next(each for each in verdict.bands if each.name == "gauge backhaul")
    assert backhaul.state in (State.FAIL, State.CONDITIONAL_FAIL)
    around.get_by_role("button", name="Rain").click()
    expect(page.locator("#antenna-drawing .drop").first).to_be_attached()
    antennas.get_by_role("button", name="mill-lane-7").click()
    expect(around.get_by_role("button", name="Rain")).to_have_attribute("aria-pressed", "false")
    hands.fits(page)

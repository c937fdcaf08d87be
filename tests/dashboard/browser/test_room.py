"""A laptop's window has room for the whole bench: nothing is cut off, nothing lies on another."""

from __future__ import annotations

from itertools import pairwise

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import LAPTOP, Site, Workshop
from tests.dashboard.conftest import settled, until

LEAST_PX = 140
"""So high is the overview, with its margins."""
ROW_PX = 40
LETTER_PX = 12
TOPS = (
    "[...document.querySelectorAll('#overview .tick[text-anchor=end]')]"
    ".map(e => e.getBoundingClientRect().y).sort((a, b) => a - b)"
)
SERVICES = (
    "[...document.querySelectorAll('#overview .service-name')]"
    ".map(e => e.getBoundingClientRect().y)"
)
BOTTOM = "document.querySelector('#overview .frame').getBoundingClientRect().bottom"


@pytest.fixture
def laptop(page: Page) -> Page:
    page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    return page


def height(page: Page, selector: str) -> float:
    box = page.locator(selector).first.bounding_box()
    assert box is not None
    return box["height"]


def has_room(page: Page) -> None:
    hands.wait_until(page, "document.querySelector('#overview svg') !== null")
    hands.wait_until(
        page,
        f"document.querySelector('#overview svg').getBoundingClientRect().height >= {LEAST_PX}",
    )
    assert height(page, ".tools") <= ROW_PX
    for pill in ("#port-state", "#plan-open"):
        cut = page.locator(pill).evaluate("e => e.scrollWidth - e.clientWidth")
        assert cut <= 0, pill
    assert page.locator("#view-bench").evaluate("e => e.scrollHeight - e.clientHeight") <= 0
    hands.fits(page)


@pytest.mark.calibrated
@pytest.mark.usefixtures("laptop")
def test_a_plot_has_room_in_the_demo(opened: Page, site: Site) -> None:
    settled(site.bench)
    expect(opened.locator("#aside")).to_contain_text("The dip is at")
    has_room(opened)
    opened.keyboard.press("h")
    expect(opened.locator("#holds button")).to_have_count(1)
    has_room(opened)


@pytest.mark.calibrated
@pytest.mark.usefixtures("laptop")
def test_a_plot_has_room_while_what_was_done_is_waited_for(
    opened_workshop: Page, workshop: Workshop
) -> None:
    page = opened_workshop
    workshop.advised()
    expect(page.locator("#done")).to_be_visible()
    has_room(page)
    page.keyboard.press("2")
    expect(page.locator("#take-back")).to_be_visible()
    expect(page.locator("#waiting-for")).to_contain_text("arm A +0.5 mm")
    has_room(page)


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_what_is_written_on_the_overview_lies_on_nothing(opened: Page, site: Site) -> None:
    page = opened
    until(site.bench, lambda now: now.verdict is not None)
    hands.wait_until(page, f"({TOPS}).length > 2")
    page.keyboard.press("z")
    expect(page.locator("#overview .axis-name")).to_contain_text("Ω")
    hands.wait_until(page, f"({TOPS}).length > 3")
    tops = page.evaluate(f"() => {TOPS}")
    assert all(low - high >= LETTER_PX for high, low in pairwise(tops))

    page.keyboard.press("r")
    page.keyboard.press("o")
    hands.wait_until(page, f"({SERVICES}).some(y => y >= {BOTTOM})")
    hands.wait_until(page, f"({SERVICES}).every(y => y >= {BOTTOM})")


@pytest.mark.usefixtures("laptop")
def test_a_shortened_pill_says_all_when_pointed_at(opened: Page) -> None:
    for pill in ("#port-state", "#plan-open", "#calibration-state"):
        words = opened.locator(pill).inner_text().removeprefix("Plan: ").strip()
        title = opened.locator(pill).get_attribute("title")
        assert title is not None
        assert title.startswith(words)

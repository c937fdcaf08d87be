"""Ten bands on a small laptop: all at once. Twenty on a phone: nothing is read sideways."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from dashboard.demo.demo_bench import demo_bench
from dashboard.page.plan_form import read_plan
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import PHONE, Site, watched_page
from tests.dashboard.conftest import calibrate, settled

SMALL_LAPTOP = (1366, 625)
"""What a browser leaves of 1366 by 768."""
TEN = ("20", "8", "3", "1", "7", "28", "40", "5", "n77", "38")
TWENTY = (*TEN[:8], "38", "2", "4", "12", "13", "17", "25", "26", "66", "71", "41", "32")
OUT_OF_SIGHT = """(() => {
  const list = document.querySelector('.lines ul').getBoundingClientRect();
  const inside = (box, room) => box.height > 0
    && box.top >= room.top - 1 && box.bottom <= room.bottom + 1
    && box.left >= room.left - 1 && box.right <= room.right + 1;
  const window = { top: 0, left: 0, right: innerWidth, bottom: innerHeight };
  const of = (selector, room) => [...document.querySelectorAll(selector)]
    .filter(e => !inside(e.getBoundingClientRect(), room)).map(e => e.textContent || selector);
  const whole = of('#headline, .lines ul, #overview, #overview svg', window);
  return [...of('.lines li', list), ...whole];
})()"""
CUT = """[...document.querySelectorAll('#strips *, #headline *, .top .pill')]
  .filter(e => e.checkVisibility() && getComputedStyle(e).overflow !== 'visible'
    && !e.closest('svg') && !e.closest('.only-spoken')
    && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1))
  .map(e => e.className + ': ' + e.textContent)"""
OVERLAPPING = """[...document.querySelectorAll('.lines button')].filter(button => {
  const boxes = [...button.children].filter(e => e.checkVisibility() && e.textContent)
    .map(e => e.getBoundingClientRect()).sort((a, b) => a.left - b.left);
  return boxes.some((box, i) => i > 0 && box.left < boxes[i - 1].right - 1
    && box.top < boxes[i - 1].bottom - 4 && boxes[i - 1].top < box.bottom - 4);
}).map(e => e.textContent)"""


def plan_of(bands: tuple[str, ...]) -> str:
    """A plan of LTE bands by number, and of NR bands by number with an n before it."""
    tables = "".join(
        f"[[band]]\n{'nr' if band.startswith('n') else 'lte'} = {band.removeprefix('n')}\n"
        f"return_loss_db = {6 if i % 2 else 10}\n"
        for i, band in enumerate(bands)
    )
    return f'name = "many bands"\n{tables}'


@pytest.fixture
def bands(request: pytest.FixtureRequest) -> tuple[str, ...]:
    chosen: tuple[str, ...] = request.param
    return chosen


@pytest.fixture
def many(tmp_path: Path, page: Page, bands: tuple[str, ...]) -> Iterator[Page]:
    """The page over the demo's bench with these bands, calibrated, open at no size yet."""
    site = Site(tmp_path, partial(demo_bench, read_plan(plan_of(bands))))
    calibrate(site.bench)
    settled(site.bench)
    yield from watched_page(page, site)
    site.stop()


def judged(page: Page, links: int) -> None:
    """Wait until every line shows a margin."""
    expect(page.locator(".lines li")).to_have_count(links)
    expect(page.locator('.lines li[data-judged="true"]')).to_have_count(links)


@pytest.mark.parametrize("bands", [TEN], indirect=True)
def test_ten_bands_are_seen_at_once_on_a_small_laptop(many: Page) -> None:
    page = many
    page.set_viewport_size({"width": SMALL_LAPTOP[0], "height": SMALL_LAPTOP[1]})
    judged(page, 17)
    hands.wait_until(page, f"({OUT_OF_SIGHT}).length === 0")
    for condition in (OUT_OF_SIGHT, CUT, OVERLAPPING):
        assert page.evaluate(condition) == []
    hands.fits(page)
    assert page.evaluate("scrollY + document.documentElement.scrollHeight - innerHeight") <= 0
    # The worst stands first, and it is the one that is large.
    first = page.locator(".lines li").first
    expect(page.locator(".large")).to_have_attribute(
        "data-band", first.get_attribute("data-band") or ""
    )
    page.set_viewport_size({"width": 1920, "height": 1080})  # room for each beneath the other
    expect(page.locator(".lines ul")).to_have_attribute("data-columns", "1")
    expect(page.locator(".lines li .worst").last).to_be_visible()


@pytest.mark.parametrize("bands", [TWENTY], indirect=True)
def test_twenty_bands_fit_a_phone_s_width_and_a_small_laptop(many: Page) -> None:
    page = many
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    judged(page, 36)
    hands.wait_until(page, f"({CUT}).length === 0 && ({OVERLAPPING}).length === 0")
    hands.fits(page)
    # What is wanted less often comes after the bands.
    lines, pigtails = (page.locator(each).bounding_box() for each in (".lines", "#pigtails"))
    assert lines is not None
    assert pigtails is not None
    assert lines["y"] < pigtails["y"]
    page.set_viewport_size({"width": SMALL_LAPTOP[0], "height": SMALL_LAPTOP[1]})
    hands.wait_until(page, f"({OUT_OF_SIGHT}).length === 0")
    for condition in (OUT_OF_SIGHT, CUT, OVERLAPPING):
        assert page.evaluate(condition) == []

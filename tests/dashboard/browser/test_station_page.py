"""A station on its page: three pictures, one key, one word, and no number to read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from dashboard.bench.composed_bench import Bench
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site, watched_page
from tests.dashboard.browser.test_accessible import looked_at
from tests.dashboard.conftest import UnitClock, settled
from tests.dashboard.station.conftest import (
    STATION,
    known_good,  # noqa: F401 - a fixture
    make_station,
    station_file,
)


def _bench(path: Path, *, calibration: Path | None, clock: UnitClock, **_folders: Any) -> Bench:
    return make_station(path, calibration, clock)


@pytest.fixture
def site(
    tmp_path: Path,
    known_good: Path,  # noqa: F811 - the fixture
    calibration: Path | None,
) -> Iterator[Site]:
    """A station's page, served."""
    path = station_file(tmp_path, known_good, STATION)
    made = Site(tmp_path, partial(_bench, path), calibration=calibration)
    yield made
    made.stop()


@pytest.fixture
def opened(page: Page, site: Site) -> Iterator[Page]:
    """It, open and live."""
    yield from watched_page(page, site)


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_a_helper_gets_through_an_antenna_by_one_key(opened: Page, site: Site) -> None:
    page, say = opened, opened.locator("#say")
    size = page.viewport_size
    assert size is not None
    shape = (size["width"], size["height"])
    assert not [*looked_at(page, "station", [(shape, "light"), (shape, "dark")])]
    page.emulate_media(color_scheme="light")
    root, bench = page.locator("#page"), site.bench
    expect(say).to_have_text("Connect the known good antenna, weir-1.")
    expect(page.locator('#pictures [aria-current="step"]')).to_contain_text("Connect")
    bench.hands.fetch("known-good")
    settled(bench)
    page.keyboard.press("Space")
    expect(root).to_have_attribute("data-phase", "result")
    expect(say).to_have_text("The bench is right.")
    expect(page.locator("#print")).to_be_hidden()
    page.keyboard.press("PageDown")

    expect(page.locator("#serial")).to_be_focused()
    page.keyboard.type("GW-12")
    page.keyboard.press("Enter")
    expect(say).to_have_text("Connect GW-12.")
    bench.hands.bend("arm_b", 0.5)
    settled(bench)
    page.keyboard.press("Space")
    word = page.locator('#pictures [data-picture="result"]')
    expect(word).to_contain_text("YES")
    expect(word).to_have_attribute("aria-current", "step")
    shown = " ".join(page.locator("#step h1, #why, #pictures").all_inner_texts())
    assert not re.search(r"\d", shown.replace("GW-12", ""))
    hands.wait_until(page, "document.querySelector('#label').naturalWidth > 0")
    expect(page.locator("#label")).to_have_attribute("alt", "Label of GW-12: YES")
    expect(page.locator("#tested li")).to_have_count(1)
    page.locator("#details summary").click()
    expect(page.locator("#detail")).to_contain_text("gauge backhaul pass")
    hands.fits(page)
    page.emulate_media(media="print")
    expect(page.locator("#label")).to_be_visible()
    expect(say).to_be_hidden()
    page.emulate_media(media="screen")

    # a scanner need not wait until the word was read
    page.locator("#say").click()
    page.keyboard.type("GW-12")
    page.keyboard.press("Enter")
    expect(say).to_have_text("GW-12 was tested before. Test it again?")
    page.locator("#drop").click()
    expect(root).to_have_attribute("data-phase", "serial")
    page.locator("#serial").fill("weir")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("not written as a serial")
    page.locator("#finish").click()
    expect(say).to_have_text("Connect the known good antenna, weir-1.")
